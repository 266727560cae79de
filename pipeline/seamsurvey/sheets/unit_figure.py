"""The picture of one unit: its two parts a little apart, lettered, the edges that meet heavy."""

from collections.abc import Callable

import numpy as np
import shapely
from attrs import frozen

from seamsurvey.model import Array
from seamsurvey.sheets.block_figure import join_run, odd_seam_marks
from seamsurvey.sheets.drawing import INK, QUIET, Line, Mark, Pen, Text, box, centred, placed, polygon, segment
from seamsurvey.sheets.joining import Unit
from seamsurvey.sheets.labels import Label, inside, led
from seamsurvey.sheets.type import broken, cap_mm, line_mm, width_mm

TINTS = ("#cfd9e2", "#efe3c8")
APART_MM = 3.6  # between the two edges of a straight join
LARGEST_PT = 9.0
_ROUND_MM = 7.0  # white round a picture for the name of a part too small to hold it
_EDGE_MM = 2.5
_THIN, _BORDER, _HEAVY = Pen(0.18, QUIET), Pen(0.35), Pen(0.9, INK)
_ARROW = Pen(0.3, INK)
_DOT_MM = 0.7
_TEXT_PT, _NAME_PT, _CHIP_MM = 8.0, 9.0, 2.6


@frozen
class UnitPicture:
    """The marks of a picture from its lower left, its size, and whether every section has room for its letter."""

    marks: tuple[Mark, ...]
    size: tuple[float, float]
    roomy: bool


def unit_picture(unit: Unit, wide_mm: float, high_mm: float) -> UnitPicture:
    """The unit as it lies in the block at its first place, seen from the finished side."""
    shifts, normal = _apart(unit)
    run = join_run(unit.join)
    corners = np.vstack([np.asarray(part.shape.exterior.coords) for part in unit.parts])
    low, high = corners.min(axis=0), corners.max(axis=0)
    gap = np.abs(normal) * APART_MM if unit.join.kind == "straight" else np.zeros(2)
    scale = float(min((wide_mm - gap[0] - 1) / (high - low)[0], (high_mm - gap[1] - 1) / (high - low)[1]))
    size = (high - low) * scale + gap + 1

    def at(points: Array, part: int) -> Array:
        return np.asarray((points - low) * scale + gap / 2 + 0.5 + shifts[part] * APART_MM / 2)

    marks: list[Mark] = []
    words: list[Mark] = []
    roomy = True
    for k, part in enumerate(unit.parts):
        for hole, ring in enumerate((part.shape.exterior, *part.shape.interiors)):
            fill = "#ffffff" if hole else TINTS[k]
            marks.append(polygon(at(np.asarray(ring.coords)[:-1], k), fill=fill, pen=_BORDER, layer="unit"))
        letters = [(unit.places[name][0], at(unit.places[name][1], k)) for name in sorted(part.places)]
        marks += [polygon(outline, pen=_THIN, layer="unit") for _, outline in letters]
        lettered = [inside(outline, Label(name, "", LARGEST_PT)) for name, outline in letters]
        if all(lettered):
            words += [mark for one in lettered if one for mark in one[0]]
        else:
            roomy = False
            words += _named(part.name, at(np.asarray(part.shape.exterior.coords)[:-1], k), TINTS[k], size)
        if unit.join.kind == "straight":
            marks.append(Line(points=at(run, k), pen=_HEAVY, layer="edges"))
            marks += [_dot(at(np.array([point]), k)[0]) for point in unit.nests]
    if unit.join.kind != "straight":
        marks += placed(_odd(unit, scale), 0, gap / 2 + 0.5 - low * scale)
    marks += [*words, *_press(unit, at)]
    return UnitPicture(tuple(marks), (float(size[0]), float(size[1])), roomy)


def _named(name: str, outline: Array, tint: str, size: Array) -> list[Mark]:
    """A part's own name, where not all of its sections have room for a letter: in its middle, or beside it."""
    wide, high = width_mm(name, LARGEST_PT, "bold") + 1.6, cap_mm(LARGEST_PT) + 1.6
    x0, y0, x1, y1 = shapely.Polygon(outline).bounds
    if min(x1 - x0, y1 - y0) > max(high, 0.3 * wide):
        x, y = shapely.maximum_inscribed_circle(shapely.Polygon(outline), 0.2).coords[0]
        panel = polygon(box(x - wide / 2, y - high / 2, wide, high), fill=tint, layer="names")
        return [panel, centred((x, y), name, LARGEST_PT, weight="bold")]
    around = shapely.box(-_ROUND_MM, -_ROUND_MM, size[0] + _ROUND_MM, size[1] + _ROUND_MM)
    found = led(outline, Label(name), around.difference(shapely.box(0, 0, *size)), [])
    return list(found[0]) if found else []


