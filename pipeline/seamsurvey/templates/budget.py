"""The uncertainty budget of an edge's length (JCGM 100:2008, 5.1 and 6.2), and the edges made from it."""

import math

import numpy as np
from numpy.typing import NDArray

from seamsurvey.geometry import edge_lengths, edge_vectors
from seamsurvey.model import Edge, Plane

Floats = NDArray[np.float64]

COVERAGE = 2.0  # k

# Every edge of a set is measured a little outside or inside the card, alike: what a scanner's sharpening, the
# pale fringe of a cut and the softness of a shadow's beginning leave after a fit in linear light. On rendered
# scans with exact truth the mean was 0.05 px, so that 0.1 px is a careful standard deviation. A length takes it
# twice.
SHARED_BIAS_PX = 0.1

EDGE_FIT = "edge fit"
EDGE_BIAS = "edge bias"
ALONG = "scale along the ruler"
ACROSS = "scale across the ruler"
THICKNESS = "thickness and flatness"
ALLOWANCE = "allowance"


def edge_bias_mm(plane: Plane) -> float:
    """One standard deviation of the shared edge bias, mm outwards."""
    return SHARED_BIAS_PX * plane.mm_per_px


def budgeted_edges(
    outline: Floats, own: Floats, of_plane: Floats, of_bias: Floats, plane: Plane
) -> tuple[Edge, ...]:
    """The edges of a finished outline (n, 2), each with its budget.

    ``own`` (2n, 2n) mm² is the corners' own covariance, ``of_plane`` (2n, 6) and ``of_bias`` (2n,) how they move
    with the plane's matrix and the edge bias. On a flatbed card and ruler both lie on the glass: thickness adds
    nothing. Along and across share the plane's covariance, so u is not always the root of the terms' squares.
    """
    count = len(outline)
    lengths = edge_lengths(outline)
    ways = edge_vectors(outline) / lengths[:, None]
    edges = []
    for k in range(count):
        move = np.zeros(2 * count)
        after = (k + 1) % count
        move[2 * after : 2 * after + 2] = ways[k]
        move[2 * k : 2 * k + 2] = -ways[k]
        of_entries = move @ of_plane
        terms = {
            EDGE_FIT: math.sqrt(max(0.0, float(move @ own @ move))),
            EDGE_BIAS: abs(float(move @ of_bias)) * edge_bias_mm(plane),
            **_scale_terms(ways[k], float(lengths[k]), plane),
            THICKNESS: 0.0,
            ALLOWANCE: 0.0,
        }
        scale = float(of_entries @ plane.covariance @ of_entries)
        standard = math.sqrt(terms[EDGE_FIT] ** 2 + terms[EDGE_BIAS] ** 2 + max(0.0, scale))
        cosine = min(1.0, abs(float(ways[k] @ plane.axis)))
        edges.append(
            Edge(
                length_mm=float(lengths[k]),
                u_mm=COVERAGE * standard,
                along_deg=math.degrees(math.acos(cosine)),
                dominant_term=max(terms, key=lambda name: terms[name]),
                budget_mm=terms,
            )
        )
    return tuple(edges)


def _scale_terms(way: Floats, length: float, plane: Plane) -> dict[str, float]:
    """What the plane's errors along the ruler, and all others, do to a length in this direction (standard, mm).

    An error dM of the matrix M strains the plane by E = dM M⁻¹ (both 2 × 2); a length L in the direction t grows by
    L t·E t. With t = cos a + sin n (a along the ruler, n across it) the part of a·E a is the one along the ruler.
    """
    inverse: Floats = np.asarray(np.linalg.inv(plane.matrix[:, :2]), dtype=float)
    axis = plane.axis / np.hypot(*plane.axis)
    across = np.array([-axis[1], axis[0]])
    cosine, sine = float(way @ axis), float(way @ across)
    along_part = cosine**2 * _strain(axis, axis, inverse)
    rest = sine**2 * _strain(across, across, inverse) + sine * cosine * (
        _strain(axis, across, inverse) + _strain(across, axis, inverse)
    )
    return {
        name: length * math.sqrt(max(0.0, float(part @ plane.covariance @ part)))
        for name, part in ((ALONG, along_part), (ACROSS, rest))
    }


def _strain(left: Floats, right: Floats, inverse: Floats) -> Floats:
    """(6,): how left · dM M⁻¹ right depends on the matrix entries, row by row."""
    before: Floats = inverse @ right
    return np.concatenate([left[0] * before, [0.0], left[1] * before, [0.0]])
