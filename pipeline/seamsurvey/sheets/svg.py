"""The SVG writer, and the block as one true-size SVG with named layers."""

from collections.abc import Mapping
from xml.etree import ElementTree as ET

from seamsurvey.model import Block, FoundationPlan
from seamsurvey.sheets.block_figure import block_marks, piece_colours
from seamsurvey.sheets.drawing import Drawing, Line, Text, placed
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.type import FAMILY
from seamsurvey.units import POINT

_EDGE_MM = 2.0  # white round the block, so that no border stroke is cut off


def write_svg(drawing: Drawing, title: str, *, id_prefix: str = "", role: str = "") -> str:
    """The drawing as SVG 1.1: width and height in mm, one user unit a millimetre, a ``<g id>`` for each layer.

    Layers stand in the order of their first mark; texts of a layer follow its lines.
    ``id_prefix`` keeps ids apart where several drawings stand in one page; with a ``role`` the drawing is called by
    its title there.
    """
    width, height = _number(drawing.width_mm), _number(drawing.height_mm)
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg", "version": "1.1", "width": f"{width}mm", "height": f"{height}mm",
            "viewBox": f"0 0 {width} {height}", "font-family": f"{FAMILY}, 'Helvetica Neue', Arial, sans-serif",
        },
    )  # fmt: skip
    if role:
        root.set("role", role)
        root.set("aria-label", title)
    ET.SubElement(root, "title").text = title
    layers: dict[str, ET.Element] = {}
    for mark in sorted(drawing.marks, key=lambda mark: isinstance(mark, Text)):
        group = layers.get(mark.layer)
        if group is None:
            group = layers[mark.layer] = ET.SubElement(root, "g", {"id": id_prefix + mark.layer.replace(" ", "-")})
        if isinstance(mark, Text):
            _text(group, mark, drawing.height_mm)
        else:
            _line(group, mark, drawing.height_mm)
    ET.indent(root)
    return ET.tostring(root, encoding="unicode", xml_declaration=False) + "\n"


def block_svg(block: Block, plan: FoundationPlan | None, *, title: str, fabrics: Mapping[str, Fabric]) -> str:
    """The block at true size from the finished side, not mirrored; ``fabrics`` are by piece.

    Layers: pieces, seams, sections, added seams, set-in seams, outline, labels. The white edge is 2 mm.
    """
    marks = placed(
        block_marks(block, plan, piece_colours(fabrics), scale=1.0, largest_pt=14), 0, (_EDGE_MM, _EDGE_MM)
    )
    return write_svg(Drawing(block.width + 2 * _EDGE_MM, block.height + 2 * _EDGE_MM, marks), title)


def _line(group: ET.Element, line: Line, height_mm: float) -> None:
    points = [f"{_number(x)},{_number(height_mm - y)}" for x, y in line.points]
    path = {"d": "M" + " L".join(points) + (" Z" if line.closed else ""), "fill": line.fill or "none"}
    if line.pen:
        path |= {"stroke": line.pen.colour, "stroke-width": _number(line.pen.width_mm), "stroke-linejoin": "round"}
        if line.pen.dash:
            path["stroke-dasharray"] = " ".join(map(_number, line.pen.dash))
    ET.SubElement(group, "path", path)


def _text(group: ET.Element, text: Text, height_mm: float) -> None:
    x, y = _number(text.at[0]), _number(height_mm - text.at[1])
    values = {
        "x": x, "y": y, "font-size": _number(text.size_pt * POINT), "text-anchor": text.anchor, "fill": text.colour,
    }  # fmt: skip
    if text.weight == "bold":
        values["font-weight"] = "bold"
    if text.turn_deg:
        values["transform"] = f"rotate({_number(-text.turn_deg)} {x} {y})"
    ET.SubElement(group, "text", values).text = text.text


def _number(value: float) -> str:
    """Up to a ten-thousandth of a millimetre, without trailing noughts or a negative nought."""
    return f"{round(float(value), 4) + 0.0:.4f}".rstrip("0").rstrip(".")
