"""Reading pictures: every kind, turned upright once, and every bad file refused in words."""

import hashlib
import io
import struct
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageOps

from seamsurvey.errors import InputError
from seamsurvey.photo.read import read_picture

DATA = Path(__file__).parent / "data"  # its README.md tells what they are


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
    for kind, options in (("PNG", {}), ("TIFF", {}), ("WEBP", {"lossless": True})):
        data = _file(Image.fromarray(_pattern()), kind, **options)
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


def test_heic_is_turned_by_its_container_alone() -> None:
    """A HEIC whose container and whose EXIF both say a quarter turn is turned once, and tells of its lens."""
    picture = read_picture("a", (DATA / "turned.heic").read_bytes())
    assert (picture.width, picture.height) == (96, 64)
    quarters = [picture.pixels[y, x].tolist() for y in (16, 48) for x in (24, 72)]
    drawn = [(200, 40, 40), (40, 180, 60), (50, 70, 200), (230, 230, 230)]
    assert np.abs(np.subtract(quarters, drawn)).max() <= 3
    assert picture.camera == "Glass 3"
    # CIPA DC-008: the diagonal of 43.27 mm of film, at 26 mm.
    assert picture.focal_px == pytest.approx(np.hypot(96, 64) * 26 / 43.267, rel=1e-4)


def test_of_several_pictures_in_a_phone_s_jpeg_the_first_is_the_photo() -> None:
    """A multi-picture JPEG (CIPA DC-007) gives its first picture, turned once."""
    exif = Image.Exif()
    exif[0x0112] = 6
    first, second = Image.new("RGB", (40, 20), (200, 30, 30)), Image.new("RGB", (40, 20), (30, 30, 200))
    data = _file(first, "MPO", save_all=True, append_images=[second], exif=exif)
    assert Image.open(io.BytesIO(data)).format == "MPO"
    picture = read_picture("a", data)
    assert (picture.width, picture.height) == (20, 40)
    assert picture.pixels.reshape(-1, 3).mean(axis=0) == pytest.approx([200, 30, 30], abs=3)


def test_a_tiff_of_several_scans_is_refused_and_one_with_a_thumbnail_is_not() -> None:
    """Two pages of a size are two scans, and neither may be left out unsaid; a small second page is no scan."""
    page = Image.new("L", (40, 30))
    assert _code(_file(page, "TIFF", save_all=True, append_images=[page])) == "several-pages"
    with_thumbnail = _file(page, "TIFF", save_all=True, append_images=[page.resize((8, 6))])
    assert read_picture("a", with_thumbnail).width == 40


def test_bad_files_are_refused_by_name() -> None:
    """Empty, foreign, truncated, in inks: each has its own code, and the message names the file."""
    whole = _file(Image.fromarray(np.random.default_rng(0).integers(0, 256, (80, 80, 3), np.uint8)), "JPEG")
    assert _code(b"") == "empty-file"
    assert _code(b"%PDF-1.7 no picture") == "not-a-picture"
    assert _code(_file(Image.fromarray(_pattern()), "GIF")) == "not-a-picture"
    assert _code(whole[: len(whole) // 2]) == "truncated-picture"
    assert _code(_file(Image.fromarray(_pattern()))[:-30]) == "truncated-picture"
    assert _code(_file(Image.fromarray(_pattern()), "WEBP")[:-30]) == "truncated-picture"
    assert _code(whole[:20]) == "truncated-picture"
    heic = (DATA / "turned.heic").read_bytes()
    for end in (len(heic) - 40, len(heic) // 2, 30):
        assert _code(heic[:end]) == "truncated-picture"
    assert _code((DATA / "beyond-white.heic").read_bytes()) == "colours-unknown"
    assert _code(_file(Image.new("CMYK", (9, 9)), "JPEG")) == "colours-unknown"


def test_a_huge_picture_is_refused_before_it_is_decoded() -> None:
    """A PNG that claims 40,000 × 40,000 px is refused from its header: there are no pixels to decode."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    for side in (40_000, 15_000):
        header = chunk(b"IHDR", struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0))
        data = b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", b"") + chunk(b"IEND", b"")
        assert _code(data) == "picture-too-large"
