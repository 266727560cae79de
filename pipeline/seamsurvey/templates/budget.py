"""The uncertainty budget of an edge's length (JCGM 100:2008, 5.1 and 6.2), and the edges made from it."""

import math

import numpy as np
from numpy.typing import NDArray

from seamsurvey.geometry import edge_lengths, edge_vectors
from seamsurvey.model import Edge, Plane
from seamsurvey.plane import COVERAGE

Floats = NDArray[np.float64]

# Every edge of a set is measured a little outside or inside the card, alike: what a scanner's sharpening, the
# pale fringe of a cut and the softness of a shadow's beginning leave after a fit in linear light. On rendered
# scans with exact truth the mean was 0.05 px, so that 0.1 px is a careful standard deviation. A length takes it
# twice.
SHARED_BIAS_PX = 0.1

EDGE_FIT = "edge fit"
EDGE_BIAS = "edge bias"
ALLOWANCE = "allowance"


def edge_bias_mm(plane: Plane) -> float:
    """One standard deviation of the shared edge bias, mm outwards."""
    return SHARED_BIAS_PX * plane.mm_per_px


def budgeted_edges(
    outline: Floats, own: Floats, of_plane: Floats, of_bias: Floats, plane: Plane
) -> tuple[Edge, ...]:
    """The edges of a finished outline (n, 2), each with its budget.

    ``own`` (2n, 2n) mm² is the corners' own covariance, ``of_plane`` (2n, p) and ``of_bias`` (2n,) how they move
    with the plane's parameters and the edge bias. The plane's terms may share its covariance, so that u is not
    always the root of the terms' squares.
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
            **plane.length_terms(ways[k], float(lengths[k]), of_entries),
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
