"""The frozen values that pass from room to room. A reader of one room needs this file and nothing else.

Frames: *image* = pixels, x right, y down, a pixel's centre is the integer, the picture upright; *plane* = mm on
the table, x right, y up; *block* = mm, x right, y up, origin at the block's lower left, seen from the finished
side. Outlines are (n, 2) float arrays, counter-clockwise in the plane and block frames, without a repeated last
vertex; edge k runs from vertex k to vertex k + 1. Lengths are mm, angles degrees, ``u`` is an expanded
uncertainty (k = 2, JCGM 100:2008, 6.2), ``covariance`` is of one standard deviation.
"""

from typing import Any

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.arcs import bulge_of, drawn_out
from seamsurvey.card_model import CardWriting, CopySeen, LeftOut
from seamsurvey.foundation_model import (
    AddedSeam,
    Advice,
    Cure,
    FoundationPlan,
    Join,
    Place,
    PlanProof,
    Section,
    SectionPiece,
)
from seamsurvey.plane import BARE, Array, PhotoPlane, Plane, Reference, ScanPlane, array_field
from seamsurvey.seen_model import Seen
from seamsurvey.wishes import (
    CURES,
    PIECED_STARTS,
    PREFERENCES,
    Correction,
    Corrections,
    Count,
    Quilt,
    SetCorner,
    SetLength,
    Taken,
    Wishes,
)

__all__ = [
    "CURES",
    "PIECED_STARTS",
    "PREFERENCES",
    "AddedSeam",
    "Advice",
    "Array",
    "CardWriting",
    "CopySeen",
    "Correction",
    "Corrections",
    "Count",
    "Cure",
    "FoundationPlan",
    "Join",
    "LeftOut",
    "PhotoPlane",
    "Place",
    "PlanProof",
    "Plane",
    "Quilt",
    "Reference",
    "ScanPlane",
    "Section",
    "SectionPiece",
    "SetCorner",
    "SetLength",
    "Taken",
    "Wishes",
    "array_field",
]


# --- stage 1: photo ----------------------------------------------------------------------------------------


@frozen
class Picture:
    """A photo or scan, turned upright. ``pixels`` is (h, w, 3) uint8 or uint16, sRGB-encoded, RGB.

    ``focal_px`` is the focal length as the file says; None where it does not, or where the picture was ``cut`` out
    of another. It is a prior only, good to 3 % of a whole picture (standard deviation): the 35 mm equivalent is a
    whole number, and the lens moves as it focuses on a near table. ``cut`` shows by proportions that no camera
    makes, or others than the file tells of; the lens's axis may then be anywhere. One cut to usual proportions
    can't be told from a whole picture.
    """

    name: str
    sha256: str
    pixels: NDArray[Any] = field(eq=False, repr=False)
    dpi: tuple[float, float] | None = None  # along x and y, as the file says: a prior, never a measurement
    camera: str | None = None  # its name, when the file says that a lens took the picture; None for a scan
    focal_px: float | None = None  # a prior, never a measurement
    cut: bool = False
    seen: Seen | None = field(default=None, eq=False, repr=False)  # None: nobody has looked at it yet

    @property
    def width(self) -> int:
        """Pixels along x."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Pixels along y."""
        return int(self.pixels.shape[0])


# --- stage 2: templates ------------------------------------------------------------------------------------


@frozen
class Arc:
    """The circular arc that an edge follows from its first corner to its second; its length is the Edge's.

    ``sweep_deg`` is positive where the template bulges out, negative where the edge is hollow.
    """

    radius_mm: float
    u_radius_mm: float
    sweep_deg: float
    u_sweep_deg: float


@frozen
class Edge:
    """One side of a template, finished size."""

    length_mm: float
    u_mm: float  # expanded (k = 2), with every term of the budget
    along_deg: float  # 0 = along the reference's axis, 90 = across it
    dominant_term: str  # the largest term of the budget, in words: "scale across the ruler"
    budget_mm: dict[str, float] = field(factory=dict)  # each term as one standard deviation of the length
    curve: Arc | None = None  # None is straight; on an arc ``length_mm`` is that along it
    set_by_person: str = ""  # "" is measured; "length", "corner": what of it a person set

    @property
    def limited_by(self) -> str:
        """The largest term of the budget, and what of the edge is the person's."""
        said = self.set_by_person == "corner" and self.dominant_term != "your corner"
        return self.dominant_term + ", your corner" * said


