"""From pieces that fill an outline to a Layout: corners that meet are one vertex; what lies on what is noted."""

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from seamsurvey.block.outlines import Outline
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Face


class Placed(Protocol):
    """A piece at a place: its face, and its corners in the face's order, complex mm, block frame."""

    @property
    def face(self) -> Face:
        """Which card, and which side of it is up."""

    @property
    def corners(self) -> tuple[complex, ...]:
        """Where its corners lie."""


def laid_out(tiles: Sequence[Placed], outline: Outline, size: tuple[float, float], near: float) -> Layout | None:
    """The layout of tiles, block frame; None where corners within ``near`` of one another can't be made one."""
    corners = np.array([z for tile in tiles for z in tile.corners])
    count = len(corners)
    close = np.abs(corners[:, None] - corners[None, :]) <= 2 * near
    vertex = np.full(count, -1)
    at: list[complex] = []
    for k in range(count):
        if vertex[k] < 0:
            group = np.flatnonzero(close[k] & (vertex < 0))
            vertex[group] = len(at)
            at.append(complex(corners[group].mean()))
    places = np.array(at)
    pieces, starts, ends = [], [], []
    k = 0
    for tile in tiles:
        ring = [int(v) for v in vertex[k : k + len(tile.corners)]]
        k += len(ring)
        if len(set(ring)) < len(ring):
            return None
        pieces.append((tile.face.template, tile.face.reversed, tuple(ring)))
        starts += ring
        ends += [*ring[1:], ring[0]]
    sides = _sides(places, outline, size, near)
    a, b = np.array(starts), np.array(ends)
    along = places[b] - places[a]
    length = np.abs(along)
    local = (places[None, :] - places[a][:, None]) * (along.conjugate() / length)[:, None]
    on_edge = (np.abs(local.imag) <= 2 * near) & (local.real > 2 * near) & (local.real < length[:, None] - 2 * near)
    meetings = tuple(
        (int(v), int(a[e]), int(b[e])) for e, v in np.argwhere(on_edge) if not sides[v] & sides[a[e]] & sides[b[e]]
    )
    return Layout(tuple(pieces), tuple(at), tuple(sides), meetings, size, "none", 0.0, outline)


def _sides(at: np.ndarray, outline: Outline, size: tuple[float, float], near: float) -> list[int]:
    """For each vertex the flags of the block's sides that it lies on."""
    flags = np.zeros(len(at), int)
    for side, (a, b, w, h) in enumerate(outline.sides):
        off = a * at.real + b * at.imag - w * size[0] - h * size[1]
        flags |= np.where(np.abs(off) <= 2 * near, 1 << side, 0)
    return [int(f) for f in flags]
