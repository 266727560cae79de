"""The photo as the tool read it: outlines, names and lengths of the templates, and the references' marks.

A camera's photo carries the table's grid too, and beside the legend a map of how well it measures where.

Colours are told apart by place and dash as well: solid is a card's cut edge, dashed its finished line.
"""

from collections.abc import Collection

import numpy as np

from seamsurvey.arcs import along_arc, drawn_out
from seamsurvey.model import Array, Edge, PhotoPlane, Picture, Plane, Template, TemplateSet
from seamsurvey.sheets.canvas import Canvas
from seamsurvey.sheets.overlay_grid import GRID, Grid
from seamsurvey.sheets.overlay_map import uncertainty_map
from seamsurvey.sheets.overlay_references import draw_reference, reading_turn
from seamsurvey.sheets.photo_facts import camera_text
from seamsurvey.units import fraction_text

CUT = "#0b5394"
FINISHED = "#9b1c1c"
LEFT_OUT = "#555555"
ASKED = "#8a3ffc"
INK = "#111111"
BY_PERSON = " *"

LONGEST_PX = 1800
LARGEST_BYTES = 2_000_000
LEAST_LEFT_OUT = 2.5  # heights of the type: a speck that was left out needs no word
TYPE_OF_MAP = 0.85  # of the common type
NUMBERS = 0.7  # height of the corners' numbers, in heights of the type
MAP_SHARE = 0.36  # of the picture's width: beside the legend, and still to be read


def overlay_png(
    picture: Picture, photo_index: int, templates: TemplateSet, *, units: str, asked: Collection[int] = ()
) -> bytes:
    """A PNG of one photo with everything found in it, under about 2 MB; ``units`` is "inch" or "mm".

    What was left out is numbered through all photos, from 1, as it stands in the set; ``asked`` are the indices of
    what may be a template.
    """
    longest = LONGEST_PX
    units = "px" if templates.in_px else units
    while True:
        content = _drawn(picture, photo_index, templates, longest, units, asked).png()
        # A noisy photo packs badly: a smaller copy shows the same.
        if len(content) <= LARGEST_BYTES or longest < LONGEST_PX / 2:
            return content
        longest = round(longest * max(0.5, 0.95 * (LARGEST_BYTES / len(content)) ** 0.5))


def _drawn(
    picture: Picture, photo_index: int, templates: TemplateSet, longest_px: int, unit: str, asked: Collection[int]
) -> Canvas:
    canvas = Canvas.of(picture, longest_px)
    plane = templates.photos[photo_index].plane
    found = [template for template in templates.templates if template.photo == photo_index]
    copies = [copy for template in templates.templates for copy in template.copies if copy.photo == photo_index]
    inches = {"inch": "inches", "px": "pixels: nothing gave a scale"}.get(unit, "mm")
    legend = [(f"Lengths in {inches}, finished size. Solid: a card's cut edge; small numbers: its corners.", CUT)]
    if any(_has_margin(template) for template in found):
        legend.append(("Dashed: the finished line, the allowance taken off.", FINISHED))
    if copies:
        legend.append(("Thin: a copy, named by its template and a letter.", CUT))
    if any(edge.set_by_person for template in found for edge in template.edges):
        legend.append((f"{BY_PERSON} after a length: you set it, or a corner of it.", INK))
    is_photo = isinstance(plane, PhotoPlane)
    grid = Grid.of(canvas, plane, unit) if is_photo else None
    if grid is not None:
        grid.draw(canvas)
    said = [draw_reference(canvas, reference, number) for number, reference in enumerate(plane.references, 1)]
    legend += [line for lines in said for line in lines]
    for template in found:
        _outline(canvas, template, plane)
    for copy in copies:
        canvas.line(canvas.at(copy.corners_px), CUT, 1, closed=True, edge=1)
    for template in found:
        centre = canvas.at(template.corners_px).mean(axis=0)
        size = round(canvas.text_px * 1.5)
        # Corrections go by the first name.
        called = f"{template.name} ({template.found_as})" if template.found_as else template.name
        canvas.word(called, size, [(centre, 0.0)], INK, weight="bold")
    for copy in copies:
        canvas.word(copy.name, canvas.text_px, [(canvas.at(copy.corners_px).mean(axis=0), 0.0)], CUT)
    for template in found:
        _lengths(canvas, template, plane, unit)
    for template in found:
        _numbers(canvas, template)
    reasons = _what_was_left_out(canvas, photo_index, templates, asked)
    if grid is not None:
        grid.label(canvas)
        legend.append((grid.text, GRID))
    if is_photo:
        legend.append((camera_text(plane), INK))
        legend += [(warning, INK) for warning in templates.photos[photo_index].warnings]
    legend += reasons
    if is_photo:
        width = round(MAP_SHARE * canvas.size[0])
        type_px = round(TYPE_OF_MAP * canvas.text_px)
        inset = uncertainty_map(picture, plane, found, unit=unit, width=width, type_px=type_px)
        canvas.legend(legend, inset=inset.pixels)
    else:
        canvas.legend(legend)
    return canvas


