"""What came out against the truth: templates, edges, layout. Uses none of the tool's geometry."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon
from shapely.affinity import affine_transform

from seamsurvey.model import Block, Count, TemplateSet
from tests.scene.truth import PlacedTruth, Truth

Points = NDArray[np.float64]
# Two outlines of one piece differ by hand-cut edges and measurement: a sixteenth of the smaller area is far more.
SAME_PIECE = 1 / 16


@dataclass(frozen=True)
class EdgeError:
    """One edge: measured minus true length of the cut edge, and the stated expanded uncertainty, mm.

    ``off_meant`` is the measured length minus the one that was meant, from which the cut strays. ``found`` and
    ``number`` are the name that the tool gave the template, and the edge's number in it, from 1.
    """

    template: str
    length: float
    error: float
    u: float
    off_meant: float = 0.0
    found: str = ""
    number: int = 0


@dataclass(frozen=True)
class Compared:
    """A measured set against its truth: edges of all templates found, and templates not found or made up.

    ``missing`` are those not found, or found with the wrong number of edges (``miscounted``); ``corners`` are
    the distances of measured corners from the true ones, mm on the cards' faces.
    """

    edges: tuple[EdgeError, ...]
    missing: tuple[str, ...]
    invented: tuple[str, ...]
    miscounted: tuple[str, ...] = ()
    corners: tuple[float, ...] = ()


def compare_templates(found: TemplateSet, truth: Truth) -> Compared:
    """Match templates by where they lie in the picture, and their edges corner by corner.

    Compared are the physical cut edges: where lines fitted to the true cut edges meet. Copies that the tool
    merged into one template count as found.
    """
    edges: list[EdgeError] = []
    used: set[str] = set()
    missing: list[str] = []
    miscounted: list[str] = []
    corners: list[float] = []
    for placed, meant in (_untrimmed(each, truth) for each in truth.placed):
        match = [t for t in found.templates if _overlap(t.corners_px, placed.as_cut_corners_px) > 0.9]
        used.update(template.name for template in match)
        if len(match) != 1 or len(match[0].corners_px) != len(placed.as_cut_corners_px):
            missing.append(placed.template)
            miscounted += [placed.template] if match else []
            continue
        template = match[0]
        true_lengths = _lengths(placed.as_cut_corners)
        order = _corner_order(template.corners_px, placed)
        corners += _off_corners(template.corners_px, order, placed)
        meant_lengths = _lengths(meant)
        edge_of = [_edge_between(order, k, len(order)) for k in range(len(order))]
        lengths = _lengths(template.cut_outline)
        edges += [
            EdgeError(
                placed.template,
                float(true_lengths[k]),
                float(length - true_lengths[k]),
                edge.u_mm,
                float(length - meant_lengths[k]),
                template.name,
                number,
            )
            for number, (k, length, edge) in enumerate(zip(edge_of, lengths, template.edges, strict=True), 1)
        ]
    invented = tuple(t.name for t in found.templates if t.name not in used)
    return Compared(tuple(edges), tuple(missing), invented, tuple(miscounted), tuple(corners))


def _untrimmed(placed: PlacedTruth, truth: Truth) -> tuple[PlacedTruth, Points]:
    """The card before its tips were trimmed: its long edges prolonged until they meet, in mm and in the picture.

    Also the outline that was meant, mm, corner for corner.
    """
    template = truth.template(placed.template)
    outline, outline_px, meant = placed.as_cut_corners, placed.as_cut_corners_px, template.cut
    extra = len(outline) - len(template.finished) if truth.tips_trimmed is not None else 0
    for _ in range(extra):
        k = int(np.argmin(_lengths(outline)))
        outline, outline_px, meant = (_without_edge(each, k) for each in (outline, outline_px, meant))
    return replace(placed, as_cut_corners=outline, as_cut_corners_px=outline_px), meant


def _without_edge(outline: Points, k: int) -> Points:
    """The outline with its edge k replaced by the point where its neighbours meet."""
    count = len(outline)
    start, end = outline[k], outline[(k + 1) % count]
    ways = np.column_stack([start - outline[k - 1], end - outline[(k + 2) % count]])
    tip = start + ways[:, 0] * np.linalg.solve(ways * np.array([1.0, -1.0]), end - start)[0]
    shorter = outline.copy()
    shorter[k] = tip
    return np.asarray(np.delete(shorter, (k + 1) % count, axis=0))


def counts_on_cards(found: TemplateSet, truth: Truth) -> dict[str, Count]:
    """The counts that stand on the cards, by the names the tool gave the templates."""
    counts = {}
    for placed in truth.placed:
        for template in found.templates:
            if _overlap(template.corners_px, placed.as_cut_corners_px) > 0.9:
                true = truth.template(placed.template)
                up, over = (
                    (true.reversed_count, true.count) if placed.face_down else (true.count, true.reversed_count)
                )
                counts[template.name] = Count(up, over)
    return counts


def same_layout(block: Block, truth: Truth) -> bool:
    """Whether every true piece has a found piece of the same outline, up to the outline's own symmetries."""
    width, height = truth.block_size
    if len(block.pieces) != len(truth.pieces):
        return False
    true = [Polygon(piece) for piece in truth.pieces]
    scale = np.sqrt(width * height / (block.width * block.height))
    found = [Polygon(piece.outline * scale) for piece in block.pieces]
    return any(
        _all_match(true, [affine_transform(piece, motion) for piece in found]) for motion in _motions(width, height)
    )


