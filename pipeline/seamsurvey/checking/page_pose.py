"""Where a known sheet lies on the table: first roughly among all places and turns, then line by line.

Rough: the sheet's lines against a coarse map of the ink, at every turn, by correlation. Fine: from points on the
lines the nearest ink is looked for across each, and an affine map is fitted to what was found (robust, Tukey's
biweight), in ever narrower bands. Affine, because printers stretch a page differently across and up, and skew.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

import cv2
import numpy as np
from attrs import frozen
from scipy import fft

from seamsurvey.check_model import Sheet
from seamsurvey.checking.ink import GRID_MM, Ink
from seamsurvey.geometry import rotation
from seamsurvey.model import Array, array_field

TURN_DEG = 2.0  # between two turns that are tried: 2.5 mm at a page's corner, seen with lines this wide
TRIES = 6
BANDS_MM = (5.0, 3.0, 1.5, 0.8, 0.8)
STEP_MM = 1.0
LEAST_INK = 0.12  # of a line against its paper: the grain of paper and a phone's noise stay below
# A page printed from a job scatters less than this about an affine map, unless it waves; and most of it is seen.
NEAR_MM, LEAST_SHARE = 0.4, 0.6


@frozen(kw_only=True)
class Samples:
    """Points on the lines of a sheet, page frame, with the unit normal of their line, and which line it is."""

    points: Array = array_field()  # (n, 2)
    normals: Array = array_field()  # (n, 2)


@frozen(kw_only=True)
class Pose:
    """plane = matrix · page + shift, ``share`` of the lines' ink found there, within ``rms_mm``."""

    sheet: Sheet
    matrix: Array = array_field()  # (2, 2)
    shift: Array = array_field()  # (2,)
    share: float
    rms_mm: float

    def to_plane(self, points: Array) -> Array:
        """(n, 2) page to plane, mm."""
        return np.asarray(points @ self.matrix.T + self.shift)


def find_pose(ink: Ink, sheets: Sequence[Sheet]) -> Pose | None:
    """The sheet that lies in the picture, and how; None when none of them does."""
    picture, origin = ink.coarse()
    starts = [start for sheet in sheets for start in _rough(picture, origin, sheet)]
    starts.sort(key=lambda start: -start[0])
    poses = [_refined(ink, sheet, matrix, shift) for _, sheet, matrix, shift in starts[:TRIES]]
    best = max(poses, key=lambda pose: pose.share, default=None)
    return best if best is not None and best.share >= LEAST_SHARE else None


def samples_of(sheet: Sheet) -> Samples:
    """Points a millimetre apart on every solid line of the sheet."""
    points, normals = [], []
    for stroke in sheet.strokes:
        corners = stroke.points_mm
        ends = np.vstack([corners, corners[:1]]) if stroke.closed else corners
        for start, end in pairwise(ends):
            length = float(np.hypot(*(end - start)))
            if length < 2 * STEP_MM:
                continue
            along = (end - start) / length
            at = np.arange(STEP_MM / 2, length, STEP_MM)
            points.append(start + at[:, None] * along)
            normals.append(np.tile([-along[1], along[0]], (len(at), 1)))
    if not points:
        return Samples(points=np.zeros((0, 2)), normals=np.zeros((0, 2)))
    return Samples(points=np.vstack(points), normals=np.vstack(normals))


def _rough(picture: Array, origin: Array, sheet: Sheet) -> list[tuple[float, Sheet, Array, Array]]:
    """The best place for each turn, with its correlation; the best few turns only."""
    reach = math.ceil(math.hypot(*sheet.size_mm) / GRID_MM) + 4
    room = tuple(fft.next_fast_len(side + reach, real=True) for side in picture.shape)
    seen = fft.rfft2((picture - picture.mean()).astype(np.float32), room)
    found = []
    for turn in np.arange(0.0, 360.0, TURN_DEG):
        matrix = rotation(float(turn))
        drawn, low = _drawn(sheet, matrix)
        kernel = (drawn - drawn.mean()).astype(np.float32)
        norm = float(np.sqrt((kernel**2).sum()))
        match = fft.irfft2(seen * np.conj(fft.rfft2(kernel, room)), room)
        row, column = np.unravel_index(int(match.argmax()), match.shape)
        # A place beyond the half of the room is one before the picture's first cell: the sheet may run off it.
        place = np.array([column, row]) - np.where(
            [column > picture.shape[1], row > picture.shape[0]], room[::-1], 0
        )
        at = place * GRID_MM + origin
        found.append((float(match.max()) / norm, sheet, matrix, at - low))
    found.sort(key=lambda start: -start[0])
    return found[:3]


