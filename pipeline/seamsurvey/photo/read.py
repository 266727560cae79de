"""Read a scan or photo: one decoding, upright, RGB, with the file's resolution as a mere prior."""

import hashlib
import io
import warnings
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from seamsurvey.errors import InputError
from seamsurvey.model import Picture
from seamsurvey.photo.exif import read_said

# Some 1200 dpi A4 scans in 8 bits still pass (140 MP); beyond this a picture of 16-bit RGB takes more than
# a gigabyte, and no ruler needs it.
MAX_PIXELS = 200_000_000
FORMATS = ("JPEG", "PNG", "TIFF")

_QUARTER_TURNS = (5, 6, 7, 8)  # the orientations that swap width and height (Exif 2.32, tag 0x0112)


def read_picture(name: str, data: bytes) -> Picture:
    """The picture in ``data`` (JPEG, PNG or TIFF), EXIF orientation applied once; ``name`` is for messages.

    Grey, palette and 16-bit pictures become RGB of 8 or 16 bits; transparency is laid on white.
    InputError: ``empty-file``, ``not-a-picture``, ``picture-too-large``, ``truncated-picture``.
    """
    if not data:
        raise InputError(
            "empty-file",
            "The file is empty.",
            where=name,
            likely="The scan or the copy was broken off before anything was written.",
            todo="Scan or copy it again.",
        )
    with warnings.catch_warnings():
        # Our own limit stands below; Pillow's warning would come earlier and say less.
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        try:
            image = Image.open(io.BytesIO(data), formats=FORMATS)
        except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as error:
            raise _not_a_picture(name) from error
        except Image.DecompressionBombError as error:
            raise _too_large(name, "far more") from error
        with image:
            width, height = image.size
            if width * height > MAX_PIXELS:
                raise _too_large(name, f"{width:,} × {height:,}")
            said = read_said(image)
            try:
                image.load()
                pixels = _rgb(image)
            except (OSError, ValueError, SyntaxError, EOFError) as error:
                raise InputError(
                    "truncated-picture",
                    "The picture breaks off before its end.",
                    where=name,
                    likely="The file was copied or sent incompletely.",
                    todo="Copy or scan it again, and check that it opens in a viewer.",
                ) from error
    return Picture(
        name=name,
        sha256=hashlib.sha256(data).hexdigest(),
        pixels=np.ascontiguousarray(_upright(pixels, said.orientation)),
        dpi=said.dpi,
        camera=said.camera,
        focal_px=said.focal_px,
    )


def _not_a_picture(name: str) -> InputError:
    return InputError(
        "not-a-picture",
        "The file is no picture that can be read.",
        where=name,
        likely="It is another kind of file, or a picture in a format other than JPEG, PNG or TIFF.",
        todo="Save the scan as JPEG, PNG or TIFF and try again.",
    )


def _too_large(name: str, size: str) -> InputError:
    return InputError(
        "picture-too-large",
        f"The picture has {size} pixels; up to {MAX_PIXELS // 1_000_000} million in all are read.",
        where=name,
        likely="The scanner was set to a far finer resolution than a ruler needs.",
        todo="Scan again at 300 or 600 dpi.",
    )


def _rgb(image: Image.Image) -> NDArray[Any]:
    """(h, w, 3) uint8 or uint16 of a decoded picture, as stored."""
    if image.mode.startswith("I;16") or image.mode in ("I", "F"):
        values = np.asarray(image)
        grey = np.clip(np.rint(values), 0, 65535).astype(np.uint16)
        return np.repeat(grey[:, :, None], 3, axis=2)
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        layered = image.convert("RGBA")
        white = Image.new("RGBA", layered.size, (255, 255, 255, 255))
        image = Image.alpha_composite(white, layered)
    return np.asarray(image.convert("RGB"))


def _upright(pixels: NDArray[Any], orientation: int) -> NDArray[Any]:
    """The stored raster turned upright (Exif 2.32, tag 0x0112: where the stored row 0 and column 0 lie)."""
    if orientation in _QUARTER_TURNS:
        pixels = pixels.swapaxes(0, 1)
    if orientation in (3, 4, 7, 8):
        pixels = pixels[::-1]
    if orientation in (2, 3, 6, 7):
        pixels = pixels[:, ::-1]
    return pixels
