"""The quilt's picture: its size, its blocks, what its setting takes."""

import io
import math

import numpy as np
import pytest
import shapely
from PIL import Image

from seamsurvey.errors import UsageError
from seamsurvey.model import Quilt
from seamsurvey.sheets.drawing import Line
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.png import write_png
from seamsurvey.sheets.quilt import QuiltDesign, quilt_design, quilt_picture
from seamsurvey.units import INCH

from .examples import harbour_rows, leaning_sails


def design(quilt: Quilt, side: float = 8 * INCH) -> QuiltDesign:
    """A quilt of leaning sails with a quarter inch allowance."""
    block, _ = leaning_sails(side)
    return quilt_design(block, fabrics_of(block, {}, {}), quilt, {}, units="inch", allowance_mm=INCH / 4)


@pytest.mark.parametrize("setting", ["straight", "on-point"])
@pytest.mark.parametrize("sashing", [0.0, 2 * INCH])
@pytest.mark.parametrize("turned", ["none", "every-second", "round"])
def test_blocks_fill_the_quilt_without_overlap(setting: str, sashing: float, turned: str) -> None:
    """All blocks lie inside the quilt, as many as said, none on another, a sashing apart, full of their pieces."""
    made = design(Quilt(3, 4, setting, sashing, turned))
    blocks = [shapely.Polygon(m.points) for m in made.marks if isinstance(m, Line) and m.layer == "blocks"]
    assert len(blocks) == made.blocks == (12 if setting == "straight" else 12 + 6)
    frame = shapely.box(0, 0, made.width, made.height).buffer(1e-6)
    assert all(frame.contains(block) for block in blocks)
    gaps = [a.distance(b) for k, a in enumerate(blocks) for b in blocks[:k]]
    assert min(gaps) == pytest.approx(sashing, abs=1e-6)
    assert shapely.union_all(blocks).area == pytest.approx(sum(block.area for block in blocks))
    pieces = [shapely.Polygon(m.points) for m in made.marks if isinstance(m, Line) and m.layer == "pieces"]
    assert shapely.union_all(pieces, grid_size=1e-6).area == pytest.approx(sum(b.area for b in blocks), rel=1e-6)


def test_the_setting_takes_what_the_guild_says() -> None:
    """For 8 in blocks on point: side squares 12 5/8 in, corner squares 6 5/8 in (Moonlight Quilters, a guild)."""
    words = " ".join(design(Quilt(3, 3, "on-point")).words)
    # 3 × 3 on point: 9 + 4 blocks, 8 side triangles from 2 squares, 4 corners from 2; 3 · 8√2 = 33.94 in.
    assert "13 blocks, 33 15/16 × 33 15/16 in" in words
    assert "2 of squares 12 5/8 in, each cut twice corner to corner (8 needed)" in words
    assert "2 of squares 6 5/8 in, each cut once" in words
    assert design(Quilt(3, 3, "on-point")).width == pytest.approx(3 * 8 * INCH * math.sqrt(2))


def test_an_oblong_block_is_not_set_on_point() -> None:
    """A block of 6 × 7 in can't stand on its corner or turn by quarters; the error says what to do."""
    block, _ = harbour_rows()
    fabrics = fabrics_of(block, {}, {})
    for quilt in (Quilt(setting="on-point"), Quilt(turned="round")):
        with pytest.raises(UsageError) as caught:
            quilt_design(block, fabrics, quilt, {}, units="inch", allowance_mm=6.35)
        assert caught.value.code == "quilt-not-square"
    quilt_design(block, fabrics, Quilt(turned="every-second"), {}, units="inch", allowance_mm=6.35)


def test_the_png_shows_the_fabrics_colours() -> None:
    """Two runs give the same PNG; its longer side is 1600 px and a wished colour fills its share of it."""
    block, _ = leaning_sails()
    fabrics = fabrics_of(block, {"T2": "#123456"}, {})
    made = quilt_design(block, fabrics, Quilt(2, 2), {}, units="inch", allowance_mm=6.35)
    content = write_png(quilt_picture(made, "Sails"))
    assert content == write_png(quilt_picture(made, "Sails"))
    pixels = np.asarray(Image.open(io.BytesIO(content)))
    assert max(pixels.shape) == 1600
    share = (np.abs(pixels.astype(int) - [0x12, 0x34, 0x56]).max(axis=2) < 3).mean()
    area = sum(shapely.Polygon(p.outline).area for p in block.pieces if p.template == "T2") * 4
    drawing = quilt_picture(made, "Sails")
    scale = 240.0 / max(made.width, made.height)
    assert share == pytest.approx(area * scale**2 / (drawing.width_mm * drawing.height_mm), rel=0.05)
