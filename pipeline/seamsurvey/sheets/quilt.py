"""The quilt before it is sewn: blocks side by side or on point, with sashing, turned as wished.

Frame: *quilt* = mm, x right, y up, origin at the quilt's lower left, seen from the finished side.
"""

import math
from collections.abc import Iterator, Mapping

import numpy as np
import shapely
from attrs import frozen

from seamsurvey.errors import UsageError
from seamsurvey.geometry import moved
from seamsurvey.model import Array, Block, Quilt
from seamsurvey.sheets.drawing import Drawing, Mark, Pen, Text, box, placed, polygon
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.seams import straightened
from seamsurvey.sheets.trade import corner_setting, side_setting
from seamsurvey.sheets.words import count_text, cut_up, length_text, on_line, size_text

SASHING, SETTING, BORDER = "#f4f1e8", "#e3ddcc", "#d8d2c2"  # linen: quiet beside any block
_SEAM = Pen(0.13, "#4a4f55")
_BORDER = Pen(0.35)
_PICTURE_MM = 240.0
SQUARE_MM = 0.5  # width and height no more apart: less than a seam's own error


@frozen
class QuiltDesign:
    """The quilt's size and what stands in it; ``words`` say so, with what to cut for the setting."""

    quilt: Quilt
    width: float
    height: float
    inner: tuple[float, float]  # without the border
    marks: tuple[Mark, ...]  # true size
    words: tuple[str, ...]

    def drawn(self, scale: float) -> tuple[Mark, ...]:
        """The marks at a scale, from the lower left."""
        return placed(self.marks, 0, (0.0, 0.0), scale)

    @property
    def blocks(self) -> int:
        """How many blocks it takes."""
        return self.quilt.blocks


def quilt_design(
    block: Block, fabrics: Mapping[str, Fabric], quilt: Quilt, colours: Mapping[str, str], *, units: str,
    allowance_mm: float,
) -> QuiltDesign:  # fmt: skip
    """The quilt of these blocks; ``colours`` may name those of "sashing", "setting" and "border".

    UsageError ``quilt-not-square`` when the setting needs a square block and this is none.
    """
    square = abs(block.width - block.height) < SQUARE_MM
    if not square and (quilt.setting == "on-point" or quilt.turned == "round"):
        raise UsageError(
            "quilt-not-square",
            f"A block of {size_text(block.width, block.height, units)} can't be set on point or turned round.",
            likely="Only a square block can.",
            todo="Use --setting straight and --turned none or every-second; or the same under [quilt] in job.toml.",
        )
    sash, setting = colours.get("sashing", SASHING), colours.get("setting", SETTING)
    on_point = quilt.setting == "on-point"
    inner = _on_point_size(block, quilt) if on_point else _straight_size(block, quilt)
    rim = quilt.border_mm
    width, height = inner[0] + 2 * rim, inner[1] + 2 * rim
    frame = box(0, 0, width, height)
    marks: list[Mark] = []
    if rim:
        marks.append(polygon(frame, fill=colours.get("border", BORDER), layer="border"))
    inside = box(rim, rim, *inner)
    marks.append(polygon(inside, fill=setting if on_point else sash, pen=_SEAM if rim else None, layer="setting"))
    outline = straightened(block.outline)
    found = _on_point(block, quilt) if on_point else _straight(block, quilt)
    places = [(turn, shift + rim) for turn, shift in found]
    if quilt.sashing_mm and on_point:
        around = np.asarray(shapely.Polygon(outline).buffer(quilt.sashing_mm, join_style="mitre").exterior.coords)[
            :-1
        ]
        marks += [
            polygon(moved(around, turn, shift), fill=sash, pen=_SEAM, layer="sashing") for turn, shift in places
        ]
    middle = np.array([block.width, block.height]) / 2
    for k, (turn, shift) in enumerate(places):
        own = _own_turn(quilt, k) * (1 if square else 2)  # an oblong block is turned by a half, not a quarter
        for piece in block.pieces:
            points = moved(moved(piece.drawn - middle, own, middle), turn, shift)
            marks.append(polygon(points, fill=fabrics[piece.id].colour, pen=_SEAM, layer="pieces"))
        marks.append(polygon(moved(outline, turn, shift), pen=Pen(0.25), layer="blocks"))
    marks.append(polygon(frame, pen=_BORDER, layer="outline"))
    words = _words(block, quilt, width, height, units=units, allowance_mm=allowance_mm)
    return QuiltDesign(quilt, width, height, inner, tuple(marks), words)


