"""The block's SVG, read back by an independent reader."""

import io
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import shapely
from svgelements import SVG, Group, Path

from seamsurvey.model import Block, FoundationPlan
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.svg import block_svg

from .examples import forked_road, harbour_rows, leaning_sails

# CSS Values and Units 3 (W3C), 6.2: absolute lengths; 1 in = 2.54 cm = 96 px.
PX_PER_MM = 96 / 25.4
EDGE_MM = 2.0


def outlines_in(svg: str, layer: str) -> list[shapely.Polygon]:
    """The closed paths of a layer in mm, y up, as svgelements sees them at 96 px an inch."""
    read = SVG.parse(io.StringIO(svg), ppi=96)
    height = float(read.height) / PX_PER_MM
    (group,) = [item for item in read.elements() if isinstance(item, Group) and item.id == layer]
    found = []
    for path in (item for item in group if isinstance(item, Path)):
        points = np.array([(step.end.x, step.end.y) for step in path])
        assert path.d().rstrip().lower().endswith("z")
        points = points / PX_PER_MM
        found.append(shapely.Polygon(np.column_stack([points[:, 0], height - points[:, 1]]) - EDGE_MM))
    return found


@pytest.mark.parametrize("made", [harbour_rows(), leaning_sails(), forked_road()], ids=["harbour", "sails", "fork"])
def test_pieces_are_true_size_and_not_mirrored(made: tuple[Block, FoundationPlan]) -> None:
    """Every piece stands as a closed path exactly where the block has it, seen from the finished side."""
    block, plan = made
    read = outlines_in(block_svg(block, plan, title="x", fabrics=fabrics_of(block, {}, {})), "pieces")
    assert len(read) == len(block.pieces)
    for shape, piece in zip(read, block.pieces, strict=True):
        assert shape.hausdorff_distance(shapely.Polygon(piece.outline)) < 0.001


def test_the_drawing_says_its_size_in_millimetres() -> None:
    """Width and height are in mm and equal to the viewBox, so that one user unit is a millimetre."""
    block, plan = harbour_rows()
    root = ET.fromstring(block_svg(block, plan, title="x", fabrics=fabrics_of(block, {}, {})))  # noqa: S314
    assert root.attrib["width"] == f"{block.width + 4:g}mm"
    assert root.attrib["viewBox"].split()[2:] == [f"{block.width + 4:g}", f"{block.height + 4:g}"]


def test_layers_are_named_and_colours_kept() -> None:
    """The layers a person would switch on and off are there, and a wished colour fills its pieces."""
    block, plan = forked_road()
    fabrics = fabrics_of(block, {"T2": "#102030"}, {})
    root = ET.fromstring(block_svg(block, plan, title="A & B <c>", fabrics=fabrics))  # noqa: S314  # noqa: S314
    space = {"s": "http://www.w3.org/2000/svg"}
    groups = {group.attrib["id"]: group for group in root.findall("s:g", space)}
    assert {"pieces", "seams", "sections", "set-in-seams", "outline", "labels"} <= set(groups)
    fills = [path.attrib["fill"] for path in groups["pieces"].findall("s:path", space)]
    assert fills[1] == "#102030"
    assert len(set(fills)) == 3
    assert root.findtext("s:title", namespaces=space) == "A & B <c>"
    assert [text.text for text in groups["labels"].findall("s:text", space)] == ["A1", "B1", "C1"]


def test_the_same_block_gives_the_same_text() -> None:
    """Two runs differ in no character."""
    block, plan = leaning_sails()
    fabrics = fabrics_of(block, {}, {})
    assert block_svg(block, plan, title="x", fabrics=fabrics) == block_svg(block, plan, title="x", fabrics=fabrics)
