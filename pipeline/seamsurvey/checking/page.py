"""A photo of a printed sheet against the sheet as it was sent to the printer: both bars, and every section's edges.

The affine map of the whole sheet gives the scale across and up; each edge's own line is fitted to its ink, so that
a paper that waves, or slipped in the printer, shows in the edge where it did.
"""

from collections.abc import Sequence

import numpy as np
from attrs import frozen

from seamsurvey.check_model import CANT_TELL, Checked, CheckReport, Sheet, Stroke
from seamsurvey.checking.box import TOLERANCE_SHARE, scale_notes
from seamsurvey.checking.ink import Ink
from seamsurvey.checking.page_pose import BANDS_MM, Pose, Samples, find_pose, offsets, samples_of
from seamsurvey.checking.verdict import verdict_on
from seamsurvey.errors import InputError
from seamsurvey.geometry import intersect_lines
from seamsurvey.model import Array, Picture, Plane
from seamsurvey.plane import COVERAGE

BAR = "scale 100 mm"
OUTLINES = "outlines"
# A line's own middle, from its ink: what an uneven edge of toner or ink leaves of it, mm, standard.
LINE_MM = 0.02
_CHANGE = "lay the sheet flat under a sheet of glass, hold the camera straight above, the ruler close beside it"


@frozen(kw_only=True)
class PageChecked:
    """The verdicts, and what was found: each outline (n, 2) in the plane, named as in the report."""

    report: CheckReport
    sheet: int
    outlines: tuple[tuple[str, Array], ...]


def check_page(picture: Picture, plane: Plane, sheets: Sequence[Sheet], *, risk: float) -> PageChecked:
    """Whether the sheet in the picture was printed true. InputError ``page-not-found`` when it is none of these."""
    ink = Ink(picture, plane)
    pose = find_pose(ink, sheets)
    if pose is None:
        raise InputError(
            "page-not-found",
            "None of the job's sheets can be found in the photo.",
            where=picture.name,
            likely="It is a page of another job, the job changed since, or too little of it is seen.",
            todo="Photograph one whole page from straight above with a ruler beside it, or run with --templates.",
        )
    lengths = [*_bars(plane, pose, risk)]
    found: list[tuple[str, Array]] = []
    for number, stroke in enumerate((s for s in pose.sheet.strokes if s.layer == OUTLINES and s.closed), 1):
        name = f"outline {number}"
        corners = _corners(ink, pose, stroke)
        found.append((name, corners))
        lengths += _edges(plane, name, corners, stroke, risk)
    bars = tuple(lengths[:2])
    notes = (f"The photo shows page {pose.sheet.number} of the file.", *scale_notes(bars))
    report = CheckReport(
        lengths=tuple(lengths), notes=notes, tolerance_share=TOLERANCE_SHARE, risk=risk,
    )  # fmt: skip
    return PageChecked(report=report, sheet=pose.sheet.number, outlines=tuple(found))


def _bars(plane: Plane, pose: Pose, risk: float) -> list[Checked]:
    """The bars across and up, as the whole sheet's map has them: their own ticks are too short to say more."""
    bars = [s.points_mm for s in pose.sheet.strokes if s.layer == BAR]
    bars.sort(key=lambda bar: abs(float(bar[-1][1] - bar[0][1])))
    return [
        _checked(
            plane, pose.to_plane(bar[[0, -1]]), name="page", what=f"bar {word}", wanted=_length(bar[[0, -1]]),
            own_mm=pose.rms_mm, risk=risk,
        )
        for word, bar in zip(("across", "up"), (bars[0], bars[-1]), strict=True)
    ]  # fmt: skip


def _edges(plane: Plane, name: str, corners: Array, stroke: Stroke, risk: float) -> list[Checked]:
    count = len(corners)
    return [
        _checked(
            plane, corners[[k, (k + 1) % count]], name=name, what=f"edge {k + 1}",
            wanted=_length(stroke.points_mm[[k, (k + 1) % count]]), own_mm=LINE_MM, risk=risk,
        )
        for k in range(count)
    ]  # fmt: skip


def _length(ends: Array) -> float:
    return float(np.hypot(*(ends[1] - ends[0])))


def _checked(
    plane: Plane, ends: Array, *, name: str, what: str, wanted: float, own_mm: float, risk: float
) -> Checked:
    length = _length(ends)
    moves = plane.sensitivity(plane.to_px(ends))
    slope = (ends[1] - ends[0]) / length @ (moves[1] - moves[0])
    variance = max(0.0, float(slope @ plane.covariance @ slope)) + 2 * own_mm**2
    u = COVERAGE * float(np.sqrt(variance))
    verdict = verdict_on(length - wanted, u, tolerance_mm=max(TOLERANCE_SHARE * wanted, 0.25), risk=risk)
    return Checked(
        name=name, what=what, measured_mm=length, u_mm=u, verdict=verdict, wanted="as sent", wanted_mm=wanted,
        off_mm=length - wanted, off_u_mm=u, change=_CHANGE if verdict == CANT_TELL else "",
    )  # fmt: skip


def _corners(ink: Ink, pose: Pose, stroke: Stroke) -> Array:
    """(n, 2) plane: where the lines through the ink of an outline's edges meet."""
    count = len(stroke.points_mm)
    lines = []
    for k in range(count):
        start, end = stroke.points_mm[k], stroke.points_mm[(k + 1) % count]
        lines.append(_line(ink, pose, start, end))
    placed = pose.to_plane(stroke.points_mm)
    corners = []
    for k in range(count):
        before, after = lines[k - 1], lines[k]
        try:
            corner = intersect_lines(before[0], before[1], after[0], after[1])
        except ValueError:
            corner = placed[k]
        # Lines that hardly differ in direction meet anywhere: there the map says more.
        corners.append(corner if np.hypot(*(corner - placed[k])) < BANDS_MM[-1] else placed[k])
    return np.array(corners)


def _line(ink: Ink, pose: Pose, start: Array, end: Array) -> tuple[Array, Array]:
    """A point and a direction in the plane: the edge's line, moved and turned to its ink."""
    one = Sheet(number=0, size_mm=(0.0, 0.0), strokes=(Stroke(points_mm=np.array([start, end])),))
    samples: Samples = samples_of(one)
    ends = pose.to_plane(np.array([start, end]))
    way = ends[1] - ends[0]
    off = offsets(ink, samples, pose.matrix, pose.shift, BANDS_MM[-1])
    seen = np.isfinite(off)
    if seen.sum() < 8:
        return ends[0], way
    along = way / np.hypot(*way)
    normal = np.array([-along[1], along[0]])
    at = (samples.points[seen] @ pose.matrix.T + pose.shift - ends[0]) @ along
    weights = np.ones(len(at))
    slope = level = 0.0
    for _ in range(5):
        slope, level = np.polyfit(at, off[seen], 1, w=np.sqrt(weights))
        rest = off[seen] - (slope * at + level)
        scale = max(1.4826 * float(np.median(np.abs(rest))), 0.02)
        weights = np.clip(1.0 - (rest / (4.685 * scale)) ** 2, 1e-6, None) ** 2
    return ends[0] + level * normal, along + slope * normal
