"""Every way to lay one more piece at any corner of the opening, the most evident first: all at once, in arrays.

What speaks for a placement is the number of *conditions* it meets: a corner on a corner is two, a corner on an
edge or an edge along a corner is one, and three are spent on where the piece lies. A piece laid anyhow flush in a
corner meets none to spare; the right one meets several, each to within the snap.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.choices import Choice
from seamsurvey.block.frontier import Frontier
from seamsurvey.block.shapes import Face

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

_LOOKED_AT = 60  # of all that angles and lengths allow, how many are compared with the opening corner by corner


@dataclass(frozen=True)
class Candidate:
    """A choice at corner ``where`` (loop, vertex) and the conditions it would meet to spare."""

    where: tuple[int, int]
    choice: Choice
    conditions: int


@dataclass(frozen=True)
class _Corners:
    """The corners of the opening that may be filled: their loop and number, and what ``choices.Corner`` has."""

    where: list[tuple[int, int]]
    here: Complexes
    out: Complexes
    into: Complexes
    gap: Floats
    onward: Floats
    back: Floats
    beyond: Floats  # (k, 2)
    bows: Floats  # (k, 2), of the edges onward and back


class Candidates:
    """The faces in use as arrays: a row for every corner of every face, in the turn that lays its edge along x."""

    def __init__(self, faces: list[Face], turns: tuple[int, ...], snap: float) -> None:
        self._snap = snap
        self._rows = [(face, c) for face in faces for c in range(len(face.corners) // turns[face.template])]
        most = max(len(face.corners) for face in faces)
        count = len(self._rows)
        self.template = np.array([face.template for face, _ in self._rows])
        self.reversed = np.array([face.reversed for face, _ in self._rows])
        self._angle, self._edge, self._last = np.empty(count), np.empty(count), np.empty(count)
        self._next, self._before = np.empty(count), np.empty(count)
        self._bow, self._bow_last = np.empty(count), np.empty(count)
        self._shape = np.full((count, most), np.nan, dtype=complex)  # from corner c on
        for r, (face, c) in enumerate(self._rows):
            n = len(face.corners)
            along = face.corners[(c + 1) % n] - face.corners[c]
            self._angle[r], self._edge[r], self._last[r] = face.angles[c], face.lengths[c], face.lengths[c - 1]
            self._next[r], self._before[r] = face.angles[(c + 1) % n], face.angles[c - 1]
            self._bow[r], self._bow_last[r] = face.bulges[c], face.bulges[c - 1]
            ring = [(face.corners[(c + j) % n] - face.corners[c]) * abs(along) / along for j in range(n)]
            self._shape[r, :n] = ring
        self._sharpest = float(self._angle.min())
        self._shortest = float(self._edge.min())
        self._curved = bool(self._bow.any())

    def best(
        self, frontier: Frontier, where: list[tuple[int, int]], stock: NDArray[np.bool_], most: int
    ) -> list[Candidate] | None:
        """The most evident at the corners ``where``; None when some corner can't be filled any more.

        ``stock`` (rows,) says which rows of the table are of pieces that are left.
        """
        corners = _corners(frontier, where)
        allowed, fits = self._allowed(corners, stock)
        if not np.all(allowed.any(axis=1)):
            return None
        whole = np.abs(self._edge - corners.onward[:, None]) < self._snap
        whole_back = fits & (np.abs(self._last - corners.back[:, None]) < self._snap)
        evident = np.where(allowed, fits.astype(int) + whole + whole_back, -1)
        order = np.argsort(-evident, axis=None, kind="stable")[:_LOOKED_AT]
        order = order[evident.ravel()[order] >= 0]
        k, r = np.unravel_index(order, evident.shape)
        turn = self._turns(corners, k, r, fits[k, r])
        laid = corners.here[k][:, None] + turn[:, None] * self._shape[r]
        met = np.empty(len(k), dtype=int)
        loops = np.array([where[i][0] for i in k])
        for n in set(loops.tolist()):
            mine = loops == n
            met[mine] = self._met(np.array([frontier.at[v] for v in frontier.loops[n]]), laid[mine])
        found: list[Candidate] = []
        seen: set[tuple[int, int, int]] = set()
        for i in np.argsort(-met, kind="stable").tolist():
            face, c = self._rows[r[i]]
            middle = np.nanmean(laid[i])
            place = (face.index, round(middle.real / self._snap / 2), round(middle.imag / self._snap / 2))
            if place in seen:
                continue
            seen.add(place)
            along = face.corners[(c + 1) % len(face.corners)] - face.corners[c]
            choice = Choice(face, c, complex(turn[i] * abs(along) / along), -float(met[i]))
            found.append(Candidate(where[k[i]], choice, int(met[i])))
            if len(found) >= most:
                break
        return found

    def _allowed(self, corners: _Corners, stock: NDArray[np.bool_]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """(corners, rows): where angles and lengths allow a row's face, and where it fills the angle."""
        snap = self._snap
        gap, onward, back = corners.gap[:, None], corners.onward[:, None], corners.back[:, None]
        shortest = np.minimum(np.minimum(back, onward), np.minimum(self._edge, self._last))
        slack = 1.5 * snap / shortest
        spare = gap - self._angle
        fits = np.abs(spare) <= slack
        allowed = stock & (fits | (spare >= self._sharpest - slack))
        allowed &= self._edge_fits(self._edge, onward, corners.beyond[:, :1], self._next)
        allowed &= ~fits | self._edge_fits(self._last, back, corners.beyond[:, 1:], self._before)
        if self._curved:
            allowed &= self._bows_fit(self._edge, onward, self._bow, corners.bows[:, :1])
            allowed &= ~fits | self._bows_fit(self._last, back, self._bow_last, corners.bows[:, 1:])
        return allowed, fits

    def _edge_fits(self, edge: Floats, onward: Floats, beyond: Floats, angle: Floats) -> NDArray[np.bool_]:
        """(corners, rows): whether an edge can lie along the opening's edge, as ``choices.Chooser`` has it."""
        snap = self._snap
        slack = 2 * snap / np.minimum(edge, onward)
        flat = beyond >= math.pi - slack
        spare = beyond - angle
        ends = (np.abs(spare) <= slack) | (spare >= self._sharpest - slack)
        longer, shorter = edge > onward + snap, edge < onward - snap
        return np.where(longer, flat, np.where(shorter, flat | (onward - edge >= self._shortest - snap), ends))

    def _bows_fit(self, edge: Floats, onward: Floats, bulge: Floats, bow: Floats) -> NDArray[np.bool_]:
        """(corners, rows): whether both are straight, or arcs of one length that bow alike."""
        arcs = (np.abs(edge - onward) <= 2 * self._snap) & (np.abs(bulge - bow) * onward / 2 <= self._snap)
        return np.where((bulge == 0) | (bow == 0), bulge == bow, arcs)

    def _turns(
        self, corners: _Corners, k: NDArray[np.intp], r: NDArray[np.intp], fits: NDArray[np.bool_]
    ) -> Complexes:
        """Turns that lay the edge along the opening's, and the edge before it too where both are to fit."""
        pull = corners.out[k] * self._edge[r]
        pull = pull + np.where(fits, corners.into[k] * self._last[r] * np.exp(-1j * self._angle[r]), 0)
        return np.asarray(pull / np.abs(pull))

    def _met(self, loop: Complexes, laid: Complexes) -> NDArray[np.int_]:
        """(m,) conditions that pieces ``laid`` (m, corners), nan beyond their last, meet in a loop, less three."""
        snap = self._snap
        there = ~np.isnan(laid.real)
        on_vertex = (np.abs(laid[:, :, None] - loop) < snap).any(axis=2)
        on_edge = _along(loop, np.roll(loop, -1), laid[:, :, None], snap).any(axis=2)
        following = np.where(np.roll(there, -1, axis=1), np.roll(laid, -1, axis=1), laid[:, :1])
        touched = _along(laid[:, :, None], following[:, :, None], loop, snap).any(axis=1)
        taken = (np.abs(laid[:, :, None] - loop) < snap).any(axis=1)
        return np.asarray(
            2 * (on_vertex & there).sum(axis=1) + (on_edge & ~on_vertex & there).sum(axis=1)
            + (touched & ~taken).sum(axis=1) - 3
        )  # fmt: skip


