"""The block as a net of seams: which pieces meet, at which points, and where a seam runs straight on.

Everything after this module is combinatorial. A set of pieces is an int whose bit k stands for piece k. An edge is
an atomic stretch of seam between two neighbouring points, with one piece on either side; a chain is a longest
straight run of such edges. Arcs stand for their chords: what bows out of one piece enters another, so that the
polygons of corners fill the block whenever the pieces do, and what parts those parts these.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.arcs import area_with_arcs, drawn_out, turned_back, with_middles
from seamsurvey.errors import InputError
from seamsurvey.foundation.chains import Chain, chains_of
from seamsurvey.foundation.corners import SNAP_MM, corners_only, without_straight_corners
from seamsurvey.foundation.flow import Bows, onto_arcs, smooth_runs
from seamsurvey.foundation.ranks import reading_order_of
from seamsurvey.geometry import Points, counter_clockwise, edge_vectors, signed_area
from seamsurvey.model import Block, Piece

_TURNS = 4
_EXACT_MM = 1e-9  # nearer than this they agree, and are left as they are


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
    bulges: tuple[tuple[float, ...], ...] = ()  # of each piece's outline; empty where it is straight
    shapes: tuple[Points, ...] = ()  # the outlines, with the middle of each arc as a corner
    bows: Bows = field(factory=dict, repr=False)  # directed edge -> the bulge of an arc
    curves: tuple[Chain, ...] = ()  # longest runs with arcs in which every edge runs smoothly into the next
    smooth: frozenset[frozenset[int]] = frozenset()  # pairs of edges of a curve that follow one another

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

    def is_curved(self, edges: Iterable[int]) -> bool:
        """Whether one of the edges is an arc."""
        return bool(self.bows) and any(self.edges[edge] in self.bows for edge in edges)

    def outline(self, region: int) -> Points:
        """(n, 2) mm, block frame, counter-clockwise: the outline of a connected region, corners only."""
        return corners_only(self.points[self._ring(region)])

    def curved_outline(self, region: int) -> tuple[Points, tuple[float, ...]]:
        """The outline of a connected region, and the bulge of each of its edges; none where all are straight."""
        ring = self._ring(region)
        bulges = tuple(self.bows.get(edge, 0.0) for edge in zip(ring, [*ring[1:], ring[0]], strict=True))
        return without_straight_corners(self.points[ring], bulges)

    def _ring(self, region: int) -> list[int]:
        """The points round a connected region, counter-clockwise."""
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
        return walk

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


def arrange(block: Block) -> Arrangement:
    """Build the net of seams of a block whose pieces tile it.

    InputError ``block-empty`` without pieces, ``pieces-overlap`` and ``pieces-gap`` where they don't tile it,
    naming the pieces.
    """
    if not block.pieces:
        raise InputError(
            "block-empty", "The block has no pieces.", todo="Assemble it first: seamsurvey assemble JOB"
        )
    every = [_given(piece) for piece in block.pieces]
    order = reading_order_of([outline for outline, _ in every])
    ids = tuple(block.pieces[k].id for k in order)
    given, bulges = tuple(every[k][0] for k in order), tuple(every[k][1] for k in order)
    points, loops, own, bows = _net(given, bulges)
    outlines = tuple(
        points[corners] if bulge else corners_only(points[list(loop)])
        for loop, corners, bulge in zip(loops, own, bulges, strict=True)
    )
    drawn = [drawn_out(outline, bulge) for outline, bulge in zip(outlines, bulges, strict=True)]
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
    chains = chains_of(points, edges, drawn)
    curves, smooth = smooth_runs(points, edges, bows, [chain.edges for chain in chains])
    return Arrangement(
        ids=ids,
        outlines=outlines,
        areas=tuple(area_with_arcs(outline, bulge) for outline, bulge in zip(outlines, bulges, strict=True)),
        points=points,
        loops=loops,
        edges=edges,
        edge_pieces=edge_pieces,
        around=tuple(around),
        on_outline=on_outline,
        chains=chains,
        neighbours=tuple(neighbours),
        shared=dict(shared),
        owner=owner,
        bulges=bulges,
        shapes=tuple(with_middles(outline, bulge) for outline, bulge in zip(outlines, bulges, strict=True)),
        bows=bows,
        curves=tuple(Chain(through, run, 0, 0) for through, run in curves),
        smooth=smooth,
    )


def _given(piece: Piece) -> tuple[Points, tuple[float, ...]]:
    """A piece's outline, counter-clockwise, corners only, and its bulges."""
    outline = np.asarray(piece.outline)
    turned = piece.bulges and signed_area(outline) < 0
    bulges = turned_back(piece.bulges) if turned else piece.bulges
    return without_straight_corners(counter_clockwise(outline), bulges)


def _net(
    outlines: tuple[Points, ...], bulges: tuple[tuple[float, ...], ...]
) -> tuple[Points, tuple[tuple[int, ...], ...], list[list[int]], Bows]:
    """Points shared by all pieces, each piece's loop of them with its T-meetings, its corners; the bulges of arcs.

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
    loops, corners_of, start = [], [], 0
    bows: Bows = {}
    passed: dict[int, tuple[int, int]] = {}
    for outline, bulge in zip(outlines, bulges, strict=True):
        own = numbers[start : start + len(outline)]
        start += len(outline)
        loop: list[int] = []
        corners_of.append([int(a) for a in own])
        for a, b, bow in zip(own, np.roll(own, -1), bulge or np.zeros(len(own)), strict=True):
            if bow:
                stretches = onto_arcs(points, int(a), int(b), bow, SNAP_MM)
                loop += [start for (start, _), _ in stretches]
                bows.update(stretches)
                continue
            between = _between(points, int(a), int(b))
            loop += [int(a), *between]
            for point in between:
                passed.setdefault(point, (int(a), int(b)))
        loops.append(tuple(loop))
    _onto_seams(points, passed)
    return points, tuple(loops), corners_of, bows


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
