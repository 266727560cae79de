"""The ground under the templates: the scanner's lid, as a smooth surface of light.

Everything here works on a *coarse* picture: block means in linear light, about four to the millimetre, as the
natural logarithm of the light. Paper under a shadow is then the paper's value minus a number that is nearly the
same in all three channels, whatever the colour of the lid.
"""

from typing import Any

import cv2
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.errors import InputError
from seamsurvey.light import linear_channels

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

COARSE_PER_MM = 4.0  # fine enough to start an edge within 0.3 mm, coarse enough to average paper grain away
FLARE = 0.01  # added to all light before the logarithm: below one hundredth a scanner shows only flare and noise
_ROUGH_STEP = 4  # the first look at the ground is coarser still: about one value a millimetre
_OPEN_SIDE, _OPEN_AREA = 0.05, 0.02  # of half the picture's circumference, of its area
_GROUND_BAND = 0.12  # ln; uneven light beyond the fitted surface, and the lid's own blotches, stay within this


@frozen(kw_only=True)
class Ground:
    """A coarse picture, relative to its ground.

    ``lightness`` (h, w) is the mean over the channels of ln(light / ground), ``chroma`` (h, w, 3) what is left
    of each channel; a neutral shadow has lightness below 0 and chroma 0. ``noise`` is one standard deviation of
    both on the ground itself. Coarse pixel (i, j) has its centre at ``factor`` · (i, j) + (factor - 1) / 2.
    """

    lightness: Floats = field(eq=False, repr=False)
    chroma: Floats = field(eq=False, repr=False)
    noise: tuple[float, float]
    factor: int
    per_mm: float  # coarse pixels in a millimetre

    def to_px(self, coarse: Floats) -> Floats:
        """(n, 2) coarse (x, y) to (n, 2) image pixels."""
        return coarse * self.factor + (self.factor - 1) / 2

    def to_coarse(self, points_px: Floats) -> Floats:
        """(n, 2) image pixels to (n, 2) coarse (x, y)."""
        return (points_px - (self.factor - 1) / 2) / self.factor


def coarse_light(pixels: NDArray[Any], factor: int) -> Floats:
    """(h // factor, w // factor, 3): ln of the block means of linear light (plus FLARE), band by band."""
    height, width = pixels.shape[0] // factor, pixels.shape[1] // factor
    result = np.empty((height, width, 3))
    rows = max(1, 512 // factor)
    for top in range(0, height, rows):
        bottom = min(height, top + rows)
        band = linear_channels(pixels[top * factor : bottom * factor, : width * factor])
        result[top:bottom] = band.reshape(bottom - top, factor, width, factor, 3).mean(axis=(1, 3))
    return np.log(result + FLARE)


def find_ground(pixels: NDArray[Any], px_per_mm: float) -> Ground:
    """The coarse picture relative to its ground: the widest-spread surface of nearly one colour.

    InputError ``no-ground`` when no surface of one colour reaches over the picture.
    """
    factor = max(1, round(px_per_mm / COARSE_PER_MM))
    light = coarse_light(pixels, factor)
    coefficients = _fit(light)
    relative = light - _surface(coefficients, *light.shape[:2])
    lightness = relative.mean(axis=2)
    chroma = relative - lightness[..., None]
    on_ground = np.abs(relative).max(axis=2) < _GROUND_BAND
    noise = (spread(lightness[on_ground]), spread(chroma[on_ground]))
    return Ground(lightness=lightness, chroma=chroma, noise=noise, factor=factor, per_mm=px_per_mm / factor)


def _fit(light: Floats) -> Floats:
    rough = cv2.resize(light, None, fx=1 / _ROUGH_STEP, fy=1 / _ROUGH_STEP, interpolation=cv2.INTER_AREA)
    best, best_score = None, 0.0
    for level in _levels(rough.mean(axis=2)):
        near = np.abs(rough.mean(axis=2) - level) < _GROUND_BAND / 2
        surface: Floats = np.broadcast_to(np.median(rough[near], axis=0), rough.shape)
        coefficients: Floats = np.zeros((6, 3))
        score = 0.0
        for _ in range(4):
            region = _open_parts(np.abs(rough - surface).max(axis=2) < _GROUND_BAND)
            if region.sum() < 60:
                score = 0.0
                break
            design = _design(*rough.shape[:2])[region.ravel()]
            coefficients = np.asarray(np.linalg.lstsq(design, rough[region], rcond=None)[0], dtype=float)
            surface = _surface(coefficients, *rough.shape[:2])
            ys, xs = np.nonzero(region)
            score = float(region.mean() * np.ptp(xs) * np.ptp(ys) / region.size)
        if score > best_score:
            best, best_score = coefficients, score
    # A lid shows round its templates: it reaches over most of the picture, if in narrow strips only.
    if best is None or best_score < 0.03:
        raise InputError(
            "no-ground",
            "There is no plain ground in this picture that templates could lie on.",
            likely="It may be a photo of something else, or the ground is patterned.",
            todo="Scan the templates with a plain lid or a sheet of plain paper behind them.",
        )
    return best


def _levels(lightness: Floats) -> list[float]:
    """The lightness of the (at most five) commonest tones."""
    counts, borders = np.histogram(lightness, bins=np.arange(lightness.min() - 0.1, lightness.max() + 0.2, 0.04))
    smooth = np.convolve(counts, [1, 2, 1], mode="same")
    peaks = [
        k
        for k in range(len(smooth))
        if smooth[k] == smooth[max(0, k - 2) : k + 3].max() and smooth[k] > 0.02 * smooth.sum() / 2
    ]
    peaks.sort(key=lambda k: -smooth[k])
    return [float(borders[k] + 0.02) for k in peaks[:5]]


def _open_parts(mask: Mask) -> Mask:
    """The largest part, and others that reach the picture's border: a ruler from side to side parts the ground.

    A card as light as the ground lies inside the picture, and its even face is not taken for ground.
    """
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    if count < 2:
        return mask
    border = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    areas = stats[:, cv2.CC_STAT_AREA]
    at_border = np.bincount(border, minlength=count) >= _OPEN_SIDE * sum(mask.shape)
    taken = at_border & (areas >= _OPEN_AREA * mask.size)
    taken[0] = False
    taken[1 + int(np.argmax(areas[1:]))] = True
    return np.asarray(taken[labels])


def _design(height: int, width: int) -> Floats:
    """(h · w, 6): the terms of a quadratic surface over the picture, x and y from -1 to 1."""
    grid = np.meshgrid(np.linspace(-1, 1, height), np.linspace(-1, 1, width), indexing="ij")
    y, x = (part.ravel() for part in grid)
    return np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y])


def _surface(coefficients: Floats, height: int, width: int) -> Floats:
    return np.asarray((_design(height, width) @ coefficients).reshape(height, width, 3))


def spread(values: Floats) -> float:
    """A standard deviation that outliers do not move (1.4826 times the median deviation)."""
    return float(1.4826 * np.median(np.abs(values - np.median(values))))
