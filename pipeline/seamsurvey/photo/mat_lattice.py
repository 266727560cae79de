"""Two families of segments that lie on a square grid in perspective, and the number of each one's line."""

from itertools import combinations

import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from seamsurvey import camera
from seamsurvey.photo.mat_grid import Grid, fit_grid
from seamsurvey.photo.segments import Segments

Array = NDArray[np.float64]

MIN_LINES, MIN_CROSS_LINES = 5, 4  # of the larger and the smaller family
FAMILIES = 5  # vanishing points looked for
TRIALS = 500
JUDGES = 1000  # segments, chosen by lot, that tell one vanishing point from another
NO_RIVAL = 0.5  # of the best lattice's lines: with fewer px of segments to begin with, another won't grow beyond it
POINTING = np.sin(np.radians(1.5))  # of a segment to its vanishing point: a bending lens turns lines by a degree
BIN = 0.5  # px of the level
MIN_STEP_PX = 9.0  # on the level: closer lines are no more told apart
LIKE_ITSELF = 0.35  # of the best likeness, at the first step at which a family repeats itself
MAX_MISSING = 3  # lines in a row that may be hidden
NEAR_STEPS = 0.15  # of a line, for a segment to be its
MAX_TURNED = np.sin(np.radians(4.0))
NEARLY_ALL = 0.93  # of the lines, or of their length
MIN_SHARE_SEEN = 0.75  # of the lines between the first and the last
MAX_UNSQUARE = 0.03
MIN_LENGTH = 0.15  # of a line's segments together, of the median line's: less is grain that lies there by chance
ROUNDS = 4
ENDS = 600  # of segments are enough to settle ten unknowns


@frozen(eq=False)
class Lattice:
    """A grid, and the segments that lie on its lines, n of them; px of the level."""

    grid: Grid
    segments: Segments
    axis: NDArray[np.intp]  # (n,)
    number: NDArray[np.intp]  # (n,)

    @property
    def weight(self) -> float:
        """How much of lines lies on it, px."""
        return float(self.segments.length.sum())

    def ends(self) -> tuple[Array, NDArray[np.intp], Array]:
        """(2n, 2) the segments' ends, with their axes and numbers."""
        return np.concatenate(self.segments.ends), np.tile(self.axis, 2), np.tile(self.number, 2).astype(float)


def find_lattice(segments: Segments, size_px: tuple[int, int]) -> Lattice | None:
    """The square grid on which most of the segments lie, if there is one."""
    families = _families(segments, size_px)
    best: Lattice | None = None
    for one, other in combinations(families, 2):
        found = _lattice(segments, one, other, size_px, at_least=0.0 if best is None else NO_RIVAL * best.weight)
        if found is not None and (best is None or found.weight > best.weight):
            best = found
    return best


def _families(segments: Segments, size_px: tuple[int, int]) -> list[Array]:
    """(3,) vanishing points, in half diagonals about the picture's middle, most segments first."""
    middle = (segments.middle - camera.middle(size_px)) / camera.half_diagonal(size_px)
    at_infinity = np.column_stack([segments.way, np.zeros(len(middle))])
    lines = np.cross(np.column_stack([middle, np.ones(len(middle))]), at_infinity)
    rng = np.random.default_rng(0)
    left = np.arange(len(segments))
    found: list[Array] = []
    while len(found) < FAMILIES and len(left) > 2 * MIN_LINES:
        share = segments.length[left] / segments.length[left].sum()
        one, other = (left[rng.choice(len(left), TRIALS, p=share)] for _ in range(2))
        points = np.cross(lines[one], lines[other])
        norm = np.linalg.norm(points, axis=1)
        points = points[norm > 1e-9] / norm[norm > 1e-9, None]
        points = points[_aside(points, middle[one][norm > 1e-9], segments.way[one][norm > 1e-9]) < POINTING]
        if not len(points):
            break
        judges = left if len(left) <= JUDGES else left[rng.choice(len(left), JUDGES, replace=False)]
        off = _aside(points[:, None], middle[None, judges], segments.way[None, judges])
        score = np.where(off < POINTING, 1 - (off / POINTING) ** 2, 0) @ segments.length[judges]
        best = points[int(np.argmax(score))]
        found.append(best)
        left = left[_aside(best[None], middle[left], segments.way[left]) >= POINTING]
    return found


def _aside(points: Array, middle: Array, along: Array) -> Array:
    """Sine of the angle between segments and their direction to the vanishing points."""
    towards = points[..., :2] - points[..., 2:] * middle
    cross = towards[..., 0] * along[..., 1] - towards[..., 1] * along[..., 0]
    return np.asarray(np.abs(cross) / np.maximum(np.hypot(towards[..., 0], towards[..., 1]), 1e-12))


