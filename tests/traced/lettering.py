"""What a hand writes on cards: a letter, and how many to cut; in free handwriting faces."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import numpy as np
from numpy.random import Generator
from PIL import Image, ImageDraw, ImageFont

from .shapes import Points

HANDS = ("fontpkg_kalam", "fontpkg_caveat", "fontpkg_permanent_marker", "fontpkg_indie_flower")
PER_MM = 8.0


def hand(rng: Generator, size: int, name: str | None = None) -> ImageFont.FreeTypeFont:
    """A handwriting face of so many pixels."""
    return packaged(name or str(rng.choice(HANDS)), size)


def packaged(name: str, size: int) -> ImageFont.FreeTypeFont:
    """The upright face of a package of fonts."""
    found = find_spec(name)
    if found is None or found.origin is None:
        raise ModuleNotFoundError(name)
    files = [path for path in sorted(Path(found.origin).parent.glob("files/*.ttf")) if "Italic" not in path.name]
    return ImageFont.truetype(str(files[-1]), size)


def written(lines: tuple[str, ...], outline: Points, inside: Points, colour: tuple[int, int, int], face: str,
            rng: Generator, into: Path) -> None:  # fmt: skip
    """A raster over the outline's box (y up in mm): the lines written round the point `inside`."""
    low, high = outline.min(axis=0), outline.max(axis=0)
    width, height = (high - low) * PER_MM
    sheet = Image.new("RGB", (int(np.ceil(width)), int(np.ceil(height))), "white")
    size = int(min(12.0, 0.16 * float(np.min(high - low)) + 2.5) * PER_MM)
    patch = Image.new("L", (size * 6, int(size * 1.4 * len(lines))), 0)
    pen = ImageDraw.Draw(patch)
    for n, line in enumerate(lines):
        font = hand(rng, size if n == 0 else int(size * 0.75), face)
        pen.text((patch.width / 2, (n + 0.5) * size * 1.25), line, fill=235, font=font, anchor="mm")
    patch = patch.rotate(float(rng.normal(0, 8)), resample=Image.Resampling.BICUBIC)
    x, y = (inside - low) * PER_MM
    sheet.paste(colour, (int(x - patch.width / 2), int(height - y - patch.height / 2)), patch)
    sheet.save(into, compress_level=1)
