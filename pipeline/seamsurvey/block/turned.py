"""Rivals of a layout that a search cut short has missed: a part of the block turned where it lies.

Pieces that together make a shape with a symmetry of its own, a rectangle or a slanted strip, fill the same place
turned half round or flipped. Where the block itself is symmetric, the part's images are turned with it.
"""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from shapely import MultiPoint, Polygon

from seamsurvey.block.joined import Placed
from seamsurvey.block.rank import kept_moves, same_layout
from seamsurvey.block.relaid import relaid
from seamsurvey.block.search import Layout, Task
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.symmetry import STILL, Move
from seamsurvey.block.work import Work

_MOST_PARTS = 600  # of convex parts of one layout: a square of many rows has as many rectangles
_MOST_TURNED = 24  # parts that are turned and laid again
_NEAR_SIGMAS, _LEAST_NEAR_MM = 6.0, 0.5  # so near pieces that touch lie, and corners on one line to that line
_TURNED_NEAR = 3.0  # times that, corners of a part meet when it is turned: laying it again judges better
_WHOLE = 0.98  # of the block: a part that is all of it turns the block


@dataclass(frozen=True)
class _Part:
    """Some pieces of a layout, the bits of ``mask``, that together are convex; ``beside`` are their neighbours."""

    mask: int
    beside: int
    area: float
    corners: tuple[complex, ...]


def turned_layouts(shapes: Shapes, layout: Layout, work: Work) -> Iterator[Layout]:
    """Layouts that fit, too, and differ from this one by a part that is turned; the largest parts first."""
    near = max(_NEAR_SIGMAS * shapes.sigma, _LEAST_NEAR_MM)
    lies = [(t, over, [layout.at[v] for v in corners]) for t, over, corners in layout.pieces]
    moves = [move for move in kept_moves(shapes, layout) if move != STILL]
    tried: list[list[Placed]] = []
    for part in sorted(_convex_parts(lies, near, work), key=lambda part: -part.area):
        for turn in _onto_itself(part.corners, _TURNED_NEAR * near):
            placed = _with_part_turned(shapes, layout, lies, part.mask, turn, moves)
            if placed is None or any(_same(shapes, placed, other, near) for other in tried):
                continue
            tried.append(placed)
            new = relaid(shapes, _task(shapes, layout), layout.size, placed, work)
            if new is not None and not same_layout(shapes, new, layout):
                yield new
            if len(tried) >= _MOST_TURNED or work.over():
                return


# --- parts ----------------------------------------------------------------------------------------------------


def _convex_parts(lies: list[tuple[int, bool, list[complex]]], near: float, work: Work) -> list[_Part]:
    """Every convex part of more than one piece that is put together from convex parts, but for the whole block."""
    shapes = [Polygon([(z.real, z.imag) for z in corners]) for _, _, corners in lies]
    reached = [shape.buffer(near) for shape in shapes]
    beside = [0] * len(lies)
    for a, b in itertools.combinations(range(len(lies)), 2):
        # Two pieces that meet at a corner only share next to nothing of the strips round their edges.
        if reached[a].intersects(shapes[b]) and reached[a].intersection(shapes[b]).area > 4 * near**2:
            beside[a] |= 1 << b
            beside[b] |= 1 << a
    whole = sum(shape.area for shape in shapes)
    parts = [_Part(1 << k, beside[k], shapes[k].area, tuple(corners)) for k, (_, _, corners) in enumerate(lies)]
    known = {part.mask for part in parts}
    for one in parts:  # grows as it goes
        for other in parts:
            if other is one:
                break
            mask = one.mask | other.mask
            if one.mask & other.mask or not one.beside & other.mask or mask in known:
                continue
            work.spend("paired", 100)
            union = _joined(one, other, near)
            if union is not None and union.area < _WHOLE * whole and len(parts) < _MOST_PARTS + len(lies):
                known.add(mask)
                parts.append(union)
    return parts[len(lies) :]


def _joined(one: _Part, other: _Part, near: float) -> _Part | None:
    """Two parts that lie beside one another as one; None where that is not convex."""
    hull = MultiPoint([(z.real, z.imag) for z in (*one.corners, *other.corners)]).convex_hull
    area = one.area + other.area
    if not isinstance(hull, Polygon) or hull.area - area > near * hull.length / 10:
        return None
    mask = one.mask | other.mask
    corners = _corners([complex(x, y) for x, y in list(hull.exterior.coords)[:-1]], near)
    return _Part(mask, (one.beside | other.beside) & ~mask, area, corners)


