"""A whole scene in one call: laid out, seen, encoded, with its truth."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, features

from .camera import Phone, PhoneView, visible_room
from .cards import Cutting
from .families import Family
from .geometry import Points, move
from .photo import Exposure, photo_jpeg, photograph, stored_from_upright
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
    return scan_of(lay_out(family, cutting, layout, room, name=family.name, seed=seed), scanner, file=file)


def scan_of(scene: Scene, scanner: Scanner, *, file: str = "scan.jpg") -> Rendered:
    """A scene on the scanner's glass, which is the scene's room."""
    pixels = scan(scene, scanner)
    to_image = scanner.to_image(scene.room)

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
    write_rendered(rendered, into, file)
    return rendered


def render_photo(
    family: Family, cutting: Cutting, layout: Layout, phone: Phone, exposure: Exposure, *,
    seed: int, file: str = "photo.jpg",
) -> Rendered:  # fmt: skip
    """The family's templates on the table as the phone sees them, in the part of the table it sees whole.

    Raises DoesNotFitError when that part is too small.
    """
    room = visible_room(phone)
    return photo_of(lay_out(family, cutting, layout, room, name=family.name, seed=seed), phone, exposure, file=file)


def photo_of(scene: Scene, phone: Phone, exposure: Exposure, *, file: str = "photo.jpg") -> Rendered:
    """A scene on the table as the phone sees it; the scene's room is what it sees whole."""
    view = PhoneView(phone, np.array(scene.room) / 2.0)
    pixels = photograph(scene, view, exposure)
    camera = {
        "model": "pinhole, radial distortion x_d = x_u (1 + k1 r^2 + k2 r^4)",
        "fx": phone.focal_px,
        "fy": phone.focal_px,
        "cx": float(phone.matrix[0, 2]),
        "cy": float(phone.matrix[1, 2]),
        "k1": phone.k1,
        "k2": phone.k2,
        "R_rows_right_down_forward": listed(view.rotation, 12),
        "centre_mm": listed(view.centre, 9),
        "distance_mm": phone.distance,
        "tilt_deg": phone.tilt,
        "azimuth_deg": phone.azimuth,
        "roll_deg": phone.roll,
        "focal_equiv_mm": phone.focal_35mm,
        "focal_equiv_exif_mm": round(phone.focal_35mm) if exposure.tells_focal else None,
        "psf_sigma_px": exposure.psf,
        "jpeg_quality": exposure.quality,
    }
    truth = truth_of(scene, view.pixels, "photo", pixels, file=file, camera=camera, on_glass=False)
    truth["table"] = exposure.ground
    truth["image"]["exif_orientation"] = exposure.orientation
    truth["image"]["stored_from_upright"] = stored_from_upright(phone.size, exposure.orientation).tolist()
    truth["image"]["jpeg_library"] = jpeg_library()
    return Rendered(scene, pixels, photo_jpeg(pixels, phone, exposure), truth)


def make_photo(
    family: Family, cutting: Cutting, layout: Layout, phone: Phone, exposure: Exposure, *,
    seed: int, into: Path, file: str = "photo.jpg",
) -> Rendered:  # fmt: skip
    """Render the photo and write it and its `truth.json` into the folder, made if need be."""
    rendered = render_photo(family, cutting, layout, phone, exposure, seed=seed, file=file)
    write_rendered(rendered, into, file)
    return rendered


def write_rendered(rendered: Rendered, into: Path, file: str) -> None:
    """The picture and its `truth.json` in the folder, made if need be."""
    into.mkdir(parents=True, exist_ok=True)
    (into / file).write_bytes(rendered.jpeg)
    write_truth(rendered.truth, into / "truth.json")
