"""How wishes for the sheets are read: the print scale, and the quilt."""

from typing import Any

from seamsurvey.errors import SeamsurveyError, UsageError
from seamsurvey.units import INCH, parse_length

SETTINGS = ("straight", "on-point")
TURNED = ("none", "every-second", "round")
ONLY = ("all", "foundations")
MOST_BLOCKS = 40  # across or down: no quilt on a bed has more


def parse_print_scale(text: str) -> tuple[float, float]:
    """Return how long a printer makes what should be 1, across and up the page.

    From two factors, "0.982x0.985", or from what the bars of a page measure, "98.2mm x 98.5mm" of 100 mm or
    "3 15/16in x 3 15/16in" of 4 in; one value stands for both. UsageError ``print-scale`` when it is neither, or
    off by more than a tenth.
    """
    parts = [part.strip() for part in text.replace("×", "x").split("x")]
    try:
        scales = [_print_scale(part) for part in parts]
    except (ValueError, SeamsurveyError) as error:
        raise _no_print_scale(text) from error
    if len(scales) > 2 or any(not 0.9 <= scale <= 1.1 for scale in scales):
        raise _no_print_scale(text)
    return scales[0], scales[-1]


def _print_scale(text: str) -> float:
    if text.replace(".", "", 1).isdecimal():
        return float(text)
    inches = text.rstrip(" .").endswith(("in", "inch", "inches", '"', "″", "”"))
    return parse_length(text) / (4 * INCH if inches else 100.0)


def _no_print_scale(text: str) -> UsageError:
    return UsageError(
        "print-scale",
        f"“{text}” is no print scale I can make up for.",
        likely="It is the length of a bar as printed, or that length divided by what it should be; off by more "
        "than a tenth, the page was fitted to the paper.",
        todo="Measure the lying and the upright bar and write both: 99.1mm x 99.4mm, or 0.991x0.994. "
        "If they are far off, print at 100 % first.",
    )


def parse_share(text: str) -> float:
    """Return 0.1 from "10 %" or "10%"; ValueError when it is no share, or more than the whole."""
    number = text.strip().removesuffix("%").strip()
    if not text.strip().endswith("%") or not number.replace(".", "", 1).isdecimal() or float(number) > 100:
        raise ValueError(f"expected 10 %, not {text!r}")
    return float(number) / 100


def parse_quilt_size(text: str) -> dict[str, int]:
    """Return blocks across and down from "4x5"; ValueError when it is neither, or more than 40."""
    across, _, down = text.replace("×", "x").partition("x")
    if not (across.strip().isdecimal() and down.strip().isdecimal()):
        raise ValueError(f"expected 4x5, not {text!r}")
    return {"across": up_to_forty(int(across)), "down": up_to_forty(int(down))}


def up_to_forty(value: Any) -> int:
    """Return a number of blocks across or down; ValueError when it is none."""
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_BLOCKS:
        raise ValueError(f"expected a whole number from 1 to {MOST_BLOCKS}, not {value!r}")
    return value