def edge_text(edge: Edge, unit: str) -> str:
    """A length on its edge: ``3 1/2″`` or ``88.9`` mm; the legend of the report names the unit."""
    text = (
        f"{fraction_text(edge.length_mm, 32).removesuffix(' in')}″" if unit == "inch" else f"{edge.length_mm:.1f}"
    )
    return text + BY_PERSON if edge.set_by_person else text


def _has_margin(template: Template) -> bool:
    return bool(template.allowance_mm or any(template.edge_allowances_mm))


def _outline(canvas: Canvas, template: Template, plane: Plane) -> None:
    width = max(1, canvas.text_px // 8)
    corners = canvas.at(template.corners_px)
    cut = plane.to_px(drawn_out(template.cut_outline, template.cut_bulges)) if template.cut_bulges else None
    canvas.line(corners if cut is None else canvas.at(cut), CUT, width, closed=True, edge=1)
    if _has_margin(template):
        finished = canvas.at(plane.to_px(drawn_out(template.finished_outline, template.bulges)))
        canvas.dashes(finished, FINISHED, width, canvas.text_px * 0.6)
    for corner in corners:
        canvas.dot(corner, CUT, canvas.text_px / 6)


def _lengths(canvas: Canvas, template: Template, plane: Plane, unit: str) -> None:
    """Each edge's length along it: inside the card, else outside, else upright nearby."""
    corners = canvas.at(plane.to_px(template.finished_outline))
    inwards = _inwards(corners)
    for k, edge in enumerate(template.edges):
        start, end = corners[k], corners[(k + 1) % len(corners)]
        middle, normal = (start + end) / 2, inwards[k]
        if edge.curve is not None:
            ends = template.finished_outline[[k, (k + 1) % len(corners)]]
            on = along_arc(ends[0], ends[1], template.bulges[k], np.array([0.5]))
            middle = canvas.at(plane.to_px(on))[0]
        turn = reading_turn(end - start)
        step = canvas.text_px
        places = [(middle + normal * step * reach, turn) for reach in (0.9, -0.9, 1.9, -1.9)]
        places += [(middle + normal * step * reach, 0.0) for reach in (2.5, -2.5, 4.0, -4.0)]
        canvas.word(edge_text(edge, unit), step, places, INK)


def _numbers(canvas: Canvas, template: Template) -> None:
    """Each corner's number, inside the card; edge k runs from corner k to the next."""
    corners = canvas.at(template.corners_px)
    size = max(8, round(NUMBERS * canvas.text_px))
    inwards = _inwards(corners)
    for k, corner in enumerate(corners):
        way = inwards[k - 1] + inwards[k]
        way = way / max(float(np.hypot(*way)), 1e-6)
        # At a sharp tip the two edges leave room only further in.
        half_open = np.sqrt(max((1 - float(inwards[k - 1] @ inwards[k])) / 2, 0.02))
        reach = min(0.8 * size / max(np.sqrt(1 - half_open**2), 0.2), 4.0 * size)
        canvas.word(str(k + 1), size, [(corner + way * reach * more, 0.0) for more in (1.0, 1.6, 2.4)], CUT)


def _inwards(corners: Array) -> Array:
    """(n, 2): for each edge of a canvas polygon the unit vector that points into it."""
    along = np.roll(corners, -1, axis=0) - corners
    normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(along[:, 0], along[:, 1])[:, None]
    x, y = corners.T
    twice_area = float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
    return np.asarray(normal if twice_area > 0 else -normal)


def _what_was_left_out(
    canvas: Canvas, photo_index: int, templates: TemplateSet, asked: Collection[int]
) -> list[tuple[str, str]]:
    """Draw it with its numbers, and return the legend's lines; what may be a template stands out."""
    reasons: dict[tuple[str, bool], list[str]] = {}
    least_px = LEAST_LEFT_OUT * canvas.text_px
    for k, left in enumerate(templates.left_out):
        large = np.ptp(left.outline_px, axis=0).max() * canvas.scale >= least_px
        if left.photo == photo_index and (large or k in asked):
            _left_out(canvas, left.outline_px, f"×{k + 1}", ASKED if k in asked else LEFT_OUT)
            reasons.setdefault((left.why, k in asked), []).append(f"×{k + 1}")
    return [
        (
            f"{', '.join(marks)} left out: {why}{'. Is it a template?' if is_asked else ''}",
            ASKED if is_asked else LEFT_OUT,
        )
        for (why, is_asked), marks in reasons.items()
    ]


def _left_out(canvas: Canvas, outline_px: Array, mark: str, colour: str) -> None:
    outline = canvas.at(outline_px)
    canvas.dashes(outline, colour, max(1, canvas.text_px // 10), canvas.text_px * 0.4)
    (left, top), (right, bottom) = outline.min(axis=0), outline.max(axis=0)
    x, y, step = (left + right) / 2, (top + bottom) / 2, canvas.text_px
    beside = [(x, bottom + step), (x, top - step), (left - 1.5 * step, y), (right + 1.5 * step, y), (x, y)]
    canvas.word(mark, step, [(np.array(place), 0.0) for place in beside], colour, weight="bold")
