"""The weights of what speaks for a layout, fitted again to designs of our own.

Of each design, and of each drawing of ``trade_more``, all layouts that its cards and counts allow are looked for,
as if the catalogue of known blocks had it not; the weights are those that make the drawn ones most probable among
them (a multinomial logit), held near those in use.
"""

from dataclasses import dataclass
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from seamsurvey.block import recognised
from seamsurvey.block.meaning import RULES
from seamsurvey.block.outlines import OUTLINES
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes, shapes_of
from seamsurvey.block.survey import surveyed
from seamsurvey.block.tradition import tradition
from seamsurvey.block.work import Work
from seamsurvey.model import Block, Piece
from tests.benchmarks.table import Table
from tests.benchmarks.trade import NOISE_MM, SEED
from tests.block.sets import measured
from tests.scene.trade_block import TradeBlock, is_right_block
from tests.scene.trade_designs import FITTED, design
from tests.scene.trade_more import more_blocks

DESIGNS = FITTED
SHOWN = 8
LIMIT_S = 20.0
HELD = 0.05  # how strongly the weights are held near those in use, for each design

_TRADITION = tradition()
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Seen:
    """The values (layouts, rules) of one block's layouts, what else speaks for each, and which is the drawn one."""

    values: Floats
    besides: Floats
    right: NDArray[np.bool_]


def seen(block: TradeBlock) -> Seen | None:
    """All layouts of a design; None where the drawn one was not found."""
    name = block.name.partition(",")[0].lower()
    rest = tuple(one for one in _TRADITION if one.name.lower() != name)
    templates = measured(block, NOISE_MM, SEED)
    shapes = shapes_of(templates)
    known = tuple((t.count, t.reversed_count or 0) for t in templates.templates)
    with patch.object(recognised, "tradition", lambda: rest):
        found = surveyed(templates, shapes, known, tuple(OUTLINES.values()), "auto", Work(LIMIT_S))
    right = np.array([is_right_block(block, _drawn(shapes, one.layout)) for one in found.contenders], bool)
    if not right.any():
        return None
    values = np.array([[rule.value(one.traits) for rule in RULES] for one in found.contenders])
    return Seen(values, np.array([one.points - one.own_points for one in found.contenders]), right)


def _drawn(shapes: Shapes, layout: Layout) -> Block:
    at = np.array(layout.at)
    pieces = [
        Piece(id=str(k), template=shapes.names[t], reversed=over, outline=_points(at[list(ring)]))
        for k, (t, over, ring) in enumerate(layout.pieces)
    ]
    return Block(outline=_points(np.array(layout.outline.at(*layout.size))), pieces=tuple(pieces))


def _points(z: NDArray[np.complex128]) -> Floats:
    return np.column_stack([z.real, z.imag])


def fitted(some: list[Seen], start: Floats) -> Floats:
    """The weights that make the drawn layouts most probable."""

    def loss(weights: Floats) -> tuple[float, Floats]:
        total, slope = 0.0, np.zeros(len(weights))
        for one in some:
            points = one.values @ weights + one.besides
            chance = np.exp(points - points.max())
            chance /= chance.sum()
            share = float(chance[one.right].sum())
            total -= float(np.log(share + 1e-300))
            slope -= (chance[one.right] / share) @ one.values[one.right] - chance @ one.values
        off = weights - start
        return total + HELD * len(some) * float(off @ off), slope + 2 * HELD * len(some) * off

    return np.asarray(minimize(loss, start, jac=True, method="L-BFGS-B").x)


def _ranks(some: list[Seen], weights: Floats) -> Floats:
    points = [one.values @ weights + one.besides for one in some]
    return np.array([(p > p[one.right].max() + 1e-9).sum() + 1 for p, one in zip(points, some, strict=True)])


def meaning(count: int = DESIGNS) -> Table:
    """The weights in use and those fitted, and how often the drawn layout comes first with each."""
    blocks = [*more_blocks(), *(design(seed) for seed in range(count))]
    every = [seen(block) for block in blocks]
    some = [one for one in every if one is not None]
    start = np.array([rule.weight for rule in RULES])
    weights = fitted(some, start)
    ranks = [_ranks(some, those) for those in (start, weights)]
    shares = [f"{(r == 1).mean():.0%} first, {(r <= SHOWN).mean():.0%} among {SHOWN}" for r in ranks]
    return Table(
        heading="What speaks for a layout",
        command="python -m tests.benchmarks meaning --write",
        about=f"{len(blocks)} designs and drawings, counts known; the drawn layout was found in {len(some)}.",
        columns=["rule", "weight in use", "fitted"],
        rows=[
            *([rule.name, f"{a:+.1f}", f"{b:+.1f}"] for rule, a, b in zip(RULES, start, weights, strict=True)),
            ["drawn layout", *shares],
        ],
    )
