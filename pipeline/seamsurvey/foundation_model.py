"""The frozen values of a plan: sections, joins, added seams, cures, advice; frames and units as in ``model``."""

from attrs import frozen

from seamsurvey.arcs import drawn_out
from seamsurvey.plane import Array, array_field


@frozen(kw_only=True)
class SectionPiece:
    """A piece, or a part of one cut by an added seam, as it is sewn in its section."""

    label: str  # "A1": the section and the place in the sewing order
    piece: str  # Piece.id
    outline: Array = array_field()  # (n, 2) block, at the section's first place
    part: int | None = None  # 1, 2, ... where added seams split the piece: all parts are of its fabric
    grain_deg: float | None = None  # direction of the straight grain, block frame at the first place, 0 <= g < 180
    unit: str | None = None  # a pieced start: the result of an earlier join that is pinned here as patch 1;
    #                          ``piece`` is then one of the unit's pieces, and nothing is cut for this patch
    bulges: tuple[float, ...] = ()  # of each edge, see arcs.py; empty when all are straight

    @property
    def drawn(self) -> Array:
        """(m, 2) block: the outline with its arcs as fine chords."""
        return drawn_out(self.outline, self.bulges)


@frozen
class Place:
    """Where a copy of a section lies: the section turned about the block's origin, then shifted."""

    name: str  # "A" where the section has one place, else "A-1", "A-2"
    turn_deg: float
    shift_mm: tuple[float, float]


@frozen(kw_only=True)
class Section:
    """Pieces sewn on one paper foundation in a fixed order."""

    name: str
    outline: Array = array_field()  # (n, 2) block, at the first place
    pieces: tuple[SectionPiece, ...] = ()
    places: tuple[Place, ...] = ()
    bulges: tuple[float, ...] = ()  # of each edge, see arcs.py; empty when all are straight

    @property
    def drawn(self) -> Array:
        """(m, 2) block: the outline with its arcs as fine chords."""
        return drawn_out(self.outline, self.bulges)

    @property
    def copies(self) -> int:
        """How many of this section one block takes."""
        return len(self.places)


@frozen
class Join:
    """The seam between two sections or earlier results."""

    step: int
    parts: tuple[str, str]  # names of places, or results of earlier steps
    result: str
    start: tuple[float, float]
    end: tuple[float, float]
    kind: str  # "straight", "curved", "partial", "set-in"
    corners: tuple[tuple[float, float], ...] = ()  # of a seam that is not straight: its whole run, ends included
    press_towards: str | None = None  # the part to whose side the allowances are pressed, or "open"
    stop: tuple[float, float] | None = None  # of a partial seam: sewn from start to here first, the rest to end
    finish_after: int | None = None  # ... when this step has been sewn
    bulges: tuple[float, ...] = ()  # from each of the corners to the next, see arcs.py; empty when all are straight


@frozen
class AddedSeam:
    """A cut through a piece that makes straight sewing possible."""

    piece: str
    start: tuple[float, float]
    end: tuple[float, float]
    why: str


@frozen(kw_only=True)
class Cure:
    """One way to be rid of the set-in seams of a block, or to sew them."""

    kind: str  # "added-seam", "partial", "set-in"
    text: str  # what it means, in words
    extra_fragments: int = 0  # how many more patches are cut: a piece in four parts counts three
    sections: int = 0  # to sew
    prints: int = 0  # different sections
    lines: tuple[tuple[tuple[float, float], tuple[float, float]], ...] = ()  # added or partial seams, block frame
    chosen: bool = False


@frozen
class Advice:
    """A sentence for the person, and its place in the block when it has one."""

    code: str  # "rotary-cutting", "set-in"
    text: str
    at: tuple[float, float] | None = None


@frozen
class PlanProof:
    """How good the plan is: the sections it has, and what no plan can go below."""

    fewest_sections: int
    lower_bound: int
    searched_all: bool


@frozen
class FoundationPlan:
    """The block as sections to print and sew, and the order to join them in."""

    sections: tuple[Section, ...]
    joins: tuple[Join, ...] = ()
    added_seams: tuple[AddedSeam, ...] = ()
    advice: tuple[Advice, ...] = ()
    proof: PlanProof = PlanProof(0, 0, searched_all=False)
    cures: tuple[Cure, ...] = ()  # of the set-in seams, the best first; empty where there are none
