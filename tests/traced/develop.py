"""From linear light to the file a phone or a scanner writes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from .lens import Phone
from .trace import margin

Picture = NDArray[np.float32]


@dataclass(frozen=True)
class Sensor:
    """What the sensor and the phone's program do."""

    level: float  # encoded light of what is taken for bright
    blur: float  # px
    noise: float  # share of full light at full light
    balance: tuple[float, float, float]
    contrast: float
    sharpen: float
    quality: int


def bent(light: Picture, phone: Phone) -> Picture:
    """The picture as the lens bends it, its margin gone."""
    width, height = phone.size
    border = margin(phone)
    out = np.empty((height, width, 3), dtype=np.float32)
    for top in range(0, height, 512):
        rows = np.arange(top, min(top + 512, height))
        x, y = np.meshgrid(np.arange(width), rows)
        straight = phone.straight_pixels(np.column_stack([x.ravel(), y.ravel()]).astype(np.float64)) + border
        maps = straight.reshape(len(rows), width, 2).astype(np.float32)
        out[rows] = cv2.remap(light, maps[..., 0], maps[..., 1], cv2.INTER_CUBIC)
    half = np.array(phone.size) / 2
    x, y = np.meshgrid((np.arange(width) - half[0]) / phone.focal, (np.arange(height) - half[1]) / phone.focal)
    fall = ((1 + x**2 + y**2) ** -2).astype(np.float32)  # the cosine law, half made good by the phone
    return np.asarray(out.clip(0) * np.sqrt(fall)[..., None], dtype=np.float32)


def developed(light: Picture, sensor: Sensor, rng: Generator, white: float | None = None) -> NDArray[np.uint8]:
    """The encoded picture, before JPEG.

    A scanner's exposure is set by the linear light `white` of a white sheet; a phone's, where none is given, by
    the picture's brightest fiftieth, but it does not lift a dark picture beyond a middle grey.
    """
    light = light * np.array(sensor.balance, dtype=np.float32)
    if white is None:
        seen = light[::8, ::8].mean(axis=2)
        bright = max(float(np.percentile(seen, 98)), 1.6 * float(np.median(seen)))
    else:
        bright = white
    light = (light * (sensor.level**2.2 / bright)).clip(0, 4)
    light = cv2.GaussianBlur(light, (0, 0), sensor.blur).astype(np.float32)
    grain = rng.standard_normal(light.shape, dtype=np.float32)
    grain = cv2.GaussianBlur(grain, (0, 0), 0.55).astype(np.float32) * np.float32(1.9)
    light = light + grain * np.sqrt(light * sensor.noise**2 + np.float32((0.1 * sensor.noise) ** 2))
    light = light.clip(0, 1)
    # IEC 61966-2-1, the transfer function of sRGB.
    code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055)
    code = code + sensor.contrast * (code * code * (3 - 2 * code) - code)
    soft = cv2.GaussianBlur(code.astype(np.float32), (0, 0), 1.1)
    code = code + sensor.sharpen * (code - soft)
    return np.asarray((code * 255).round().clip(0, 255), dtype=np.uint8)


def written(code: NDArray[np.uint8], sensor: Sensor, path: Path, dpi: float | None = None,
            equivalent: float | None = None, turned: bool = False) -> None:  # fmt: skip
    """The JPEG, with what a device writes beside it; `turned`: stored lying, to be shown upright."""
    image = Image.fromarray(code)
    exif = Image.Exif()
    if turned:
        image = image.transpose(Image.Transpose.ROTATE_90)
        exif[0x0112] = 6  # shown after a quarter turn clockwise
    if equivalent is not None:
        exif[0x0110] = "Phone"
        inner = exif.get_ifd(0x8769)
        inner[0xA405] = round(equivalent)
        inner[0x920A] = IFDRational(round(equivalent / 4.7 * 100), 100)
        inner[0x829D] = IFDRational(18, 10)
        inner[0x8827] = 160
    if dpi is None:
        image.save(path, quality=sensor.quality, exif=exif)
    else:
        image.save(path, quality=sensor.quality, exif=exif, dpi=(dpi, dpi))
