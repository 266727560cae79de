"""Templates printed on a page: outlines as line art, a cut line and perhaps a seam line inside each.

What is closed, has straight sides, and has the page's own paper on both sides of its stroke is a template. A page's
border, a rim round several templates and whatever is smaller than a template is left out, with the reason.
"""

from collections.abc import Sequence

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from shapely import Polygon, contains_xy, unary_union
from shapely.geometry.base import BaseGeometry

from seamsurvey.geometry import edge_lengths, edge_vectors, offset_polygon
from seamsurvey.model import LeftOut, Picture, Plane
from seamsurvey.templates.cards import FRAME, MARKS_PROVE, MIN_AREA_MM2, UNDERLAYS, WITHIN
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.corners import NoOutlineError
from seamsurvey.templates.fitted import FittedEdge, corners_of
from seamsurvey.templates.line_art import LEAST_INK, Face, LineArt, faces_of, line_art
from seamsurvey.templates.outlined import Outlined, crop_of
from seamsurvey.templates.page_grid import find_grid
from seamsurvey.templates.seam_line import FARTHEST_MM, NEAREST_MM, SeamLine, find_seam_line
from seamsurvey.templates.sides import straight_outline
from seamsurvey.templates.stroke_lines import fit_strokes
from seamsurvey.templates.tips import without_tips

Floats = NDArray[np.float64]

UNCLEAR = "its stroke can't be followed all round"
_LEAST_CLEAR = 0.8  # of the way round the stroke must be seen: the rest is crossed by letters and other strokes
_ON_PAGE = 0.65  # of the places well outside the outlines must be the page's paper
# Of what is closed and as large as a template, so much must be one: on a page most of it is, and where a cloth's
# threads close by chance hardly any has straight sides.
_LEAST_STRAIGHT = 0.25
_DIM = 1.6  # ln: paper in a shadow is not darker than this against the brightest in the picture
_PART_OF_RULER = 1.5  # times the outline of a ruler's graduated edge
_NEXT_MM = 1.6  # faces nearer than this have a stroke in common
_ALONG_DEG = 1.5  # two outlines run alongside one another where their edges are parallel to within this
_EVEN_MM = 0.4  # a seam line keeps its distance to within this
_SAME_MM = 0.6  # two outlines nearer than this are the two sides of one stroke
_MOST_MOVE_MM = 1.0  # of a corner, from where the rough outline has it, for each sine of its angle


@frozen(kw_only=True)
class Printed:
    """What is printed in a picture: the templates' outlines, what was left out, and whether it is a page at all."""

    outlined: tuple[Outlined, ...]
    left_out: tuple[LeftOut, ...]
    is_page: bool


@frozen(kw_only=True)
class _Rough:
    """A face with its corners (n, 2) plane mm, and its outline as a polygon in mm."""

    face: Face
    corners: Floats = field(eq=False, repr=False)

    @property
    def polygon(self) -> Polygon:
        return Polygon(self.corners)


def printed_templates(picture: Picture, plane: Plane, photo: int = 0) -> Printed:
    """The outlines printed in a picture, each with its seam line if drawn; ``photo`` is the picture's index."""
    art = line_art(picture, plane)
    left_out: list[LeftOut] = []
    rough, strange, is_page = _outlines(art, plane)

    def leave_out(face: Face, why: str) -> None:
        left_out.append(LeftOut(photo=photo, outline_px=face.rim, why=why))

    for face, why in strange:
        leave_out(face, why)
    if not is_page:
        return Printed(outlined=(), left_out=(), is_page=False)
    templates, inner, rest = _nested(rough)
    for each, why in rest:
        leave_out(each.face, why)
    outlined = []
    for k, each in enumerate(templates):
        try:
            outlined.append(_outlined(each, inner.get(k), picture, plane, photo))
        except NoOutlineError:
            leave_out(each.face, UNCLEAR)
    doubtful = sum(each.why not in (FRAME, WITHIN) for each in left_out)
    is_page = bool(outlined) and len(outlined) >= _LEAST_STRAIGHT * (len(outlined) + doubtful)
    return Printed(outlined=tuple(outlined), left_out=tuple(left_out), is_page=is_page)


