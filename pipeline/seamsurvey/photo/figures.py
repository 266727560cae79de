"""The figures beside a ruler's marks: not what they say, but where there are some.

A figure stands at every whole inch. Where the whole and the half inch have marks of one length, the lengths
alone would take halves for wholes; the figures, standing at every other one only, tell.
"""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from seamsurvey.photo.graduation import BINARY, Reading
from seamsurvey.photo.slant_combs import SlantComb
from seamsurvey.units import INCH

BOX_UNITS = 0.36  # a figure stands within this share of a unit from its mark, on either side
BOX_MM = 9.0  # and this far from the end of the mark
INK = 0.7  # a pixel this much darker than the median of its surroundings is ink; lighter, where marks are light
ALTERNATE = 0.2  # every other place has less than this share of its neighbours' ink
UNCOVERED = 0.7  # of the marks round a whole one are found, or it is left out
MIN_INK = 0.008  # of the boxes' area: less is dirt


def every_other_figure(light: NDArray[np.float32], comb: SlantComb, reading: Reading) -> bool:
    """Whether figures stand at every other whole unit of an inch ``reading`` only, so that it is a wrong one."""
    graduation = reading.graduation
    if graduation.per_unit not in BINARY:
        return False
    margin = math.ceil(BOX_UNITS * graduation.per_unit)  # so that no box leaves the ruler
    numbers = np.arange(comb.index[0] + margin, comb.index[-1] - margin + 1)
    wholes = numbers[(numbers - reading.phase) % graduation.per_unit == 0]
    # Where marks are missing something may cover the figure too.
    around = np.arange(-margin, margin + 1)
    wholes = wholes[np.isin(wholes[:, None] + around, comb.index).mean(axis=1) >= UNCOVERED]
    ink = np.array([_ink(light, comb, int(whole), reading) for whole in wholes])
    odd = (wholes - reading.phase) // graduation.per_unit % 2 == 1
    if min(odd.sum(), (~odd).sum()) < 2:
        return False
    fuller, emptier = sorted((ink[odd], ink[~odd]), key=np.median)[::-1]
    return bool(fuller.min() >= MIN_INK and emptier.max() <= ALTERNATE * np.median(fuller))


def _ink(light: NDArray[np.float32], comb: SlantComb, number: int, reading: Reading) -> float:
    """The share of a box inward of whole mark ``number`` that is ink."""
    px_per_mm = comb.step / reading.graduation.step_mm
    half = BOX_UNITS * reading.graduation.per_unit
    start = 0.6 * float(np.percentile(comb.lengths, 95))
    depth = start + min(BOX_MM, INCH / 2) * px_per_mm
    along = np.linspace(-half, half, 60)
    inward = np.linspace(start, depth, 40)
    # The mark itself, as long as it is, is no figure.
    along = along[np.abs(along) > 0.2]
    grid = comb.places(*np.meshgrid(number + along, inward))
    x, y = grid[..., 0].astype(np.float32), grid[..., 1].astype(np.float32)
    values = np.asarray(cv2.remap(light, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))
    ground = float(np.median(values))
    return float(np.mean(values < INK * ground if comb.dark else values > ground / INK))
