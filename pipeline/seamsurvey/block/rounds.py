"""Strips laid round a middle: blocks that grow by one piece at a time, each as long as the side it is sewn to.

A search by corners meets such a block among thousands of others of the same strips. Seen from outside it is plain:
take off a strip as long as a side, from side after side in an order that repeats itself, until the middle is left.
"""

import itertools
from collections.abc import Iterator, Sequence

from seamsurvey.block.shapes import Face
from seamsurvey.block.tiles import Places, Tile

# Orders in which sides are taken off, 0 to 3 counter-clockwise from the lower one: round, or opposite in turn.
ORDERS = ((0, 1, 2, 3), (0, 3, 2, 1), (0, 2, 1, 3), (0, 1), (0, 1, 1, 0), (0, 0, 2, 2, 1, 1, 3, 3), (0, 2))
_MOST = 24
_MOST_STEPS = 4000


def round_layouts(places: Places, stock: Sequence[int], width: float, height: float) -> Iterator[tuple[int, ...]]:
    """Layouts of a rectangle, each as the numbers of its tiles, of pieces that are rectangles."""
    oblong = [face for face in places.faces if _is_oblong(face)]
    if len({face.template for face in oblong}) < len({face.template for face in places.faces}):
        return
    for order in ORDERS:
        for first in range(len(order)):
            peeling = _Peeling(places, oblong, (*order[first:], *order[:first]))
            box = 0.0, 0.0, width, height
            yield from itertools.islice(peeling.run(box, tuple(stock), (), 0), _MOST)


def _is_oblong(face: Face) -> bool:
    return len(face.corners) == 4 and all(abs(a - 1.5707963) < 0.03 for a in face.angles)


class _Peeling:
    def __init__(self, places: Places, faces: Sequence[Face], order: tuple[int, ...]) -> None:
        self._places, self._faces, self._order = places, faces, order
        self._steps = 0

    def run(
        self, box: tuple[float, float, float, float], stock: tuple[int, ...], tiles: tuple[int, ...], step: int
    ) -> Iterator[tuple[int, ...]]:
        """The layouts of a box (left, low, right, high) mm, the side next in order first."""
        self._steps += 1
        if self._steps > _MOST_STEPS:
            return
        left, low, right, high = box
        wide, tall = right - left, high - low
        near = 2 * self._places.near
        if min(wide, tall) <= near:
            if not any(stock):
                yield tiles
            return
        side = self._order[step % len(self._order)]
        length, depth = (wide, tall) if side % 2 == 0 else (tall, wide)
        for face in self._faces:
            kind = self._places.kind[face.index]
            if not stock[kind]:
                continue
            for k in (0, 1):
                if k and abs(face.lengths[0] - face.lengths[1]) <= near:
                    continue
                if abs(face.lengths[k] - length) > near or face.lengths[1 - k] > depth + near:
                    continue
                tile, rest = self._taken(face, k, side, box)
                left_over = tuple(n - (i == kind) for i, n in enumerate(stock))
                yield from self.run(rest, left_over, (*tiles, tile.number), step + 1)

    def _taken(
        self, face: Face, k: int, side: int, box: tuple[float, float, float, float]
    ) -> tuple[Tile, tuple[float, float, float, float]]:
        """A piece along a side of the box, its edge ``k`` there, and the box that is left."""
        left, low, right, high = box
        deep = face.lengths[1 - k]
        start, along = {
            0: (complex(left, low), 1), 1: (complex(right, low), 1j), 2: (complex(right, high), -1),
            3: (complex(left, high), -1j),
        }[side]  # fmt: skip
        edge = face.corners[(k + 1) % 4] - face.corners[k]
        turn = along * abs(edge) / edge
        corners = [start + turn * (z - face.corners[k]) for z in face.corners]
        rest = {
            0: (left, low + deep, right, high), 1: (left, low, right - deep, high),
            2: (left, low, right, high - deep), 3: (left + deep, low, right, high),
        }[side]  # fmt: skip
        return self._places.tile(face, corners), rest
