"""Fill a block with a given stock of pieces: depth first, always at the corner that leaves the fewest choices.

A convex corner of the open part is filled by a piece that lies flush along the edge that leaves it. Every layout is
met that way. With a symmetry, each piece is laid with all its images. Where the block's width is not known, its
right side is one more thing that can be laid at the end of the bottom row; the height follows from the area.
"""

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from seamsurvey.block.choices import Choice, Chooser, Corner
from seamsurvey.block.frontier import BOTTOM, LEFT, RIGHT, TOP, Frontier, Laid, lay
from seamsurvey.block.outlines import RECTANGLE, Outline
from seamsurvey.block.shapes import Face, Shapes
from seamsurvey.block.spring import Spring
from seamsurvey.block.symmetry import images
from seamsurvey.block.work import Work

_NEARLY_STRAIGHT = math.radians(170)  # no piece is fitted to a corner flatter than this: noise decides its sign
_MANY = 1000  # more choices than any corner has
_SLIMMEST = 4.0  # a block is at most this many times longer than wide
_AREA_SLACK = 1.02  # the block's area from its pieces is known better than this
_FLUSH = 0.35  # misfit allowed, as a share of the snap, root mean square over all corners


@dataclass(frozen=True)
class Task:
    """What to fill: how many of each template (``reversed_`` None: either face), under which symmetry.

    An outline of known aspect gets its size from the area; otherwise the width is searched for.
    """

    counts: tuple[int, ...]
    reversed_counts: tuple[int | None, ...]
    symmetry: str
    outline: Outline
    area: float


@dataclass
class Budget:
    """How far the search may go: the work of the whole assembly, and a number of steps of its own."""

    work: Work
    steps: int
    used: int = 0

    def spent(self) -> bool:
        """Whether it must stop."""
        return self.used >= self.steps or self.work.over()


@dataclass(frozen=True)
class Layout:
    """A filled block: for each piece its template, face and corner vertices; the vertices' places, mm complex.

    ``meetings`` are (vertex, from, to): the vertex lies on the straight line; ``sides`` are flags by vertex.
    """

    pieces: tuple[tuple[int, bool, tuple[int, ...]], ...]
    at: tuple[complex, ...]
    sides: tuple[int, ...]
    meetings: tuple[tuple[int, int, int], ...]
    size: tuple[float, float]
    symmetry: str
    misfit: float
    outline: Outline = RECTANGLE


@dataclass
class Best:
    """The fullest failure so far: how much of the block it covers, and what was left over of each template."""

    share: float = 0.0
    left: tuple[int, ...] = ()
    pieces: tuple[tuple[int, bool, tuple[complex, ...]], ...] = ()  # template, face, corners in complex mm
    outline: tuple[complex, ...] = ()  # empty while the block's width is open


@dataclass
class Partial:
    """A block that is partly filled, and what is left to fill it with."""

    frontier: Frontier
    spring: Spring
    left: list[int]
    left_reversed: list[int | None]
    pieces: list[tuple[int, bool, tuple[int, ...]]] = field(default_factory=list)
    meetings: list[tuple[int, int, int]] = field(default_factory=list)
    sized: bool = False
    misfit: float = 0.0
    area: float = 0.0
    corners: int = 0
    conditions: int = 0  # that the pieces meet beyond what each needs to be placed
    reach: tuple[float, float] = (0.0, 0.0)  # how far the pieces reach along x and y
    middle: float = 0.0  # half the width, once a piece that is its own image gives it away

    def copy(self) -> "Partial":
        """An independent copy."""
        return Partial(
            self.frontier.copy(), self.spring.copy(), self.left[:], self.left_reversed[:], self.pieces[:],
            self.meetings[:], self.sized, self.misfit, self.area, self.corners, self.conditions, self.reach,
            self.middle,
        )  # fmt: skip


