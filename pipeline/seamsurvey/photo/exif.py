"""What a picture's file says of how it was taken: priors, never measurements.

Tag numbers and meanings: CIPA DC-008 (Exif 2.32), 4.6.4 and 4.6.5; TIFF 6.0.
"""

import math
from collections.abc import Mapping
from typing import Any

from attrs import frozen
from PIL import Image

# The 35 mm equivalent is by the diagonal: CIPA DC-008, FocalLengthIn35mmFilm, with CIPA DCG-001, 4.
FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)
# A phone's widest lens has 13 mm, its longest 240; beyond this the entry is a mistake.
BELIEVABLE_FOCAL_35MM = (10.0, 400.0)
# A resolution outside this range, or the 72 and 96 that programs write when they know none, says nothing.
BELIEVABLE_DPI = (100.0, 9600.0)
UNKNOWN_DPI = (72.0, 96.0)
# Longer by shorter side, as cameras make pictures. One whose sides are otherwise was cut out of another.
PROPORTIONS = (1.0, 5 / 4, 4 / 3, 3 / 2, 16 / 9, 2.0, 19.5 / 9, 20 / 9, 21 / 9)
PROPORTION_OFF = 0.008  # 4080 × 3072 px pass for 4 : 3, 1920 × 1088 px for 16 : 9

_MODEL = 0x0110
_ORIENTATION = 0x0112
_EXIF_IFD = 0x8769
_FOCAL_LENGTH = 0x920A
_PIXEL_X, _PIXEL_Y = 0xA002, 0xA003
_FOCAL_PLANE_X = 0xA20E
_FOCAL_PLANE_UNIT = 0xA210
_FOCAL_35MM = 0xA405
# Exposure, aperture, focal length, 35 mm equivalent.
_LENS_TAGS = (0x829A, 0x829D, _FOCAL_LENGTH, _FOCAL_35MM)
_UNIT_MM = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}  # 2 and 3 by the standard, 4 and 5 as some makers write
_QUARTER_TURNS = (5, 6, 7, 8)  # the orientations that swap width and height


@frozen
class Said:
    """What the file says. ``orientation`` is 1 to 8 (tag 0x0112); ``dpi`` is along the upright x and y.

    ``camera`` is None where no lens took the picture; ``focal_px`` and ``cut`` as in `model.Picture`.
    """

    orientation: int = 1
    camera: str | None = None
    dpi: tuple[float, float] | None = None
    focal_px: float | None = None
    cut: bool = False


def read_said(image: Image.Image) -> Said:
    """What an opened picture's header says; what is missing, broken or absurd is left out."""
    try:
        exif = image.getexif()
        lens: Mapping[int, Any] = exif.get_ifd(_EXIF_IFD)
    except (OSError, ValueError, SyntaxError, KeyError, TypeError):
        return Said(
            dpi=_dpi(image, 1), cut=_is_cut({}, image.size)
        )  # a broken EXIF block does not spoil the picture
    # A HEIF's turn is done by its container (ISO/IEC 23008-12, irot and imir); its EXIF repeats it.
    stated = 1 if image.format == "HEIF" else exif.get(_ORIENTATION, 1)
    orientation = stated if stated in range(1, 9) else 1
    # Scanners name themselves too; only a lens has an aperture or a focal length.
    camera = None
    if any(tag in lens for tag in _LENS_TAGS):
        camera = str(exif.get(_MODEL, "")).strip("\0 ") or "unnamed camera"
    cut = _is_cut(lens, image.size)
    focal = None if cut else _focal_px(lens, image.size)
    return Said(orientation, camera, _dpi(image, orientation), focal, cut)


def _focal_px(lens: Mapping[int, Any], size: tuple[int, int]) -> float | None:
    """From the 35 mm equivalent, else from focal length and the sensor's pixels."""
    per_equivalent = math.hypot(*size) / FULL_FRAME_DIAGONAL_MM
    low, high = (equivalent * per_equivalent for equivalent in BELIEVABLE_FOCAL_35MM)
    for focal in (_number(lens, _FOCAL_35MM) * per_equivalent, _by_focal_plane(lens, size)):
        if low <= focal <= high:  # false for nan
            return focal
    return None


def _by_focal_plane(lens: Mapping[int, Any], size: tuple[int, int]) -> float:
    """Focal length times pixels a millimetre of sensor, in pixels of the picture as it is now; nan if unknown."""
    unit = _UNIT_MM.get(lens.get(_FOCAL_PLANE_UNIT, 2), math.nan)
    taken = max(_number(lens, _PIXEL_X), _number(lens, _PIXEL_Y))
    shrunk = max(size) / taken if taken > 0 else 1.0
    return _number(lens, _FOCAL_LENGTH) * _number(lens, _FOCAL_PLANE_X) / unit * shrunk


def _is_cut(lens: Mapping[int, Any], size: tuple[int, int]) -> bool:
    """Whether the picture has no camera's proportions, or others than its file says it was taken with."""
    proportion = max(size) / min(size)
    taken = sorted((_number(lens, _PIXEL_X), _number(lens, _PIXEL_Y)))
    as_taken = taken[1] / taken[0] if taken[0] > 0 else proportion  # nan: nothing was said
    usual = any(abs(proportion / each - 1) < PROPORTION_OFF for each in PROPORTIONS)
    return not usual or abs(proportion / as_taken - 1) > PROPORTION_OFF


def _number(lens: Mapping[int, Any], tag: int) -> float:
    try:
        value = float(lens.get(tag, math.nan))
    except (TypeError, ValueError, ZeroDivisionError):
        return math.nan
    return value if math.isfinite(value) else math.nan


def _dpi(image: Image.Image, orientation: int) -> tuple[float, float] | None:
    """The file's pixels per inch along x and y of the upright picture; None when it says nothing believable."""
    value: Any = image.info.get("dpi")
    if value is None:
        return None
    try:
        along_x, along_y = (float(v) for v in value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    low, high = BELIEVABLE_DPI
    for stated in (along_x, along_y):
        # Written as pixels per metre or centimetre, 72 comes back as 71.98.
        if not low <= stated <= high or any(abs(stated - unknown) < 0.1 for unknown in UNKNOWN_DPI):
            return None
    return (along_y, along_x) if orientation in _QUARTER_TURNS else (along_x, along_y)
