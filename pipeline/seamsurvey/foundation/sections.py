"""The fewest sections: a region is one section, or falls by a full cut into two that are taken apart in turn.

The search goes over all ways to take the block apart and remembers each region it has solved; regions that are
turned or shifted copies of one another are solved once. It works within a budget counted in regions, never in
seconds, so that the same block always gets the same plan.
"""

from collections.abc import Callable

from attrs import evolve, field, frozen

from seamsurvey.foundation.arrangement import Arrangement
from seamsurvey.foundation.cuts import Cut, bent_cuts, full_cuts
from seamsurvey.foundation.motions import Motions
from seamsurvey.foundation.order import Peeling

# Regions one slow core solves in a second; it turns the person's time limit into a budget.
REGIONS_PER_SECOND = 400
# A pieced start counts as so many sections more: it is worth its pins where it saves two sections or more.
PINNING = 1.5
# No proof comes of a search among set-in seams, and it soon finds nothing better: its part of the budget.
SET_IN_SHARE = 0.02


@frozen
class Breakdown:
    """The best way found to take a region apart; ``parts`` is None for one section.

    ``core`` is what a pieced start is made of: it is joined first, then pinned as the first patch of one section.

    No way to take it apart by full cuts has fewer than ``least`` sections; ``proved`` says that every way was seen.
    """

    parts: tuple[int, int] | None
    set_ins: int
    bends: int
    sections: int
    prints: frozenset[int]
    unevenness: float
    depth: int
    least: int
    least_of_a_part: int
    proved: bool
    core: int | None = None
    oversize: int = 0  # sections that do not fit a page
    pinned: int = 0  # pieced starts
    crossings: int = 0  # points along joins at which seams of both parts meet, and have to be matched

    def cost(self, prefer: str) -> tuple[float, ...]:
        """What is to be as small as possible, the weightiest first."""
        papers = len(self.prints)
        first = float(self.sections + papers if prefer == "fewest-papers" else self.sections)
        first += PINNING * self.pinned
        sewn = (self.bends, self.oversize, first, self.sections, papers, self.set_ins)
        return (*sewn, self.unevenness, self.crossings, self.depth)


@frozen(eq=False)
class Sectioning:
    """The search over one block.

    ``prefer`` "fewest-papers" is for the fewest sections and prints together; otherwise the fewest sections count.
    """

    net: Arrangement
    motions: Motions
    peeling: Peeling
    prefer: str
    budget: int  # regions
    pieced_start: bool = False
    slit: bool = False  # seams left open make inward corners, which are no set-in seams
    oversize: Callable[[int], bool] = field(default=lambda _: False)  # does a section not fit a page?
    _solved: dict[int, Breakdown] = field(factory=dict, init=False, repr=False)

    def best(self, region: int) -> Breakdown:
        """The best way to take a region apart; its parts are those of the region's first image."""
        image, _ = self.motions.first_image(region)
        if image not in self._solved:
            self._solved[image] = self._solve(image)
        return self._solved[image]

    def parts(self, region: int) -> tuple[int, int] | None:
        """The parts of a region in the best way to take it apart; None for one section."""
        parts = self.best(region).parts
        if parts is None:
            return None
        _, motion = self.motions.first_image(region)
        return motion.origin(parts[0]), motion.origin(parts[1])

    def core(self, region: int) -> int | None:
        """The part of a section that is joined first and pinned as one patch; None without a pieced start."""
        core = self.best(region).core
        return None if core is None else self.motions.first_image(region)[1].origin(core)

    def _solve(self, region: int) -> Breakdown:
        share = round((self.net.area(region) / self.net.area(self.net.everything)) ** 2, 9)
        sewn_whole: list[Breakdown] = []
        if self.peeling.is_section(region):
            one = Breakdown(None, 0, 0, 1, frozenset([region]), share, 0, 1, 1, proved=True)
            if not self.oversize(region) or region & (region - 1) == 0:
                return evolve(one, oversize=int(self.oversize(region)))
            sewn_whole = [evolve(one, oversize=1)]
        cuts = full_cuts(self.net, region)
        # A curve is sewn while the parts are small: what a straight cut can part is not parted along arcs yet.
        cuts = [cut for cut in cuts if not cut.curved] or cuts
        # A region without a full cut has a set-in seam. A region with an inward corner is left by one: there the
        # next set-in seam may come before a full cut, and often gives better sections.
        straight = bool(cuts) and (self.slit or self.net.is_convex(region))
        if not straight:
            cuts += bent_cuts(self.net, region)
        cuts.sort(key=lambda cut: (cut.bends, self._lopsidedness(cut)))
        searched_all = len(self._solved) < self.budget * (1 if straight else SET_IN_SHARE)
        ways = [
            self._joined(cut, self.best(cut.one), self.best(cut.other))
            for cut in cuts[: None if searched_all else 1]
        ]
        best = min([*sewn_whole, *ways], key=lambda way: way.cost(self.prefer))
        if sewn_whole:
            return evolve(best, least=1, least_of_a_part=1)
        if not straight:
            return evolve(best, least=2, proved=False)
        # The unit that is pinned comes whole; what it is made of is searched as any other region.
        pinned = self._with_pieced_start(region, share) if self.pieced_start else None
        if pinned is not None:
            best = min(best, pinned, key=lambda way: way.cost(self.prefer))
            # The bound is that of one section round a core: a weak one, as pinning is weighed against sections.
            return evolve(best, least=2, least_of_a_part=1, proved=searched_all and pinned.proved)
        return evolve(
            best,
            # What one section is in the region is one section, or none, on either side of a full cut: a part never
            # needs more sections than the whole.
            least=max(
                2, *(way.least_of_a_part for way in ways), min(way.least for way in ways) if searched_all else 2
            ),
            proved=searched_all and all(way.proved for way in ways),
        )

    def _with_pieced_start(self, region: int, share: float) -> Breakdown | None:
        """One section round a core that is joined first: all pieces that can come off, taken off."""
        core = self.peeling.core(region)
        if core == region:
            return None
        inner = self.best(core)
        image = self.motions.first_image(region)[0]
        return evolve(
            inner,
            parts=None,
            core=core,
            sections=inner.sections + 1,
            prints=inner.prints | {image},
            unevenness=round(inner.unevenness + share, 9),
            depth=inner.depth + 1,
            oversize=inner.oversize + int(self.oversize(region)),
            pinned=inner.pinned + 1,
        )

    def _lopsidedness(self, cut: Cut) -> float:
        return round(abs(self.net.area(cut.one) - self.net.area(cut.other)), 2)

    def _joined(self, cut: Cut, one: Breakdown, other: Breakdown) -> Breakdown:
        return Breakdown(
            parts=(cut.one, cut.other),
            set_ins=one.set_ins + other.set_ins + (cut.bends > 0),
            bends=one.bends + other.bends + cut.bends,
            sections=one.sections + other.sections,
            prints=one.prints | other.prints,
            unevenness=round(one.unevenness + other.unevenness, 9),
            depth=1 + max(one.depth, other.depth),
            least=one.least + other.least,
            least_of_a_part=max(one.least, other.least),
            proved=one.proved and other.proved,
            oversize=one.oversize + other.oversize,
            pinned=one.pinned + other.pinned,
            crossings=one.crossings + other.crossings + self.net.crossings(cut.run, cut.one, cut.other),
        )
