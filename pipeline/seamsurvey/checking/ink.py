"""How much ink lies where on a sheet: along lines in the picture itself, or on a coarse grid of the table."""

import cv2
import numpy as np
from scipy.ndimage import map_coordinates

from seamsurvey.light import linear_luminance
from seamsurvey.model import Array, Picture, Plane

GRID_MM = 2.0  # of the coarse map: a page's lines a few millimetres apart can still be told


class Ink:
    """The picture as linear light, to be asked for ink along short lines on the table."""

    def __init__(self, picture: Picture, plane: Plane) -> None:
        self.plane = plane
        self.light = linear_luminance(picture.pixels)

    def seen(self, points_mm: Array) -> Array:
        """(n,): light 0..1 at plane points; nan outside the picture (where no ink is seen)."""
        px = self.plane.to_px(points_mm)
        return np.asarray(
            map_coordinates(self.light, [px[:, 1], px[:, 0]], order=1, mode="constant", cval=np.nan), dtype=float
        )

    def across(self, points_mm: Array, normals: Array, reach_mm: float, steps: int) -> tuple[Array, Array]:
        """Offsets (m,) in mm along each normal, and (n, m) the ink there as a share of the paper's light.

        The paper's light is the upper quartile of each profile.
        """
        offsets = np.linspace(-reach_mm, reach_mm, steps)
        places = points_mm[:, None, :] + offsets[None, :, None] * normals[:, None, :]
        light = np.nan_to_num(self.seen(places.reshape(-1, 2)).reshape(len(points_mm), steps))
        paper = np.maximum(np.percentile(light, 75, axis=1, keepdims=True), 1e-3)
        return offsets, np.clip((paper - light) / paper, 0.0, 1.0)

    def coarse(self) -> tuple[Array, Array]:
        """A map of the ink, cell by cell of ``GRID_MM``, y up, and the plane point (2,) of its first cell.

        Ink is what is darker than its neighbourhood: a table's grain counts too, paper and shadows don't.
        """
        height, width = self.light.shape
        border = np.array([[x, y] for x in np.linspace(0, width - 1, 5) for y in np.linspace(0, height - 1, 5)])
        corners = self.plane.to_mm(border)
        corners = corners[np.all(np.isfinite(corners), axis=1)]
        low, high = corners.min(axis=0), corners.max(axis=0)
        # A picture towards the horizon shows metres of table; the sheet is near its middle.
        middle = np.median(corners, axis=0)
        low, high = np.maximum(low, middle - 400.0), np.minimum(high, middle + 400.0)
        fine = 3
        xs, ys = (np.arange(low[k], high[k], GRID_MM / fine) for k in (0, 1))
        grid = np.stack(np.meshgrid(xs, ys), axis=-1)
        light = np.nan_to_num(self.seen(grid.reshape(-1, 2)).reshape(grid.shape[:2]), nan=0.5).astype(np.float32)
        around = cv2.morphologyEx(light, cv2.MORPH_CLOSE, np.ones((5 * fine // 2 | 1,) * 2, np.uint8))
        ink = np.clip((around - light) / np.maximum(around, 0.05), 0.0, 1.0)
        rows, columns = (side // fine for side in ink.shape)
        cells = ink[: rows * fine, : columns * fine].reshape(rows, fine, columns, fine).max(axis=(1, 3))
        return np.asarray(cells, dtype=float), low + GRID_MM * (fine - 1) / (2 * fine)
