"""Names in job.toml that nothing has: refused with their line, not passed over."""

from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import Any

from seamsurvey.errors import UsageError
from seamsurvey.job.toml_text import Keys, line_of
from seamsurvey.model import Block, TemplateSet, Wishes

# What a quilt has beside its blocks, and may have a colour of.
_OF_A_QUILT = ("sashing", "setting")


def check_names(wishes: Wishes, templates: TemplateSet | None, block: Block, written: bytes | None) -> None:
    """UsageError ``unknown-name`` for a colour or a fabric of what is no template, piece or fabric.

    ``written`` is job.toml, for the line.
    """
    known = {piece.template for piece in block.pieces} | {piece.id for piece in block.pieces}
    known |= {template.name for template in templates.templates} if templates else set()
    _check("fabrics", wishes.fabrics, known, written)
    _check("colours", wishes.colours, {*known, *wishes.fabrics.values(), *_OF_A_QUILT}, written)


def _check(table: str, said: Mapping[str, Any], known: Iterable[str], written: bytes | None) -> None:
    for name in said:
        if name in known:
            continue
        kinds = "template, piece or fabric" if table == "colours" else "template or piece"
        near = get_close_matches(name, known, 1)
        line = line_of((written or b"").decode("utf-8-sig"), (table, name))
        raise UsageError(
            "unknown-name",
            f"[{table}] names {name}, and no {kinds} is called so.{f' Did you mean {near[0]}?' if near else ''}",
            where=place(line, (table, name)),
            todo=f"Look at block.svg for the names there are; --forget {table}.{name} takes the line out.",
        )


def place(line: int | None, path: Keys) -> str:
    """Where something stands in job.toml, or that it was said on the command line."""
    return f"job.toml, line {line}" if line else f"the command line, {'.'.join(path)}"