def _motions(width: float, height: float) -> list[list[float]]:
    """The eight motions of a square, or all that lead one rectangle onto the other, as shapely matrices."""
    motions = []
    for swap in (False, True):
        for flip_x in (False, True):
            for flip_y in (False, True):
                sx, sy = (-1 if flip_x else 1), (-1 if flip_y else 1)
                shift = (width if flip_x else 0.0, height if flip_y else 0.0)
                motions.append([0, sx, sy, 0, *shift] if swap else [sx, 0, 0, sy, *shift])
    return motions


def _all_match(true: list[Polygon], found: list[Polygon]) -> bool:
    left = list(found)
    for piece in true:
        match = next((f for f in left if piece.symmetric_difference(f).area < SAME_PIECE * piece.area), None)
        if match is None:
            return False
        left.remove(match)
    return True


def _overlap(one: Points, other: Points) -> float:
    if len(one) < 3:
        return 0.0
    a, b = Polygon(one).buffer(0), Polygon(other).buffer(0)
    return float(a.intersection(b).area / a.union(b).area)


def _lengths(outline: Points) -> NDArray[np.float64]:
    return np.asarray(np.hypot(*(np.roll(outline, -1, axis=0) - outline).T))


def _corner_order(corners_px: Points, placed: PlacedTruth) -> list[int]:
    """Which true corner each measured corner is."""
    gaps = np.hypot(*(corners_px[:, None, :] - placed.as_cut_corners_px[None, :, :]).transpose(2, 0, 1))
    return [int(k) for k in np.argmin(gaps, axis=1)]


def _off_corners(corners_px: Points, order: list[int], placed: PlacedTruth) -> list[float]:
    """How far each measured corner lies from its true one, mm, by the true map from the picture to the card."""
    seen = np.column_stack([placed.as_cut_corners_px, np.ones(len(placed.as_cut_corners_px))])
    to_card = np.linalg.lstsq(seen, placed.as_cut_corners)[0][:2]
    return [float(d) for d in np.hypot(*((corners_px - placed.as_cut_corners_px[order]) @ to_card).T)]


def _edge_between(order: list[int], k: int, count: int) -> int:
    """Which true edge runs between the true corners of measured corners k and k + 1."""
    a, b = order[k], order[(k + 1) % count]
    if b == (a + 1) % count:
        return a
    if a == (b + 1) % count:
        return b
    raise AssertionError(f"corners {a} and {b} are no neighbours")
