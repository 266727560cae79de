"""Whatever colours a file keeps, its values come out as sRGB, by the standards' own formulas."""

import io
import struct
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms

from seamsurvey.photo.colours import UnknownColoursError, srgb_pixels

Floats = NDArray[np.float64]

# Columns: the primaries as XYZ adapted to D50. sRGB: ICC, "sRGB2014.icc"; Display P3: SMPTE RP 431-2's primaries
# with D65, adapted by Bradford's matrix, as in the profile that phones embed (from memory).
SRGB = np.array([[0.43607, 0.38515, 0.14307], [0.22249, 0.71687, 0.06061], [0.01392, 0.09708, 0.71410]])
P3 = np.array([[0.51512, 0.29198, 0.15710], [0.24120, 0.69225, 0.06657], [-0.00105, 0.04189, 0.78407]])


def srgb_curve(linear: Floats) -> Floats:
    """IEC 61966-2-1."""
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0) ** (1 / 2.4) - 0.055)


def srgb_light(encoded: Floats) -> Floats:
    """IEC 61966-2-1, backwards."""
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def profile(space: bytes, curve: bytes, primaries: Floats | None = None) -> bytes:
    """A display profile of ICC.1:2001-04 (version 2): its tone curve, and its primaries if it is of colours."""
    white = (0.9642, 1.0, 0.8249)  # D50

    def xyz(values: Any) -> bytes:
        return b"XYZ \0\0\0\0" + b"".join(struct.pack(">i", round(v * 65536)) for v in values)

    name = b"desc\0\0\0\0" + struct.pack(">I", 5) + b"test\0" + b"\0" * 78
    tags = [(b"desc", name), (b"cprt", b"text\0\0\0\0none\0"), (b"wtpt", xyz(white))]
    if primaries is None:
        tags += [(b"kTRC", curve)]
    else:
        tags += [
            (letter + b"XYZ", xyz(column)) for letter, column in zip((b"r", b"g", b"b"), primaries.T, strict=True)
        ]
        tags += [(letter + b"TRC", curve) for letter in (b"r", b"g", b"b")]
    table, body, start = b"", b"", 128 + 4 + 12 * len(tags)
    for tag, content in tags:
        table += tag + struct.pack(">II", start + len(body), len(content))
        body += content + b"\0" * (-len(content) % 4)
    head = struct.pack(">I", start + len(body)) + b"\0\0\0\0\x02\x40\0\0mntr" + space + b"XYZ " + b"\0" * 12
    head += b"acsp" + b"\0" * 28 + b"".join(struct.pack(">i", round(v * 65536)) for v in white) + b"\0" * 48
    return head + struct.pack(">I", len(tags)) + table + body


def gamma_curve(gamma: float) -> bytes:
    """ICC curveType with one entry."""
    return b"curv\0\0\0\0" + struct.pack(">IH", 1, round(gamma * 256))


def sampled_srgb() -> bytes:
    """ICC curveType: sRGB's curve at 1024 places."""
    light = np.round(65535 * srgb_light(np.linspace(0, 1, 1024))).astype(">u2")
    return b"curv\0\0\0\0" + struct.pack(">I", 1024) + light.tobytes()


def opened(image: Image.Image, kind: str = "PNG", **options: Any) -> Image.Image:
    """Saved, opened and loaded again."""
    buffer = io.BytesIO()
    image.save(buffer, kind, **options)
    again = Image.open(buffer)
    again.load()
    return again


def some_colours() -> NDArray[np.uint8]:
    """Colours that lie inside sRGB whatever the primaries, and all greys."""
    rng = np.random.default_rng(1)
    near_grey = rng.integers(60, 200, (40, 1, 1)) + rng.integers(-30, 31, (40, 32, 3))
    greys = np.repeat(np.arange(256).reshape(8, 32, 1), 3, axis=2)
    return np.concatenate([near_grey, greys]).astype(np.uint8)


def test_a_phone_s_wide_colours_come_out_as_srgb() -> None:
    """Display P3 values become what both standards' matrices make of them, to one step; greys stay as they are."""
    colours = some_colours()
    icc = profile(b"RGB ", sampled_srgb(), P3)
    found = srgb_pixels(opened(Image.fromarray(colours), "JPEG", quality=100, subsampling=0, icc_profile=icc))
    stored = np.asarray(opened(Image.fromarray(colours), "JPEG", quality=100, subsampling=0))
    expected = 255 * srgb_curve(srgb_light(stored / 255) @ (np.linalg.inv(SRGB) @ P3).T)
    inside = np.all((expected > 2) & (expected < 253), axis=2)
    assert inside.mean() > 0.9
    assert np.abs(found - expected)[inside].max() < 1.6
    assert np.abs(found[inside].astype(int) - stored[inside]).max() > 10  # the profile does matter