def _along(start: Complexes, end: Complexes, point: Complexes, snap: float) -> NDArray[np.bool_]:
    """Whether points lie on lines from start to end, not at their ends."""
    with np.errstate(invalid="ignore", divide="ignore"):
        along = end - start
        length = np.abs(along)
        local = (point - start) * np.conj(along) / length
        return np.asarray((local.real > 0) & (local.real < length) & (np.abs(local.imag) < snap))


def _corners(frontier: Frontier, where: list[tuple[int, int]]) -> _Corners:
    at = frontier.at
    rows: list[tuple[complex, complex, complex, float, float, float]] = []
    bows = []
    for n, k in where:
        loop = frontier.loops[n]
        far = (k + 1) % len(loop)
        here = at[loop[k]]
        onward, back = at[loop[far]] - here, at[loop[k - 1]] - here
        gaps = frontier.gap(loop, k), frontier.gap(loop, far), frontier.gap(loop, k - 1 if k else len(loop) - 1)
        rows.append((here, onward, back, *gaps))
        bows.append((frontier.bow(loop, k), frontier.bow(loop, k - 1 if k else len(loop) - 1)))
    points, ahead, behind = (np.array([row[i] for row in rows], dtype=complex) for i in range(3))
    gap, after, before = (np.array([row[i] for row in rows], dtype=float) for i in range(3, 6))
    return _Corners(
        where, points, ahead / np.abs(ahead), behind / np.abs(behind), gap, np.abs(ahead), np.abs(behind),
        np.column_stack([after, before]), np.array(bows),
    )  # fmt: skip