def _outlines(art: LineArt, plane: Plane) -> tuple[list[_Rough], list[tuple[Face, str]], bool]:
    """The straight-sided outlines; what else is closed, and why it is none; and whether this is a page."""
    # Where the page has a grid of its own, the templates are drawn over it with a stronger line.
    grid = find_grid(art, plane)
    faces = _on_paper(art, _without_rulers(faces_of(art, plane, grid.ink if grid else LEAST_INK), plane))
    rough: list[_Rough] = []
    strange: list[tuple[Face, str]] = []
    for face in faces:
        try:
            corners = straight_outline(plane.to_mm(face.middle)).corners
        except NoOutlineError as error:
            strange.append((face, str(error)))
            continue
        rough.append(_Rough(face=face, corners=corners))
    rough = _apart(rough)
    is_page = bool(rough) and float(np.median([each.face.on_page for each in rough])) > _ON_PAGE
    return rough, strange, is_page


def _on_paper(art: LineArt, faces: Sequence[Face]) -> list[Face]:
    """The faces with bright paper of one tone on both sides of a stroke that is seen nearly all round."""
    bright = np.percentile(art.paper[::8, ::8], 98, axis=(0, 1)) - _DIM
    return [face for face in faces if face.alike and face.clear > _LEAST_CLEAR and bool(np.all(face.tone > bright))]


def _without_rulers(faces: Sequence[Face], plane: Plane) -> list[Face]:
    """The faces without those on a ruler or a card: within it, with its marks inside, or next to one of these.

    The grid of a clear ruler is line art on paper, too; it begins at the marks.
    """
    shapes = [Polygon(face.rim).buffer(0) for face in faces]
    near = [shape.buffer(_NEXT_MM / plane.mm_per_px) for shape in shapes]
    bodies = _bodies(plane)
    waiting = {
        k
        for k, shape in enumerate(shapes)
        if shape.intersection(bodies).area > 0.5 * shape.area or _is_marked(shape, plane)
    }
    taken: set[int] = set()
    while waiting:
        k = waiting.pop()
        taken.add(k)
        waiting |= {j for j in range(len(faces)) if j not in taken and near[k].intersects(shapes[j])}
    return [face for k, face in enumerate(faces) if k not in taken]


def _bodies(plane: Plane) -> BaseGeometry:
    """Where rulers and cards lie, in image pixels: a ruler graduated on all four sides is a frame of four edges."""
    edges = unary_union(
        [
            Polygon(reference.outline_px).buffer(_NEXT_MM / plane.mm_per_px)
            for reference in plane.references
            if reference.kind not in UNDERLAYS
        ]
    )
    return unary_union([Polygon(part.exterior) for part in getattr(edges, "geoms", [edges]) if not part.is_empty])


def _is_marked(shape: Polygon, plane: Plane) -> bool:
    """Whether it holds a ruler's marks, and is not the border that goes round the ruler."""
    return any(
        int(contains_xy(shape, reference.marks_px).sum()) >= MARKS_PROVE
        and shape.area < _PART_OF_RULER * Polygon(reference.outline_px).area
        for reference in plane.references
        if reference.kind not in UNDERLAYS
    )


def _apart(rough: Sequence[_Rough]) -> list[_Rough]:
    """The outlines, each once: a stroke drawn double, or broken, is seen as two."""
    kept: list[_Rough] = []
    for each in sorted(rough, key=lambda r: -r.polygon.area):
        same = [
            other
            for other in kept
            if each.polygon.symmetric_difference(other.polygon).area < _SAME_MM * other.polygon.length
        ]
        if not same:
            kept.append(each)
    return kept


def _nested(
    rough: Sequence[_Rough],
) -> tuple[list[_Rough], dict[int, _Rough], list[tuple[_Rough, str]]]:
    """The templates, the seam line of those that have a whole one (by index), and what is neither, and why."""
    shapes = [each.polygon for each in rough]
    inside: dict[int, list[int]] = {
        k: [j for j in range(len(rough)) if j != k and shapes[k].buffer(_SAME_MM).contains(shapes[j])]
        for k in range(len(rough))
    }
    seams = {
        k: j for k, within in inside.items() for j in within if _runs_along(rough[k].corners, rough[j].corners)
    }
    of_seams = set(seams.values())
    frames = {
        k
        for k, within in inside.items()
        if k not in of_seams and _is_frame(shapes[k], [shapes[j] for j in within if j != seams.get(k)])
    }
    templates: list[_Rough] = []
    inner: dict[int, _Rough] = {}
    rest: list[tuple[_Rough, str]] = [(rough[k], FRAME) for k in sorted(frames)]
    for k, each in enumerate(rough):
        if k in frames or k in of_seams:
            continue
        if any(k in inside[j] for j in range(len(rough)) if j not in frames):
            rest.append((each, WITHIN))
            continue
        if k in seams:
            inner[len(templates)] = rough[seams[k]]
        templates.append(each)
    return templates, inner, rest