def test_the_tone_curve_is_the_profile_s() -> None:
    """Colour at gamma 1.8, grey at gamma 1.0: both come out with the light they stand for."""
    colours = some_colours()
    found = srgb_pixels(opened(Image.fromarray(colours), icc_profile=profile(b"RGB ", gamma_curve(1.8), SRGB)))
    assert found == pytest.approx(255 * srgb_curve((colours / 255) ** (461 / 256)), abs=1.6)
    grey = np.arange(256, dtype=np.uint8).reshape(16, 16)
    icc = profile(b"GRAY", gamma_curve(1.0))
    found = srgb_pixels(opened(Image.fromarray(grey), icc_profile=icc))
    assert found[:, :, 0] == pytest.approx(255 * srgb_curve(grey / 255), abs=1.6)
    deep = opened(Image.fromarray(grey.astype(np.uint16) * 257), "TIFF", icc_profile=icc)
    assert np.array_equal(srgb_pixels(deep), found)


def test_a_profile_of_srgb_itself_changes_nothing() -> None:
    """Neither LittleCMS's own sRGB nor a damaged profile moves a value."""
    colours = some_colours()
    for icc in (ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes(), b"no profile at all"):
        assert np.array_equal(srgb_pixels(opened(Image.fromarray(colours), "TIFF", icc_profile=icc)), colours)


def test_a_png_s_own_gamma_is_undone() -> None:
    """Of a PNG that says its values are linear, and of one that says what sRGB's are, light comes out right."""
    grey = np.arange(256, dtype=np.uint8).reshape(16, 16)
    linear = opened(Image.fromarray(grey))
    linear.info["gamma"] = 1.0
    assert srgb_pixels(linear)[:, :, 2] == pytest.approx(255 * srgb_curve(grey / 255), abs=0.51)
    deep = opened(Image.fromarray(grey.astype(np.uint16) * 257))
    deep.info["gamma"] = 1.0
    assert srgb_pixels(deep)[:, :, 0] == pytest.approx(65535 * srgb_curve(grey / 255), abs=0.51)
    usual = opened(Image.fromarray(grey))
    usual.info["gamma"] = 0.45455
    assert np.array_equal(srgb_pixels(usual)[:, :, 0], grey)


def test_sixteen_bits_of_colour_come_in_eight() -> None:
    """Red, green and blue of 16 bits, as OpenCV writes them, keep their upper eight."""
    deep = np.random.default_rng(2).integers(0, 65536, (7, 5, 3)).astype(np.uint16)
    for ending in (".png", ".tiff"):
        written = cv2.imencode(ending, deep[..., ::-1])[1].tobytes()
        image = Image.open(io.BytesIO(written))
        image.load()
        assert np.array_equal(srgb_pixels(image), deep >> 8)


def test_a_grey_tiff_whose_zero_is_white_is_turned_round() -> None:
    """WhiteIsZero (TIFF 6.0) comes out with black as black, in 8 bits and in 16."""
    deep = np.arange(0, 65536, 256, dtype=np.uint16).reshape(16, 16)
    # Pillow writes such a file's 16 bits as they are given, and its 8 bits turned round.
    kept = srgb_pixels(opened(Image.fromarray(65535 - deep), "TIFF", tiffinfo={262: 0}))
    assert np.array_equal(kept[:, :, 0], deep)
    shallow = (deep >> 8).astype(np.uint8)
    assert np.array_equal(
        srgb_pixels(opened(Image.fromarray(shallow), "TIFF", tiffinfo={262: 0}))[:, :, 0], shallow
    )


def test_half_see_through_is_half_white() -> None:
    """Alpha lays every value on white in its share, for colour, grey and palette alike."""
    rgba = np.zeros((2, 3, 4), np.uint8)
    rgba[..., 0], rgba[..., 3] = 100, [0, 51, 255]
    expected = np.array([[255, 255, 255], [224, 204, 204], [100, 0, 0]])
    assert srgb_pixels(opened(Image.fromarray(rgba)))[1] == pytest.approx(expected, abs=0.51)
    la = Image.merge("LA", [Image.new("L", (1, 1), 40), Image.new("L", (1, 1), 102)])
    assert srgb_pixels(opened(la))[0, 0] == pytest.approx(np.full(3, 169), abs=0.51)
    palette = Image.new("P", (1, 1), 1)
    palette.putpalette([0, 0, 0, 10, 20, 30])
    assert np.array_equal(srgb_pixels(opened(palette, transparency=1))[0, 0], [255, 255, 255])


def test_what_nobody_can_tell_the_light_of_is_refused() -> None:
    """Inks without a profile, numbers of 32 bits and light beyond white are refused, not guessed."""
    light = Image.new("RGB", (2, 2))
    light.info["nclx_profile"] = {"transfer_characteristics": 18}
    unknown = [
        opened(Image.new("CMYK", (4, 4)), "JPEG"),
        opened(Image.fromarray(np.ones((3, 3), np.float32)), "TIFF"),
        opened(Image.fromarray(np.full((3, 3), 70_000, np.int32)), "TIFF"),
        light,
    ]
    for image in unknown:
        with pytest.raises(UnknownColoursError):
            srgb_pixels(image)