@frozen(kw_only=True)
class Template:
    """One cut card shape as it lies in the photo, face up, and what it measures.

    ``own_covariance`` is (2n, 2n) mm² (x0, y0, x1, ...) of the finished corners from this template's own edges
    alone; ``sensitivity`` is (2n, p): how those corners move with the shared errors of the TemplateSet.
    """

    name: str
    photo: int  # index into TemplateSet.photos
    cut_outline: Array = array_field()  # (n, 2) plane
    cut_bulges: tuple[float, ...] = ()  # of the cut outline's edges, see arcs.py; empty when all are straight
    finished_outline: Array = array_field()  # (n, 2) plane; corner k belongs to cut corner k
    corners_px: Array = array_field()  # (n, 2) image: the cut corners
    edges: tuple[Edge, ...] = ()
    own_covariance: Array = array_field()
    sensitivity: Array = array_field()
    allowance_mm: float = 0.0
    allowance_from: str = "given"  # "given", "card", "seam line", "decided", "printed", "open": nothing taken off
    thickness_mm: float | None = None
    copies_seen: int = 1
    reversed_twin_of: str | None = None
    count: int | None = None  # per block, when known
    reversed_count: int | None = None
    found_as: str = ""  # the name its card was given by the first measuring, where a person or it says another
    copies: tuple[CopySeen, ...] = ()  # the other cards of its shape, where they were seen in photos
    edge_allowances_mm: tuple[float, ...] = ()  # of each edge, where a person set them; empty: all ``allowance_mm``
    said_by_card: tuple[CardWriting, ...] = ()  # what was read on its card and its copies, used or not

    @property
    def bulges(self) -> tuple[float, ...]:
        """Of the finished outline's edges, see arcs.py; empty when all are straight."""
        if all(edge.curve is None for edge in self.edges):
            return ()
        return tuple(bulge_of(edge.curve.sweep_deg) if edge.curve else 0.0 for edge in self.edges)

    @property
    def as_cards_say(self) -> str:
        """What it says on the card that was used, in words: "cut 4 and 2 reversed"; empty where nothing was."""
        count = Count(self.count or 0, self.reversed_count or 0)
        used = any(each.clear and each.kind == "count" and each.means == count.plain for each in self.said_by_card)
        return count.words if used else ""

    @property
    def named_by_card(self) -> bool:
        """Whether its name is what its card bears."""
        return any(each.clear and each.kind == "name" and each.means == self.name for each in self.said_by_card)

    @property
    def first_name(self) -> str:
        """The name that corrections call it by."""
        return self.found_as or self.name


@frozen
class PhotoReport:
    """What is worth keeping of one photo: the Plane and where the picture came from."""

    name: str
    sha256: str
    size_px: tuple[int, int]  # width, height
    plane: Plane
    warnings: tuple[str, ...] = ()


