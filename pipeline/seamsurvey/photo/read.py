"""Read a scan or photo: one decoding, upright, sRGB, with what the file says of its taking as mere priors."""

import hashlib
import io
import warnings
from typing import Any

import numpy as np
import pi_heif
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from seamsurvey.errors import InputError
from seamsurvey.model import Picture
from seamsurvey.photo.colours import UnknownColoursError, srgb_pixels
from seamsurvey.photo.exif import read_said

# A scan of A4 at 1200 dpi (140 MP) passes; beyond this no ruler gains, and Pillow itself refuses from 179 MP on.
MAX_PIXELS = 175_000_000
# A phone's JPEG may hold several pictures (Pillow's "MPO", within "JPEG"): the first is the photo.
FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "HEIF")

_BEGINNINGS = (b"\xff\xd8\xff", b"\x89PNG\r\n", b"II*\0", b"MM\0*", b"RIFF")  # of all FORMATS but HEIF
_QUARTER_TURNS = (5, 6, 7, 8)  # the orientations that swap width and height (Exif 2.32, tag 0x0112)
_A_PAGE = 0.25  # of the first page's pixels: a smaller one is its thumbnail

pi_heif.register_heif_opener(thumbnails=False, depth_images=False, aux_images=False)


def read_picture(name: str, data: bytes) -> Picture:
    """The picture in ``data`` (JPEG, PNG, TIFF, WebP, HEIC), turned upright once; ``name`` is for messages.

    Grey, palette and 16-bit pictures become RGB of 8 or 16 bits, colour profiles are carried out, and what is
    see-through is laid on white. InputError: ``empty-file``, ``not-a-picture``, ``picture-too-large``,
    ``truncated-picture``, ``several-pages``, ``colours-unknown``.
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
            if data.startswith(_BEGINNINGS) or pi_heif.is_supported(data):
                raise _truncated(name) from error
            raise _not_a_picture(name) from error
        except Image.DecompressionBombError as error:
            raise _too_large(name, "far more") from error
        with image:
            width, height = image.size
            if width * height > MAX_PIXELS:
                raise _too_large(name, f"{width:,} × {height:,}")
            said = read_said(image)
            try:
                _refuse_pages(name, image)
                image.load()
            except (OSError, ValueError, SyntaxError, EOFError, RuntimeError) as error:
                raise _truncated(name) from error
            try:
                pixels = srgb_pixels(image)
            except UnknownColoursError as error:
                raise _unknown_colours(name, str(error)) from error
    return Picture(
        name=name,
        sha256=hashlib.sha256(data).hexdigest(),
        pixels=np.ascontiguousarray(_upright(pixels, said.orientation)),
        dpi=said.dpi,
        camera=said.camera,
        focal_px=said.focal_px,
        cut=said.cut,
    )


def _not_a_picture(name: str) -> InputError:
    return InputError(
        "not-a-picture",
        "The file is no picture that can be read.",
        where=name,
        likely="It is another kind of file, or a picture in a format other than JPEG, PNG, TIFF, WebP or HEIC.",
        todo="Save the picture as JPEG, PNG or TIFF and try again.",
    )


def _truncated(name: str) -> InputError:
    return InputError(
        "truncated-picture",
        "The picture breaks off before its end, or is damaged.",
        where=name,
        likely="The file was copied or sent incompletely.",
        todo="Copy or scan it again, and check that it opens in a viewer.",
    )


def _too_large(name: str, size: str) -> InputError:
    return InputError(
        "picture-too-large",
        f"The picture has {size} pixels; up to {MAX_PIXELS // 1_000_000} million in all are read.",
        where=name,
        likely="The scanner was set to a far finer resolution than a ruler needs.",
        todo="Scan again at 300 or 600 dpi.",
    )


def _unknown_colours(name: str, kept_in: str) -> InputError:
    return InputError(
        "colours-unknown",
        f"The picture is kept in {kept_in}.",
        where=name,
        likely="It was saved for printing or further work, or by a camera set to HDR. Its edges would be shifted.",
        todo="Save it as an ordinary 8-bit RGB picture (sRGB), as JPEG, PNG or TIFF.",
    )


def _refuse_pages(name: str, image: Image.Image) -> None:
    """A TIFF of several pages: each is a scan of its own, and taking the first would leave templates out."""
    if image.format != "TIFF":
        return
    least = _A_PAGE * image.size[0] * image.size[1]
    pages = 1
    for page in range(1, getattr(image, "n_frames", 1)):
        image.seek(page)
        pages += image.size[0] * image.size[1] >= least
    image.seek(0)
    if pages > 1:
        raise InputError(
            "several-pages",
            f"The file holds {pages} pages.",
            where=name,
            likely="Several scans were saved into one TIFF.",
            todo="Save each page as a file of its own, and name all of them on the command line.",
        )


def _upright(pixels: NDArray[Any], orientation: int) -> NDArray[Any]:
    """The stored raster turned upright (Exif 2.32, tag 0x0112: where the stored row 0 and column 0 lie)."""
    if orientation in _QUARTER_TURNS:
        pixels = pixels.swapaxes(0, 1)
    if orientation in (3, 4, 7, 8):
        pixels = pixels[::-1]
    if orientation in (2, 3, 6, 7):
        pixels = pixels[:, ::-1]
    return pixels
