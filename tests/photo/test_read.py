"""Reading pictures: every kind, turned upright once, and every bad file refused in words."""

import hashlib
import io
import struct
import zlib
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageOps

from seamsurvey.errors import InputError
from seamsurvey.photo.read import read_picture


def _file(image: Image.Image, kind: str = "PNG", **options: Any) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, kind, **options)
    return buffer.getvalue()


def _pattern() -> NDArray[np.uint8]:
    return np.random.default_rng(3).integers(0, 256, (6, 9, 3), dtype=np.uint8)


def _code(data: bytes) -> str:
    with pytest.raises(InputError) as caught:
        read_picture("scan of tuesday", data)
    assert "scan of tuesday" in caught.value.where
    assert caught.value.todo
    return caught.value.code


def test_png_and_tiff_keep_every_pixel_and_the_hash_is_of_the_file() -> None:
    """A lossless file gives back exactly the pixels that went in, and the SHA-256 of its bytes."""
    for kind in ("PNG", "TIFF"):
        data = _file(Image.fromarray(_pattern()), kind)
        picture = read_picture("a", data)
        assert np.array_equal(picture.pixels, _pattern())
        assert picture.sha256 == hashlib.sha256(data).hexdigest()
        assert (picture.width, picture.height) == (9, 6)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation_is_applied_once(orientation: int) -> None:
    """Each of the eight EXIF orientations comes out as Pillow's own exif_transpose turns it."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    data = _file(Image.fromarray(_pattern()), "PNG", exif=exif)
    expected = ImageOps.exif_transpose(Image.open(io.BytesIO(data)))
    assert np.array_equal(read_picture("a", data).pixels, np.asarray(expected))


def test_grey_palette_transparency_and_sixteen_bits() -> None:
    """Grey and palette become RGB, what is transparent becomes white, and 16 bits stay 16 bits."""
    grey = _pattern()[:, :, 0]
    assert np.array_equal(read_picture("a", _file(Image.fromarray(grey))).pixels, np.dstack([grey] * 3))
    palette = Image.fromarray(_pattern()).quantize(8)
    assert np.array_equal(read_picture("a", _file(palette)).pixels, np.asarray(palette.convert("RGB")))
    clear = np.dstack([_pattern(), np.zeros((6, 9), np.uint8)])
    assert np.all(read_picture("a", _file(Image.fromarray(clear))).pixels == 255)
    deep = np.random.default_rng(1).integers(0, 65536, (5, 4)).astype(np.uint16)
    for kind in ("PNG", "TIFF"):
        picture = read_picture("a", _file(Image.fromarray(deep), kind))
        assert picture.pixels.dtype == np.uint16
        assert np.array_equal(picture.pixels[:, :, 1], deep)


@pytest.mark.parametrize(
    ("written", "read"),
    [((300, 300), (300, 300)), ((600, 300), (600, 300)), ((72, 72), None), ((1, 1), None), ((96, 96), None)],
)
def test_only_a_believable_resolution_is_passed_on(
    written: tuple[int, int], read: tuple[float, float] | None
) -> None:
    """A scanner's dpi comes through; the 1, 72 and 96 of programs that know nothing do not."""
    found = read_picture("a", _file(Image.fromarray(_pattern()), "JPEG", dpi=written)).dpi
    assert found == (None if read is None else pytest.approx(read, rel=1e-3))


def test_a_quarter_turn_swaps_the_two_resolutions() -> None:
    """The dpi along x and y are those of the upright picture."""
    exif = Image.Exif()
    exif[0x0112] = 6
    data = _file(Image.fromarray(_pattern()), "JPEG", dpi=(600, 300), exif=exif)
    assert read_picture("a", data).dpi == pytest.approx((300, 600))


def test_a_lens_in_the_exif_names_the_camera_and_a_scanner_does_not() -> None:
    """An aperture or a focal length tells a camera; a maker's name alone does not."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Inventor", "Glass 3"
    assert read_picture("a", _file(Image.fromarray(_pattern()), "JPEG", exif=exif)).camera is None
    exif.get_ifd(0x8769)[0x920A] = 4.2
    assert read_picture("a", _file(Image.fromarray(_pattern()), "JPEG", exif=exif)).camera == "Glass 3"


def test_bad_files_are_refused_by_name() -> None:
    """Empty, foreign, truncated: each has its own code, and the message names the file."""
    whole = _file(Image.fromarray(np.random.default_rng(0).integers(0, 256, (80, 80, 3), np.uint8)), "JPEG")
    assert _code(b"") == "empty-file"
    assert _code(b"%PDF-1.7 no picture") == "not-a-picture"
    assert _code(_file(Image.fromarray(_pattern()), "GIF")) == "not-a-picture"
    assert _code(whole[: len(whole) // 2]) == "truncated-picture"
    assert _code(_file(Image.fromarray(_pattern()))[:-30]) == "truncated-picture"


def test_a_huge_picture_is_refused_before_it_is_decoded() -> None:
    """A PNG that claims 40,000 × 40,000 px is refused from its header: there are no pixels to decode."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    for side in (40_000, 15_000):
        header = chunk(b"IHDR", struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0))
        data = b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", b"") + chunk(b"IEND", b"")
        assert _code(data) == "picture-too-large"