def _lattice(
    segments: Segments, one: Array, other: Array, size_px: tuple[int, int], *, at_least: float
) -> Lattice | None:
    """The lattice of the lines through two vanishing points, if so many px of segments point there."""
    middle = (segments.middle - camera.middle(size_px)) / camera.half_diagonal(size_px)
    near = [_aside(point[None], middle, segments.way) < POINTING for point in (one, other)]
    near = [near[0] & ~near[1], near[1] & ~near[0]]
    if min(near[0].sum(), near[1].sum()) < 2 * MIN_CROSS_LINES:
        return None
    if segments.length[near[0] | near[1]].sum() < at_least:
        return None
    horizon = np.cross(one, other)
    every = near[0] | near[1]
    heart = np.append(np.average(middle[every], axis=0, weights=segments.length[every]), 1.0)
    if abs(horizon @ heart) < 0.05 * np.linalg.norm(horizon):
        return None  # the horizon runs through the segments
    rows = [np.cross(point, heart) for point in (one, other)]
    horizon = horizon / (horizon @ heart)
    # In the heart, a unit of u is a px of the level.
    rows = [row / np.linalg.norm(row[:2]) * camera.half_diagonal(size_px) for row in rows]
    matrix = np.array([*rows, horizon])
    flat = np.column_stack([middle, np.ones(len(middle))]) @ matrix.T
    before = flat[:, 2] > 0.1
    numbers: list[NDArray[np.intp]] = []
    chosen: list[NDArray[np.intp]] = []
    scale = np.eye(3)
    for axis in (0, 1):
        members = np.flatnonzero(near[axis] & before)
        if len(members) < 2 * MIN_CROSS_LINES:
            return None
        counted = _count(flat[members, axis] / flat[members, 2], segments.length[members])
        if counted is None:
            return None
        number, step, first = counted
        here = number >= 0
        numbers.append(number[here])
        chosen.append(members[here])
        scale[axis, axis], scale[axis, 2] = 1 / step, -first / step
    matrix = scale @ matrix
    start = Grid(matrix / matrix[2, 2], (0.0, 0.0), size_px)
    if matrix[2, 2] <= 0:
        return None
    axis_of = np.repeat(np.array([0, 1], dtype=np.intp), [len(chosen[0]), len(chosen[1])])
    lattice = Lattice(start, segments.keep(np.concatenate(chosen)), axis_of, np.concatenate(numbers))
    return _settled(lattice, segments)


