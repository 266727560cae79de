"""What a quilt takes beside its blocks, worked out by hand."""

import math
import re

import pytest

from seamsurvey.model import Quilt
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.needs import Widths
from seamsurvey.sheets.quilt import quilt_design
from seamsurvey.sheets.quilt_needs import QuiltNeed, quilt_needs
from seamsurvey.units import INCH

from .examples import leaning_sails


def needs(quilt: Quilt, side: float = 8.0, usable: float = 40.0) -> dict[str, QuiltNeed]:
    """The needs of a quilt of square blocks, by what they are for."""
    block, _ = leaning_sails(side * INCH)
    design = quilt_design(block, fabrics_of(block, {}, {}), quilt, {}, units="inch", allowance_mm=INCH / 4)
    widths = Widths.usual("inch", usable * INCH)
    return {n.what: n for n in quilt_needs(block, design, widths, units="inch", allowance_mm=INCH / 4)}


def test_a_plain_quilt_takes_binding_and_backing_only() -> None:
    """3 × 3 blocks of 8 in: binding of 96 + 10 in, 3 strips of 2 1/2 in; backing 32 × 32 in of one width."""
    found = needs(Quilt(3, 3))
    assert set(found) == {"binding", "backing"}
    assert found["binding"].cut == "3 strips 2 1/2 in wide"
    assert found["binding"].length_mm == pytest.approx(7.5 * INCH)
    assert found["binding"].buy == "1/4 yd"  # with 10 % 8 1/4 in
    assert found["backing"].cut.startswith("32 × 32 in of one width")
    assert found["backing"].buy == "1 yd"  # 32 in


def test_sashing_is_counted_between_the_blocks_and_round_them() -> None:
    """3 × 4 blocks with 2 in: 4 rows of 4 short pieces, 5 long ones of 3 · 10 + 2 in, with allowance 32 1/2 in."""
    found = needs(Quilt(3, 4, sashing_mm=2 * INCH))["sashing"]
    assert found.cut.startswith(
        "16 short pieces 2 1/2 × 8 1/2 in; 5 long ones 2 1/2 in wide, 162 1/2 in in all: 5 strips"
    )
    # Short ones: 4 on a strip of 2 1/2 in, 4 strips; or 16 on one strip of 8 1/2 in, which is less.
    assert found.length_mm == pytest.approx((8.5 + 5 * 2.5) * INCH)


def test_setting_triangles_are_the_guild_s() -> None:
    """For 8 in blocks on point: 12 5/8 and 6 5/8 in squares (Moonlight Quilters, a guild)."""
    found = needs(Quilt(3, 3, "on-point"))["setting triangles"]
    assert found.cut == (
        "2 squares 12 5/8 in cut twice corner to corner: 8 sides; "
        "2 squares 6 5/8 in cut once corner to corner: 4 corners"
    )
    assert found.length_mm == pytest.approx((12.625 + 6.625) * INCH)


def test_rows_on_point_have_all_blocks() -> None:
    """The long sashes of 3 × 3 on point run between five slanting rows of 1, 3, 5, 3 and 1 blocks."""
    found = needs(Quilt(3, 3, "on-point", sashing_mm=INCH))["sashing"]
    # 13 blocks and 5 rows: 18 short pieces; long ones of 1, 3, 5, 5, 3, 1 blocks: 18 · 9 + 6 · 1 1/2 in.
    assert found.cut.startswith("18 short pieces 1 1/2 × 8 1/2 in; 6 long ones 1 1/2 in wide, 171 in in all")


def test_a_border_is_measured_round_the_quilt_and_makes_it_larger() -> None:
    """A 4 in border round 24 in: sides 24 1/2, ends 32 1/2, 114 in in all, 3 strips; the binding grows."""
    found = needs(Quilt(3, 3, border_mm=4 * INCH))
    assert found["border"].cut.startswith("2 of 4 1/2 × 24 1/2 in, 2 of 4 1/2 × 32 1/2 in, pieced from 3 strips")
    assert found["border"].length_mm == pytest.approx(13.5 * INCH)
    assert found["binding"].cut.startswith(f"{math.ceil((4 * 32 + 10 - 0.5) / 39.5)} strips")
    assert found["backing"].cut.startswith("40 × 40 in of one width")


def test_a_wide_backing_is_sewn_of_widths_the_shorter_way() -> None:
    """5 × 7 blocks of 12 in, backing 68 × 92 in: 2 widths of 92 in (184 in), not 3 of 68 in (204 in)."""
    found = needs(Quilt(5, 7), side=12.0)["backing"]
    assert "68 × 92 in of 2 widths sewn side by side, 92 in each" in found.cut
    assert found.length_mm == pytest.approx(184 * INCH)
    assert found.buy == "5 1/8 yd"  # 184 in is 5.11 yd


def test_no_size_of_the_quilt_is_finer_than_a_ruler() -> None:
    """Of blocks of 12 in told in millimetres: 63 × 317 mm of sashing, not 62.7 × 317.5 mm, and a whole backing."""
    block, _ = leaning_sails(12 * INCH)
    design = quilt_design(
        block, fabrics_of(block, {}, {}), Quilt(3, 4, sashing_mm=50.0), {}, units="mm", allowance_mm=6.35
    )
    found = quilt_needs(block, design, Widths.usual("mm"), units="mm", allowance_mm=6.35)
    assert design.words[0].endswith("1114 × 1469 mm finished.")  # 3 · 354.8 + 50, 4 · 354.8 + 50
    assert not any(re.search(r"\d\.\d", need.cut) for need in found)
    backing = next(need for need in found if need.what == "backing")
    assert backing.cut.startswith("1320 × 1680 mm")  # 203.2 mm more each way, up to a centimetre
