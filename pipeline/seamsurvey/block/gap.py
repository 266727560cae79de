"""A block that closes but for one gap: where it is, and what would fill it.

Where the pieces that are told fill no outline, one card may have been forgotten. Then they fill an outline that is
larger, all but one hole, or as many as the block's symmetry has images of it. Sizes are sums of edges, as always;
the fullest ones come first, for a quilter forgets one card sooner than many.
"""

import cmath
import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.fill import Budget, Filling
from seamsurvey.block.groups import groups, isometries
from seamsurvey.block.opening import Loop
from seamsurvey.block.outlines import Outline
from seamsurvey.block.pattern import card_of, card_of_face
from seamsurvey.block.search import Best
from seamsurvey.block.shapes import Shapes, area_of
from seamsurvey.block.sizes import Sized, side_sums
from seamsurvey.block.tiles import Orbit, Places, left_over
from seamsurvey.block.work import Work
from seamsurvey.units import fraction_text

Counts = tuple[tuple[int, int | None], ...]

_LARGEST = 0.34  # of the block, all holes together
_LEAST = 0.6  # of the smallest card, one hole
_MOST_SIZES = 16
_STEPS = 1_200  # pieces laid in each group of each size
_SECONDS = 4.0  # of work in all
_MOST_CORNERS = 5  # of one hole that may be met before it is one
_SLIMMEST = 4.0
_MOST_SIDES, _LEAST_DEG = 8, 15  # of a card that may be missing
_SIDED = {4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight"}


@dataclass(frozen=True, eq=False)
class Gap:
    """What stays open: ``holes``, each a ring of complex mm, block frame; what was laid, as a ``Best``.

    ``like`` is the name of the card that would fill it, "" where none does.
    """

    holes: tuple[tuple[complex, ...], ...]
    sized: Sized
    best: Best
    like: str

    @property
    def text(self) -> str:
        """What is missing, its size and its place, in words."""
        hole = self.holes[0]
        what = f"{_shape(hole)} {_sides(hole)}"
        what = f"{what} {_place(hole, self.sized)}" if len(self.holes) == 1 else what
        many = f"{len(self.holes)} times a {what}" if len(self.holes) > 1 else f"a {what}"
        cure = f"are there more of {self.like}?" if self.like else "is a template missing?"
        outline = self.sized.outline.name
        return f"The pieces would fill {'an' if outline[0] in 'aeiou' else 'a'} {outline} all but {many}: {cure}"


def missing_card(corners: Sequence[complex], count: int, block: str) -> str:
    """What a known block lacks, in words."""
    what = f"a {_shape(corners)} {_sides(corners)}"
    times = "once" if count == 1 else f"{count} times"
    return f"The cards are those of a known block, {block}, but for {what}, used {times}: is this template missing?"


def gap_of(shapes: Shapes, counts: Counts, outlines: Sequence[Outline], near: float) -> Gap | None:
    """The block that closes but for a gap, the likeliest that is found; None where none is.

    Likelier is a square, then the more symmetric, then the fuller one.
    """
    work = Work(_SECONDS)
    used = [t for t, (count, _) in enumerate(counts) if count]
    by_face = [over is not None and not shapes.mirrored[t] for t, (_, over) in enumerate(counts)]
    found: list[tuple[tuple[bool, int, int], Gap]] = []
    sizes = itertools.islice(_sizes(shapes, [n for n, _ in counts], outlines, near), _MOST_SIZES)
    for number, sized in enumerate(sizes):
        places = Places(shapes, used, sized.corners, near, by_face=by_face)
        for group in groups(isometries(sized.corners, near)):
            if work.over():
                break
            filling = _Holed(places, group, places.stock(counts), Budget(_STEPS), work)
            tiles = next(iter(filling.run()), None)
            if tiles is not None:
                gap = _gap(shapes, places, sized, tiles, filling.holes)
                found.append(((sized.outline.name != "square", -group.order, number), gap))
                break
    return min(found, key=lambda one: one[0])[1] if found else None


def _sizes(shapes: Shapes, counts: Sequence[int], outlines: Sequence[Outline], near: float) -> Iterator[Sized]:
    """Outlines a little larger than the pieces, whose sides are sums of edges; the fullest first."""
    area = sum(n * a for n, a in zip(counts, shapes.areas, strict=True))
    least = area + _LEAST * min(a for n, a in zip(counts, shapes.areas, strict=True) if n)
    most = area / (1 - _LARGEST)
    # A missing card has edges of its own along the side, but they mostly are those of the cards beside it.
    sums, _ = side_sums(shapes, [2 * n for n in counts], (most * _SLIMMEST) ** 0.5)
    side = np.array(sorted(length for length in sums if length > 0))
    if not len(side):
        return
    rows: list[NDArray[np.float64]] = []  # each (4, n): number of the outline, width, height, area
    for number, outline in enumerate(outlines):
        if outline.aspect is not None:
            wide = side / abs(complex(*outline.corners[1]) - complex(*outline.corners[0]))
            high = wide * outline.aspect
        else:
            low = np.searchsorted(side, np.maximum(least / side, side / _SLIMMEST))
            over = np.maximum(low, np.searchsorted(side, np.minimum(most / side, side - near)))
            wide = np.repeat(side, over - low)
            high = np.concatenate([side[a:b] for a, b in zip(low, over, strict=True)])
        filled = outline.area(wide, high)
        rows.append(
            np.stack([np.full_like(wide, number), wide, high, filled])[:, (least <= filled) & (filled <= most)]
        )
    all_of = np.concatenate(rows, axis=1)
    fullest = all_of[:, np.argsort(np.abs(all_of[3] - area), kind="stable")]
    found = (Sized(outlines[int(number)], float(wide), float(high)) for number, wide, high, _ in fullest.T)
    kept: list[Sized] = []
    for one in found:
        if all(abs(one.width - k.width) + abs(one.height - k.height) > near for k in kept):
            kept.append(one)
            yield one


@dataclass
class _Holed(Filling):
    """A search that may leave holes: corners where nothing is laid, and what is open round them at the end."""

    holes: tuple[Loop, ...] = field(default=())

    def _extend(
        self, loops: tuple[Loop, ...], covered: int, stock: tuple[int, ...], tiles: tuple[int, ...]
    ) -> Iterator[tuple[int, ...] | None]:
        if not any(stock):
            if 0 < len(loops) <= self.group.order and all(self._is_card(loop) for loop in loops):
                self.holes = loops
                yield tiles
            return
        if self._over():
            return
        key = covered, stock, self._rounded(loops)
        if key in self._failed:
            return
        for orbit in self._tightest(loops, covered, stock):
            if self._over():
                return
            self.budget.used += len(orbit.tiles)
            self.work.spend("filled", len(orbit.tiles))
            opened = self._laid(loops, orbit)
            if opened is None:
                continue
            left = left_over(stock, orbit)
            numbers = tuple(tile.number for tile in orbit.tiles)
            yield from self._extend(opened, covered | orbit.covers, left, tiles + numbers)
        self._failed.add(key)

    def _is_card(self, hole: Loop) -> bool:
        """Whether a hole may be a card's: convex, of few corners, its edges as long as those it is sewn to."""
        angles = _angles(hole.points)
        return (
            len(angles) <= _MOST_SIDES
            and all(_LEAST_DEG <= angle < 180 for angle in angles)
            and all(
                any(abs(length - own) <= self.places.near for face in self.places.faces for own in face.lengths)
                for length in _lengths(hole.points)
            )
        )

    def _tightest(self, loops: tuple[Loop, ...], covered: int, stock: tuple[int, ...]) -> list[Orbit]:
        """The corner that the fewest pieces fit, but for those that none fits: they are a hole's."""
        best: list[Orbit] | None = None
        empty = 0
        for loop in loops:
            for found in self.corners(loop):
                able = [o for o in found if not o.covers & covered and all(stock[i] >= u for i, u in o.uses)]
                empty += not able
                if empty > _MOST_CORNERS * self.group.order:
                    return []
                if able and (best is None or len(able) < len(best)):
                    best = able
        return best or []


def _gap(shapes: Shapes, places: Places, sized: Sized, tiles: Sequence[int], holes: Sequence[Loop]) -> Gap:
    rings = tuple(loop.points for loop in holes)
    pieces = tuple(
        (places.tiles[k].face.template, places.tiles[k].face.reversed, places.tiles[k].corners) for k in tiles
    )
    whole = area_of(list(sized.corners))
    open_ = sum(area_of(list(ring)) for ring in rings)
    best = Best(1 - open_ / whole, (0,) * len(shapes.names), pieces, sized.corners)
    return Gap(rings, sized, best, _filled_by(shapes, rings[0], places.near))


def _filled_by(shapes: Shapes, hole: Sequence[complex], near: float) -> str:
    """The card of the hole's shape and size."""
    lengths, angles = _lengths(hole), _angles(hole)
    kind = card_of(angles, lengths).kind
    for t, name in enumerate(shapes.names):
        face = shapes.face(t, False)
        if card_of_face(face).kind == kind and all(
            abs(a - b) <= 2 * near for a, b in zip(sorted(face.lengths), sorted(lengths), strict=True)
        ):
            return name
    return ""


def _lengths(ring: Sequence[complex]) -> list[float]:
    return [abs(b - a) for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)]