def _count(u: Array, length: Array) -> tuple[NDArray[np.intp], float, float] | None:
    """The number of each segment's line (-1: none), the lines' step and where number 0 lies."""
    low = float(u.min()) - 20 * BIN
    bins = int((u.max() - low) / BIN) + 40
    if bins > 100_000:
        return None
    heap = np.bincount(((u - low) / BIN).astype(int), length, minlength=bins)
    heaped: Array = np.asarray(gaussian_filter1d(heap, 2.0), dtype=float)
    spectrum = np.fft.rfft(heaped, 2 * bins)
    like = np.fft.irfft(np.abs(spectrum) ** 2)[: bins // 2]
    shortest = int(MIN_STEP_PX / BIN)
    if len(like) <= shortest + 2:
        return None
    level = LIKE_ITSELF * float(like[shortest:].max(initial=0))
    peaks = _peaks(like, level)
    peaks = peaks[peaks >= shortest]
    if not len(peaks):
        return None
    lines = _peaks(heaped, 0.05 * float(heaped.max()))
    tracked = _track(lines.astype(float), heaped[lines], float(peaks[0]))
    if len(tracked) < MIN_CROSS_LINES:
        return None
    index, place = np.array(sorted(tracked.items())).T
    index -= index[0]
    step = float(np.median(np.diff(place) / np.diff(index)))
    at = (u - low) / BIN
    nearest = np.argmin(np.abs(at[:, None] - place[None, :]), axis=1)
    number = np.where(np.abs(at - place[nearest]) <= NEAR_STEPS * step, index[nearest], -1).astype(np.intp)
    slope, first = np.polyfit(index, place, 1)
    return number, float(slope) * BIN, float(first) * BIN + low


def _peaks(values: Array, level: float) -> NDArray[np.intp]:
    inner = values[1:-1]
    return np.flatnonzero((inner > values[:-2]) & (inner >= values[2:]) & (inner >= level)) + 1


def _track(places: Array, strengths: Array, step: float) -> dict[int, float]:
    """Number: place of the lines met on going out from the strongest by the step, which may slowly change."""
    first = int(np.argmax(strengths))
    found = {0: float(places[first])}
    for way in (1, -1):
        at, stride, number, missing = float(places[first]), step, 0, 0
        while missing <= MAX_MISSING:
            number += way
            at += way * stride
            off = np.abs(places - at)
            near = off <= 0.25 * stride
            if not near.any():
                missing += 1
                continue
            best = int(np.argmax(np.where(near, strengths * (1 - off / (0.5 * stride)), -1)))
            last = way * (float(places[best]) - (at - way * stride * (missing + 1))) / (missing + 1)
            stride = 0.7 * stride + 0.3 * last
            at, missing = float(places[best]), 0
            found[number] = at
    return found


def _settled(lattice: Lattice, segments: Segments) -> Lattice | None:
    """The lattice fitted with the lens, all segments numbered anew, until both agree; None unless it is a grid."""
    for round_ in range(ROUNDS):
        ends, axis, number = lattice.ends()
        weight = np.sqrt(np.tile(lattice.segments.length, 2))
        # The lines themselves are measured later: here a fair sample of their ends serves.
        some = slice(None, None, max(1, len(axis) // ENDS))
        ends, axis, number, weight = ends[some], axis[some], number[some], weight[some]
        terms = min(round_, 2)
        soft = 3.0 if round_ == 0 else 0.5
        grid = fit_grid(lattice.grid, ends, axis, number, terms=terms, soft_px=soft, weight=weight / weight.mean())
        again = _numbered(grid, segments, limit_px=max(4.0 / (1 + round_), 1.2))
        if again is None:
            return None
        lattice = again
    return _thinned(lattice)


def _numbered(grid: Grid, segments: Segments, limit_px: float) -> Lattice | None:
    """Every segment that lies on a line of the grid and runs along it."""
    squares = grid.to_squares(segments.middle)
    seen = np.asarray(np.isfinite(squares).all(axis=1))
    segments, squares = segments.keep(seen), squares[seen]
    slopes = grid.slopes(segments.middle)
    steep = np.linalg.norm(slopes, axis=2)
    off = squares - np.rint(squares)
    turned = np.abs(np.einsum("nij,nj->ni", slopes, segments.way)) / np.maximum(steep, 1e-12)
    near = (np.abs(off) <= NEAR_STEPS) & (np.abs(off) <= limit_px * steep) & (turned <= MAX_TURNED)
    axis = np.where(near[:, 0], 0, 1).astype(np.intp)
    chosen = near[:, 0] ^ near[:, 1]
    number = np.rint(squares[np.arange(len(axis)), axis]).astype(np.intp)
    for own in (0, 1):
        mine = np.flatnonzero(chosen & (axis == own))
        _, line = np.unique(number[mine], return_inverse=True)
        lengths = np.bincount(line, segments.length[mine])
        chosen[mine] = lengths[line] >= MIN_LENGTH * np.median(lengths) if len(mine) else False
    if min(len(np.unique(number[chosen & (axis == a)])) for a in (0, 1)) < MIN_CROSS_LINES:
        return None
    return Lattice(grid, segments.keep(chosen), axis[chosen], number[chosen])


def _every(lengths: Array) -> tuple[int, int]:
    """Which of the lines, in order, are all there: every ``part``-th from the ``rest``-th."""
    for part in (5, 3, 2):
        shares = np.array([lengths[rest::part].sum() for rest in range(part)]) / lengths.sum()
        if shares.max() > NEARLY_ALL and len(lengths) > 2 * part:
            return part, int(np.argmax(shares))
    there = lengths > 0
    if np.mean(there) < MIN_SHARE_SEEN:
        # Fine lines between the others may be seen in the nearer part of the picture alone.
        for part in (2, 5):
            rest = int(np.argmax([np.mean(there[rest::part]) for rest in range(part)]))
            if np.mean(there[rest::part]) > NEARLY_ALL:
                return part, rest
    return 1, 0


def _thinned(lattice: Lattice) -> Lattice | None:
    """The lattice with its steps as long as its lines allow and its squares square, if they are."""
    turn = np.eye(3)
    for axis in (0, 1):
        mine = lattice.axis == axis
        lengths = np.bincount(lattice.number[mine] - lattice.number[mine].min(), lattice.segments.length[mine])
        part, rest = _every(np.asarray(lengths, dtype=float))
        turn[axis, axis] = 1 / part
        turn[axis, 2] = -(rest + lattice.number[mine].min()) / part
    grid = lattice.grid.renumbered(turn)
    # One family's lines may be seen twice as densely as the other's: fine lines between drowned in one of them.
    ratio = grid.side_ratio((1.0, 2.0, 0.5, 5.0, 0.2))
    stretch = np.diag([1.0, ratio, 1.0]) if ratio > 1 else np.diag([1 / ratio, 1.0, 1.0])
    grid = grid.renumbered(stretch)
    again = _numbered(grid, lattice.segments, 1.2)
    if again is None or grid.unsquare() > MAX_UNSQUARE:
        return None
    found = []
    for axis in (0, 1):
        numbers = np.unique(again.number[again.axis == axis])
        spread = int(numbers[-1] - numbers[0])
        every = int(stretch[axis, axis])
        if len(numbers) < MIN_SHARE_SEEN * (spread / every + 1):
            return None
        found.append(len(numbers))
    if max(found) < MIN_LINES or min(found) < MIN_CROSS_LINES:
        return None
    return again