def _corners(ring: list[complex], near: float) -> tuple[complex, ...]:
    """A convex ring, counter-clockwise, without the points at which it hardly turns."""
    area = sum((a.conjugate() * b).imag for a, b in zip(ring, ring[1:] + ring[:1], strict=True))
    ring = ring if area > 0 else ring[::-1]
    while len(ring) > 3:
        height = [
            abs(((b - a).conjugate() * (c - a)).imag) / abs(c - a)
            for a, b, c in zip(ring[-1:] + ring[:-1], ring, ring[1:] + ring[:1], strict=True)
        ]
        flattest = min(range(len(ring)), key=lambda k: height[k])
        if height[flattest] > near:
            break
        del ring[flattest]
    return tuple(ring)


@dataclass(frozen=True)
class _Turn:
    """z goes to turn · z + shift, or to turn · conj(z) + shift when mirrored."""

    mirrored: bool
    turn: complex
    shift: complex

    def to(self, z: complex) -> complex:
        return self.turn * (z.conjugate() if self.mirrored else z) + self.shift


def _onto_itself(corners: tuple[complex, ...], near: float) -> Iterator[_Turn]:
    """The turns and flips that bring each of a part's corners to one of them."""
    count = len(corners)
    middle = sum(corners) / count
    for mirrored, start in itertools.product((False, True), range(count)):
        if not mirrored and not start:
            continue
        order = [(start - k if mirrored else start + k) % count for k in range(count)]
        pull = sum(
            (corners[to] - middle) * ((z - middle) if mirrored else (z - middle).conjugate())
            for z, to in zip(corners, order, strict=True)
        )
        if not pull:
            continue
        turn = pull / abs(pull)
        found = _Turn(mirrored, turn, middle - turn * (middle.conjugate() if mirrored else middle))
        if all(abs(found.to(z) - corners[to]) <= near for z, to in zip(corners, order, strict=True)):
            yield found


# --- turning --------------------------------------------------------------------------------------------------


def _with_part_turned(
    shapes: Shapes,
    layout: Layout,
    lies: list[tuple[int, bool, list[complex]]],
    mask: int,
    turn: _Turn,
    moves: list[Move],
) -> list[Placed] | None:
    """All pieces, those of a part and of its images turned; None where an image overlaps the part."""
    placed: dict[int, Placed] = {k: (t, over, tuple(at)) for k, (t, over, at) in enumerate(lies)}
    part = [k for k in range(len(lies)) if mask >> k & 1]
    turned = {k: _moved(shapes, lies[k], turn.mirrored, [turn.to(z) for z in lies[k][2]]) for k in part}
    placed.update(turned)
    done = set(part)
    for move in moves:
        image = {k: _image(lies, k, move, layout.size) for k in part}
        into = set(image.values())
        if into == set(part) or into <= done:
            continue
        if into & done:
            return None
        done |= into
        for k, there in image.items():
            t, over, at = turned[k]
            placed[there] = _moved(
                shapes, (t, over, list(at)), move.mirrored, [move.to(z, layout.size) for z in at]
            )
    return [placed[k] for k in range(len(lies))]


def _image(lies: list[tuple[int, bool, list[complex]]], k: int, move: Move, size: tuple[float, float]) -> int:
    """The piece that lies where a move of the block brings this one."""
    middle = move.to(_middle(lies[k][2]), size)
    return min(range(len(lies)), key=lambda other: abs(_middle(lies[other][2]) - middle))


def _middle(corners: list[complex] | tuple[complex, ...]) -> complex:
    return sum(corners) / len(corners)


def _moved(shapes: Shapes, piece: tuple[int, bool, list[complex]], mirrored: bool, at: list[complex]) -> Placed:
    """A piece with its corners moved; mirrored, its other face shows, its corners in that one's order."""
    t, over, _ = piece
    if not mirrored:
        return t, over, tuple(at)
    ring = [at[0], *at[:0:-1]]
    if not shapes.mirrored[t]:
        return t, not over, tuple(ring)
    start = len(ring) - shapes.flips[t]
    return t, over, tuple(ring[start:] + ring[:start])


def _same(shapes: Shapes, one: list[Placed], other: list[Placed], near: float) -> bool:
    """Whether every piece of one lies where one of its template lies in the other."""
    there = [(t, over and not shapes.mirrored[t], _middle(at)) for t, over, at in other]
    return all(
        any(
            t == u and (over and not shapes.mirrored[t]) == face and abs(_middle(at) - z) <= near
            for u, face, z in there
        )
        for t, over, at in one
    )


def _task(shapes: Shapes, layout: Layout) -> Task:
    counts, reversed_counts = [0] * len(shapes.names), [0] * len(shapes.names)
    for t, over, _ in layout.pieces:
        counts[t] += 1
        reversed_counts[t] += over
    area = sum(count * a for count, a in zip(counts, shapes.areas, strict=True))
    return Task(tuple(counts), tuple(reversed_counts), "none", layout.outline, area)
