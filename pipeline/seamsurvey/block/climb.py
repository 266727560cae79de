"""From a tight snap to a loose one, one group of symmetries after the other.

A mis-measured edge must not cost a block its symmetry, so each group climbs the whole ladder before the next
begins. A layout that fits no worse than it was measured ends the climb. One that fits worse is kept as doubtful:
wider snaps may still show its rivals, and a less symmetric layout that fits well goes before it.
"""

import math
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass

from seamsurvey.block.find import Finder, Found
from seamsurvey.block.rank import same_layout
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes
from seamsurvey.model import Block, TemplateSet

# The rungs: in standard deviations of an edge's length, then in mm for cards cut worse than they measure.
_SNAP_SIGMAS = (6.0, 9.0)
_SNAPS_MM = (0.5, 1.0, 1.6, 2.5)
_LEAST_SNAP_MM = 0.3
_SNAP_OF_SHORTEST = 0.2  # a snap wider than this share of the shortest edge takes a neighbour for the true corner
_MORE_SEWN = 12  # layouts that are looked at for rivals, sewn from below, once there is one
_STEP = 1.25  # rungs nearer to one another than this ratio are one


@dataclass(frozen=True)
class Offer:
    """What adjusting came to: the blocks to offer, and the least rms misfit in mm of those not believed.

    ``mended``: the templates with the one edge set right that the best block's adjustment suspects.
    """

    blocks: tuple[Block, ...] = ()
    open_mm: float = math.inf
    mended: TemplateSet | None = None
    doubtful: bool = False  # the best block fits worse than it was measured


def ladder(shapes: Shapes) -> list[float]:
    """The snaps to try, mm, from tight to loose."""
    widest = max(_SNAP_OF_SHORTEST * shapes.shortest_edge, _LEAST_SNAP_MM)
    sure = [max(k * shapes.sigma, _LEAST_SNAP_MM) for k in _SNAP_SIGMAS]
    rungs: list[float] = []
    for snap in sorted([*sure, *(mm for mm in _SNAPS_MM if mm > sure[0])]):
        if snap <= widest and (not rungs or snap >= _STEP * rungs[-1]):
            rungs.append(snap)
    return rungs or [widest]


class Climb:
    """Keeps what the groups tried so far came to: the ``doubtful`` offer, ``fullest`` failure, smallest misfit."""

    def __init__(
        self, finder: Finder, rungs: list[float], close: Callable[[Found], Offer], say: Callable[[str], None]
    ) -> None:
        self.doubtful = Offer()
        self.fullest = Found()
        self.open_mm = math.inf
        self._finder, self._rungs, self._close, self._say = finder, rungs, close, say

    def sewn(self) -> tuple[Block, ...]:
        """The blocks that whole edges sewn together come to, where they fit as well as they were measured."""
        self._say("sewing pieces together along whole edges")
        good: list[Layout] = []
        more = _MORE_SEWN
        with closing(self._finder.sewn()) as layouts:
            for layout in layouts:
                if not any(same_layout(self._finder.shapes, layout, other) for other in good):
                    self._finder.judge([layout])
                    offer = self._close(self._finder.found)
                    good += [layout] if offer.blocks and not offer.doubtful else []
                more -= bool(good)
                if not more:
                    break
        if not good:
            return ()
        self._finder.judge([*good, *self._finder.turned(good[0])])
        self._say(f"{len(good)} layout(s) fit, sewn from below")
        return self._close(self._finder.found).blocks

    def blocks(self, group: tuple[str, ...]) -> tuple[Block, ...]:
        """The blocks of a group of symmetries that fit as well as they were measured; empty when there is none."""
        layouts: list[Layout] = []
        doubtful = Offer()
        for snap in self._rungs[:1] if self.doubtful.blocks else self._rungs:
            if self._finder.late():
                break
            self._say(f"placing pieces ({', '.join(group)}), corners meeting to {snap:.1f} mm")
            found = self._finder.at(group, snap, thorough=not self.doubtful.blocks)
            if found.best.share >= self.fullest.best.share:
                self.fullest = found
            if not found.layouts:
                continue
            layouts += [ranked.layout for ranked in found.layouts]
            if not found.searched_all:
                layouts += self._finder.turned(found.layouts[0].layout)
            self._finder.judge(layouts)
            offer = self._close(found)
            self.open_mm = min(self.open_mm, offer.open_mm)
            if offer.blocks and not offer.doubtful:
                self._say(f"{len(found.layouts)} layout(s) fit, {found.tried} tried in {found.steps} steps")
                return offer.blocks
            doubtful = offer if offer.blocks else doubtful
        self.doubtful = self.doubtful if self.doubtful.blocks else doubtful
        return ()
