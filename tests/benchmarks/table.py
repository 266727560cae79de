"""A benchmark's table, and how it goes into the documentation."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "benchmarks.md"


@dataclass(frozen=True)
class Table:
    """One table: its heading, the command that makes it, a sentence of what it shows, and its rows."""

    heading: str
    command: str
    about: str
    columns: Sequence[str]
    rows: Sequence[Sequence[str]]
    summary: str = ""
    figure: str = ""  # an SVG, kept beside the page under figure_name
    figure_name: str = ""

    def markdown(self) -> str:
        """The table as a section of a page."""
        lines = [f"## {self.heading}", "", f"`{self.command}`", "", self.about, ""]
        lines += [_row(self.columns), _row(["---"] * len(self.columns)), *(_row(row) for row in self.rows)]
        lines += ["", self.summary] if self.summary else []
        lines += ["", f"![{self.heading}]({self.figure_name})"] if self.figure else []
        return "\n".join(lines) + "\n"


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cells) + " |"


def write_into_page(table: Table) -> None:
    """Replace the table's section of docs/reference/benchmarks.md, or add it at the end."""
    head, *sections = PAGE.read_text(encoding="utf-8").split("\n## ")
    wanted = table.markdown().removeprefix("## ").rstrip("\n")
    kept = [section.rstrip("\n") for section in sections]
    titles = [section.partition("\n")[0] for section in kept]
    if table.heading in titles:
        kept[titles.index(table.heading)] = wanted
    else:
        kept.append(wanted)
    if table.figure:
        (PAGE.parent / table.figure_name).write_text(table.figure, encoding="utf-8")
    PAGE.write_text("\n\n## ".join([head.rstrip("\n"), *kept]) + "\n", encoding="utf-8")