def _drawn(sheet: Sheet, matrix: Array) -> tuple[Array, Array]:
    """The turned sheet's lines as a coarse map, and the place (2,) of its first cell, mm, page turned about 0."""
    lines = [stroke.points_mm @ matrix.T for stroke in sheet.strokes]
    every = np.vstack(lines)
    low = every.min(axis=0) - 2 * GRID_MM
    size = np.ceil((every.max(axis=0) - low) / GRID_MM).astype(int) + 3
    cells = np.zeros((int(size[1]), int(size[0])), np.uint8)
    for stroke, line in zip(sheet.strokes, lines, strict=True):
        fixed = np.round((line - low) / GRID_MM * 16).astype(np.int32).reshape(-1, 1, 2)
        cv2.polylines(cells, [fixed], stroke.closed, 255, 1, cv2.LINE_AA, 4)
    return np.asarray(cv2.GaussianBlur(cells.astype(np.float64) / 255, (0, 0), 1.0), dtype=float), low


def _refined(ink: Ink, sheet: Sheet, matrix: Array, shift: Array) -> Pose:
    samples = samples_of(sheet)
    off = np.full(len(samples.points), np.nan)
    for band in BANDS_MM:
        off = offsets(ink, samples, matrix, shift, band)
        seen = np.isfinite(off)
        if seen.sum() < 12:
            break
        matrix, shift = _fitted(samples, matrix, shift, off)
    off = offsets(ink, samples, matrix, shift, BANDS_MM[-1])
    near = np.abs(off) < NEAR_MM
    rms = float(np.sqrt(np.mean(off[near] ** 2))) if near.any() else float("inf")
    return Pose(sheet=sheet, matrix=matrix, shift=shift, share=float(near.mean()), rms_mm=rms)


def offsets(ink: Ink, samples: Samples, matrix: Array, shift: Array, band_mm: float) -> Array:
    """(n,) mm: how far across its line the ink lies from each mapped sample; nan where there is none."""
    at = samples.points @ matrix.T + shift
    across = samples.normals @ np.linalg.inv(matrix)
    across = across / np.hypot(across[:, 0], across[:, 1])[:, None]
    steps = int(band_mm / 0.08) | 1
    t, strength = ink.across(at, across, band_mm, steps)
    found = np.full(len(at), np.nan)
    if not len(at):
        return found
    # Of several lines within the band the nearer one is likelier: a gentle slope prefers it.
    peak = np.argmax(strength * (1.0 - 0.5 * np.abs(t) / band_mm), axis=1)
    rows = np.arange(len(at))
    window = np.abs(t[None, :] - t[peak][:, None]) <= 0.5
    weights = np.where(window, np.maximum(strength - 0.3 * strength[rows, peak][:, None], 0.0), 0.0)
    total = weights.sum(axis=1)
    good = (strength[rows, peak] > LEAST_INK) & (total > 0)
    found[good] = (weights[good] * t).sum(axis=1) / total[good]
    return found


def _fitted(samples: Samples, matrix: Array, shift: Array, off: Array) -> tuple[Array, Array]:
    """The affine map that takes up the offsets across the lines, outliers left out."""
    across = samples.normals @ np.linalg.inv(matrix)
    across = across / np.hypot(across[:, 0], across[:, 1])[:, None]
    seen = np.isfinite(off)
    points, n, d = samples.points[seen], across[seen], off[seen]
    # d = n · (dM p + ds): six unknowns.
    rows = np.column_stack([n[:, :1] * points, n[:, 1:] * points, n])
    step: Array = np.zeros(6)
    rest: Array = np.zeros(len(d))
    for _ in range(6):
        scale = max(1.4826 * float(np.median(np.abs(rest))), 0.02)
        w = np.clip(1.0 - (rest / (4.685 * scale)) ** 2, 0.0, None)  # the root of Tukey's biweight
        step = np.asarray(np.linalg.lstsq(rows * w[:, None], d * w, rcond=None)[0], dtype=float)
        rest = d - rows @ step
    return matrix + step[:4].reshape(2, 2), shift + step[4:]
