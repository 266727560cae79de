"""Two pieces sewn along a whole edge are one larger piece: its outline, and how well it is known.

In a block of straight seams the last cut of a convex part left two convex parts with a whole edge in common. What
speaks for sewing two pieces so is that the edges are equally long, and that at each end the two angles make a
straight line or else a corner: an agreement of three numbers by chance is rare, even among hundreds of edges. The
agreement also corrects the outlines: they are adjusted to it at once, with their covariance, so that a large part
is known as well as all its pieces together tell.
"""

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.shapes import Shapes

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

# How far edges and angles spread among the pieces of a block: two agree by chance to within their noise with a
# probability of about the noise over this.
_SPREAD_MM = 80.0
_SPREAD_RAD = 2.5
_STRAIGHT = 4.0  # standard deviations within which two angles make a straight line
_NEARLY_STRAIGHT = math.radians(4.0)  # no one draws a corner flatter than this
_AGREES = 3.5  # standard deviations within which what must be equal is

Placed = tuple[int, bool, tuple[complex, ...]]
"""A template, whether it lies reversed, and its corners in the frame of what it is part of, mm."""


@dataclass(frozen=True, eq=False)
class Joined:
    """A convex piece, or several sewn together: ``corners`` (n,) complex mm, counter-clockwise.

    ``covariance`` (2n, 2n) mm², of x0, y0, x1, ...; ``count`` of them are in the block, ``over`` of those reversed,
    None where either face will do. ``distinct``: the number of edges beyond which its outline repeats itself in
    turning. The frame is anyhow.
    """

    corners: Complexes
    covariance: Floats
    pieces: tuple[Placed, ...]
    count: int
    over: int | None
    distinct: int
    mirrored: bool

    @functools.cached_property
    def rows(self) -> tuple[Floats, Floats]:
        """(n, 3) and (n, 3, 2n): each edge's length, mm, and the angles at its start and end; their derivatives."""
        n = len(self.corners)
        ahead = np.roll(self.corners, -1) - self.corners
        lengths = np.abs(ahead)
        angles = math.pi - np.angle(ahead / np.roll(ahead, 1))
        length_by, heading_by = np.zeros((n, 2 * n)), np.zeros((n, 2 * n))
        for k in range(n):
            x, y = ahead[k].real / lengths[k], ahead[k].imag / lengths[k]
            for end, sign in (((k + 1) % n, 1.0), (k, -1.0)):
                length_by[k, 2 * end : 2 * end + 2] = sign * x, sign * y
                heading_by[k, 2 * end : 2 * end + 2] = -sign * y / lengths[k], sign * x / lengths[k]
        angle_by = np.roll(heading_by, 1, axis=0) - heading_by
        values = np.stack([lengths, angles, np.roll(angles, -1)], axis=1)
        return values, np.stack([length_by, angle_by, np.roll(angle_by, -1, axis=0)], axis=1)

    @functools.cached_property
    def known(self) -> Floats:
        """(n, 3, 3) covariance of each edge's length and the angles at its ends."""
        _, by = self.rows
        return np.asarray(by @ self.covariance @ by.transpose(0, 2, 1))

    def turned_over(self) -> "Joined":
        """The other face: corner k becomes corner -k, edge k becomes edge n - 1 - k."""
        n = len(self.corners)
        order = -np.arange(n) % n
        index = np.stack([2 * order, 2 * order + 1], axis=1).ravel()
        sign = np.tile([-1.0, 1.0], n)
        return Joined(
            -self.corners[order].conj(),
            self.covariance[np.ix_(index, index)] * np.outer(sign, sign),
            tuple((t, not over, _over(corners)) for t, over, corners in self.pieces),
            self.count,
            None if self.over is None else self.count - self.over,
            self.distinct,
            self.mirrored,
        )