def _apart(unit: Unit) -> tuple[tuple[Array, Array], Array]:
    """The ways the two parts are moved, and the unit vector across the join."""
    start, end = np.array(unit.join.start), np.array(unit.join.end)
    along = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
    normal = np.array([-along[1], along[0]])
    if unit.join.kind != "straight":
        return (np.zeros(2), np.zeros(2)), normal
    side = (np.array(unit.parts[0].shape.representative_point().coords[0]) - start) @ normal
    away = normal if side > 0 else -normal
    return (away, -away), normal


def _odd(unit: Unit, scale: float) -> list[Mark]:
    if unit.join.kind == "curved":
        return [Line(points=join_run(unit.join) * scale, pen=_HEAVY, layer="edges")]
    return odd_seam_marks([unit.join], scale)


def _dot(at: Array) -> Line:
    diamond = np.array([[1, 0], [0, 1], [-1, 0], [0, -1]]) * _DOT_MM
    return polygon(at + diamond, fill=INK, layer="nests")


def _press(unit: Unit, at: Callable[[Array, int], Array]) -> list[Mark]:
    """An arrow across the gap into the part that is pressed to."""
    side = pressed_side(unit)
    if side is None or unit.join.kind != "straight":
        return []
    start, end = np.array(unit.join.start), np.array(unit.join.end)
    middle = ((start + end) / 2)[None]
    tail, tip = (at(middle, k)[0] for k in (1 - side, side))
    way = (tip - tail) / max(float(np.hypot(*(tip - tail))), 1e-9)
    across = np.array([-way[1], way[0]])
    tip = tip + way * 1.6
    head = np.array([tip - way * 1.3 + across * 0.9, tip, tip - way * 1.3 - across * 0.9])
    return [segment(tail - way * 1.2, tip, _ARROW, "press"), Line(points=head, pen=_ARROW, layer="press")]


def pressed_side(unit: Unit) -> int | None:
    """Which of the two parts the seam is pressed to in the picture; None where to neither."""
    to = unit.join.press_towards
    return unit.join.parts.index(to) if to in unit.join.parts else None


def unit_words(unit: Unit) -> list[str]:
    """What stands under a unit's picture, its parts left out."""
    words = []
    if unit.join.kind == "set-in":
        words.append("a Y-seam")
    if unit.join.kind == "curved":
        words.append("a curved seam, joined by hand")
    if unit.join.kind == "partial":
        words.append("sew part-way" + (f"; the rest after {unit.finish_after}" if unit.finish_after else ""))
    if len(unit.pressed) == 1:
        ((to, _),) = unit.pressed
        same = unit.parts[0].name == unit.parts[1].name
        words.append("press open" if to == "open" else "press as the arrow shows" if same else f"press to {to}")
    elif unit.pressed:
        words.append(
            "press "
            + ", ".join(f"{number} {'open' if to == 'open' else f'to {to}'}" for to, number in unit.pressed)
        )
    if unit.nests:
        words.append("seams nest at the dot" + ("s" if len(unit.nests) > 1 else ""))
    return words


def unit_cell(unit: Unit, width: float, high_mm: float) -> tuple[list[Mark], float, bool]:
    """A unit's picture with its words below: marks from the lower left, height, whether the letters had room."""
    picture = unit_picture(unit, width - 2 * _EDGE_MM, high_mm)
    # A name that stands beside its part takes white round the picture.
    texts = [mark for mark in picture.marks if isinstance(mark, Text)]
    under = max(0.0, -min((mark.at[1] for mark in texts), default=0.0))
    over = max(0.0, max((mark.at[1] + cap_mm(mark.size_pt) for mark in texts), default=0.0) - picture.size[1])
    lines = [line for text in unit_words(unit) for line in broken(text, _TEXT_PT, width)]
    below = (2 + len(lines)) * line_mm(_TEXT_PT) + 3.0 + under
    marks = list(placed(picture.marks, 0, (_EDGE_MM, below)))
    y = below - under - 5.6
    head = unit.name[0].upper() + unit.name[1:] + (f": make {unit.make}" if unit.make > 1 else "")
    marks.append(Text(at=(0.0, y), text=head, size_pt=_NAME_PT, weight="bold"))
    y -= line_mm(_TEXT_PT) + 0.4
    x = 0.0
    for k, part in enumerate(unit.parts):
        if k:
            marks.append(Text(at=(x, y), text="+", size_pt=_TEXT_PT))
            x += 3.0
        marks.append(polygon(box(x, y - 0.3, _CHIP_MM, _CHIP_MM), fill=TINTS[k], pen=_THIN, layer="chips"))
        x += _CHIP_MM + 0.9
        marks.append(Text(at=(x, y), text=part.name, size_pt=_TEXT_PT))
        x += width_mm(part.name, _TEXT_PT) + 1.4
    for line in lines:
        y -= line_mm(_TEXT_PT)
        marks.append(Text(at=(0.0, y), text=line, size_pt=_TEXT_PT, colour=QUIET))
    return marks, below + picture.size[1] + over + 2.0, picture.roomy
