"""The layout a person took, remembered by where its pieces lie, and found again among those of another search."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from seamsurvey.errors import UndecidedError, UsageError, command
from seamsurvey.geometry import rotation
from seamsurvey.model import Block, Taken, TemplateSet, Wishes

Floats = NDArray[np.float64]

# Of the block's longer side: a corrected edge moves a piece by less, another place of it lies further away.
_SAME_PLACE = 0.03
_TURNS = range(0, 360, 30)  # a square, a hexagon or a triangle may lie turned once a template has another name


def remembered(number: int, block: Block, templates: TemplateSet) -> Taken:
    """The layout of this number (from 1) as what it is."""
    firsts = {template.name: template.first_name for template in templates.templates}
    return Taken(number, {name: tuple(map(_whole, at * 1000)) for name, at in _places(block, firsts).items()})


def taken_number(layouts: Sequence[Block], wishes: Wishes, templates: TemplateSet, folder: Path) -> int:
    """The number, from 1, of the layout that is wished for; 1 where none is.

    What the number meant when it was said comes before the number. UsageError ``no-such-layout``; UndecidedError
    ``layout-gone`` where the one that was taken is not among these.
    """
    choice, taken = wishes.layout, wishes.taken
    if choice is None:
        return 1
    if taken is not None and taken.layout == choice:
        found = _found_again(layouts, taken, templates)
        if found is None:
            raise UndecidedError(
                "layout-gone",
                f"The layout you took, number {choice} when you took it, is not among those that fit now.",
                where=f"{folder / 'layouts.svg'} shows those that fit now, the likeliest first",
                likely="A length, a count or an allowance was changed since, or a template is another one now.",
                todo=f"Take one of these: {command('convert', '--into', folder, '--layout', 1)} (or 2, ...).",
            )
        return found
    if not 1 <= choice <= len(layouts):
        shown = "1 is" if len(layouts) == 1 else f"{len(layouts)} are"
        raise UsageError(
            "no-such-layout",
            f"There is no layout {choice}: {shown} known.",
            where=f"{folder / 'layouts.svg'} shows them side by side" if len(layouts) > 1 else str(folder),
            todo="Leave --layout out, and the layout line out of job.toml, to have the likeliest.",
        )
    return choice


def _whole(at: Floats) -> tuple[int, int]:
    return round(float(at[0])), round(float(at[1]))


def _found_again(layouts: Sequence[Block], taken: Taken, templates: TemplateSet) -> int | None:
    firsts = {template.name: template.first_name for template in templates.templates}
    wanted = {name: np.array(places, dtype=float).reshape(-1, 2) / 1000 for name, places in taken.places.items()}
    off = [_apart(_places(block, firsts), wanted) for block in layouts]
    # Where two are as near, the one that still has the number.
    near = sorted(range(len(layouts)), key=lambda k: (round(off[k], 3), k + 1 != taken.layout))
    return near[0] + 1 if near and off[near[0]] <= _SAME_PLACE else None


def _places(block: Block, firsts: Mapping[str, str]) -> dict[str, Floats]:
    """(n, 2) by template: the middles of its pieces, in shares of the block's longer side."""
    side, corner = max(block.width, block.height), block.outline.min(axis=0)
    middles: dict[str, list[Floats]] = {}
    for piece in sorted(block.pieces, key=lambda piece: piece.id):
        at = (piece.drawn.mean(axis=0) - corner) / side
        middles.setdefault(firsts.get(piece.template, piece.template), []).append(at)
    return {name: np.array(sorted(map(tuple, at))) for name, at in sorted(middles.items())}


def _apart(places: Mapping[str, Floats], wanted: Mapping[str, Floats]) -> float:
    """How far the piece lies that is furthest from its place, however the block is turned; infinite if it can't."""
    if {name: len(at) for name, at in places.items()} != {name: len(at) for name, at in wanted.items()}:
        return np.inf
    middle, centre = (np.vstack(list(each.values())).mean(axis=0) for each in (places, wanted))
    best = np.inf
    for turn in _TURNS:
        worst = 0.0
        for name, at in places.items():
            turned = (at - middle) @ rotation(turn).T + centre
            away = np.linalg.norm(turned[:, None] - wanted[name][None], axis=2)
            worst = max(worst, float(away[linear_sum_assignment(away**2)].max()))
        best = min(best, worst)
    return best
