"""What a person asks for: every option of the command line and every key of job.toml, as one frozen value."""

from attrs import field, frozen

PREFERENCES = ("fewest-sections", "fewest-papers", "fits-page")
PIECED_STARTS = ("never", "when-it-helps")
CURES = ("auto", "added-seam", "partial", "set-in")


@frozen
class Count:
    """How often a template is used in one block: face up, and reversed (turned over)."""

    face_up: int
    reversed: int = 0

    @property
    def plain(self) -> str:
        """As it is written in job.toml: "4", "4+2"."""
        return f"{self.face_up}+{self.reversed}" if self.reversed else str(self.face_up)

    @property
    def words(self) -> str:
        """As a template would say it: "cut 4", "cut 4 and 2 reversed", "cut 2 reversed"."""
        if not self.reversed:
            return f"cut {self.face_up}"
        turned = f"{self.reversed} reversed"
        return f"cut {self.face_up} and {turned}" if self.face_up else f"cut {turned}"


@frozen
class SetCorner:
    """Where a person puts a cut corner in the photo: px, image frame; ``u_px`` is expanded (k = 2)."""

    x: float
    y: float
    u_px: float = 2.0  # one standard deviation is a pixel: as well as an eye with a magnified photo puts it


@frozen
class SetLength:
    """What a person says a finished edge measures, mm; ``u_mm`` is expanded (k = 2)."""

    length_mm: float
    u_mm: float = 0.1  # of a good rule and a good eye; common practice, no source


@frozen
class DrawnCard:
    """A card's cut outline as a person draws it into a photo: its corners one after the other, either way round."""

    photo: str  # the picture's name
    corners: tuple[SetCorner, ...]


@frozen
class Correction:
    """What a person says of one card or template. Corners and edges count from 1, as the overlay shows them."""

    name: str = ""  # what it is called from now on
    exclude: bool = False
    corners: dict[int, SetCorner] = field(factory=dict)
    edges: dict[int, SetLength] = field(factory=dict)
    allowance_mm: float | None = None  # of all its edges, where it is not the set's
    allowances_mm: dict[int, float] = field(factory=dict)  # of single edges


@frozen
class Corrections:
    """All that a person corrects; names are always those of the first measuring, which never change."""

    templates: dict[str, Correction] = field(factory=dict)
    merge: tuple[tuple[str, ...], ...] = ()  # these are copies of one, and the first of them stands for all
    split: tuple[str, ...] = ()  # these cards are no copies but templates of their own
    confirmed: tuple[str, ...] = ()  # places of things that are templates: "scan.jpg 310 420"
    drawn: tuple[DrawnCard, ...] = ()

    def __bool__(self) -> bool:
        """Whether anything is corrected."""
        return bool(self.templates or self.merge or self.split or self.confirmed or self.drawn)


@frozen
class Taken:
    """The layout that was taken, by what it is: where its pieces lie, so that a new search can't exchange it.

    ``places`` are the middles of the pieces of each template, by its first name, from the block's lower left, in
    thousandths of the block's longer side.
    """

    layout: int  # the number it had when it was taken
    places: dict[str, tuple[tuple[int, int], ...]] = field(factory=dict)


@frozen
class Quilt:
    """How the blocks lie in the quilt."""

    across: int = 3
    down: int = 3
    setting: str = "straight"  # "straight": side by side; "on-point": standing on their corners
    sashing_mm: float = 0.0  # finished width of the strips between the blocks and round them
    turned: str = "none"  # "every-second": by a quarter; "round": four about a common corner
    border_mm: float = 0.0  # finished width of the border round it all; 0 = none
    binding_mm: float = 63.5  # width the binding's strips are cut: 2 1/2 in, folded double
    backing_over_mm: float = 101.6  # how much larger than the quilt the backing is on every side: 4 in

    @property
    def blocks(self) -> int:
        """How many blocks the quilt takes; on point there are blocks between the rows."""
        between = (self.across - 1) * (self.down - 1) if self.setting == "on-point" else 0
        return self.across * self.down + between