def _is_frame(shape: Polygon, within: Sequence[Polygon]) -> bool:
    """Whether an outline goes round others as a page's border does: several, or one that fills much of it."""
    large = [each for each in within if each.area > MIN_AREA_MM2]
    return len(large) > 1 or any(each.area > 0.25 * shape.area for each in large)


def _runs_along(outer: Floats, inner: Floats) -> bool:
    """Whether each edge of ``inner`` runs inside a parallel edge of ``outer``, an allowance away."""
    ways = edge_vectors(outer) / edge_lengths(outer)[:, None]
    gaps = []
    middles = (inner + np.roll(inner, -1, axis=0)) / 2
    for middle, along in zip(middles, edge_vectors(inner) / edge_lengths(inner)[:, None], strict=True):
        turn = np.degrees(np.arctan2(ways[:, 0] * along[1] - ways[:, 1] * along[0], ways @ along))
        inward = np.column_stack([-ways[:, 1], ways[:, 0]])
        gap = np.sum((middle - outer) * inward, axis=1)
        fits = (np.abs(turn) < _ALONG_DEG) & (gap > NEAREST_MM - 0.5) & (gap < FARTHEST_MM + 1)
        if not fits.any():
            return False
        gaps.append(float(gap[fits].min()))
    return True


def _outlined(each: _Rough, inner: _Rough | None, picture: Picture, plane: Plane, photo: int) -> Outlined:
    """The template with its strokes as lines; NoOutlineError where one can't be followed."""
    crop = crop_of(picture, plane, plane.to_px(each.corners))
    lines = fit_strokes(crop, each.corners, plane)
    corners = corners_of(lines)
    if Polygon(corners).symmetric_difference(each.polygon).area > _MOST_MOVE_MM * each.polygon.length:
        raise NoOutlineError(UNCLEAR)
    seam = _seam(crop, lines, inner, plane)
    drawn = _distance(seam, lines) if seam else None
    return Outlined(photo=photo, edges=lines, corners=corners, seam_line=drawn, printed=True, seam=seam)


def _seam(crop: Crop, lines: tuple[FittedEdge, ...], inner: _Rough | None, plane: Plane) -> tuple[FittedEdge, ...]:
    """The lines of the seam drawn inside an outline; none where there is none, or it can't be followed."""
    if inner is not None:
        try:
            return fit_strokes(crop, inner.corners, plane)
        except NoOutlineError:
            return ()
    corners = corners_of(without_tips(lines, 0.0))
    found = find_seam_line(crop, corners, plane)
    if found is None:
        return ()
    whole = corners_of(without_tips(lines, found.distance_mm))
    try:
        rough = offset_polygon(whole, -found.distance_mm)
        seam = fit_strokes(crop, rough, plane, dashed=True)
    except (NoOutlineError, ValueError):
        return ()
    return seam if _runs_along(corners_of(lines), corners_of(seam)) else ()


def _distance(seam: tuple[FittedEdge, ...], lines: tuple[FittedEdge, ...]) -> SeamLine:
    """How far the seam lies inside the outline: the mean over its edges, and how well that is known."""
    gaps = []
    for line in seam:
        beside = [
            float((line.middle - other.middle) @ -other.outward)
            for other in lines
            if float(line.along @ other.along) > np.cos(np.radians(_ALONG_DEG))
        ]
        gaps.append(min(gap for gap in beside if gap > 0))
    own = float(np.mean([line.own_bias_mm for line in seam]))
    scatter = float(np.std(gaps)) / np.sqrt(len(gaps))
    return SeamLine(float(np.mean(gaps)), 2 * float(np.hypot(scatter, own)))
