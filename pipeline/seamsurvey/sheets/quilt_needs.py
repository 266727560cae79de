"""What the quilt takes beside its blocks: sashing, setting triangles, border, binding, backing."""

import math
from itertools import pairwise

from attrs import frozen

from seamsurvey.model import Block
from seamsurvey.sheets.needs import Widths, sold_text, to_buy
from seamsurvey.sheets.quilt import QuiltDesign
from seamsurvey.sheets.strips import Cut, on_strips
from seamsurvey.sheets.trade import corner_setting, side_setting
from seamsurvey.sheets.words import count_text, cut_up, length_text, on_line, size_text
from seamsurvey.units import INCH

# The ends of a binding overlap, and each corner takes a fold: 10 in in all. Common practice, no source.
BINDING_MORE_MM = 10 * INCH
HEADINGS = ("for", "cut", "to have")
SHARES = (2.0, 6.5, 2.5)


@frozen
class QuiltNeed:
    """One thing the quilt takes: what it is for, what is cut, and how much fabric that is."""

    what: str
    cut: str
    length_mm: float  # of fabric used
    buy: str

    @property
    def cells(self) -> tuple[str, str, str]:
        """The row of a table."""
        return self.what, self.cut, self.buy


def quilt_needs(
    block: Block, design: QuiltDesign, widths: Widths, *, units: str, allowance_mm: float
) -> tuple[QuiltNeed, ...]:
    """All that is not blocks. Strips longer than the fabric is wide are pieced from strips sewn end to end."""
    maker = _Needs(block, design, widths, units, allowance_mm)
    made = [*maker.sashing(), *maker.setting(), *maker.border(), maker.binding(), maker.backing()]
    return tuple(made)


@frozen
class _Needs:
    block: Block
    design: QuiltDesign
    widths: Widths
    units: str
    s: float

    def _need(self, what: str, cut: str, length_mm: float, *, reserve: float | None = None) -> QuiltNeed:
        buy = to_buy(length_mm, self.widths.reserve if reserve is None else reserve, self.units)
        return QuiltNeed(what, cut, length_mm, sold_text(buy, self.units))

    def _size(self, wide: float, high: float) -> str:
        return size_text(on_line(wide, self.units), on_line(high, self.units), self.units)

    def _length(self, length_mm: float) -> str:
        return length_text(on_line(length_mm, self.units), self.units)

    def _up(self, length_mm: float) -> str:
        """What is only a need, rounded up to an inch's eighth or a centimetre."""
        return length_text(cut_up(length_mm, self.units, metric_step_mm=10.0), self.units)

    def _pieced(self, total_mm: float) -> int:
        """Strips across the fabric that give so much length, each joint taking two allowances."""
        return max(1, math.ceil((total_mm - 2 * self.s) / (self.widths.usable_mm - 2 * self.s) - 1e-9))

    def sashing(self) -> list[QuiltNeed]:
        """Short pieces between the blocks of a row, and long ones between the rows and round all.

        Straight: (across + 1) short pieces a row, rows + 1 long ones. On point the rows run aslant.
        """
        quilt = self.design.quilt
        if not quilt.sashing_mm:
            return []
        rows = self._rows()
        pitch, sash = self.block.width + quilt.sashing_mm, quilt.sashing_mm
        short = sum(row + 1 for row in rows)
        reach = [0, *rows, 0]
        longs = [max(a, b) * pitch + sash + 2 * self.s for a, b in pairwise(reach)]
        high, side = sash + 2 * self.s, self.block.height + 2 * self.s
        plan = on_strips([Cut(short, (side, high))], self.widths.usable_mm)
        strips = self._pieced(sum(longs))
        cut = (
            f"{short} short pieces {self._size(high, side)}; {len(longs)} long ones {self._length(high)}"
            f" wide, {self._up(sum(longs))} in all: {count_text(strips, 'strip', 'strips')}"
        )
        return [self._need("sashing", cut, plan.length_mm + strips * high)]

    def _rows(self) -> list[int]:
        """How many blocks each row has; on point the rows run from corner to corner."""
        quilt = self.design.quilt
        if quilt.setting != "on-point":
            return [quilt.across] * quilt.down
        found: dict[int, int] = {}
        for between in (0, 1):
            for row in range(quilt.down - between):
                for column in range(quilt.across - between):
                    key = row + column + between
                    found[key] = found.get(key, 0) + 1
        return [found[key] for key in sorted(found)]

    def setting(self) -> list[QuiltNeed]:
        """Side triangles, four of a square, and corner triangles, two of one (Moonlight Quilters, a guild)."""
        quilt = self.design.quilt
        if quilt.setting != "on-point":
            return []

        def cut(length_mm: float) -> float:
            return cut_up(length_mm, self.units, metric_step_mm=5.0)

        sides = 2 * (quilt.across - 1) + 2 * (quilt.down - 1)
        side = cut(side_setting(self.block.width + quilt.sashing_mm, self.s))
        corner = cut(corner_setting(self.block.width + 2 * quilt.sashing_mm, self.s))
        cuts = [Cut(2, (corner, corner))]
        words = [f"2 squares {length_text(corner, self.units)} cut once corner to corner: 4 corners"]
        if sides:
            squares = math.ceil(sides / 4)
            cuts.append(Cut(squares, (side, side)))
            many = count_text(squares, "square", "squares")
            words.insert(0, f"{many} {length_text(side, self.units)} cut twice corner to corner: {sides} sides")
        return [self._need("setting triangles", "; ".join(words), on_strips(cuts, self.widths.usable_mm).length_mm)]

    def border(self) -> list[QuiltNeed]:
        """Two sides as long as the quilt is high, then top and bottom across them. Common practice, no source."""
        rim = self.design.quilt.border_mm
        if not rim:
            return []
        wide, high = self.design.inner
        sides, ends = high + 2 * self.s, wide + 2 * rim + 2 * self.s
        strips = self._pieced(2 * (sides + ends))
        across = rim + 2 * self.s
        cut = (
            f"2 of {self._size(across, sides)}, 2 of {self._size(across, ends)}, pieced from "
            f"{count_text(strips, 'strip', 'strips')}; measure the quilt before you cut them to length"
        )
        return [self._need("border", cut, strips * across)]

    def binding(self) -> QuiltNeed:
        """All round and a little more, in strips folded double. Common practice, no source."""
        wide = self.design.quilt.binding_mm
        total = 2 * (self.design.width + self.design.height) + BINDING_MORE_MM
        strips = self._pieced(total)
        cut = f"{count_text(strips, 'strip', 'strips')} {self._length(wide)} wide"
        return self._need("binding", cut, strips * wide)

    def backing(self) -> QuiltNeed:
        """As large as the quilt and more on every side, of one width or of several sewn side by side.

        Common practice, no source. What it is larger by is its reserve.
        """
        more = 2 * self.design.quilt.backing_over_mm
        wide, high = self.design.width + more, self.design.height + more
        upright, lying = self._pieced(wide), self._pieced(high)
        widths, length = min(((upright, high), (lying, wide)), key=lambda way: way[0] * way[1])
        panels = "one width" if widths == 1 else f"{widths} widths sewn side by side, {self._up(length)} each"
        cut = f"{self._up(wide).rsplit(' ', 1)[0]} × {self._up(high)} of {panels}; batting as large"
        return self._need("backing", cut, widths * length, reserve=0.0)