class Search:
    """One task at one snap. ``best`` tells how far it came; ``finished`` whether every branch was tried."""

    def __init__(self, shapes: Shapes, task: Task, snap: float, budget: Budget) -> None:
        self.shapes, self.task, self.snap, self.budget = shapes, task, snap, budget
        self.best = Best()
        self.finished = False
        used = [f for f in shapes.faces if task.counts[f.template]]
        self.faces = used
        self._least_area = 0.8 * min(f.area for f in used)
        self._chooser = Chooser(used, shapes.turns, snap)
        self._far = 0.0

    def run(self) -> Iterator[Layout]:
        """Every layout, as it is found."""
        yield from self._extend(self.start())
        self.finished = not self.budget.spent()

    # --- the tree -----------------------------------------------------------------------------------------

    def start(self) -> Partial:
        """The empty block."""
        outline = self.task.outline
        sized = outline.aspect is not None
        width = outline.width(self.task.area)
        height = width * (outline.aspect or 1.0)
        sides = outline.flags()
        if not sized:
            width = height = self._far = 2 * width * math.sqrt(_SLIMMEST) + 100.0
            sides = [LEFT | BOTTOM, BOTTOM, 0, LEFT]
        spring = Spring(outline)
        spring.size = [width, height]
        spring.hold_shape()
        partial = Partial(
            Frontier(outline.at(width, height), sides, [list(range(len(sides)))]),
            spring,
            list(self.task.counts),
            list(self.task.reversed_counts),
            sized=sized,
        )
        spring.sides(partial.frontier)
        return partial

    def _extend(self, partial: Partial) -> Iterator[Layout]:
        if not partial.frontier.loops:
            if not any(partial.left):
                yield self.layout(partial)
            return
        if self.budget.spent():
            return
        self.note(partial)
        where, choices = self._tightest(partial)
        for choice in choices:
            if self.budget.spent():
                return
            self.budget.used += 1
            child = self.copied(partial)
            if choice.face is None:
                done = self.close_off(child, where, choice.corner)
            else:
                done = self.place(child, where, choice.face, choice)
            if done and self.settles(child):
                yield from self._extend(child)

    def copied(self, partial: Partial) -> Partial:
        """A copy to lay one more piece in."""
        self.budget.work.spend("laid")
        self.budget.work.spend("copied", len(partial.spring.pull) ** 2)
        return partial.copy()

    def note(self, partial: Partial) -> None:
        """Keep the fullest."""
        share = partial.area / self.task.area
        if share > self.best.share:
            at = partial.frontier.at
            pieces = tuple((t, over, tuple(at[v] for v in corners)) for t, over, corners in partial.pieces)
            ring = tuple(self.task.outline.at(*partial.spring.size)) if partial.sized else ()
            self.best = Best(share, tuple(partial.left), pieces, ring)

    def layout(self, partial: Partial) -> Layout:
        """What was found, once nothing is open."""
        return Layout(
            tuple(partial.pieces), tuple(partial.frontier.at), tuple(partial.frontier.sides),
            tuple(partial.meetings), (partial.spring.size[0], partial.spring.size[1]), self.task.symmetry,
            partial.misfit, self.task.outline,
        )  # fmt: skip

    # --- where next ---------------------------------------------------------------------------------------

    def fillable(self, partial: Partial) -> list[tuple[int, int]]:
        """The corners (loop, number in it) where a piece can be laid."""
        frontier = partial.frontier
        return [
            (n, k)
            for n, loop in enumerate(frontier.loops)
            for k, v in enumerate(loop)
            if not self.is_far(partial, v) and frontier.gap(loop, k) <= _NEARLY_STRAIGHT
        ]

    def _tightest(self, partial: Partial) -> tuple[tuple[int, int], list[Choice]]:
        best_where, best = (0, 0), None
        for n, loop in enumerate(partial.frontier.loops):
            gaps = [partial.frontier.gap(loop, k) for k in range(len(loop))]
            lengths = [partial.frontier.length(loop, k) for k in range(len(loop))]
            for k, v in enumerate(loop):
                if gaps[k] > _NEARLY_STRAIGHT or self.is_far(partial, v):
                    continue
                choices = self._choices(partial, loop, k, (gaps, lengths), _MANY if best is None else len(best))
                if best is None or len(choices) < len(best):
                    best_where, best = (n, k), choices
                    if not best:
                        return best_where, []
        return best_where, sorted(best or [], key=lambda c: c.rank)

    def is_far(self, partial: Partial, v: int) -> bool:
        """Whether a vertex stands for the open end of a block whose size isn't known yet."""
        at = partial.frontier.at[v]
        return not partial.sized and max(at.real, at.imag) > self._far - 1

    def _choices(
        self, partial: Partial, loop: list[int], k: int, shape: tuple[list[float], list[float]], limit: int
    ) -> list[Choice]:
        """At most ``limit`` things to lay at vertex k. ``shape``: the loop's open angles and edge lengths."""
        gaps, lengths = shape
        at = partial.frontier.at
        far = (k + 1) % len(loop)
        here = at[loop[k]]
        corner = Corner(
            gap=gaps[k],
            onward=lengths[k],
            back=lengths[k - 1],
            out=(at[loop[far]] - here) / lengths[k],
            into=(at[loop[k - 1]] - here) / lengths[k - 1],
            beyond=(gaps[far], gaps[k - 1]),
            at_side=not partial.sized and bool(partial.frontier.sides[loop[k]]),
            bows=(partial.frontier.bow(loop, k), partial.frontier.bow(loop, k - 1 if k else len(loop) - 1)),
        )
        found: list[Choice] = []
        if corner.at_side and loop[k] != 0:
            if self.is_far(partial, loop[far]):
                found.append(Choice(None, RIGHT, 1, -0.5))
            elif (
                self.is_far(partial, loop[k - 1]) and abs(corner.gap - math.pi / 2) * corner.onward <= 2 * self.snap
            ):
                found.append(Choice(None, TOP, 1, -0.5))
        self.budget.work.spend("corner", len(self.faces))
        stock = [face for face in self.faces if self._in_stock(partial, face)]
        return list(itertools.islice(itertools.chain(found, self._chooser.choices(corner, stock)), limit))

    def _in_stock(self, partial: Partial, face: Face) -> bool:
        t = face.template
        over = partial.left_reversed[t]
        if partial.left[t] <= 0:
            return False
        if over is None or self.shapes.mirrored[t]:
            return True
        return over > 0 if face.reversed else partial.left[t] > over

    # --- laying -------------------------------------------------------------------------------------------

    def place(self, child: Partial, where: tuple[int, int], face: Face, choice: Choice) -> bool:
        """Lay a face, and its images; whether they fit."""
        here = child.frontier.at[child.frontier.loops[where[0]][where[1]]]
        pivot = face.corners[choice.corner]
        corners = [here + choice.turn * (c - pivot) for c in face.corners]
        if not self.lay_face(child, face, corners):
            return False
        if child.sized:
            return self._lay_images(child, face, corners)
        wide, high = child.reach
        child.reach = (max(wide, *(c.real for c in corners)), max(high, *(c.imag for c in corners)))
        if child.reach[0] * child.reach[1] > self.task.area * _AREA_SLACK:
            return False
        return self._on_axis(child, face, corners)

    def _on_axis(self, child: Partial, face: Face, corners: list[complex]) -> bool:
        """A template used once is its own image: it gives away the middle of a block whose width is still open."""
        if self.task.counts[face.template] == 1 and self.task.symmetry in ("mirror", "half-turn"):
            middle = sum(c.real for c in corners) / len(corners)
            if child.middle and abs(middle - child.middle) > 2 * self.snap:
                return False
            child.middle = child.middle or middle
        return not child.middle or child.reach[0] <= 2 * child.middle + 2 * self.snap

    def lay_face(self, child: Partial, face: Face, corners: list[complex]) -> bool:
        """Lay a face with its corners at ``corners``, complex mm; whether it is in stock and fits."""
        if not self._in_stock(child, face):
            return False
        known = len(child.frontier.at)
        laid = lay(child.frontier, corners, self.snap, self._least_area, face.bulges)
        if laid is None:
            return False
        child.conditions += _conditions(child.frontier, laid, known)
        t = face.template
        child.left[t] -= 1
        over = child.left_reversed[t]
        if over is not None and face.reversed and not self.shapes.mirrored[t]:
            child.left_reversed[t] = over - 1
        child.pieces.append((t, face.reversed, tuple(laid.corners)))
        child.area += face.area
        child.corners += len(corners)
        child.spring.add(child.frontier, laid, corners)
        self._hold(child, laid)
        return True

    def _hold(self, child: Partial, laid: Laid) -> None:
        child.meetings += laid.meetings
        child.spring.hold(child.frontier, laid)
        child.spring.sides(child.frontier)

    def _lay_images(self, child: Partial, face: Face, corners: list[complex]) -> bool:
        for flipped, image in images(self.task.symmetry, child.spring.size, corners):
            if any(self._same_place(child, piece, image) for piece in child.pieces if piece[0] == face.template):
                continue
            other = self.shapes.face(face.template, face.reversed != flipped)
            # Of a template whose faces are the same the face up is laid again: its corners in their order.
            start = len(image) - self.shapes.flips[face.template] if flipped else 0
            if not self.lay_face(child, other, image[start:] + image[:start]):
                return False
        return True

    def _same_place(self, child: Partial, piece: tuple[int, bool, tuple[int, ...]], image: list[complex]) -> bool:
        at = child.frontier.at
        return all(min(abs(at[v] - c) for c in image) < 2 * self.snap for v in piece[2])

    def close_off(self, child: Partial, where: tuple[int, int], side: int) -> bool:
        """Lay the block's right (or top) side at this corner, and the other side where the area says."""
        frontier = child.frontier
        here = frontier.at[frontier.loops[where[0]][where[1]]]
        known = here.real if side == RIGHT else here.imag
        other = self.task.area / known
        placed = [frontier.at[u] for u in sorted({u for piece in child.pieces for u in piece[2]})]
        # The area makes the other side less certain than a length does: take the vertices near it for the true one.
        near = [v for v in (p.imag if side == RIGHT else p.real for p in placed) if abs(v - other) < 3 * self.snap]
        other = sum(near) / len(near) if near else other
        width, height = (known, other) if side == RIGHT else (other, known)
        if child.reach[0] > width + self.snap or child.reach[1] > height + self.snap:
            return False
        if not 1 / _SLIMMEST <= width / height <= _SLIMMEST:
            return False
        far = self._far
        child.spring.size = [width, height]
        for flag, wall in (
            (RIGHT, [complex(width, 0), complex(far, 0), complex(far, far), complex(width, far)]),
            (TOP, [complex(0, height), complex(width, height), complex(width, far), complex(0, far)]),
        ):
            laid = lay(frontier, wall, self.snap, self._least_area)
            if laid is None:
                return False
            on_wall = {u for u, a, b in laid.meetings} | set(laid.corners)
            for u in on_wall:
                p = frontier.at[u]
                if (flag == RIGHT and abs(p.real - width) <= self.snap) or (
                    flag == TOP and abs(p.imag - height) <= self.snap
                ):
                    frontier.sides[u] |= flag
        child.sized = True
        child.spring.sides(frontier)
        for t, over, corners in list(child.pieces):
            face = self.shapes.face(t, over)
            if not self._lay_images(child, face, [frontier.at[u] for u in corners]):
                return False
        return True

    def settles(self, child: Partial) -> bool:
        """Let the vertices settle; whether the misfit left is one that measurements have."""
        self.budget.work.spend("solved", len(child.frontier.at) ** 3)
        child.misfit = child.spring.settle(child.frontier)
        return child.misfit <= (_FLUSH * self.snap) ** 2 * 2 * max(child.corners, 8)


def _conditions(frontier: Frontier, laid: Laid, known: int) -> int:
    """How many conditions a laid piece meets beyond the three that place it; vertices below ``known`` were there.

    A corner on a vertex is two conditions; on an edge or a side of the block, one; a vertex on its edge, one.
    """
    on_edge = {v for v, _, _ in laid.meetings}
    met = sum(2 if v < known else int(v in on_edge or frontier.sides[v] != 0) for v in laid.corners)
    return met + sum(v < known for v in on_edge) - 3
