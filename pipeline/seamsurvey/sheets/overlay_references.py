"""The references over the photo: every mark used, and what the fit left over, many times enlarged."""

import math

import numpy as np

from seamsurvey.model import Array, Reference
from seamsurvey.sheets.canvas import Canvas
from seamsurvey.sheets.photo_facts import marks_used, rms_px

MARK = "#8a4b00"
MISS = "#a3006b"

# Not beyond a few hundred times: what is left of a good fit shall look good.
_STEPS = (*(m * 10**e for e in range(-1, 2) for m in (1, 2, 5)), 100, 200)
_LONGEST = 1.4  # heights of the type: the strokes of a mat's squares don't run into one another
_TYPICAL = 95  # percentile that has this length: one stray miss must not make the others invisible


def draw_reference(canvas: Canvas, reference: Reference, number: int) -> list[tuple[str, str]]:
    """Draw one reference; what the legend says of it, each line with its colour."""
    if len(reference.spots_px):
        return _sheet(canvas, reference)
    return _ruler(canvas, reference, number)


def reading_turn(along: Array) -> float:
    """Degrees counter-clockwise for a word along a canvas direction: never upside down, upright ones upwards."""
    turn = math.degrees(math.atan2(-float(along[1]), float(along[0])))
    return 90 - (90 - turn) % 180


def _ruler(canvas: Canvas, reference: Reference, number: int) -> list[tuple[str, str]]:
    canvas.line(canvas.at(reference.outline_px), MARK, max(1, canvas.text_px // 10), closed=True, edge=1)
    marks, ends = canvas.at(reference.marks_px), canvas.at(reference.mark_ends_px)
    for start, end in zip(marks, ends, strict=True):
        canvas.line(np.array([start, end]), MARK, 1)
    along = marks[-1] - marks[0]
    outwards = np.array([-along[1], along[0]]) / np.hypot(*along)
    if outwards @ (ends - marks).mean(axis=0) > 0:
        outwards = -outwards
    longest = _LONGEST * canvas.text_px
    times = _enlarged(float(np.abs(reference.residuals_px).max(initial=0.0)) * canvas.scale, longest)
    base = marks + outwards * (longest + 3)
    canvas.line(base[[0, -1]], MARK, 1)
    for point, residual in zip(base, reference.residuals_px, strict=True):
        bar = np.array([point, point + outwards * residual * canvas.scale * times])
        canvas.line(bar, MARK, max(1, canvas.text_px // 9))
    turn = reading_turn(along)
    middle = (marks[0] + marks[-1]) / 2
    off = (-longest, -2 * longest, 2 * longest + canvas.text_px)  # on the ruler, else beside it
    places = [(middle + outwards * r, turn) for r in off]
    canvas.word(f"ruler {number}", canvas.text_px, places, MARK, weight="bold")
    text = (
        f"Ruler {number} ({reference.graduation}): {marks_used(reference)} used. Bars: what is left of each after "
        f"the fit, {times:g} times as large; {reference.residual_px:.2f} pixels on average."
    )
    return [(text, MARK)]


def _sheet(canvas: Canvas, reference: Reference) -> list[tuple[str, str]]:
    """A mat, target, page or card: its lines or corners, and a stroke from each place to where it is seen."""
    outline = canvas.at(reference.outline_px)
    starts, ends = canvas.at(reference.marks_px), canvas.at(reference.mark_ends_px)
    if reference.kind in ("card", "page"):
        canvas.line(outline, MARK, max(1, canvas.text_px // 8), closed=True, edge=1)
    else:
        canvas.veil([np.array(pair) for pair in zip(starts, ends, strict=True)], MARK, 1, 0.55)
    spots = canvas.at(reference.spots_px)
    misses = reference.misses_px * canvas.scale
    lengths = np.hypot(*misses.T)
    times = _enlarged(float(np.percentile(lengths, _TYPICAL)), _LONGEST * canvas.text_px)
    width = max(1, canvas.text_px // 12)
    for spot, miss in zip(spots, misses, strict=True):
        canvas.line(np.array([spot, spot + miss * times]), MISS, width)
        canvas.dot(spot, MISS, 0.6 + canvas.text_px / 20, edge=0.4)
    step = canvas.text_px
    inwards = outline.mean(axis=0) - outline
    inwards /= np.hypot(*inwards.T)[:, None]
    places = [(corner + inward * step * reach, 0.0) for reach in (2.5, 5.0, -2.0)
              for corner, inward in zip(outline, inwards, strict=True)]  # fmt: skip
    canvas.word(reference.kind, step, places, MARK, weight="bold")
    rms = rms_px(reference)
    in_mm = f" = {rms / reference.px_per_mm:.3f} mm" if reference.px_per_mm else ""
    name = reference.graduation[0].upper() + reference.graduation[1:]
    used = "" if reference.kind == "target" else f" {marks_used(reference)} used."  # its name has them already
    return [
        (f"{name}.{used}", MARK),
        (
            f"Strokes: how far each dot lies from where it should, {times:g} times as large; on average {rms:.2f} "
            f"pixels{in_mm}.",
            MISS,
        ),
    ]


def _enlarged(largest_px: float, longest_px: float) -> float:
    """The round number of times by which the largest stays within the longest that has room."""
    return float(max((step for step in _STEPS if step * largest_px <= longest_px), default=_STEPS[0]))
