"""The cutting list as a table for spreadsheets."""

import csv
import io

from seamsurvey.sheets.fabric import CuttingList


def cutting_list_csv(cutting: CuttingList, units: str) -> str:
    """The rows as CSV (RFC 4180) with a line of headings; lengths in mm beside the person's units.

    First what is cut for the foundations, in cutting order, then what is cut without them. What to buy stands in
    the first row of each fabric, for all its patches for the foundations.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(
        ["sewn", "fabric", "colour", "for", "template", "patches in one block", "patches in all", "cut",
         "cut width mm", "cut height mm", "patches from each", "fabric to buy", "fabric to buy mm", "fat quarters"]
    )  # fmt: skip
    needs = {need.fabric: need for need in cutting.needs}
    for row in cutting.rows:
        need = needs.pop(row.fabric, None)
        writer.writerow(
            ["on paper", row.fabric.name, row.fabric.colour, " ".join(row.patches), " ".join(row.templates),
             row.per_block, row.total, row.text(units), *(f"{side:.2f}" for side in row.sides_mm), row.from_each,
             need.buy if need else "", f"{need.buy_mm:.1f}" if need else "",
             (need.fat_quarters or "") if need else ""]
        )  # fmt: skip
    for rotary in cutting.rotary:
        writer.writerow(
            ["without paper", rotary.fabric.name, rotary.fabric.colour, "", rotary.template, rotary.per_block,
             rotary.per_block * cutting.blocks, rotary.text, *[""] * 6]
        )  # fmt: skip
    return out.getvalue()
