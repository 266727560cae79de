"""Wishes for the sheets: how the print scale and the quilt are read."""

import pytest

from seamsurvey.errors import InputError, UsageError
from seamsurvey.job.sheet_wishes import parse_print_scale, parse_quilt_size
from seamsurvey.job.wishes_file import merged, read_wishes
from seamsurvey.model import Quilt, Wishes

from .test_wishes_file import written


@pytest.mark.parametrize(
    ("text", "scale"),
    [
        ("0.982x0.985", (0.982, 0.985)),
        ("0.99", (0.99, 0.99)),
        ("98.2mm x 9.85cm", (0.982, 0.985)),
        ("3 15/16in x 4in", (3.9375 / 4, 1.0)),
    ],
)
def test_a_print_scale_is_two_factors_or_what_the_bars_measure(text: str, scale: tuple[float, float]) -> None:
    """Factors count as they are; millimetres are of the 100 mm bar, inches of the 4 in bar."""
    assert parse_print_scale(text) == pytest.approx(scale, rel=1e-12)


@pytest.mark.parametrize("text", ["", "0.5x1", "1x1x1", "half", "50mm", "1.2"])
def test_what_is_no_print_scale_is_refused(text: str) -> None:
    """Nonsense, three values, or a page fitted to half its size end in one error that says what to measure."""
    with pytest.raises(UsageError) as caught:
        parse_print_scale(text)
    assert caught.value.code == "print-scale"


def test_a_quilt_s_size_is_two_numbers() -> None:
    """4x5 is four across and five down; nothing else will do."""
    assert parse_quilt_size("4x5") == {"across": 4, "down": 5}
    for text in ("4", "x", "0x3", "41x1", "4x-2"):
        with pytest.raises(ValueError, match="expected"):
            parse_quilt_size(text)


def test_the_file_gives_back_what_was_wished_and_the_command_line_comes_before_it() -> None:
    """Every wish for the sheets survives job.toml; a setting said later leaves the rest of the quilt as it is."""
    wishes = Wishes(
        paper="both", fabrics={"T1": "sky"}, came_from="an attic", seam_allowance_mm=6.0, oversize_mm=10.0,
        print_scale=(0.982, 0.985), quilt=Quilt(4, 5, "on-point", 25.4, "round"),
    )  # fmt: skip
    said = read_wishes(written(wishes))
    assert merged(said) == wishes
    assert merged(said, {"quilt": {"setting": "straight"}}).quilt == Quilt(4, 5, "straight", 25.4, "round")


def test_mistakes_in_the_quilt_are_named() -> None:
    """An unknown key, and a number that is none, are told with their place."""
    with pytest.raises(InputError, match=r"quilt: .*hem"):
        read_wishes(b'[quilt]\nhem = "2in"\n')
    with pytest.raises(InputError, match="quilt: across"):
        read_wishes(b"[quilt]\nacross = 0\n")
