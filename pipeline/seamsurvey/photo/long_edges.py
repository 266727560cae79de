"""The long edges of a ruler in a photo, to a fraction of a pixel: lines that run as its graduated edge does.

Any line parallel to the ruler says where its direction vanishes, be it the edge of the marked face, a printed line
or the ruler's own shadow, so it need not be known which of them was found.
"""

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.photo.slant_combs import SlantComb

NEAR_MM = (-3.5, 0.8)  # the face's edge lies so far from where the marks begin
BEYOND_MM = 2.0  # the opposite edge lies so far beyond the longest marks at the least,
WIDEST_MM = 165.0  # and the widest quilter's rulers in use are 6 1/2 inches
PROFILES = 80  # lines across the ruler, halfway between marks
SAMPLE_PX = 0.5
BLUR_SAMPLES = 2.5  # the slope is taken over so many samples' standard deviation
PEAKS = 6  # of each profile, the steepest
MIN_CONTRAST = 0.04  # step over local brightness
AGREE_PX = 1.2  # steps of one edge lie on one smooth line within this
SHARE = 0.6  # of the profiles show the edge
GROSS = 3.5
LEAST_SIGMA_PX = 0.1  # an edge of wood or cut plastic is no straighter (common practice, no source)
MAX_SIGMA_PX = 0.6  # a line that scatters more is made of several things
FOOT_SIGMA_PX = 0.7  # where the marks' ridges begin scatters so much about their true ends


@frozen(eq=False)
class LongEdge:
    """Points on one line parallel to the graduated edge."""

    points_px: NDArray[np.float64]  # (n, 2)
    sigma_px: float  # one standard deviation, square to the line


def long_edges(light: NDArray[np.float32], comb: SlantComb, step_mm: float) -> list[LongEdge]:
    """The graduated edge, and the opposite one where it is seen; ``light`` is (h, w) linear light."""
    deepest = float(np.percentile(comb.lengths, 95)) / comb.step * step_mm
    near = _edge(light, comb, (NEAR_MM[0] / step_mm, NEAR_MM[1] / step_mm), innermost=True)
    far = _edge(light, comb, ((deepest + BEYOND_MM) / step_mm, WIDEST_MM / step_mm), innermost=False)
    if near is None:
        near = LongEdge(comb.nears, FOOT_SIGMA_PX)
    return [near] if far is None else [near, far]


def _edge(
    light: NDArray[np.float32], comb: SlantComb, heights: tuple[float, float], *, innermost: bool
) -> LongEdge | None:
    """The line at an even height over the feet on which the light steps."""
    first, last = int(comb.index[0]), int(comb.index[-1])
    numbers = np.unique(np.linspace(first, last - 1, PROFILES).astype(int)) + 0.5
    inward = np.arange(heights[0] * comb.step, heights[1] * comb.step, SAMPLE_PX)
    if len(inward) < 8:
        return None
    grid = comb.places(*np.meshgrid(numbers, inward, indexing="ij"))
    number, height = _steps(light, grid, numbers, inward)
    found = _aligned(number, height, len(numbers), innermost=innermost)
    if found is None:
        return None
    members, sigma = found
    return LongEdge(comb.frame.places(np.column_stack([number[members], height[members] / comb.step])), sigma)


def _steps(
    light: NDArray[np.float32],
    grid: NDArray[np.float64],
    numbers: NDArray[np.float64],
    inward: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Number of the profile, and px inward, of the steepest places of each profile."""
    x, y = grid[..., 0].astype(np.float32), grid[..., 1].astype(np.float32)
    height, width = light.shape
    values = cv2.remap(light, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    outside = (x < 1) | (y < 1) | (x > width - 2) | (y > height - 2)
    smooth = cv2.GaussianBlur(values, (0, 0), BLUR_SAMPLES, sigmaY=1e-6)
    slope = np.abs(np.gradient(smooth, axis=1)) / np.maximum(smooth, 0.02)
    slope[outside] = 0.0
    peak = (slope[:, 1:-1] > slope[:, :-2]) & (slope[:, 1:-1] >= slope[:, 2:])
    # A step of relative height c, so blurred, has this slope in its middle.
    peak &= slope[:, 1:-1] > MIN_CONTRAST / (BLUR_SAMPLES * np.sqrt(2 * np.pi))
    steep = np.where(peak, slope[:, 1:-1], 0.0)
    best = np.argsort(-steep, axis=1)[:, :PEAKS]
    row = np.repeat(np.arange(len(numbers)), best.shape[1])
    column = best.ravel() + 1
    there = steep[row, column - 1] > 0
    row, column = row[there], column[there]
    before, here, after = slope[row, column - 1], slope[row, column], slope[row, column + 1]
    shift = 0.5 * (before - after) / np.minimum(before - 2 * here + after, -1e-12)
    return numbers[row], inward[column] + np.clip(shift, -1, 1) * SAMPLE_PX


def _aligned(
    number: NDArray[np.float64], height: NDArray[np.float64], profiles: int, *, innermost: bool
) -> tuple[NDArray[np.intp], float] | None:
    """The steps of one edge, and the standard deviation about its smooth line, px."""
    if len(height) < SHARE * profiles:
        return None
    order = np.argsort(height)
    reach = 2 * AGREE_PX
    votes = np.searchsorted(height[order], height[order] + reach) - np.arange(len(order))
    enough = np.flatnonzero(votes >= SHARE * profiles)
    if not len(enough):
        return None
    best = enough[-1] if innermost else enough[int(np.argmax(votes[enough]))]
    low = height[order[best]]
    near = order[(height[order] >= low) & (height[order] <= low + reach)]
    # Face, side and shadow end close beside one another: of each profile one step is taken, always the same one.
    _, first = np.unique(number[near[::-1] if innermost else near], return_index=True)
    members = (near[::-1] if innermost else near)[first]
    tolerance = AGREE_PX
    for _ in range(3):
        line = np.polynomial.Polynomial.fit(number[members], height[members], 2)
        rest = np.abs(height - line(number))
        members = np.flatnonzero(rest <= tolerance)
        if len(members) < SHARE * profiles:
            return None
        tolerance = max(GROSS * 1.4826 * float(np.median(rest[members])), 2 * LEAST_SIGMA_PX)
    sigma = 1.4826 * float(np.median(rest[members]))
    return (members, max(sigma, LEAST_SIGMA_PX)) if sigma <= MAX_SIGMA_PX else None
