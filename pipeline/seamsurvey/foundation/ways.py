"""The ways one block can be sewn: as drawn, with partial seams, or with added seams; each is a whole plan."""

from collections.abc import Mapping, Sequence

import numpy as np
from attrs import evolve, field, frozen

from seamsurvey.foundation.arrangement import Arrangement, arrange
from seamsurvey.foundation.cures import CutUp
from seamsurvey.foundation.joins import Unit, take_apart
from seamsurvey.foundation.motions import Motions, StillMotions
from seamsurvey.foundation.order import Peeling
from seamsurvey.foundation.sections import Breakdown, Sectioning
from seamsurvey.foundation.slits import Slit, opened, partial_seams
from seamsurvey.geometry import Points
from seamsurvey.model import Block, Piece


@frozen
class Wanted:
    """What the person wants of the sections; ``room_mm`` is what a page holds of a section, width and height."""

    prefer: str
    pieced_start: bool
    room_mm: tuple[float, float] | None
    budget: int  # regions


@frozen(eq=False)
class Way:
    """One way to sew a block, taken apart in the best way found."""

    kind: str  # "straight", "set-in", "partial", "added-seam"
    block: Block  # its pieces cut where seams are added
    net: Arrangement  # as drawn
    sewn: Arrangement  # opened along the slits
    motions: Motions
    peeling: Peeling
    best: Breakdown
    whole: Unit
    parts: Mapping[str, tuple[str, int]] = field(factory=dict)  # id in ``block`` -> piece and its part, 1, 2, ...
    slits: tuple[Slit, ...] = ()
    cut_up: CutUp | None = None

    @property
    def sections(self) -> int:
        """How many are sewn."""
        return len(self.whole.sections())

    @property
    def prints(self) -> int:
        """How many different ones are printed."""
        return len({self.motions.first_image(region)[0] for region in self.whole.sections()})

    def cost(self) -> tuple[float, ...]:
        """What decides between cures with as many extra fragments, the weightiest first."""
        cut = self.cut_up
        return (
            cut.asymmetry if cut else 0,
            self.best.oversize,
            self.sections + self.prints,
            cut.off_axis if cut else 0,
            round(cut.length) if cut else 0,
            self.best.unevenness,
            self.best.crossings,
        )


def as_drawn(block: Block, wanted: Wanted, slits: tuple[Slit, ...] = ()) -> Way:
    """The block as it is; with ``slits``, by partial seams."""
    net = arrange(block)
    sewn = opened(net, slits) if slits else net
    motions = Motions(net, [block.piece(name).template for name in net.ids])
    peeling = Peeling(sewn, [slit.beside for slit in slits])
    sectioning = Sectioning(
        sewn,
        StillMotions(net) if slits else motions,
        peeling,
        wanted.prefer,
        wanted.budget,
        pieced_start=wanted.pieced_start,
        slit=bool(slits),
        oversize=_TooLarge(net, wanted.room_mm),
    )
    whole, best = take_apart(sectioning, net.everything), sectioning.best(net.everything)
    kind = "set-in" if best.set_ins else "partial" if slits else "straight"
    return Way(kind, block, net, sewn, motions, peeling, best, whole, slits=slits)


def with_partial_seams(way: Way, wanted: Wanted) -> Way | None:
    """The same block with partial seams for its set-in seams; None where they do not do."""
    slits = partial_seams(way.net)
    if not slits:
        return None
    partly = as_drawn(way.block, wanted, slits)
    return partly if partly.kind == "partial" and _can_be_finished(partly) else None


def _can_be_finished(way: Way) -> bool:
    """Whether each slit's seam goes on as one whole join: its two sides must meet in a join, not in a section."""
    joins = [(one.region, other.region) for one, other in way.whole.joins()]
    return all(
        any(slit.beside & one and slit.beside & other and slit.beside & ~(one | other) == 0 for one, other in joins)
        for slit in way.slits
    )


def with_added_seams(way: Way, cut: CutUp, wanted: Wanted) -> Way | None:
    """The block with its pieces cut; None where it still can't be sewn straight (a block that is not convex)."""
    parts: dict[str, tuple[str, int]] = {}
    pieces: list[Piece] = []
    cut_pieces = {way.net.ids[c.piece]: c.parts for c in cut.pieces}
    for piece in way.block.pieces:
        for number, outline in enumerate(cut_pieces.get(piece.id, ()), start=1):
            name = f"{piece.id}/{number}"
            parts[name] = (piece.id, number)
            pieces.append(evolve(piece, id=name, outline=outline))
        if piece.id not in cut_pieces:
            pieces.append(piece)
    cured = as_drawn(evolve(way.block, pieces=tuple(pieces), seams=()), wanted)
    return None if cured.best.set_ins else evolve(cured, kind="added-seam", parts=parts, cut_up=cut)


@frozen(eq=False)
class _TooLarge:
    """Whether a section does not fit a page, upright or lying."""

    net: Arrangement
    room_mm: tuple[float, float] | None
    _known: dict[int, bool] = field(factory=dict, init=False)

    def __call__(self, region: int) -> bool:
        if self.room_mm is None:
            return False
        if region not in self._known:
            self._known[region] = not _fits(self.net.outline(region), self.room_mm)
        return self._known[region]


def _fits(outline: Points, room_mm: Sequence[float]) -> bool:
    """Sheets turn a section by quarters only, so that its grain stays upright or level."""
    size = np.ptp(outline, axis=0)
    return bool(size.min() <= min(room_mm) and size.max() <= max(room_mm))