def quilt_picture(design: QuiltDesign, title: str, longest_mm: float = _PICTURE_MM) -> Drawing:
    """The quilt drawn small with its words below."""
    scale = longest_mm / max(design.width, design.height)
    edge, line = 5.0, 4.6
    high = design.height * scale
    lines = [(title, 12.0, "bold"), *((text, 9.0, "regular") for text in design.words)]
    below = line * len(lines) + 4
    marks = list(placed(design.marks, 0, (edge, edge + below), scale))
    for k, (text, size, weight) in enumerate(lines):
        marks.append(Text(at=(edge, edge + below - (k + 1) * line - 1.0), text=text, size_pt=size, weight=weight))
    wide = max(design.width * scale, 170.0)
    return Drawing(wide + 2 * edge, high + below + 2 * edge, tuple(marks))


def _own_turn(quilt: Quilt, k: int) -> float:
    """How far block k, counted along rows from the lower left, is turned in its place."""
    row, column = _row_and_column(quilt, k)
    if quilt.turned == "every-second":
        return 90.0 * ((row + column) % 2)
    if quilt.turned == "round":
        # Four blocks about a common corner, each a quarter turn from the last.
        return {(0, 0): 0.0, (0, 1): 90.0, (1, 1): 180.0, (1, 0): 270.0}[row % 2, column % 2]
    return 0.0


def _row_and_column(quilt: Quilt, k: int) -> tuple[int, int]:
    if quilt.setting != "on-point":
        return divmod(k, quilt.across)
    full = quilt.across * quilt.down
    if k < full:
        row, column = divmod(k, quilt.across)
        return 2 * row, 2 * column
    row, column = divmod(k - full, quilt.across - 1)
    return 2 * row + 1, 2 * column + 1


def _straight_size(block: Block, quilt: Quilt) -> tuple[float, float]:
    s = quilt.sashing_mm
    return quilt.across * (block.width + s) + s, quilt.down * (block.height + s) + s


def _straight(block: Block, quilt: Quilt) -> Iterator[tuple[float, Array]]:
    s = quilt.sashing_mm
    for row in range(quilt.down):
        for column in range(quilt.across):
            yield 0.0, np.array([s + column * (block.width + s), s + row * (block.height + s)])


def _on_point_size(block: Block, quilt: Quilt) -> tuple[float, float]:
    pitch = (block.width + quilt.sashing_mm) * math.sqrt(2)
    return quilt.across * pitch + quilt.sashing_mm * math.sqrt(
        2
    ), quilt.down * pitch + quilt.sashing_mm * math.sqrt(2)


def _on_point(block: Block, quilt: Quilt) -> Iterator[tuple[float, Array]]:
    """Full rows first, then the blocks between them; each turned by 45° about its middle."""
    pitch = (block.width + quilt.sashing_mm) * math.sqrt(2)
    edge = quilt.sashing_mm / math.sqrt(2)
    middle = np.array([[block.width, block.height]]) / 2
    back = moved(middle, 45.0, (0.0, 0.0))[0]
    for between in (0, 1):
        for row in range(quilt.down - between):
            for column in range(quilt.across - between):
                centre = edge + pitch * (np.array([column, row]) + (1 + between) / 2)
                yield 45.0, centre - back


def _words(
    block: Block, quilt: Quilt, width: float, height: float, *, units: str, allowance_mm: float
) -> tuple[str, ...]:
    """The quilt's size, and what to cut for the setting."""
    step = 5.0
    size = size_text(on_line(width, units), on_line(height, units), units)
    laid = {"straight": "side by side", "on-point": "on point"}[quilt.setting]
    words = [
        f"{quilt.across} × {quilt.down} {laid}: {count_text(quilt.blocks, 'block', 'blocks')}, {size} finished."
    ]

    def cut(length_mm: float) -> str:
        return length_text(cut_up(length_mm, units, metric_step_mm=step), units)

    s = quilt.sashing_mm
    if s:
        words.append(
            f"Sashing {length_text(s, units)} finished, between the blocks and round them: cut strips "
            f"{length_text(on_line(s + 2 * allowance_mm, units), units)} wide."
        )
    if quilt.setting == "on-point":
        sides = 2 * (quilt.across - 1) + 2 * (quilt.down - 1)
        side, corner = (
            side_setting(block.width + s, allowance_mm),
            corner_setting(block.width + 2 * s, allowance_mm),
        )
        if sides:
            words.append(
                f"Side triangles: {math.ceil(sides / 4)} of squares {cut(side)}, each cut twice corner to corner "
                f"({sides} needed)."
            )
        words.append(f"Corner triangles: 2 of squares {cut(corner)}, each cut once corner to corner.")
    return tuple(words)
