"""A picture in linear light that outlines are painted on, each pixel by the share it is covered."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from .coverage import Grey, Patch, cover
from .geometry import Points
from .light import Colour, Picture, blurred

# What colours a window of the picture: given (x, y) pixel coordinates of its pixels, (h, w) each, their
# linear light (h, w, 3), or one colour for all.
Paint = Colour | Callable[[Grey, Grey], Picture]


class Canvas:
    """A picture under way. `light` is (height, width, 3) linear; `size` is (width, height)."""

    def __init__(self, light: Picture) -> None:
        self.light = light
        self.size = (light.shape[1], light.shape[0])

    def paint(self, outlines: Sequence[Points], paint: Paint, strength: float = 1.0) -> None:
        """Cover the outlines (image frame, px) with the paint, `strength` being its opacity."""
        if not outlines:
            return
        patch = cover(outlines, self.size)
        if patch.alpha.size == 0:
            return
        under = self.light[patch.window]
        over = _colours(paint, patch)
        under += (over - under) * (patch.alpha[..., None] * np.float32(strength))

    def shade(self, outline: Points, depth: float, sigma: float) -> None:
        """Take the share `depth` of the light away under the outline, its border blurred by `sigma` px."""
        patch = cover([outline], self.size, margin=int(4.0 * sigma) + 2)
        if patch.alpha.size == 0:
            return
        dark = blurred(patch.alpha, sigma) * np.float32(depth)
        self.light[patch.window] *= 1.0 - dark[..., None]


def _colours(paint: Paint, patch: Patch) -> Picture:
    if not callable(paint):
        return np.array(paint, dtype=np.float32)
    height, width = patch.alpha.shape
    x = np.arange(patch.left, patch.left + width, dtype=np.float32)[None, :]
    y = np.arange(patch.top, patch.top + height, dtype=np.float32)[:, None]
    return paint(np.broadcast_to(x, (height, width)), np.broadcast_to(y, (height, width)))