def _angles(ring: Sequence[complex]) -> list[float]:
    """Degrees, 0 to 360."""
    behind, ahead = (*ring[-1:], *ring[:-1]), (*ring[1:], ring[0])
    return [math.degrees(cmath.phase((a - z) / (b - z))) % 360 for a, z, b in zip(behind, ring, ahead, strict=True)]


def _shape(hole: Sequence[complex]) -> str:
    lengths, angles = _lengths(hole), _angles(hole)
    if len(hole) == 4 and all(abs(angle - 90) < 2 for angle in angles):
        return "square" if max(lengths) < 1.02 * min(lengths) else "rectangle"
    return "triangle" if len(hole) == 3 else f"piece of {_SIDED.get(len(hole), len(hole))} sides"


def _sides(hole: Sequence[complex]) -> str:
    """The lengths of its edges; of a rectangle two, of equal ones one."""
    lengths = _lengths(hole)
    if len(hole) != 3 and _shape(hole) != "square" and max(lengths) < 1.02 * min(lengths):
        return f"with sides of about {fraction_text(lengths[0])} ({lengths[0]:.0f} mm)"
    told = lengths[:2] if _shape(hole) in ("square", "rectangle") else lengths
    inches = " × ".join(fraction_text(x).removesuffix(" in") for x in told)
    return f"of about {inches} in ({' × '.join(f'{x:.0f}' for x in told)} mm)"


def _place(hole: Sequence[complex], sized: Sized) -> str:
    """Where in the block, as one looks at its right side."""
    middle = sum(hole) / len(hole)
    across, up = middle.real / sized.width, middle.imag / sized.height
    side = "left" if across < 1 / 3 else "right" if across > 2 / 3 else ""
    level = "bottom" if up < 1 / 3 else "top" if up > 2 / 3 else ""
    if not side and not level:
        return "in the middle"
    return f"at the {level}{' ' if side and level else ''}{side}"
