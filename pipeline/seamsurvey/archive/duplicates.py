"""Near-duplicates among many sets: the same block at another size, turned, or mirrored.

Three steps, each stricter: sets with equally many templates and corners whose sorted edges, as shares of the set's
size, nearly agree (a k-d tree: archives have thousands); of these, pairs whose templates fit corner on corner; of
these, whether the blocks fit piece on piece under one of the eight motions of a square.
"""

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shapely.affinity import affine_transform

from seamsurvey.archive.shape import ALLOWED_MM, fit_of, set_size, shape_of
from seamsurvey.archive_model import Alike, SetRecord
from seamsurvey.geometry import edge_lengths

SAME_BLOCK, MIRRORED_BLOCK, SAME_TEMPLATES = "same block", "mirrored block", "same templates"
# By how much one sorted edge may differ between two sets that are alike, as a share of the set's size: a corner off
# by ALLOWED_MM at each end of an edge, in the smallest sets worth keeping (60 mm a side).
EDGE_SHARE = 2 * ALLOWED_MM / 60.0

# (a, b, c, d): x' = a x + b y, y' = c x + d y, about the block's middle. The first four turn, the others mirror.
_TURNS = ((1, 0, 0, 1), (0, -1, 1, 0), (-1, 0, 0, -1), (0, 1, -1, 0))
_MIRRORS = ((-1, 0, 0, 1), (1, 0, 0, -1), (0, 1, 1, 0), (0, -1, -1, 0))


def find_alike(records: Sequence[SetRecord]) -> tuple[Alike, ...]:
    """Every pair of sets with one shape, in the order of their names."""
    families: dict[tuple[int, int, int], list[SetRecord]] = defaultdict(list)
    for record in sorted(records, key=lambda record: record.name):
        if record.templates:
            corners = sum(len(template.outline_mm) for template in record.templates)
            arcs = sum(bulge != 0 for template in record.templates for bulge in template.bulges)
            families[len(record.templates), corners, arcs].append(record)
    found = [pair for family in families.values() for pair in _alike_in(family)]
    return tuple(sorted(found, key=lambda pair: (pair.first, pair.second)))


def _alike_in(family: Sequence[SetRecord]) -> list[Alike]:
    if len(family) < 2:
        return []
    edges, sizes = np.array([_sorted_edges(each) for each in family]), np.array([set_size(each) for each in family])
    near = KDTree(edges).query_pairs(EDGE_SHARE, p=np.inf, output_type="ndarray")
    near = near[np.lexsort((near[:, 1], near[:, 0]))]
    # The tree has one radius for all; in larger sets the same millimetres are a smaller share.
    off_mm = np.abs(edges[near[:, 0]] - edges[near[:, 1]]).max(axis=1) * np.minimum(*sizes[near].T)
    pairs = (_compared(family[i], family[j]) for i, j in near[off_mm <= 2 * ALLOWED_MM])
    return [pair for pair in pairs if pair is not None]


def _sorted_edges(record: SetRecord) -> NDArray[np.float64]:
    lengths = np.concatenate([edge_lengths(shape_of(template)) for template in record.templates])
    return np.asarray(np.sort(lengths) / set_size(record))


def _compared(first: SetRecord, second: SetRecord) -> Alike | None:
    fit = fit_of(first, second)
    if fit is None:
        return None
    kind = _kind_by_blocks(first, second)
    return Alike(first.name, second.name, kind, fit.size, fit.worst_mm)


def _kind_by_blocks(first: SetRecord, second: SetRecord) -> str:
    if len(first.pieces) != len(second.pieces) or first.size_mm is None or second.size_mm is None:
        return SAME_TEMPLATES
    side = min(float(np.sqrt(w * h)) for w, h in (first.size_mm, second.size_mm))
    one, two = _centred_pieces(first, side), _centred_pieces(second, side)
    for motions, kind in ((_TURNS, SAME_BLOCK), (_MIRRORS, MIRRORED_BLOCK)):
        for motion in motions:
            if _pieces_agree(one, [affine_transform(piece, [*motion, 0.0, 0.0]) for piece in two]):
                return kind
    return SAME_TEMPLATES


def _centred_pieces(record: SetRecord, side: float) -> list[shapely.Polygon]:
    """The pieces about the block's middle, the block as large as a square of this side (mm)."""
    assert record.size_mm is not None  # noqa: S101 (the caller saw to it)
    width, height = record.size_mm
    scale = side / float(np.sqrt(width * height))
    middle = np.array([width, height]) / 2
    return [shapely.Polygon((piece.drawn(ALLOWED_MM / 10) - middle) * scale) for piece in record.pieces]


def _pieces_agree(one: Sequence[shapely.Polygon], two: Sequence[shapely.Polygon]) -> bool:
    """Whether every piece has a piece of its own on it, edges within ALLOWED_MM of one another on the average."""
    tree = KDTree(np.array([piece.centroid.coords[0] for piece in two]))
    free = set(range(len(two)))
    for piece in one:
        _, near = tree.query(piece.centroid.coords[0], k=min(3, len(two)))
        partner = next((int(k) for k in np.atleast_1d(near) if k in free and _on_one_another(piece, two[k])), None)
        if partner is None:
            return False
        free.remove(partner)
    return True


def _on_one_another(one: shapely.Polygon, two: shapely.Polygon) -> bool:
    return bool(one.symmetric_difference(two).area <= ALLOWED_MM * one.length)
