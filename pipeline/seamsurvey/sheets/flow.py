"""Setting text, pictures and tables one below the other, page after page.

A ``Flow`` is the one builder here that changes as it goes: it keeps the height left on the page, and starts
the next page when something has no room. Frame: *page* = mm, y up.
"""

from collections.abc import Callable, Sequence

from attrs import define, field

from seamsurvey.sheets.drawing import HAIRLINE, INK, QUIET, Mark, Text, placed, segment
from seamsurvey.sheets.page import Region
from seamsurvey.sheets.type import broken, cap_mm, line_mm

HEADING_PT = 11.0
TEXT_PT = 9.0
TABLE_PT = 8.0
_ABOVE_HEADING_MM = 5.0
_HANG_MM = 4.5  # what a numbered paragraph is set in


@define
class Flow:
    """A column of marks on as many pages as it takes; ``y`` is the top of what is still free."""

    region: Region
    pages: list[list[Mark]] = field(factory=lambda: [[]])
    y: float = field(init=False)

    def __attrs_post_init__(self) -> None:
        self.y = self.top

    @property
    def top(self) -> float:
        """The column's upper edge."""
        return self.region.y + self.region.height

    def need(self, height: float) -> None:
        """Start a new page unless ``height`` mm are left on this one."""
        if self.y - height < self.region.y and self.y < self.top:
            self.new_page()

    def new_page(self) -> None:
        """Go on at the top of the next page."""
        self.pages.append([])
        self.y = self.top

    def space(self, height: float) -> None:
        """Leave some white."""
        self.y -= height

    def add(self, marks: Sequence[Mark], height: float, *, x: float = 0.0) -> None:
        """Put marks, drawn from the origin upwards, below what stands already."""
        self.need(height)
        self.y -= height
        self.pages[-1].extend(placed(marks, 0, (self.region.x + x, self.y)))

    def heading(self, text: str, *, keep_mm: float = 12.0) -> None:
        """A heading, kept on one page with ``keep_mm`` of what follows."""
        if self.y < self.top:
            self.space(_ABOVE_HEADING_MM)
        self.need(line_mm(HEADING_PT) + keep_mm)
        self._line(text, 0.0, HEADING_PT, "bold", INK)
        self.space(1.2)

    def text(
        self, text: str, *, mark: str = "", size_pt: float = TEXT_PT, colour: str = INK, indent: float = 0.0
    ) -> None:
        """A paragraph; ``mark`` ("1", "·") hangs left of it."""
        hang = indent + (_HANG_MM if mark else 0.0)
        lines = broken(text, size_pt, self.region.width - hang)
        self.need(min(len(lines), 2) * line_mm(size_pt))
        for k, line in enumerate(lines):
            self.need(line_mm(size_pt))
            if mark and not k:
                at = (self.region.x + indent, self.y - cap_mm(size_pt))
                self.pages[-1].append(Text(at=at, text=mark, size_pt=size_pt, weight="bold"))
            self._line(line, hang, size_pt, "regular", colour)
        self.space(0.8)

    def text_mm(self, text: str, *, marked: bool = False, size_pt: float = TEXT_PT) -> float:
        """How high a paragraph will be."""
        return (
            len(broken(text, size_pt, self.region.width - (_HANG_MM if marked else 0.0))) * line_mm(size_pt) + 0.8
        )

    def _line(self, text: str, x: float, size_pt: float, weight: str, colour: str) -> None:
        at = (self.region.x + x, self.y - cap_mm(size_pt))
        self.pages[-1].append(Text(at=at, text=text, size_pt=size_pt, weight=weight, colour=colour))
        self.y -= line_mm(size_pt)

    def grid(self, cells: Sequence[tuple[Sequence[Mark], float]], columns: int, gap: float) -> None:
        """Pictures in rows: each is its marks, drawn from the origin upwards, and its height."""
        width = (self.region.width + gap) / columns
        for start in range(0, len(cells), columns):
            row = cells[start : start + columns]
            height = max(h for _, h in row)
            self.need(height)
            for k, (marks, own) in enumerate(row):
                at = (self.region.x + k * width, self.y - own)
                self.pages[-1].extend(placed(marks, 0, at))
            self.space(height + gap)

    def rows(self, cells: Sequence[tuple[Sequence[Mark], float, float]], gap: float) -> None:
        """Pictures side by side, as many in each row as have room: each is its marks, its height and its width."""
        row: list[tuple[Sequence[Mark], float, float]] = []
        for cell in cells:
            if row and sum(width + gap for _, _, width in row) + cell[2] > self.region.width + 0.01:
                self._row(row, gap)
                row = []
            row.append(cell)
        if row:
            self._row(row, gap)

    def _row(self, cells: Sequence[tuple[Sequence[Mark], float, float]], gap: float) -> None:
        height = max(high for _, high, _ in cells)
        self.need(height)
        x = self.region.x
        for marks, high, width in cells:
            self.pages[-1].extend(placed(marks, 0, (x, self.y - high)))
            x += width + gap
        self.space(height + gap)

    def table(
        self, headings: Sequence[str], rows: Sequence[Sequence[str]], shares: Sequence[float],
        swatch: Callable[[int, float], Sequence[Mark]] | None = None,
    ) -> None:  # fmt: skip
        """A table with ruled lines; ``shares`` divide the width. ``swatch`` draws left of a row's first cell.

        The headings are repeated on each page.
        """
        widths = [share / sum(shares) * self.region.width for share in shares]
        indent = 5.0 if swatch else 0.0

        def set_row(cells: Sequence[str], weight: str, colour: str) -> float:
            room = [w - 2.0 - (indent if k == 0 else 0) for k, w in enumerate(widths)]
            broken_cells = [broken(cell, TABLE_PT, r, weight) or [""] for cell, r in zip(cells, room, strict=True)]
            height = max(map(len, broken_cells)) * line_mm(TABLE_PT) + 1.6
            self.need(height + 1)
            x = self.region.x
            for k, lines in enumerate(broken_cells):
                for n, line in enumerate(lines):
                    at = (x + (indent if k == 0 else 0), self.y - 1.4 - cap_mm(TABLE_PT) - n * line_mm(TABLE_PT))
                    self.pages[-1].append(Text(at=at, text=line, size_pt=TABLE_PT, weight=weight, colour=colour))
                x += widths[k]
            return height

        def rule() -> None:
            x = self.region.x
            self.pages[-1].append(segment((x, self.y), (x + self.region.width, self.y), HAIRLINE, "rules"))

        def head() -> None:
            self.space(set_row(headings, "bold", QUIET))
            rule()

        head()
        for k, row in enumerate(rows):
            before = len(self.pages)
            if self.y - 12 < self.region.y:
                self.new_page()
            if len(self.pages) > before:
                head()
            height = set_row(row, "regular", INK)
            if swatch:
                self.pages[-1].extend(placed(swatch(k, 3.2), 0, (self.region.x, self.y - 1.0 - 3.2)))
            self.space(height)
            rule()
