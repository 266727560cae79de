"""A whole scene in one call: laid out, seen, encoded, with its truth."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, features

from .cards import Cutting
from .families import Family
from .geometry import Points, move
from .record import truth_of
from .scan import Scanner, scan
from .scene import Layout, Scene, lay_out
from .truth import Json, listed, write_truth


@dataclass(frozen=True)
class Rendered:
    """A picture as it left the sensor (`pixels`, (h, w, 3) sRGB), as a JPEG file, and its truth."""

    scene: Scene
    pixels: NDArray[np.uint8]
    jpeg: bytes
    truth: Json


def render_scan(
    family: Family, cutting: Cutting, layout: Layout, scanner: Scanner, room: tuple[float, float], *,
    seed: int, file: str = "scan.jpg",
) -> Rendered:  # fmt: skip
    """The family's templates on the scanner's glass, `room` being the glass (mm). Same values, same bytes.

    Raises DoesNotFitError when the glass is too small.
    """
    scene = lay_out(family, cutting, layout, room, name=family.name, seed=seed)
    pixels = scan(scene, scanner)
    to_image = scanner.to_image(room)

    def view(points: Points, _height: float) -> Points:
        return move(to_image, points)

    camera = {
        "model": "orthographic, px = A @ (x, y) + b",
        "A": listed(to_image[:, :2], 9),
        "b": listed(to_image[:, 2], 9),
        "dpi": scanner.dpi,
        "px_per_mm": listed(scanner.px_per_mm, 9),
        "psf_sigma_px": scanner.psf,
        "jpeg_quality": scanner.quality,
        "lid": scanner.lid,
    }
    truth = truth_of(scene, view, "scan", pixels, file=file, camera=camera, on_glass=True)
    jpeg = _jpeg(pixels, scanner)
    truth["image"]["jpeg_library"] = jpeg_library()
    return Rendered(scene, pixels, jpeg, truth)


def jpeg_library() -> str:
    """The name and version of the library that wrote the JPEG: another one may write other bytes."""
    turbo = features.version("libjpeg_turbo")
    return f"libjpeg-turbo {turbo}" if turbo else f"libjpeg {features.version('jpg')}"


def _jpeg(pixels: NDArray[np.uint8], scanner: Scanner) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "JPEG", quality=scanner.quality, dpi=(scanner.dpi, scanner.dpi))
    return buffer.getvalue()


def make_scan(
    family: Family, cutting: Cutting, layout: Layout, scanner: Scanner, room: tuple[float, float], *,
    seed: int, into: Path, file: str = "scan.jpg",
) -> Rendered:  # fmt: skip
    """Render the scan and write it and its `truth.json` into the folder, made if need be."""
    rendered = render_scan(family, cutting, layout, scanner, room, seed=seed, file=file)
    into.mkdir(parents=True, exist_ok=True)
    (into / file).write_bytes(rendered.jpeg)
    write_truth(rendered.truth, into / "truth.json")
    return rendered
