"""A decoded picture's values as sRGB, whatever the file kept them in.

Edges are located in linear light, so the tone curve must be the true one: a gamma of 1.8 taken for sRGB moves an
edge by tenths of a pixel. A picture whose curve nobody tells is refused.
"""

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from seamsurvey.light import encode

Values = NDArray[np.uint8] | NDArray[np.uint16]

_GREYS = ("1", "L", "LA", "La")
_WITH_ALPHA = ("RGBA", "RGBa", "LA", "La", "PA")
_DEEPEST = 65535
_SRGB_GAMMA = 1 / 2.2  # what a PNG of sRGB says (PNG, third edition, 11.3.2.2)
_SAME_GAMMA = 0.04  # as a share; programs round it
_SAME_VALUE = 1  # a profile that moves no value by more is sRGB itself
# ITU-T H.273, transfer characteristics: PQ and HLG are for light beyond white, 8 is linear, 9 and 10 logarithmic.
# The others are the television curves that cameras and phones write and mean sRGB by.
_OTHER_CURVES = {5: "gamma 2.8", 8: "linear", 9: "logarithmic", 10: "logarithmic", 16: "HDR (PQ)", 18: "HDR (HLG)"}
_WHITE_IS_ZERO, _PHOTOMETRIC = 0, 262  # TIFF 6.0, PhotometricInterpretation


class UnknownColoursError(ValueError):
    """The values can't be turned into sRGB; the text says which, as the end of 'the picture is kept in ...'."""


def srgb_pixels(image: Image.Image) -> Values:
    """(h, w, 3) uint8 or uint16, sRGB-encoded RGB, of a loaded picture as it is stored; see-through is white.

    Sixteen bits stay where the picture is grey and has no profile: Pillow decodes colour, and ImageCms works, in
    eight, whose steps lie far below a sensor's noise. Colours outside sRGB are clipped, which moves no tone of a
    neutral thing. UnknownColoursError: inks without a profile, values beyond 16 bits, light beyond white.
    """
    _refuse_other_curves(image)
    if image.mode.startswith("I;16") or image.mode in ("I", "F"):
        deep = _deep_grey(image)
        if "icc_profile" not in image.info:
            return np.repeat(deep[:, :, None], 3, axis=2)
        eight = Image.fromarray((deep >> 8).astype(np.uint8))
        eight.info["icc_profile"] = image.info["icc_profile"]
        image = eight
    alpha = None
    if image.mode in _WITH_ALPHA or "transparency" in image.info:
        alpha = image.convert("RGBA").getchannel("A")
    opaque = _by_profile(image) or _by_gamma(image)
    if alpha is not None:
        opaque = Image.composite(opaque, Image.new("RGB", opaque.size, (255, 255, 255)), alpha)
    return np.asarray(opaque)


def _refuse_other_curves(image: Image.Image) -> None:
    if "icc_profile" in image.info:
        return  # it says more
    curve = _OTHER_CURVES.get(image.info.get("nclx_profile", {}).get("transfer_characteristics"))
    if curve is not None:
        raise UnknownColoursError(f"{curve} values")


def _deep_grey(image: Image.Image) -> NDArray[np.uint16]:
    values = np.asarray(image)
    if image.mode == "F" or values.min() < 0 or values.max() > _DEEPEST:
        raise UnknownColoursError("numbers of 32 bits, and nothing tells which of them is white")
    deep = values.astype(np.uint16)
    tags = getattr(image, "tag_v2", {})
    if tags.get(_PHOTOMETRIC) == _WHITE_IS_ZERO:
        deep = _DEEPEST - deep  # Pillow turns such greys round in 8 bits only
    gamma = _gamma(image)
    if gamma is not None:
        deep = np.round(_DEEPEST * _curve(gamma, _DEEPEST + 1)).astype(np.uint16)[deep]
    return deep


def _by_profile(image: Image.Image) -> Image.Image | None:
    """The picture in sRGB through its own colour profile; None if it has none that fits."""
    base = image.convert("L" if image.mode in _GREYS else "CMYK" if image.mode == "CMYK" else "RGB")
    try:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(image.info.get("icc_profile", b"")))
        space = profile.profile.xcolor_space.strip()
        if base.mode == "L" and space == "RGB":
            base = base.convert("RGB")
        if space != {"L": "GRAY"}.get(base.mode, base.mode):
            raise ImageCms.PyCMSError("the profile is for other colours than the picture's")
        # Greys go through a table, which may take its time: LittleCMS's quick way is coarse near black.
        flags = ImageCms.Flags.NOOPTIMIZE if base.mode == "L" else ImageCms.Flags.NONE
        srgb = ImageCms.createProfile("sRGB")
        transform = ImageCms.buildTransform(profile, srgb, base.mode, "RGB", flags=flags)
    except (ImageCms.PyCMSError, OSError, ValueError) as error:
        if base.mode == "CMYK":
            raise UnknownColoursError("printing inks (CMYK), and nothing says how they look") from error
        return None
    if base.mode == "CMYK":
        return ImageCms.applyTransform(base, transform)
    before = _probe(base.mode)
    after = np.asarray(ImageCms.applyTransform(before, transform))
    moved = np.abs(after.astype(int) - np.asarray(before.convert("RGB"), dtype=int)).max()
    if moved <= _SAME_VALUE:
        return base.convert("RGB")
    if base.mode == "L":
        return Image.fromarray(after[0][np.asarray(base)])
    return ImageCms.applyTransform(base, transform)


def _probe(mode: str) -> Image.Image:
    """All greys, and in colour each primary and secondary from black to full."""
    ramp = np.arange(256, dtype=np.uint8)
    if mode == "L":
        return Image.fromarray(ramp[None])
    hues = [[hue >> k & 1 for k in range(3)] for hue in range(1, 8)]
    return Image.fromarray(np.array(hues, dtype=np.uint8)[:, None, :] * ramp[None, :, None])


def _by_gamma(image: Image.Image) -> Image.Image:
    plain = image.convert("RGBA").convert("RGB") if image.mode in _WITH_ALPHA else image.convert("RGB")
    gamma = _gamma(image)
    if gamma is None:
        return plain
    return plain.point([round(255 * v) for v in _curve(gamma, 256)] * 3)


def _gamma(image: Image.Image) -> float | None:
    """A PNG's own gamma (gAMA) where it is another than sRGB's and nothing says more."""
    gamma = image.info.get("gamma")
    if not isinstance(gamma, float) or gamma <= 0 or "srgb" in image.info or "icc_profile" in image.info:
        return None
    return None if abs(gamma / _SRGB_GAMMA - 1) < _SAME_GAMMA else gamma


def _curve(gamma: float, levels: int) -> NDArray[np.float64]:
    return encode((np.arange(levels) / (levels - 1)) ** (1 / gamma))