@dataclass(frozen=True, eq=False)
class Seam:
    """Edge ``edge`` of one along edge ``along`` of the other, that turned over or not; ``evidence`` is a logarithm.

    ``straight``: whether the two go on straight where the edge starts, and where it ends.
    """

    evidence: float
    one: Joined
    edge: int
    other: Joined
    along: int
    turned: bool
    straight: tuple[bool, bool]


def single(shapes: Shapes, template: int, count: int, over: int | None) -> Joined | None:
    """A template as it was measured; None where it isn't convex or has a curved edge."""
    face = shapes.face(template, False)
    if any(face.bulges) or max(face.angles) > math.pi:
        return None
    n = len(face.corners)
    mirrored = shapes.mirrored[template]
    return Joined(
        np.array(face.corners),
        np.eye(2 * n) * shapes.sigma**2 / 2,
        ((template, False, face.corners),),
        count,
        None if mirrored else over,
        n // shapes.turns[template],
        mirrored,
    )


def seams_among(one: Joined, pairs: Sequence[tuple[int, Joined, int, int]]) -> list[tuple[Seam, int]]:
    """The seams of those pairs (edge of the one, another, its edge, a number) that the measurements allow.

    Each with the pair's number. Either face of the other may be up.
    """
    if not pairs:
        return []
    mine, my_known = one.rows[0], one.known
    edges = np.array([edge for edge, *_ in pairs])
    values = np.array([other.rows[0][along] for _, other, along, _ in pairs])
    known = np.array([other.known[along] for _, other, along, _ in pairs])
    found: list[tuple[Seam, int]] = []
    for turned in (False, True):
        theirs = values if turned else values[:, [0, 2, 1]]
        way = np.array([0, 1, 2] if turned else [0, 2, 1])
        sums = mine[edges] + theirs * np.array([-1.0, 1.0, 1.0]) - np.array([0.0, math.pi, math.pi])
        sign = np.array([-1.0, 1.0, 1.0])
        both = my_known[edges] + known[:, way][:, :, way] * np.outer(sign, sign)
        spread = np.sqrt(np.diagonal(both, axis1=1, axis2=2))
        flat = _STRAIGHT * spread[:, 1:]
        bent = sums[:, 1:]
        convex = (bent <= flat).all(axis=1)
        for p in np.flatnonzero(convex & (np.abs(sums[:, 0]) <= _AGREES * spread[:, 0])).tolist():
            edge, other, along, number = pairs[p]
            if not _faces_agree(one, other, turned):
                continue
            limit = np.maximum(flat[p], _NEARLY_STRAIGHT)
            straight = (bool(abs(bent[p, 0]) <= limit[0]), bool(abs(bent[p, 1]) <= limit[1]))
            evidence = _evidence(sums[p], both[p], straight)
            if evidence > 0:
                found.append((Seam(evidence, one, edge, other, along, turned, straight), number))
    return found


def _faces_agree(one: Joined, other: Joined, turned: bool) -> bool:
    if turned and other.mirrored:
        return False  # the same as not turned
    if one.over is None or other.over is None:
        return not turned or not one.mirrored
    return one.over == (other.count - other.over if turned else other.over)


def _evidence(sums: Floats, covariance: Floats, straight: tuple[bool, bool]) -> float:
    """Logarithm of how much likelier the agreement is of parts that are neighbours than of any two."""
    which = [0, *(k + 1 for k in (0, 1) if straight[k])]
    r, c = sums[which], covariance[np.ix_(which, which)]
    chi = float(r @ np.linalg.solve(c, r))
    if chi > _AGREES**2 + 2 * len(which):
        return -math.inf
    chance = math.log(_SPREAD_MM) + (len(which) - 1) * math.log(_SPREAD_RAD)
    return chance - 0.5 * (chi + float(np.linalg.slogdet(2 * math.pi * c)[1]))


