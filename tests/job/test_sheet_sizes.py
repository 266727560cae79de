"""Wishes for sizes, fabric and files of the sheets: read, written down again, and used."""

import attrs
import numpy as np
import pytest

from seamsurvey.errors import SeamsurveyError
from seamsurvey.job.sheet_wishes import parse_share
from seamsurvey.job.wish_keys import finish_fields, parse_finish
from seamsurvey.job.wish_texts import toml_values
from seamsurvey.job.wishes_file import merged, read_wishes
from seamsurvey.model import Quilt, Seam
from seamsurvey.resize import resized
from tests.foundation.blocks import eight_pointed_star

INCH = 25.4


def test_several_finished_sizes_are_read_and_written_down() -> None:
    """6in, 9in and 12in are the block's size and two more; job.toml gets them as they were said."""
    fields = finish_fields(parse_finish("6in,9in, 12in"))
    assert fields["finish_mm"] == pytest.approx(6 * INCH)
    assert fields["more_sizes_mm"] == pytest.approx((9 * INCH, 12 * INCH))
    (said,) = toml_values(fields).values()
    assert finish_fields(parse_finish(said)) == fields
    oblong = {"finish_mm": 304.8, "finish_height_mm": 406.4}
    assert finish_fields(parse_finish("12in x 16in")) == pytest.approx(oblong)
    with pytest.raises(SeamsurveyError):
        parse_finish("6in,")


def test_a_size_said_later_takes_the_place_of_all_sizes_said_before() -> None:
    """One size on the command line leaves none of those in job.toml."""
    before = finish_fields(parse_finish("6in,9in"))
    assert merged(before, finish_fields(parse_finish("8in"))).more_sizes_mm == ()
    assert merged(before).more_sizes_mm == pytest.approx((9 * INCH,))


def test_fabric_quilt_and_files_are_read_from_job_toml() -> None:
    """Width, reserve, border, binding, backing and the files wished for come out as written."""
    text = b"""
fabric_width = "42 in"
fabric_reserve = "15 %"
only = "foundations"
[quilt]
border = "4 in"
binding = "2 1/4 in"
backing_over = "3 in"
"""
    wishes = merged(read_wishes(text))
    assert wishes.fabric_width_mm == pytest.approx(42 * INCH)
    assert wishes.fabric_reserve == pytest.approx(0.15)
    assert wishes.only == "foundations"
    quilt = wishes.quilt
    assert quilt == attrs.evolve(
        Quilt(), border_mm=quilt.border_mm, binding_mm=quilt.binding_mm, backing_over_mm=quilt.backing_over_mm
    )
    assert (quilt.border_mm, quilt.binding_mm, quilt.backing_over_mm) == pytest.approx((101.6, 57.15, 76.2))


@pytest.mark.parametrize("text", ["10", "ten %", "101 %", "-5 %"])
def test_what_is_no_share_is_refused(text: str) -> None:
    """A share is a number of percent up to the whole."""
    with pytest.raises(ValueError, match="expected 10 %"):
        parse_share(text)


def test_a_resized_block_keeps_its_shape() -> None:
    """Every corner and seam of the star at 9 in is where it was, three quarters as far."""
    block = attrs.evolve(eight_pointed_star(12 * INCH), seams=(Seam((0.0, 0.0), (10.0, 20.0), ("A-1", "A-2")),))
    small = resized(block, 9 * INCH)
    assert small.width == pytest.approx(9 * INCH)
    for one, other in zip(block.pieces, small.pieces, strict=True):
        assert np.allclose(one.outline * 0.75, other.outline)
    assert small.seams[0].end == pytest.approx((7.5, 15.0))
