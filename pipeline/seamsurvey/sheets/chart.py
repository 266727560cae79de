"""The cutting chart and what goes with it in words: rows that the booklet and the report set as tables."""

from attrs import frozen

from seamsurvey.sheets.colours import natural
from seamsurvey.sheets.fabric import CuttingList, PatchRow
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.words import allowance_text, count_text, length_text

CHART_HEADINGS = ("fabric", "cut strips", "cut them into", "patches", "for")
CHART_SHARES = (1.6, 1.8, 3.6, 1.5, 3.5)
ROTARY_HEADINGS = ("fabric", "template", "patches", "cut")
ROTARY_SHARES = (1.6, 1.2, 1.6, 7.0)
NEED_HEADINGS = ("fabric", "patches", "strips", "to have", "or")
NEED_SHARES = (3, 1.5, 1.5, 3, 3)


@frozen
class ChartRow:
    """One row of a table: its cells, and the fabric whose swatch stands in the first, where one begins."""

    cells: tuple[str, ...]
    fabric: Fabric | None = None


def chart_rows(cutting: CuttingList, units: str) -> list[ChartRow]:
    """What to cut for the foundations: by fabric, strip by strip from the widest, the longest patch first."""
    rows = []
    for cuts in cutting.fabrics:
        fabric: Fabric | None = cuts.fabric
        shown: set[int] = set()
        for group in cuts.strips.groups():
            strips = f"{group.number} × {length_text(group.high_mm, units)}"
            for k in (k for k in group.cuts if k not in shown):
                shown.add(k)
                row = cuts.rows[k]
                name = cuts.fabric.name if fabric else ""
                cells = (name, strips, _cut_text(row, units), _count(row, cutting.blocks), ", ".join(row.patches))
                rows.append(ChartRow(cells, fabric))
                fabric, strips = None, ""
    return rows


def _cut_text(row: PatchRow, units: str) -> str:
    return f"{row.cuts} × {row.text(units)}"


def _count(row: PatchRow, blocks: int) -> str:
    return f"{row.total}" + (f" ({row.per_block} a block)" if blocks > 1 else "")


def rotary_table(cutting: CuttingList) -> list[ChartRow]:
    """What to cut for sewing without paper; all that has no size but its template stands together in the end."""
    rows = []
    bare = [row for row in cutting.rotary if row.text == f"cut by template {row.template}"]
    fabric: Fabric | None = None
    for row in cutting.rotary:
        if row in bare and len(bare) > 1:
            continue
        begins = row.fabric if row.fabric != fabric else None
        fabric = row.fabric
        count = f"{row.per_block * cutting.blocks}" + (
            f" ({row.reversed} reversed a block)" if row.reversed else ""
        )
        rows.append(ChartRow((fabric.name if begins else "", row.template, count, row.text), begins))
    if len(bare) > 1:
        listed = ", ".join(sorted({row.template for row in bare}, key=natural))
        count = str(sum(row.per_block for row in bare) * cutting.blocks)
        rows.append(ChartRow(("", "", count, f"cut by template: {listed}")))
    return rows


def need_rows(cutting: CuttingList) -> list[ChartRow]:
    """How much of each fabric to have."""
    return [
        ChartRow(
            (need.fabric.name, str(need.patches), str(need.strips), need.buy, need.fat_text), need.fabric
        )
        for need in cutting.needs
    ]  # fmt: skip


def margin_text(cutting: CuttingList, units: str) -> str:
    """What the sizes for foundations have in them."""
    return (
        f"Each patch is cut at least {allowance_text(cutting.oversize_mm, units)} larger on every side than its "
        "area on the paper, so that it covers it even when laid a little askew. Strips run from selvedge to "
        "selvedge."
    )


def exact_text(allowance_mm: float, units: str) -> str:
    """What the sizes for sewing without paper are, and what they are not."""
    return (
        f"Finished size and {allowance_text(allowance_mm, units)} all round, for sewing without paper. A size "
        "stands here only where a ruler has it and the block comes out as drawn; the rest is cut by template, see "
        "the template pages."
    )


def need_text(cutting: CuttingList, units: str) -> str:
    """What the lengths to have count on."""
    usable, reserve = length_text(cutting.widths.usable_mm, units), round(100 * cutting.widths.reserve)
    spare = f"with {reserve} % for shrinkage and squaring up" if reserve else "with nothing for shrinkage"
    return f"For {count_text(cutting.blocks, 'block', 'blocks')}, counting on {usable} of usable width, {spare}."
