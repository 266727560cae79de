"""The block as a net of seams: which pieces meet, at which points, and where a seam runs straight on.

Everything after this module is combinatorial. A set of pieces is an int whose bit k stands for piece k. An edge is
an atomic stretch of seam between two neighbouring points, with one piece on either side; a chain is a longest
straight run of such edges.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.errors import InputError
from seamsurvey.foundation.ranks import reading_order_of
from seamsurvey.geometry import Points, counter_clockwise, edge_vectors, signed_area
from seamsurvey.model import Block

# Corners nearer than this are one point, and a corner this near a straight line lies on it: well below the
# thinnest printed line (0.05 mm), well above the rounding of any file.
SNAP_MM = 0.01
_TURNS = 4
_EXACT_MM = 1e-9  # nearer than this they agree, and are left as they are


@frozen(eq=False)
class Chain:
    """A longest straight run of seams: edge k lies between points k and k + 1.

    ``left`` and ``right`` are the pieces wholly on one side of its line, prolonged without end.
    """

    points: tuple[int, ...]
    edges: tuple[int, ...]
    left: int
    right: int


@frozen(eq=False)
class Arrangement:
    """The net of seams of one block.

    ``points`` is (p, 2) float, mm, block frame. Pieces stand in reading order, whatever order they came in.
    """

    ids: tuple[str, ...]
    outlines: tuple[Points, ...]  # (n, 2) mm, block frame, counter-clockwise, corners only
    areas: tuple[float, ...]  # mm²
    points: Points
    loops: tuple[tuple[int, ...], ...]  # of each piece: its points, T-meetings included, counter-clockwise
    edges: tuple[tuple[int, int], ...]  # two points
    edge_pieces: tuple[int, ...]  # the two pieces of each edge, as a set
    around: tuple[int, ...]  # of each point: the pieces that touch it
    on_outline: tuple[bool, ...]  # of each point: does it lie on the block's outline?
    chains: tuple[Chain, ...]
    neighbours: tuple[int, ...]  # of each piece: the pieces it shares an edge with
    shared: dict[int, int]  # pair of pieces, as a set -> its edges, as a set
    owner: dict[tuple[int, int], int] = field(repr=False)  # directed edge -> the piece on its left

    @property
    def everything(self) -> int:
        """All pieces."""
        return (1 << len(self.ids)) - 1

    def inside(self, point: int, region: int) -> bool:
        """Whether a point lies in the inner of a region: all round it are pieces of the region."""
        return not self.on_outline[point] and self.around[point] & ~region == 0

    def area(self, region: int) -> float:
        """Area of a region, mm²."""
        return sum(self.areas[piece] for piece in members(region))

    def contact(self, one: int, other: int) -> list[int]:
        """The edges along which two sets of pieces meet."""
        return [
            edge
            for edge, pair in enumerate(self.edge_pieces)
            if pair & one and pair & other and pair & ~(one | other) == 0
        ]

    def crossings(self, run: Sequence[int], one: int, other: int) -> int:
        """The points of a seam, its ends left out, at which seams from either side of it meet."""
        around = [self.around[point] for point in run[1:-1]]
        return sum((beside & one).bit_count() > 1 and (beside & other).bit_count() > 1 for beside in around)

    def outline(self, region: int) -> Points:
        """(n, 2) mm, block frame, counter-clockwise: the outline of a connected region, corners only."""
        follow: dict[int, list[int]] = defaultdict(list)
        for piece in members(region):
            loop = self.loops[piece]
            for start, end in zip(loop, (*loop[1:], loop[0]), strict=True):
                beyond = self.owner.get((end, start))
                if beyond is None or not region >> beyond & 1:
                    follow[start].append(end)
        first = min(follow)
        walk, here = [first], follow[first].pop()
        while here != first or follow[here]:
            onward = self._next_along(walk[-1], here, follow[here])
            follow[here].remove(onward)
            walk.append(here)
            here = onward
        return corners_only(self.points[walk])

    def is_convex(self, region: int) -> bool:
        """Whether a connected region has no inward corner."""
        outline = self.outline(region)
        along = edge_vectors(outline)
        onward = np.roll(along, -1, axis=0)
        turns = along[:, 0] * onward[:, 1] - along[:, 1] * onward[:, 0]
        return bool(np.all(turns >= -SNAP_MM * np.hypot(*along.T)))

    def _next_along(self, previous: int, here: int, choices: list[int]) -> int:
        """Where two parts touch at a point only, the outline keeps to the part it came along."""
        back = self.points[previous] - self.points[here]

        def clockwise_turn(choice: int) -> float:
            out = self.points[choice] - self.points[here]
            angle = np.arctan2(out[0] * back[1] - out[1] * back[0], out @ back)
            return float(angle % (2 * np.pi))

        return min(choices, key=clockwise_turn)


def members(region: int) -> Iterator[int]:
    """The pieces of a set, ascending."""
    while region:
        low = region & -region
        yield low.bit_length() - 1
        region ^= low


def corners_only(polygon: Points) -> Points:
    """The (n, 2) polygon without repeated corners and without those where the outline runs straight on."""
    kept = list(range(len(polygon)))
    changed = True
    while changed and len(kept) > 3:
        changed = False
        for place, k in enumerate(kept):
            before, after = polygon[kept[place - 1]], polygon[kept[(place + 1) % len(kept)]]
            if _straight_on(before, polygon[k], after):
                del kept[place]
                changed = True
                break
    return polygon[kept]


def _straight_on(before: Points, here: Points, after: Points) -> bool:
    chord, step = after - before, here - before
    length = float(np.hypot(*chord))
    if min(length, float(np.hypot(*step))) <= SNAP_MM:
        return True
    return (
        abs(float(chord[0] * step[1] - chord[1] * step[0])) <= SNAP_MM * length
        and 0 < float(step @ chord) < length**2
    )


def arrange(block: Block) -> Arrangement:
    """Build the net of seams of a block whose pieces tile it.

    InputError ``block-empty`` without pieces, ``pieces-overlap`` and ``pieces-gap`` where they don't tile it,
    naming the pieces.
    """
    if not block.pieces:
        raise InputError(
            "block-empty", "The block has no pieces.", todo="Assemble it first: seamsurvey assemble JOB"
        )
    given = [corners_only(counter_clockwise(np.asarray(piece.outline))) for piece in block.pieces]
    order = reading_order_of(given)
    ids = tuple(block.pieces[k].id for k in order)
    points, loops = _net(tuple(given[k] for k in order))
    outlines = tuple(corners_only(points[list(loop)]) for loop in loops)
    owner = _owners(ids, loops, points)
    on_outline = _on_outline(ids, owner, points, block)
    edges = tuple(sorted((a, b) for a, b in owner if a < b and (b, a) in owner))
    edge_pieces = tuple(1 << owner[a, b] | 1 << owner[b, a] for a, b in edges)
    around = [0] * len(points)
    for piece, loop in enumerate(loops):
        for point in loop:
            around[point] |= 1 << piece
    neighbours = [0] * len(ids)
    shared: dict[int, int] = defaultdict(int)
    for edge, pair in enumerate(edge_pieces):
        shared[pair] |= 1 << edge
        for piece in members(pair):
            neighbours[piece] |= pair & ~(1 << piece)
    return Arrangement(
        ids=ids,
        outlines=outlines,
        areas=tuple(signed_area(outline) for outline in outlines),
        points=points,
        loops=loops,
        edges=edges,
        edge_pieces=edge_pieces,
        around=tuple(around),
        on_outline=on_outline,
        chains=_chains(points, edges, outlines),
        neighbours=tuple(neighbours),
        shared=dict(shared),
        owner=owner,
    )


def _net(outlines: tuple[Points, ...]) -> tuple[Points, tuple[tuple[int, ...], ...]]:
    """Points shared by all pieces, and each piece's loop of them with its T-meetings.

    Where coordinates were rounded, a point is the mean of the corners that meet there, or lies on the seam it ends
    at: what is sewn together then meets exactly.
    """
    corners = np.vstack(outlines)
    apart = np.hypot(*(corners[:, None] - corners[None]).transpose(2, 0, 1))
    first = np.argmax(apart <= SNAP_MM, axis=1)
    kept, numbers, counts = np.unique(first, return_inverse=True, return_counts=True)
    points = np.zeros((len(counts), 2))
    np.add.at(points, numbers, corners)
    points /= counts[:, None]
    agree = np.abs(points - corners[kept]).max(axis=1) < _EXACT_MM
    points[agree] = corners[kept][agree]
    loops, start = [], 0
    passed: dict[int, tuple[int, int]] = {}
    for outline in outlines:
        own = numbers[start : start + len(outline)]
        start += len(outline)
        loop: list[int] = []
        for a, b in zip(own, np.roll(own, -1), strict=True):
            between = _between(points, int(a), int(b))
            loop += [int(a), *between]
            for point in between:
                passed.setdefault(point, (int(a), int(b)))
        loops.append(tuple(loop))
    _onto_seams(points, passed)
    return points, tuple(loops)


def _onto_seams(points: Points, passed: Mapping[int, tuple[int, int]]) -> None:
    """Move each point that lies within a straight edge (its two ends by number) onto that edge, in place.

    An edge's ends may lie on others in turn: what that moves is a rounding's rounding, and soon none.
    """
    for point, (start, end) in list(passed.items()) * _TURNS:
        along = points[end] - points[start]
        foot = points[start] + (points[point] - points[start]) @ along / (along @ along) * along
        if np.hypot(*(foot - points[point])) > _EXACT_MM:
            points[point] = foot


def _between(points: Points, a: int, b: int) -> list[int]:
    """The points within the straight edge from a to b, in order."""
    along = points[b] - points[a]
    length = float(np.hypot(*along))
    along = along / length
    steps = points - points[a]
    forward = steps @ along
    aside = np.abs(steps[:, 0] * along[1] - steps[:, 1] * along[0])
    hits = np.flatnonzero((forward > SNAP_MM) & (forward < length - SNAP_MM) & (aside <= SNAP_MM))
    return [int(k) for k in hits[np.argsort(forward[hits])]]


def _owners(ids: tuple[str, ...], loops: tuple[tuple[int, ...], ...], points: Points) -> dict[tuple[int, int], int]:
    owner: dict[tuple[int, int], int] = {}
    for piece, loop in enumerate(loops):
        for start, end in zip(loop, (*loop[1:], loop[0]), strict=True):
            if (start, end) in owner:
                raise InputError(
                    "pieces-overlap",
                    f"The pieces {ids[owner[start, end]]} and {ids[piece]} lie on one another.",
                    where=_place(points[[start, end]]),
                    todo="Assemble the block again, or mend the outlines of these two pieces.",
                )
            owner[start, end] = piece
    return owner


def _on_outline(
    ids: tuple[str, ...], owner: dict[tuple[int, int], int], points: Points, block: Block
) -> tuple[bool, ...]:
    """Mark the points on the block's outline; an edge with one piece only must lie there."""
    result = [False] * len(points)
    alone = [(edge, piece) for edge, piece in owner.items() if edge[::-1] not in owner]
    near = _distance_to_outline(np.array([points[list(edge)].mean(axis=0) for edge, _ in alone]), block.outline)
    for (edge, piece), distance in zip(alone, near, strict=True):
        if distance > 2 * SNAP_MM:
            raise InputError(
                "pieces-gap",
                f"The piece {ids[piece]} has an edge that meets no other piece along its length and is not on the "
                "block's outline: there is a gap or an overlap.",
                where=_place(points[list(edge)]),
                todo="Assemble the block again, or mend the outlines so that the pieces fill it exactly.",
            )
        for point in edge:
            result[point] = True
    return tuple(result)


