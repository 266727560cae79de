"""The PDF writer, and the file a quilter prints: guide pages, then every section at true size."""

import itertools
import logging
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime

from fpdf import FPDF
from fpdf.drawing import PaintedPath
from fpdf.drawing_primitives import color_from_hex_string
from fpdf.enums import StrokeCapStyle, StrokeJoinStyle
from fpdf.prefs import ViewerPreferences

from seamsurvey.model import Block, FoundationPlan
from seamsurvey.sheets.drawing import Drawing, Line, Pen, Text
from seamsurvey.sheets.fabric import CuttingList
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.foundations import foundation_pages
from seamsurvey.sheets.page import Imprint
from seamsurvey.sheets.quilt import QuiltDesign
from seamsurvey.sheets.rivals import Rivals
from seamsurvey.sheets.sketches import PrintedSections
from seamsurvey.sheets.type import FAMILY, FILES
from seamsurvey.units import INCH, POINT

# The same job gives the same bytes: no clock goes into the file.
_DATE = datetime(2000, 1, 1, tzinfo=UTC)
_NO_COLOURS: Mapping[str, str] = {}
_STYLES = {"regular": "", "bold": "B"}


def foundations_pdf(
    plan: FoundationPlan, block: Block, cutting: CuttingList, fabrics: Mapping[str, Fabric], *, imprint: Imprint,
    units: str, allowance_mm: float = INCH / 4, blocks: int = 1, came_from: Sequence[str] = (),
    quilt: QuiltDesign | None = None, rivals: Rivals | None = None, colours: Mapping[str, str] = _NO_COLOURS,
    sections: PrintedSections | None = None,
) -> bytes:  # fmt: skip
    """The file a quilter prints: guide, cutting list, and all sections of one block at true size, mirrored.

    ``units`` is "inch" or "mm"; ``cutting`` is the list for ``blocks`` blocks, ``fabrics`` are by piece.
    """
    pages = foundation_pages(
        plan, block, cutting, fabrics, imprint=imprint, units=units, allowance_mm=allowance_mm, blocks=blocks,
        came_from=came_from, quilt=quilt, rivals=rivals, colours=colours, sections=sections,
    )  # fmt: skip
    return write_pdf(pages, imprint.title)


def write_pdf(pages: Sequence[Drawing], title: str) -> bytes:
    """The drawings as pages of a PDF, 1 mm to 1 mm, with ``/PrintScaling /None`` (ISO 32000-1, table 150)."""
    with _quiet_fonts():
        pdf = FPDF(unit="pt")
        pdf.set_auto_page_break(False)
        pdf.set_margin(0)
        pdf.set_creation_date(_DATE)
        pdf.set_title(title)
        pdf.set_producer("seamsurvey")
        pdf.set_creator("seamsurvey")
        pdf.set_lang("en")
        pdf.viewer_preferences = ViewerPreferences(print_scaling="None", display_doc_title=True)
        for weight, path in FILES.items():
            pdf.add_font(FAMILY, style=_STYLES[weight], fname=path)
        for drawing in pages:
            pdf.add_page(format=(drawing.width_mm / POINT, drawing.height_mm / POINT))
            _draw(pdf, drawing)
        return bytes(pdf.output())


def _draw(pdf: FPDF, drawing: Drawing) -> None:
    with pdf.drawing_context() as context:
        lines = [mark for mark in drawing.marks if isinstance(mark, Line)]
        for (pen, fill), run in itertools.groupby(lines, key=lambda line: (line.pen, line.fill)):
            # Strokes of one pen are one path with many subpaths; filled areas must be painted one by one.
            for group in [list(run)] if fill is None else [[line] for line in run]:
                context.add_item(_path(group, pen, fill, drawing.height_mm), clone=False)
    for mark in drawing.marks:
        if isinstance(mark, Text):
            _write(pdf, mark, drawing.height_mm)


def _path(lines: Sequence[Line], pen: Pen | None, fill: str | None, height_mm: float) -> PaintedPath:
    path: PaintedPath | None = None
    for line in lines:
        points = [(float(x) / POINT, (height_mm - float(y)) / POINT) for x, y in line.points]
        path = PaintedPath(*points[0]) if path is None else path.move_to(*points[0])
        for x, y in points[1:]:
            path.line_to(x, y)
        if line.closed:
            path.close()
    assert path is not None  # noqa: S101
    style = path.style
    style.auto_close = False
    style.fill_color = color_from_hex_string(fill) if fill else None
    style.stroke_color = color_from_hex_string(pen.colour) if pen else None
    if pen:
        style.stroke_width = pen.width_mm / POINT
        style.stroke_dash_pattern = [length / POINT for length in pen.dash] or None
        # Flat caps: a stroke is exactly as long as its line.
        style.stroke_cap_style = StrokeCapStyle.BUTT
        style.stroke_join_style = StrokeJoinStyle.ROUND
    return path


def _write(pdf: FPDF, text: Text, height_mm: float) -> None:
    pdf.set_font(FAMILY, style=_STYLES[text.weight], size=text.size_pt)
    pdf.set_text_color(*(int(text.colour[k : k + 2], 16) for k in (1, 3, 5)))
    x, y = text.at[0] / POINT, (height_mm - text.at[1]) / POINT
    back = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * pdf.get_string_width(text.text)
    if not text.turn_deg:
        pdf.text(x - back, y, text.text)
        return
    with pdf.rotation(text.turn_deg, x, y):
        pdf.text(x - back, y, text.text)


@contextmanager
def _quiet_fonts() -> Iterator[None]:
    """Keep the font's subsetter from remarking on Lato's date of creation and on letters the font lacks."""
    loggers = [logging.getLogger(name) for name in ("fontTools", "fpdf")]
    levels = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.ERROR)
    try:
        yield
    finally:
        for logger, level in zip(loggers, levels, strict=True):
            logger.setLevel(level)
