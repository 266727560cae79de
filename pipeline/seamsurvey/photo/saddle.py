"""The saddle where two dark and two light squares meet, to a few hundredths of a pixel.

Neither blur nor ink that has spread moves it, for they are the same on all sides of it; the slope of the lighting
would, so it is part of the model.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEAST_SIGMA_PX = 0.04  # what no symmetry sees: the pixels' and the print's own raster; measured on rendered pages

_LEAST_CONTRAST = 0.02  # linear light between light and dark squares,
_LEAST_SHARE = 0.35  # and as a share of the light ones
_MOST_UNLIKE = 0.12  # of the contrast, between the two sides of a saddle: it is half covered
_MOST_SIGMA_PX = 0.3
_MOST_STEP_PX = 0.3  # from the nearest half pixel, and a little for noise
_SIGMA = 0.8  # px: the pixels are smoothed so much, and their slopes are those of the same bell
_ALIKE = 4 * np.pi * _SIGMA**2  # pixels under one bell squared: so many residuals count as one
_AT = np.arange(-4, 5)
_BELL = np.exp(-0.5 * (_AT / _SIGMA) ** 2)
_BELL /= _BELL.sum()
_SLOPE = _AT / _SIGMA**2 * _BELL  # the filter correlates, so that this is the derivative's kernel turned round


def is_saddle(patch: NDArray[np.float32], place: Floats, radius: float) -> bool:
    """Whether two light and two dark squares meet at ``place`` (2,) px of a patch of linear light."""
    angle = np.radians(np.arange(0, 360, 7.5))
    ring = cv2.remap(
        patch,
        (place[0] + 0.7 * radius * np.cos(angle)).astype(np.float32)[None],
        (place[1] + 0.7 * radius * np.sin(angle)).astype(np.float32)[None],
        cv2.INTER_LINEAR,
    )[0]
    dark, bright = np.percentile(ring, [20, 80])
    if bright - dark < max(_LEAST_CONTRAST, _LEAST_SHARE * bright):
        return False
    level = ring > (dark + bright) / 2
    return int(np.sum(level != np.roll(level, 1))) == 4


def symmetric_centre(patch: NDArray[np.float32], near: Floats, radius: float) -> tuple[Floats, float] | None:
    """The point about which a patch of linear light is the same turned by half, but for a slope of its lighting.

    (2,) px and its standard deviation, from ``near`` (right to half a pixel) and the pixels within ``radius``; None
    where nothing is so symmetric. With I = R L, R even about the centre c + d and L a slope g, the odd part about c
    is (I(c + p) - I(c - p)) / 2 = -grad R(p) . d + R(p) g . p, which is linear in d and g. As c is taken to be the
    middle of a pixel, or of an edge or a corner between pixels, c + p and c - p are both pixels and nothing is
    resampled.
    """
    smooth, right, down = (
        cv2.sepFilter2D(patch, cv2.CV_64F, across, along, borderType=cv2.BORDER_REFLECT)
        for across, along in ((_BELL, _BELL), (_SLOPE, _BELL), (_BELL, _SLOPE))
    )
    centre = np.round(near * 2) / 2
    for _ in range(3):  # the centre may turn out to be nearer to another half pixel
        reach = int(radius)
        low = np.ceil(centre - reach).astype(int)
        high = np.floor(centre + reach).astype(int)
        if low.min() < 0 or high[0] >= patch.shape[1] or high[1] >= patch.shape[0]:
            return None
        window = (slice(low[1], high[1] + 1), slice(low[0], high[0] + 1))
        y, x = np.mgrid[low[1] : high[1] + 1, low[0] : high[0] + 1]
        x, y = x - centre[0], y - centre[1]
        use = (np.hypot(x, y) <= radius) & ((y > 0) | ((y == 0) & (x > 0)))  # each pair once
        turned = [part[window][::-1, ::-1] for part in (smooth, right, down)]
        odd = (smooth[window] - turned[0])[use] / 2
        even = (smooth[window] + turned[0])[use] / 2
        slopes = [(part[window] - back)[use] / 2 for part, back in zip((right, down), turned[1:], strict=True)]
        design = np.column_stack([-slopes[0], -slopes[1], even * x[use], even * y[use]])
        solution = np.linalg.lstsq(design, odd, rcond=None)[0]
        step = solution[:2]
        if np.abs(step).max() <= _MOST_STEP_PX:
            break
        centre = np.round((centre + step) * 2) / 2
    else:
        return None
    rest = odd - design @ solution
    variance = float(rest @ rest) / max(len(rest) - 4, 1) * _ALIKE
    sigma = float(np.sqrt(variance * np.linalg.inv(design.T @ design)[:2, :2].trace() / 2))
    if sigma > _MOST_SIGMA_PX or np.sqrt(np.mean(rest**2)) > _MOST_UNLIKE * np.std(even):
        return None
    return centre + step, float(np.hypot(sigma, LEAST_SIGMA_PX))
