"""The DXF writer: for cutting machines and drawing programs."""

import io
from collections.abc import Iterator
from contextlib import contextmanager

import ezdxf.units
from ezdxf import options  # type: ignore[attr-defined]  # re-exported without saying so
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new

from seamsurvey.sheets.drawing import Drawing, Line, Pen
from seamsurvey.sheets.type import cap_mm

_ALIGN = {
    "start": TextEntityAlignment.LEFT,
    "middle": TextEntityAlignment.CENTER,
    "end": TextEntityAlignment.RIGHT,
}
_WHITE = 7  # the colour index that a program shows black on white, white on black


def write_dxf(drawing: Drawing) -> bytes:
    """The drawing as DXF R2010 in millimetres: a layer for each of the drawing's, closed lines as closed polylines.

    Fills are left out: a machine cuts lines. The same drawing gives the same bytes.
    """
    with _fixed_dates():
        document = new("R2010", setup=["linetypes"])
        document.units = ezdxf.units.MM
        document.header["$MEASUREMENT"] = 1  # metric
        space = document.modelspace()
        for mark in drawing.marks:
            if mark.layer not in document.layers:
                document.layers.add(
                    mark.layer,
                    color=_WHITE,
                    linetype=_linetype(mark.pen) if isinstance(mark, Line) else "CONTINUOUS",
                )
            if isinstance(mark, Line):
                if mark.pen:
                    points = [(float(x), float(y)) for x, y in mark.points]
                    space.add_lwpolyline(points, close=mark.closed, dxfattribs={"layer": mark.layer})
            else:
                text = space.add_text(
                    mark.text, height=cap_mm(mark.size_pt), rotation=mark.turn_deg, dxfattribs={"layer": mark.layer}
                )
                text.set_placement(mark.at, align=_ALIGN[mark.anchor])
        for kind in sorted(document.entitydb.dxf_types_in_use()):
            document.classes.add_class(kind)  # else in the order of a set, another in every process
        out = io.StringIO()
        document.write(out)
        return out.getvalue().encode()


def _linetype(pen: Pen | None) -> str:
    return "DASHED" if pen and pen.dash else "CONTINUOUS"


@contextmanager
def _fixed_dates() -> Iterator[None]:
    """Keep the clock and random numbers out of the file."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
