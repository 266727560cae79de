"""The values of an archive: what is kept of each set of templates, and which sets are alike.

Frames as in `model`: template outlines are (n, 2) in the plane frame, pieces in the block frame, mm,
counter-clockwise.
"""

from attrs import field, frozen

from seamsurvey.arcs import area_with_arcs, bulge_of, drawn_out
from seamsurvey.model import Array, array_field

DONE, TO_DECIDE, FAILED = "done", "to decide", "failed"


@frozen
class EdgeRecord:
    """One side of a template, finished size; ``nearest`` is a plain name, ``off_mm`` that name minus the length.

    An edge that is an arc has its radius, and its sweep, positive where it bulges out; its length is along it.
    """

    length_mm: float
    u_mm: float  # expanded, k = 2
    nearest: str
    off_mm: float
    set_by_person: str = ""  # "length" or "corner", where job.toml corrects what was measured
    radius_mm: float | None = None
    sweep_deg: float | None = None


@frozen(kw_only=True)
class TemplateRecord:
    """One template of a set; its edge k runs from corner k to corner k + 1 of ``outline_mm``."""

    name: str
    outline_mm: Array = array_field()  # (n, 2) plane, finished
    edges: tuple[EdgeRecord, ...] = ()
    allowance_mm: float = 0.0
    count: int | None = None
    reversed_count: int | None = None
    copies_seen: int = 1

    @property
    def bulges(self) -> tuple[float, ...]:
        """Of each edge, see arcs.py; empty when all are straight."""
        if all(edge.sweep_deg is None for edge in self.edges):
            return ()
        return tuple(bulge_of(edge.sweep_deg or 0.0) for edge in self.edges)

    @property
    def area_mm2(self) -> float:
        """Inside its edges."""
        return area_with_arcs(self.outline_mm, self.bulges)

    def drawn(self, sagitta_mm: float) -> Array:
        """(m, 2) plane: the outline with its arcs as chords, none further from them."""
        return drawn_out(self.outline_mm, self.bulges, sagitta_mm)


@frozen(kw_only=True)
class PieceRecord:
    """One piece in its place in the block, and the colour it is drawn in ("#rrggbb")."""

    template: str
    colour: str
    outline_mm: Array = array_field()  # (n, 2) block
    bulges: tuple[float, ...] = ()  # of each edge, see arcs.py; empty when all are straight

    def drawn(self, sagitta_mm: float) -> Array:
        """(m, 2) block: the outline with its arcs as chords, none further from them."""
        return drawn_out(self.outline_mm, self.bulges, sagitta_mm)


@frozen(kw_only=True)
class Problem:
    """Why a set is not done, in the words of the error; ``exit`` is the exit code it would have had by itself."""

    code: str
    what: str
    likely: str = ""
    todo: str = ""
    exit: int = 3


@frozen(kw_only=True)
class SetRecord:
    """All that the archive's index says of one set.

    ``state`` is "done", "to decide" (a person must say more) or "failed". Where several layouts fit and nobody took
    one, the set is done with the likeliest.
    """

    name: str
    title: str
    state: str
    units: str = "inch"  # "inch" or "mm"
    source: str = ""
    photos: tuple[str, ...] = ()
    overlays: tuple[str, ...] = ()  # names of files in the set's folder
    size_mm: tuple[float, float] | None = None  # width and height of the finished block
    size_u_mm: float = 0.0
    size_text: str = ""
    symmetry: str = ""
    layouts: int = 0  # that fit
    layout_taken: int | None = None  # the number of the one that somebody took
    sections: int | None = None
    joins: int | None = None
    templates: tuple[TemplateRecord, ...] = ()
    pieces: tuple[PieceRecord, ...] = ()
    warnings: tuple[str, ...] = ()
    problem: Problem | None = None

    @property
    def others_fit(self) -> int:
        """How many more layouts fit than the one that is shown; 0 once somebody has taken theirs."""
        return max(0, self.layouts - 1) if self.layout_taken is None else 0


@frozen
class Alike:
    """Two sets with one shape. ``size`` is the second's size as a share of the first's; both names in sorted order.

    ``kind``: "same block", "mirrored block", or "same templates" where the blocks differ or one is not assembled.
    """

    first: str
    second: str
    kind: str
    size: float
    worst_mm: float  # the most by which two corners differ, at the smaller set's size


@frozen(kw_only=True)
class Archive:
    """The whole index: all sets in the order of their names, and the pairs that are alike."""

    sets: tuple[SetRecord, ...] = field(factory=tuple)
    alike: tuple[Alike, ...] = field(factory=tuple)
