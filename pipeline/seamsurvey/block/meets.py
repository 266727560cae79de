"""Which edges a person has seen sewn to one another: layouts in which they are come before all others."""

from collections.abc import Sequence

import numpy as np

from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes
from seamsurvey.errors import InputError
from seamsurvey.model import Reason

_SAID = 8.0  # the logarithm of the odds for a layout in which two edges meet as a person has said
_FLAT = 0.05  # sine of the angle under which edges lie along one another
_SHARE = 0.25  # of the shorter edge that must lie on the other


Meeting = tuple[str, str]
"""Edges of two templates that are sewn to one another: ("T1.2", "T3.1"), counted from 1 on the cards' face up."""


def check_meetings(shapes: Shapes, meetings: Sequence[Meeting]) -> None:
    """InputError ``edge-unknown`` for an edge that no template has."""
    for name, edge in (_ended(end) for meeting in meetings for end in meeting):
        edges = len(shapes.face(shapes.names.index(name), False).corners) if name in shapes.names else 0
        if not 1 <= edge <= edges:
            there = f"{name} has edges 1 to {edges}" if edges else f"the templates are {', '.join(shapes.names)}"
            raise InputError(
                "edge-unknown",
                f"There is no edge {name}.{edge} that could meet another.",
                likely=f"{there[0].upper()}{there[1:]}; edges are numbered in the overlay picture.",
                todo='Say two edges as meets = [["T1.2", "T3.1"]] in job.toml, or --meets T1.2=T3.1.',
            )


def met(shapes: Shapes, layout: Layout, meetings: Sequence[Meeting]) -> tuple[Reason, ...]:
    """What the meetings that a layout has say for it."""
    return tuple(
        Reason("edges that meet", f"{' and '.join(meeting)} meet, as you said", _SAID)
        for meeting in meetings
        if _is_met(shapes, layout, meeting)
    )


def _ended(end: str) -> tuple[str, int]:
    name, _, edge = end.rpartition(".")
    return name, int(edge)


def _is_met(shapes: Shapes, layout: Layout, meeting: Meeting) -> bool:
    (a, b), (c, d) = (_edges(shapes, layout, *_ended(end)) for end in meeting)
    along = (b - a)[:, None]
    turn = (along / np.abs(along)).conjugate()
    start, end = (c[None, :] - a[:, None]) * turn, (d[None, :] - a[:, None]) * turn
    shorter = np.minimum(np.abs(along), np.abs(d - c)[None, :])
    opposite = (end - start).real < -(1 - _FLAT) * np.abs(d - c)[None, :]
    near = (np.abs(start.imag) + np.abs(end.imag)) < _FLAT * shorter
    shared = np.minimum(start.real, np.abs(along)) - np.maximum(end.real, 0)
    return bool((opposite & near & (shared > _SHARE * shorter)).any())


def _edges(shapes: Shapes, layout: Layout, name: str, edge: int) -> tuple[np.ndarray, np.ndarray]:
    """Where this edge of all pieces of a template lies, from and to, and those its symmetry makes equal to it."""
    t = shapes.names.index(name)
    n = len(shapes.face(t, False).corners)
    alike = {(edge - 1 + k * n // shapes.turns[t]) % n for k in range(shapes.turns[t])}
    if shapes.mirrored[t]:
        alike |= {(n - 1 - k + shapes.flips[t]) % n for k in alike}
    at = np.array(layout.at)
    rings = [(over, np.array(ring)) for u, over, ring in layout.pieces if u == t]
    sides = [(ring, n - 1 - k if over else k) for over, ring in rings for k in sorted(alike)]
    starts = np.array([at[ring[k]] for ring, k in sides])
    ends = np.array([at[ring[(k + 1) % n]] for ring, k in sides])
    return starts, ends