def _distance_to_outline(places: Points, outline: Points) -> NDArray[np.float64]:
    """(n,): distance of each place to the nearest edge of the outline."""
    along = np.roll(outline, -1, axis=0) - outline
    steps = places[:, None] - outline[None]
    share = np.clip(np.sum(steps * along, axis=2) / np.sum(along * along, axis=1), 0, 1)
    return np.asarray(np.min(np.linalg.norm(steps - share[..., None] * along, axis=2), axis=1))


def _place(ends: Points) -> str:
    (ax, ay), (bx, by) = ends
    return f"from ({ax:.2f}, {ay:.2f}) to ({bx:.2f}, {by:.2f}) mm in the block, from its lower left corner"


def _chains(points: Points, edges: tuple[tuple[int, int], ...], outlines: tuple[Points, ...]) -> tuple[Chain, ...]:
    meeting: dict[int, list[int]] = defaultdict(list)
    for edge, ends in enumerate(edges):
        for point in ends:
            meeting[point].append(edge)
    onward: dict[tuple[int, int], int] = {}  # (edge, point) -> the edge that runs straight on there
    for point, here in meeting.items():
        for k, one in enumerate(here):
            for other in here[k + 1 :]:
                if _straight_on(points[_far(edges[one], point)], points[point], points[_far(edges[other], point)]):
                    onward[one, point], onward[other, point] = other, one
    corners = np.vstack(outlines)
    starts = np.cumsum([0, *(len(outline) for outline in outlines[:-1])])
    chains, done = [], set[int]()
    for edge, (start, end) in enumerate(edges):
        if edge in done:
            continue
        behind_points, behind = _follow(edge, start, edges, onward)
        ahead_points, ahead = _follow(edge, end, edges, onward)
        run = (*reversed(behind), edge, *ahead)
        done.update(run)
        through = (*reversed(behind_points), start, end, *ahead_points)
        left, right = _sides(points[through[0]], points[through[-1]], corners, starts)
        chains.append(Chain(points=through, edges=run, left=left, right=right))
    return tuple(chains)


def _far(ends: tuple[int, int], point: int) -> int:
    return ends[1] if ends[0] == point else ends[0]


def _follow(
    edge: int, point: int, edges: tuple[tuple[int, int], ...], onward: dict[tuple[int, int], int]
) -> tuple[list[int], list[int]]:
    through, run = [], []
    while (edge, point) in onward:
        edge = onward[edge, point]
        point = _far(edges[edge], point)
        through.append(point)
        run.append(edge)
    return through, run


def _sides(start: Points, end: Points, corners: Points, starts: NDArray[np.intp]) -> tuple[int, int]:
    """The pieces wholly left and wholly right of the line through two points."""
    along = (end - start) / np.hypot(*(end - start))
    aside = (corners[:, 1] - start[1]) * along[0] - (corners[:, 0] - start[0]) * along[1]
    # The line is fixed by points that may each be off by a snap; far along it they carry it off by a little more.
    left = np.minimum.reduceat(aside, starts) >= -4 * SNAP_MM
    right = np.maximum.reduceat(aside, starts) <= 4 * SNAP_MM
    return _as_set(left), _as_set(right)


def _as_set(flags: NDArray[np.bool_]) -> int:
    return sum(1 << k for k, flag in enumerate(flags) if flag)
