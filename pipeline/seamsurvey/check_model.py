"""The values of a check: what was wanted, what was measured, and what can be said of the difference.

Lengths are mm, ``u`` is an expanded uncertainty (k = 2).
"""

from attrs import frozen

from seamsurvey.model import Array, array_field

RIGHT, OFF, CANT_TELL, NOTHING_TO_COMPARE = "right", "off", "can't tell", "nothing to compare with"


@frozen(kw_only=True)
class Wanted:
    """A shape as it should be: its sides in order, and where known every distance of two of its corners.

    ``distances_mm`` and ``distances_u_mm`` are (n, n), entry [i, j] from corner i to corner j; edge k runs from
    corner k to k + 1. Where only the sides are known, the other entries are nan.
    """

    name: str
    distances_mm: Array = array_field()
    distances_u_mm: Array = array_field()


@frozen(kw_only=True)
class Stroke:
    """A solid line of a printed sheet: (n, 2) in the page frame, mm, x right, y up, from the paper's lower left.

    ``layer`` is the drawing's: of "outlines" every edge is checked, of "scale 100 mm" the length.
    """

    points_mm: Array = array_field()
    closed: bool = False
    layer: str = ""


@frozen(kw_only=True)
class Sheet:
    """One page as it was sent to the printer: its number, the paper's size, its solid lines."""

    number: int
    size_mm: tuple[float, float]
    strokes: tuple[Stroke, ...]


@frozen(kw_only=True)
class Checked:
    """One length, and what can be said of it.

    ``off_mm`` is measured minus wanted, ``off_u_mm`` its expanded uncertainty, the wanted length's own included.
    """

    name: str  # the template's, or the figure's
    what: str  # "edge 2", "corners 1 and 3"
    measured_mm: float
    u_mm: float
    verdict: str
    wanted: str = ""  # the name of the shape it was compared with
    wanted_mm: float | None = None
    off_mm: float = 0.0
    off_u_mm: float = 0.0
    change: str = ""  # where nothing can be told: what to change in the photo


@frozen(kw_only=True)
class CheckReport:
    """Every length compared, what was wanted and not checked, and what else a person should know."""

    lengths: tuple[Checked, ...]
    missing: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    tolerance_mm: float = 0.0
    tolerance_share: float = 0.0  # of each length, where the tolerance is none in millimetres
    risk: float = 0.0

    @property
    def verdict(self) -> str:
        """The verdict on all together: right only when every length is and nothing is missing."""
        said = {checked.verdict for checked in self.lengths}
        if OFF in said:
            return OFF
        return RIGHT if said == {RIGHT} and not self.missing else CANT_TELL
