"""The uncertainty budget of an edge's length (JCGM 100:2008, 5.1 and 6.2), and the edges made from it."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from seamsurvey.arcs import along_arc, arc_length, radius_of, sweep_of
from seamsurvey.geometry import edge_lengths, edge_vectors
from seamsurvey.model import Arc, Edge, Plane
from seamsurvey.plane import COVERAGE

Floats = NDArray[np.float64]

# Every edge of a set is measured a little outside or inside the card, alike: what a scanner's sharpening, the
# pale fringe of a cut and the softness of a shadow's beginning leave after a fit in linear light. On rendered
# scans with exact truth the mean was 0.05 px, so that 0.1 px is a careful standard deviation. A length takes it
# twice.
SHARED_BIAS_PX = 0.1

_ARC_PARTS = 12  # in which an arc's direction is taken as one, for the plane's terms

EDGE_FIT = "edge fit"
EDGE_BIAS = "edge bias"
ALLOWANCE = "allowance"


def edge_bias_mm(plane: Plane) -> float:
    """One standard deviation of the shared edge bias, mm outwards."""
    return SHARED_BIAS_PX * plane.mm_per_px


def budgeted_edges(
    outline: Floats,
    own: Floats,
    of_plane: Floats,
    of_bias: Floats,
    plane: Plane,
    *,
    bulges: Sequence[float] = (),
) -> tuple[Edge, ...]:
    """The edges of a finished outline (n, 2), each with its budget; ``bulges`` as in ``arcs``.

    ``own`` (m, m) mm² is the own covariance of the corners, and of the rise of each arc after them (``finished``),
    ``of_plane`` (m, p) and ``of_bias`` (m,) how these move with the plane's parameters and the edge bias. The
    plane's terms may share its covariance, so that u is not always the root of the terms' squares.
    """
    count = len(outline)
    chords = edge_lengths(outline)
    ways = edge_vectors(outline) / chords[:, None]
    edges = []
    rise = 2 * count
    for k, bulge in enumerate(bulges or [0.0] * count):
        chord = np.zeros(len(own))
        after = (k + 1) % count
        chord[2 * after : 2 * after + 2] = ways[k]
        chord[2 * k : 2 * k + 2] = -ways[k]
        length, curve, move = float(chords[k]), None, chord
        if bulge:
            of_rise = np.zeros(len(own))
            of_rise[rise] = 1.0
            rise += 1
            (length, radius, sweep), slopes = _arc_of(float(chords[k]), bulge)
            move, radius_move, sweep_move = slopes @ np.array([chord, of_rise])
            u_radius, u_sweep = (
                COVERAGE * _standard(own, of_plane, of_bias, plane, way) for way in (radius_move, sweep_move)
            )
            curve = Arc(radius, u_radius, math.degrees(sweep), math.degrees(u_sweep))
        of_entries = move @ of_plane
        terms = {
            EDGE_FIT: math.sqrt(max(0.0, float(move @ own @ move))),
            EDGE_BIAS: abs(float(move @ of_bias)) * edge_bias_mm(plane),
            **_plane_terms(outline[[k, after]], bulge, length, of_entries, plane),
            ALLOWANCE: 0.0,
        }
        cosine = min(1.0, abs(float(ways[k] @ plane.axis)))
        edges.append(
            Edge(
                length_mm=length,
                u_mm=COVERAGE * _standard(own, of_plane, of_bias, plane, move),
                along_deg=math.degrees(math.acos(cosine)),
                dominant_term=max(terms, key=lambda name: terms[name]),
                budget_mm=terms,
                curve=curve,
            )
        )
    return tuple(edges)


def _standard(own: Floats, of_plane: Floats, of_bias: Floats, plane: Plane, move: Floats) -> float:
    """One standard deviation of what moves so (m,) with the corners and rises."""
    of_entries = move @ of_plane
    scale = float(of_entries @ plane.covariance @ of_entries)
    bias = abs(float(move @ of_bias)) * edge_bias_mm(plane)
    return math.sqrt(max(0.0, float(move @ own @ move)) + bias**2 + max(0.0, scale))


def _arc_of(chord: float, bulge: float) -> tuple[tuple[float, float, float], Floats]:
    """Length, radius and sweep (radians) of an arc, and (3, 2) how they grow with its chord and its rise."""

    def figures(chord: float, rise: float) -> Floats:
        turned = 2 * rise / chord
        return np.array(
            [arc_length(chord, turned), radius_of(chord, turned), math.radians(sweep_of(turned))], dtype=float
        )

    rise = bulge * chord / 2
    step = 1e-5 * abs(rise)
    slopes = [
        (figures(chord + across, rise + along) - figures(chord - across, rise - along)) / (2 * step)
        for across, along in ((step, 0.0), (0.0, step))
    ]
    length, radius, sweep = figures(chord, rise)
    return (float(length), float(radius), float(sweep)), np.column_stack(slopes)


def _plane_terms(ends: Floats, bulge: float, length: float, of_entries: Floats, plane: Plane) -> dict[str, float]:
    """What the plane adds to a length: an arc's terms are those of its parts, each in its own direction."""
    count = _ARC_PARTS if bulge else 1
    shares = np.linspace(0.0, 1.0, count + 1)
    steps = np.diff(along_arc(ends[0], ends[1], bulge, shares), axis=0)
    terms: dict[str, float] = {}
    for step in steps:
        way = step / np.hypot(*step)
        for name, value in plane.length_terms(way, length / count, of_entries / count).items():
            terms[name] = terms.get(name, 0.0) + value
    return terms