def sewn(seam: Seam) -> Joined:
    """The two as one, in the frame of the first, both adjusted to what the seam makes equal."""
    one = seam.one
    other = seam.other.turned_over() if seam.turned else seam.other
    n, m = len(one.corners), len(other.corners)
    e, f = seam.edge, m - 1 - seam.along if seam.turned else seam.along
    corners, covariance = _agreeing(one, e, other, f, seam.straight)
    own, theirs = corners[:n], corners[n:]
    start, end = own[e], own[(e + 1) % n]
    from_, to = theirs[(f + 1) % m], theirs[f]
    turn = (end - start) / (to - from_)
    moved = start + (theirs - from_) * turn
    by = np.eye(n + m, dtype=complex)
    for k in range(m):
        share = (theirs[k] - from_) / (to - from_)
        row = by[n + k]
        row[:] = 0
        row[n + k] += turn
        row[e] += 1 - share
        row[(e + 1) % n] += share
        row[n + (f + 1) % m] += -turn + share * turn
        row[n + f] -= share * turn
    keep = [(e + 1 + k) % n for k in range(n)] + [n + (f + 2 + k) % m for k in range(m - 2)]
    at_start, at_end = n - 1, 0
    dropped = {at for at, flat in ((at_start, seam.straight[0]), (at_end, seam.straight[1])) if flat}
    keep = [v for k, v in enumerate(keep) if k not in dropped]
    real = _real(by[keep])
    # What is adjusted within moves with its outline.
    places = [(Moved(one.corners, own), one.pieces), (Moved(other.corners, moved), other.pieces)]
    pieces = tuple((t, over, tuple(place(c) for c in spots)) for place, some in places for t, over, spots in some)
    return Joined(
        np.concatenate([own, moved])[keep],
        real @ covariance @ real.T,
        pieces,
        one.count,
        other.over if one.over is None else one.over,
        len(keep),
        False,
    )


def _agreeing(one: Joined, e: int, other: Joined, f: int, straight: tuple[bool, bool]) -> tuple[Complexes, Floats]:
    """Corners of both, (n + m,) complex, and their covariance, once the seam's agreements hold (to first order)."""
    n, m = len(one.corners), len(other.corners)
    values, by = one.rows
    their_values, their_by = other.rows
    rows, off = [np.concatenate([by[e, 0], -their_by[f, 0]])], [values[e, 0] - their_values[f, 0]]
    for k, flat in enumerate(straight):
        if flat:
            rows.append(np.concatenate([by[e, 1 + k], their_by[f, 2 - k]]))
            off.append(values[e, 1 + k] + their_values[f, 2 - k] - math.pi)
    h = np.array(rows)
    covariance = np.zeros((2 * (n + m), 2 * (n + m)))
    covariance[: 2 * n, : 2 * n], covariance[2 * n :, 2 * n :] = one.covariance, other.covariance
    gain = np.linalg.solve(h @ covariance @ h.T, h @ covariance).T
    change = (gain @ np.array(off)).reshape(-1, 2) @ np.array([1.0, 1j])
    return np.concatenate([one.corners, other.corners]) - change, covariance - gain @ h @ covariance


def _real(by: Complexes) -> Floats:
    """Complex derivatives (k, n) as real ones (2k, 2n)."""
    k, n = by.shape
    real = np.empty((k, 2, n, 2))
    real[:, 0, :, 0], real[:, 1, :, 1] = by.real, by.real
    real[:, 0, :, 1], real[:, 1, :, 0] = -by.imag, by.imag
    return real.reshape(2 * k, 2 * n)


class Moved:
    """The affine map that brings points, three or more, nearest to their targets."""

    def __init__(self, points: Complexes, targets: Complexes) -> None:
        self._from, self._to = points.mean(), targets.mean()
        z, w = points - self._from, targets - self._to
        self._by, self._mirrored = np.linalg.lstsq(np.stack([z, z.conj()], axis=1), w, rcond=None)[0]

    def __call__(self, z: complex) -> complex:
        """Where a point comes to lie."""
        away = z - self._from
        return complex(self._to + self._by * away + self._mirrored * away.conjugate())


def _over(corners: tuple[complex, ...]) -> tuple[complex, ...]:
    n = len(corners)
    return tuple(-corners[-k % n].conjugate() for k in range(n))