@frozen
class Wishes:
    """What the person said, in job.toml or on the command line; None or "auto" means: find out."""

    title: str = ""
    photos: tuple[str, ...] = ()  # where the job's photos lie, seen from its folder
    units: str = "auto"  # "auto", "inch", "mm": what results are written in
    ruler: str = "auto"  # "auto", "inch", "cm"
    ruler_length_mm: float | None = None  # the checked distance of the ruler's first and last whole mark
    thickness_mm: float | None = None  # of the cards
    allowance_mm: float | None = None  # 0 = the templates are finished size; None = auto
    counts: dict[str, Count] = field(factory=dict)
    symmetry: str = "auto"
    finish_mm: float | None = None
    layout: int | None = None  # which of several layouts that fit, 1 = the likeliest, which None takes too
    taken: Taken | None = None  # what that number meant when it was said
    meets: tuple[tuple[str, str], ...] = ()  # edges seen sewn to one another: ("T1.2", "T3.1")
    turn: tuple[str, ...] = ()  # units a quarter turn on, each named by a piece in it
    exchange: tuple[tuple[str, str], ...] = ()  # units that change places
    confirm: tuple[str, ...] = ()  # what lies there and is a template, told as in ``ignore``
    drawn: tuple[DrawnCard, ...] = ()  # cards that a person outlined
    ignore: tuple[str, ...] = ()  # what lies there and is no template: "3", or where it lies: "scan.jpg 310 420"
    paper: str = "letter"
    blocks: int = 1
    colours: dict[str, str] = field(factory=dict)  # by template: "#rrggbb"
    seed: int = 0
    time_limit_s: float = 60.0
    reference: str = "auto"  # "none", or the only one used: "ruler", "mat", "target", "card", "resolution", a sheet
    # of any kind ("page", which gives no scale) or of one kind ("letter", "a4", which give a rough one)
    templates_are: str = "auto"  # "auto", "cards" (cut), "printed" (outlines on a page)
    cards: str = "read"  # "ignore": what is written on the cards counts for nothing
    scale_bar_mm: float | None = None  # what a bar or a test square on a printed page should measure
    page_grid_mm: float | None = None  # what the squares of a printed page's own grid should measure
    taken_with: str = "auto"  # "auto", "scanner", "camera"
    ruler_thickness_mm: float | None = None  # how high the ruler's marks lie above the table
    target_bars_mm: tuple[float, float] | None = None  # what the printed target's bars measure, lying and upright
    prefer: str = "fewest-sections"  # "fewest-papers", "fits-page": what the sections are chosen for
    pieced_start: str = "never"  # "when-it-helps": a joined unit may be the first patch of a section
    cure: str = "auto"  # "added-seam", "partial", "set-in": the only cure of set-in seams to be used
    outline: str = "auto"  # "auto", "square", "rectangle", "triangle" (right isosceles), "hexagon"
    finish_height_mm: float | None = None  # with finish_mm: the block is a rectangle of this shape
    snap_mm: float | None = None  # the grid that lengths are set to; 0 = none; None = 1/16 in, or 1 mm
    picture: str | None = None  # path of a photo or drawing of the block, a hint which layout is meant
    never_cut: tuple[str, ...] = ()  # pieces, or templates for all their pieces, that no added seam may cut
    fabrics: dict[str, str] = field(factory=dict)  # the fabric's name by piece or template
    came_from: str = ""  # whose templates these are, from when, from where
    seam_allowance_mm: float = 6.35  # round each section and template: 1/4 in, the trade's usual margin
    oversize_mm: float = 12.7  # how much larger than its piece a patch is cut, on every side
    fabric_width_mm: float | None = None  # usable, without selvedges; None = 40 in, or 102 cm
    only: str = "all"  # "foundations": no other file of the sheets
    more_sizes_mm: tuple[float, ...] = ()  # finished widths beside the block's own that get files of their own
    fabric_reserve: float = 0.1  # share of fabric to have more than is cut: shrinkage, squaring up
    print_scale: tuple[float, float] = (1.0, 1.0)  # how long the printer makes what should be 1, across and up
    quilt: Quilt = Quilt()
    templates: dict[str, Correction] = field(factory=dict)
    merge: tuple[tuple[str, ...], ...] = ()
    split: tuple[str, ...] = ()

    @property
    def corrections(self) -> Corrections:
        """What is corrected of the templates as they were measured."""
        return Corrections(self.templates, self.merge, self.split, self.confirm, self.drawn)