@frozen(kw_only=True)
class TemplateSet:
    """The inventory: every template of the job, with the errors they share.

    The corners of all templates together are: truth + sensitivity · e + own error, with e of mean 0 and
    ``shared_covariance`` (p, p); ``shared_names`` says what each entry of e is ("plane 0: xx", "edge bias").
    """

    photos: tuple[PhotoReport, ...]
    templates: tuple[Template, ...]
    shared_names: tuple[str, ...] = ()
    shared_covariance: Array = array_field()
    left_out: tuple[LeftOut, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def in_px(self) -> bool:
        """Whether nothing gave a scale: every length in mm is then in pixels, and shapes are all that is known."""
        return any(photo.plane.kind == BARE for photo in self.photos)

    def named(self, name: str) -> Template:
        """The template of this name; KeyError when there is none."""
        for template in self.templates:
            if template.name == name:
                return template
        raise KeyError(name)


# --- stage 3: block ----------------------------------------------------------------------------------------


@frozen(kw_only=True)
class Piece:
    """One placed copy of a template in the block."""

    id: str  # "T1-2": template and copy
    template: str
    reversed: bool
    outline: Array = array_field()  # (n, 2) block; corner k is the template's corner k, or of its turned-over face
    bulges: tuple[float, ...] = ()  # of each edge, see arcs.py; empty when all are straight

    @property
    def drawn(self) -> Array:
        """(m, 2) block: the outline with its arcs as fine chords."""
        return drawn_out(self.outline, self.bulges)


@frozen
class Seam:
    """Where two pieces meet: one straight stretch, or one arc."""

    start: tuple[float, float]
    end: tuple[float, float]
    pieces: tuple[str, str]
    bulge: float = 0.0  # from start to end, see arcs.py


@frozen
class SuspectEdge:
    """An edge that does not agree with its neighbours."""

    template: str
    edge: int
    off_mm: float  # measured minus adjusted
    text: str


@frozen
class EdgeFit:
    """What the adjustment did to an edge: ``residual_mm`` is measured minus adjusted."""

    template: str
    edge: int
    measured_mm: float
    adjusted_mm: float
    residual_mm: float


@frozen
class Match:
    """What an edge of a template can meet: one edge of its length, or several end to end.

    ``others`` are (template, edge); ``off_mm`` is the edge's length minus the others' sum, ``u_mm`` its U (k = 2).
    """

    template: str
    edge: int
    others: tuple[tuple[str, int], ...]
    off_mm: float
    u_mm: float


@frozen
class Snapped:
    """A length that was set to the person's grid; ``what`` names it: "width", "T1, edge 2"."""

    what: str
    from_mm: float
    to_mm: float


@frozen
class Prior:
    """What speaks for a layout before anything is measured."""

    meeting_points: int  # corners of pieces that meet, those on the outline among them
    straight_runs: int  # straight lines that the seams lie on: the fewer, the further each runs
    balance_mm: float  # from the middle of the outline to the mean of the pieces' middles


@frozen
class Closure:
    """How far the measured pieces were from fitting, before the adjustment.

    ``p_value`` is of the global test (chi-square with ``conditions`` degrees of freedom): the chance of so large
    misfits if the stated uncertainties are right.
    """

    worst_gap_mm: float
    rms_mm: float
    sigma0: float  # a posteriori standard deviation of unit weight; 1 when the stated uncertainties are right
    suspect_edges: tuple[SuspectEdge, ...] = ()
    p_value: float = 1.0
    conditions: int = 0
    edges: tuple[EdgeFit, ...] = ()


@frozen
class LayoutProof:
    """What the search can claim: the only one is meant for sure where all was searched and one layout found."""

    searched_all: bool  # every layout of the templates and counts was looked for, to the end
    layouts_found: int  # different ones that fit, this one among them, whether drawn or only counted
    work_s: float = 0.0  # what the search took, in seconds of one slow core, counted (block/work.py)


# A reason of this name is given for a block in a known one's own proportions; its name follows these words.
KNOWN_BLOCK, KNOWN_AS = "known block", "a known block of the trade: "


@frozen
class Reason:
    """One thing that speaks for or against a layout's being the one meant, in the trade's eyes."""

    name: (
        str  # of the rule, as docs/reference/layouts.md has it: "symmetry", "finished size", "every template used"
    )
    text: str  # what was found, in plain words: "turns onto itself by a quarter", "12 in, a usual size"
    points: float  # how much it speaks for the layout (positive) or against it: a logarithm of odds


@frozen(kw_only=True)
class Block:
    """The finished unit: its outline and its pieces in place, adjusted so that they tile it exactly."""

    outline: Array = array_field()  # (m, 2) block
    size_u_mm: float = 0.0  # expanded uncertainty of width and height
    symmetry: str = "none"  # "none", "half-turn", "quarter-turn", "mirror", ...
    pieces: tuple[Piece, ...] = ()
    seams: tuple[Seam, ...] = ()
    closure: Closure = Closure(0.0, 0.0, 1.0)
    proof: LayoutProof = LayoutProof(searched_all=False, layouts_found=0)
    warnings: tuple[str, ...] = ()
    prior: Prior | None = None
    reasons: tuple[Reason, ...] = ()  # why it stands where it stands among the layouts that fit
    matches: tuple[Match, ...] = ()  # for every edge what it can meet, in the block or not
    snapped: tuple[Snapped, ...] = ()

    @property
    def width(self) -> float:
        """Extent along x, mm."""
        return float(np.ptp(self.outline[:, 0]))

    @property
    def height(self) -> float:
        """Extent along y, mm."""
        return float(np.ptp(self.outline[:, 1]))

    @property
    def known_as(self) -> str:
        """The trade's name for it, where it is a known block in its own proportions; else ""."""
        return next((r.text.removeprefix(KNOWN_AS) for r in self.reasons if r.name == KNOWN_BLOCK), "")

    def piece(self, piece_id: str) -> Piece:
        """The piece of this id; KeyError when there is none."""
        for piece in self.pieces:
            if piece.id == piece_id:
                return piece
        raise KeyError(piece_id)
