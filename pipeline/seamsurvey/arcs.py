"""Outlines with curved edges: a polygon of corners, and for every edge its bulge.

The bulge of an edge is the tangent of a quarter of the angle its arc sweeps (the convention of the DXF polyline,
group code 42): 0 is straight, 1 a half circle. It is positive where the arc runs counter-clockwise from its first
corner to its second, so that on a counter-clockwise outline a positive bulge leaves the polygon and a negative one
enters it. Turning an outline over reverses its order and keeps every bulge; scaling keeps it, too.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from seamsurvey.geometry import edge_lengths, signed_area

Points = NDArray[np.float64]

SAGITTA_MM = 0.005  # a drawn chord lies no further from its arc: a quarter of what a page may be off


def bulge_of(sweep_deg: float) -> float:
    """The bulge of an arc that sweeps so many degrees, -360 < sweep < 360, counter-clockwise positive."""
    return math.tan(math.radians(sweep_deg) / 4)


def sweep_of(bulge: float) -> float:
    """Degrees that an arc of this bulge sweeps, counter-clockwise positive."""
    return math.degrees(4 * math.atan(bulge))


def radius_of(chord: float, bulge: float) -> float:
    """The radius of the arc over a chord; infinite when straight. r = c (1 + b²) / (4 |b|)."""
    return chord * (1 + bulge * bulge) / (4 * abs(bulge)) if bulge else math.inf


def arc_length(chord: float, bulge: float) -> float:
    """The length along the arc over a chord."""
    return chord if abs(bulge) < 1e-9 else radius_of(chord, bulge) * abs(math.radians(sweep_of(bulge)))


def along_arc(start: Points, end: Points, bulge: float, shares: Points) -> Points:
    """(k, 2): the points at these shares (0 at the start, 1 at the end) of the arc's length."""
    start, end = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    shares = np.asarray(shares, dtype=float)
    chord = end - start
    if abs(bulge) < 1e-9:
        return np.asarray(start + shares[:, None] * chord)
    # The inscribed angle: at share t the point is seen from the start under half of what is still to be swept.
    half = 2 * math.atan(bulge)
    reach = np.sin(shares * half) / math.sin(half)
    turn = -(1 - shares) * half
    turned = np.stack(
        [
            np.cos(turn) * chord[0] - np.sin(turn) * chord[1],
            np.sin(turn) * chord[0] + np.cos(turn) * chord[1],
        ],
        axis=1,
    )
    return np.asarray(start + reach[:, None] * turned)


def drawn_out(outline: Points, bulges: Sequence[float], sagitta: float = SAGITTA_MM) -> Points:
    """(m, 2): the outline with every arc as short chords, none further from it than ``sagitta``.

    ``bulges`` is empty for an outline of straight edges, else one for every edge.
    """
    if not any(bulges):
        return outline
    points = []
    for k, (chord, bulge) in enumerate(zip(edge_lengths(outline), bulges, strict=True)):
        points.append(outline[k : k + 1])
        if bulge:
            steps = _steps(float(chord), bulge, sagitta)
            after = outline[(k + 1) % len(outline)]
            points.append(along_arc(outline[k], after, bulge, np.arange(1, steps) / steps))
    return np.vstack(points)


def centre_of(start: Points, end: Points, bulge: float) -> Points:
    """(2,): the centre of an arc that is none but straight."""
    start, end = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    half = (end - start) / 2
    # Seen from the chord's middle the centre lies to the left where the arc runs counter-clockwise, under 180°.
    return np.asarray(start + half + np.array([-half[1], half[0]]) / math.tan(2 * math.atan(bulge)))


def shares_of(points: Points, start: Points, end: Points, bulge: float) -> tuple[Points, Points]:
    """(k,) where along an arc, 0 at its start and 1 at its end, points lie, and (k,) how far off its circle.

    Points of the circle beyond the arc have shares above 1.
    """
    centre, sweep = centre_of(start, end, bulge), math.radians(sweep_of(bulge))
    from_centre = np.asarray(points, dtype=float) - centre
    radius = math.hypot(*(np.asarray(start) - centre))
    angles = np.arctan2(from_centre[:, 1], from_centre[:, 0])
    begin = math.atan2(*(np.asarray(start) - centre)[::-1])
    turned = np.mod((angles - begin) * math.copysign(1, sweep) + 1e-9, 2 * math.pi) - 1e-9
    return np.asarray(turned / abs(sweep)), np.asarray(np.abs(np.hypot(*from_centre.T) - radius))


def middle_of_run(corners: Points, bulges: Sequence[float]) -> Points:
    """(2,): halfway along a run of stretches, straight or arcs, by length; one bulge for each stretch."""
    lengths = [
        arc_length(math.hypot(*(end - start)), bulge)
        for start, end, bulge in zip(corners[:-1], corners[1:], bulges, strict=True)
    ]
    left = sum(lengths) / 2
    for start, end, bulge, length in zip(corners[:-1], corners[1:], bulges, lengths, strict=True):
        if left <= length:
            return np.asarray(along_arc(start, end, bulge, np.array([left / length]))[0])
        left -= length
    return np.asarray(corners[-1])


def drawn_run(corners: Points, bulges: Sequence[float], sagitta: float = SAGITTA_MM) -> Points:
    """(m, 2): an open run of corners with its arcs as fine chords; ``bulges`` empty, or one for each stretch."""
    return drawn_out(corners, (*bulges, 0.0), sagitta) if any(bulges) else corners


def with_middles(outline: Points, bulges: Sequence[float]) -> Points:
    """(m, 2): the outline with the middle of every arc as one more corner: enough to tell shapes apart."""
    if not any(bulges):
        return outline
    points = []
    for k, bulge in enumerate(bulges):
        points.append(outline[k : k + 1])
        if bulge:
            points.append(along_arc(outline[k], outline[(k + 1) % len(outline)], bulge, np.array([0.5])))
    return np.vstack(points)


def turned_back(bulges: Sequence[float]) -> tuple[float, ...]:
    """The bulges of an outline walked the other way round from the same corner on."""
    return tuple(-bulge for bulge in reversed(bulges))


def heading(start: Points, end: Points, bulge: float) -> float:
    """The direction, degrees counter-clockwise from x, in which an arc leaves its start."""
    along = np.asarray(end, dtype=float) - np.asarray(start, dtype=float)
    return math.degrees(math.atan2(along[1], along[0])) - sweep_of(bulge) / 2


def _steps(chord: float, bulge: float, sagitta: float) -> int:
    radius = radius_of(chord, bulge)
    largest = 2 * math.acos(max(1 - sagitta / radius, 0.0))
    return max(2, math.ceil(abs(math.radians(sweep_of(bulge))) / largest))


def area_with_arcs(outline: Points, bulges: Sequence[float]) -> float:
    """The area inside, the segments between chords and arcs counted with their sign."""
    area = signed_area(outline)
    for chord, bulge in zip(edge_lengths(outline), bulges, strict=bool(bulges)):
        if bulge:
            sweep = math.radians(sweep_of(bulge))
            area += radius_of(float(chord), bulge) ** 2 * (sweep - math.sin(sweep)) / 2
    return area
