"""How much of each fabric to have: what its strips take, a reserve, and what shops sell it in."""

import math
from collections.abc import Sequence

from attrs import frozen

from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.strips import Cut, StripPlan, on_strips
from seamsurvey.units import INCH, fraction_text

YARD = 36 * INCH
# Washing takes up to 5 % of cotton's length; squaring up the rest. Common practice, no source.
RESERVE = 0.10
_HAIR = 1e-6


@frozen
class Widths:
    """What a fabric gives: its usable width, the reserve to have, and a fat quarter's usable size, mm."""

    usable_mm: float
    reserve: float
    fat_quarter_mm: tuple[float, float]  # along the strips, and across them

    @classmethod
    def usual(cls, units: str, usable_mm: float | None = None, reserve: float = RESERVE) -> "Widths":
        """Fabric 42 to 44 in (107 to 112 cm) wide: 40 in, 102 cm without selvedges, unless said otherwise.

        A fat quarter is half a yard (50 cm) by half the width: 18 × 22 in, of which the selvedge is not used.
        """
        usable = usable_mm or (40 * INCH if units == "inch" else 1020.0)
        return cls(usable, reserve, (usable / 2, YARD / 2 if units == "inch" else 500.0))


@frozen
class FabricNeed:
    """How much of one fabric to have: its length at the usable width, or fat quarters where all fits those."""

    fabric: Fabric
    patches: int
    strips: int
    length_mm: float  # that the strips take
    buy_mm: float  # reserve included, rounded up to what is sold
    buy: str
    fat_quarters: int | None  # None where a patch is longer than a fat quarter, or a dozen would not do

    @property
    def fat_text(self) -> str:
        """``2 fat quarters``; a dash where they don't serve."""
        if self.fat_quarters is None:
            return "–"
        return f"{self.fat_quarters} fat quarter{'s' if self.fat_quarters > 1 else ''}"


def fabric_needs(
    fabric: Fabric, cuts: Sequence[Cut], strips: StripPlan, widths: Widths, units: str, patches: int
) -> FabricNeed:
    """What to have of a fabric whose ``cuts`` lie on these strips."""
    buy = to_buy(strips.length_mm, widths.reserve, units)
    return FabricNeed(
        fabric, patches, strips.number, strips.length_mm, buy, sold_text(buy, units), fat_quarters(cuts, widths)
    )


def to_buy(length_mm: float, reserve: float, units: str) -> float:
    """The length to buy, mm: the need and its reserve, rounded up to an eighth of a yard or to 10 cm.

    Never the bare need: where no reserve is wished, the next larger length that is sold.
    """
    step = YARD / 8 if units == "inch" else 100.0
    if not length_mm:
        return 0.0
    steps = math.ceil(length_mm * (1 + reserve) / step - _HAIR)
    return (steps if steps * step > length_mm + _HAIR else steps + 1) * step


def sold_text(length_mm: float, units: str) -> str:
    """``1 1/4 yd``; ``120 cm``."""
    if units == "inch":
        return fraction_text(length_mm / 36, 8).removesuffix(" in") + " yd"
    return f"{length_mm / 10:.0f} cm"


MOST_FAT_QUARTERS = 12


def fat_quarters(cuts: Sequence[Cut], widths: Widths) -> int | None:
    """How many fat quarters hold all cuts with the reserve; None where one is too long, or too many are needed."""
    along, across = widths.fat_quarter_mm
    across = across / (1 + widths.reserve)
    if any(min(c.sides) > min(along, across) + _HAIR or max(c.sides) > max(along, across) + _HAIR for c in cuts):
        return None
    plan = on_strips(cuts, along)
    left: list[float] = []  # of each fat quarter, across its strips
    for strip in plan.strips:
        if strip.high_mm > across + _HAIR:
            return None
        for _ in range(strip.number):
            k = next((k for k, room in enumerate(left) if room >= strip.high_mm - _HAIR), None)
            if k is None:
                left.append(across)
                k = len(left) - 1
            if len(left) > MOST_FAT_QUARTERS:
                return None
            left[k] -= strip.high_mm
    return len(left)
