"""measured.json: what each template measures (format seamsurvey.measured/1).

A file written by hand needs no more than ``format`` and ``templates[]`` {name, finished_outline_mm}.
"""

import math
from collections.abc import Sequence

import attrs
import numpy as np
from attrs import field, frozen
from shapely import Polygon

from seamsurvey import geometry
from seamsurvey.arcs import arc_length, bulge_of, drawn_out, radius_of
from seamsurvey.job.conversion import SELDOM, from_json, to_json
from seamsurvey.job.fitting import closed_once
from seamsurvey.job.photo_entries import PhotoEntry, photo_entry, photo_of, unreadable
from seamsurvey.model import Arc, Array, CardWriting, CopySeen, Edge, LeftOut, Template, TemplateSet
from seamsurvey.units import nearest

FORMAT = "seamsurvey.measured/1"
# Of a length read off a ruler by hand: half a sixteenth of an inch at each end, as k = 2.
HAND_U_MM = 0.3


@frozen
class NearestEntry:
    """The nearest length with a plain name, and how far off it is (name minus length)."""

    text: str
    off_mm: float


@frozen
class CurveEntry:
    """The arc an edge follows; ``sweep_deg`` above 0 bulges out. By hand, two corners and the sweep are enough."""

    sweep_deg: float
    kind: str = "arc"
    radius_mm: float | None = None
    u_radius_mm: float | None = None
    u_sweep_deg: float | None = None


@frozen
class EdgeEntry:
    """One side; ``along`` is its angle to the reference in degrees, 0 along it, 90 across."""

    length_mm: float | None = None
    u_mm: float | None = None
    along: float | None = None
    curve: CurveEntry | None = None
    nearest: NearestEntry | None = None
    dominant_term: str | None = None
    budget_mm: dict[str, float] = field(factory=dict)
    set_by_person: str = field(default="", metadata={SELDOM: True})


@frozen
class CopyEntry:
    """Another card of a template's shape."""

    name: str
    photo: int
    corners_px: Array


@frozen
class WritingEntry:
    """What was read on a card."""

    card: str
    text: str
    probability: float
    kind: str = ""
    means: str = ""
    clear: bool = False


@frozen
class TemplateEntry:
    """One template; only ``name`` and ``finished_outline_mm`` must be there."""

    name: str
    finished_outline_mm: Array
    photo: int = 0
    reversed_twin_of: str | None = None
    copies_seen: int = 1
    count: int | None = None
    reversed_count: int | None = None
    allowance_mm: float = 0.0
    allowance_from: str = "given"
    thickness_mm: float | None = None
    cut_outline_mm: Array | None = None
    cut_bulges: tuple[float, ...] = field(default=(), metadata={SELDOM: True})
    corners_px: Array | None = None
    edges: list[EdgeEntry] = field(factory=list)
    own_covariance_mm2: Array | None = None
    sensitivity: Array | None = None
    found_as: str = field(default="", metadata={SELDOM: True})
    edge_allowances_mm: list[float] = field(factory=list, metadata={SELDOM: True})
    copies: list[CopyEntry] = field(factory=list, metadata={SELDOM: True})
    said_by_card: list[WritingEntry] = field(factory=list, metadata={SELDOM: True})


@frozen
class SharedErrors:
    """Errors common to all templates; see TemplateSet."""

    names: list[str]
    covariance: Array


@frozen
class LeftOutEntry:
    """What was seen but not taken for a template."""

    photo: int
    outline_px: Array
    why: str


@frozen
class MeasuredFile:
    """The whole file."""

    format: str
    templates: list[TemplateEntry]
    photos: list[PhotoEntry] = field(factory=list)
    shared_errors: SharedErrors | None = None
    left_out: list[LeftOutEntry] = field(factory=list)
    warnings: list[str] = field(factory=list)
    unit: str = field(default="mm", metadata={SELDOM: True})


def write_measured(templates: TemplateSet, units: str) -> bytes:
    """Return measured.json as bytes; ``units`` ("inch" or "mm") is what the nearest lengths are named in.

    Of a set without a scale no length has a name.
    """
    if templates.in_px:
        units = "px"
    return to_json(
        MeasuredFile(
            format=FORMAT,
            photos=[photo_entry(photo) for photo in templates.photos],
            templates=[
                _template_entry(template, "px" if templates.in_px else units) for template in templates.templates
            ],
            shared_errors=SharedErrors(list(templates.shared_names), templates.shared_covariance),
            left_out=[LeftOutEntry(item.photo, item.outline_px, item.why) for item in templates.left_out],
            warnings=list(templates.warnings),
            unit="px" if templates.in_px else "mm",
        )
    )


def read_measured(text: bytes, file: str = "measured.json") -> TemplateSet:
    """Return the templates of a measured.json; InputError ``file-unreadable`` says what is wrong with it."""
    entries = from_json(text, MeasuredFile, file, FORMAT)
    shared = entries.shared_errors or SharedErrors([], np.zeros((0, 0)))
    names = [entry.name for entry in entries.templates]
    for name in names:
        if names.count(name) > 1:
            raise unreadable(file, f"two templates are called {name}")
    shown = [(entry.name, entry.photo) for entry in entries.templates]
    for what, photo in [*shown, *(("something left out", entry.photo) for entry in entries.left_out)]:
        if not 0 <= photo < max(1, len(entries.photos)):
            raise unreadable(file, f"{what} is in photo {photo}, of {len(entries.photos)}, the first being 0")
    return TemplateSet(
        photos=tuple(photo_of(entry, file) for entry in entries.photos),
        templates=tuple(_template(entry, len(shared.names), file) for entry in entries.templates),
        shared_names=tuple(shared.names),
        shared_covariance=shared.covariance.reshape(len(shared.names), len(shared.names)),
        left_out=tuple(
            LeftOut(photo=entry.photo, outline_px=entry.outline_px, why=entry.why) for entry in entries.left_out
        ),
        warnings=tuple(entries.warnings),
    )


def _template_entry(template: Template, units: str) -> TemplateEntry:
    return TemplateEntry(
        name=template.name,
        photo=template.photo,
        reversed_twin_of=template.reversed_twin_of,
        copies_seen=template.copies_seen,
        count=template.count,
        reversed_count=template.reversed_count,
        allowance_mm=template.allowance_mm,
        allowance_from=template.allowance_from,
        thickness_mm=template.thickness_mm,
        cut_outline_mm=template.cut_outline,
        cut_bulges=template.cut_bulges,
        finished_outline_mm=template.finished_outline,
        corners_px=template.corners_px,
        edges=[
            EdgeEntry(
                length_mm=edge.length_mm,
                u_mm=edge.u_mm,
                along=edge.along_deg,
                curve=_curve_entry(edge.curve),
                nearest=None if units == "px" else NearestEntry(*nearest(edge.length_mm, units, edge.u_mm)),
                dominant_term=edge.dominant_term,
                budget_mm=dict(edge.budget_mm),
                set_by_person=edge.set_by_person,
            )
            for edge in template.edges
        ],
        own_covariance_mm2=template.own_covariance,
        sensitivity=template.sensitivity,
        found_as=template.found_as,
        edge_allowances_mm=list(template.edge_allowances_mm),
        copies=[CopyEntry(copy.name, copy.photo, copy.corners_px) for copy in template.copies],
        said_by_card=[WritingEntry(**attrs.asdict(writing)) for writing in template.said_by_card],
    )


def _template(entry: TemplateEntry, shared: int, file: str) -> Template:
    entry = attrs.evolve(entry, finished_outline_mm=closed_once(entry.finished_outline_mm))
    _check_outline(entry, file)
    _check_counts(entry, file)
    if geometry.signed_area(entry.finished_outline_mm) < 0:
        entry = _turned_counter_clockwise(entry, file)
    outline = entry.finished_outline_mm
    count = len(outline)
    edges = _edges(entry, outline)
    own = entry.own_covariance_mm2
    if own is None:
        # An edge of length u(k = 2) has two ends, each with half its variance, alike in every direction.
        variance = np.array([(edge.u_mm / 2) ** 2 / 2 for edge in edges])
        own = np.diag(np.repeat((variance + np.roll(variance, 1)) / 2, 2))
    sensitivity = entry.sensitivity if entry.sensitivity is not None else np.zeros((2 * count, shared))
    if own.shape != (2 * count, 2 * count) or sensitivity.shape != (2 * count, shared):
        raise unreadable(file, f"what stands behind the ± of {entry.name} has the wrong size")
    return Template(
        name=entry.name,
        photo=entry.photo,
        cut_outline=entry.cut_outline_mm if entry.cut_outline_mm is not None else outline,
        cut_bulges=_cut_bulges(entry, edges, file),
        finished_outline=outline,
        corners_px=entry.corners_px if entry.corners_px is not None else np.zeros((0, 2)),
        edges=edges,
        own_covariance=own,
        sensitivity=sensitivity,
        allowance_mm=entry.allowance_mm,
        allowance_from=entry.allowance_from,
        thickness_mm=entry.thickness_mm,
        copies_seen=entry.copies_seen,
        reversed_twin_of=entry.reversed_twin_of,
        count=entry.count,
        reversed_count=entry.reversed_count,
        found_as=entry.found_as,
        edge_allowances_mm=tuple(entry.edge_allowances_mm),
        copies=tuple(CopySeen(name=c.name, photo=c.photo, corners_px=c.corners_px) for c in entry.copies),
        said_by_card=tuple(CardWriting(**attrs.asdict(writing)) for writing in entry.said_by_card),
    )


def _check_counts(entry: TemplateEntry, file: str) -> None:
    for name, least in (("copies_seen", 1), ("count", 0), ("reversed_count", 0)):
        number = getattr(entry, name)
        if number is not None and number < least:
            raise unreadable(file, f"{name} of {entry.name} is {number}, and can't be less than {least}")


def _check_outline(entry: TemplateEntry, file: str) -> None:
    outline = entry.finished_outline_mm
    if outline.ndim != 2 or outline.shape[1:] != (2,) or len(outline) < 3:
        raise unreadable(file, f"the outline of {entry.name} needs at least three corners [x, y]")
    if entry.edges and len(entry.edges) != len(outline):
        raise unreadable(file, f"{entry.name} has {len(outline)} corners but {len(entry.edges)} edges")
    for number, edge in enumerate(entry.edges, 1):
        if edge.curve is not None and (edge.curve.kind != "arc" or not 0 < abs(edge.curve.sweep_deg) < 350):
            raise unreadable(
                file,
                f'the curve of edge {number} of {entry.name} must be {{"kind": "arc", "sweep_deg": ...}}, the sweep'
                " between 0 and 350 degrees, below 0 where the edge is concave",
            )
    drawn = drawn_out(outline, _bulges(entry.edges))
    if not Polygon(drawn).is_valid or geometry.signed_area(outline) == 0:
        raise unreadable(file, f"the outline of {entry.name} crosses itself or has no area")


def _bulges(edges: Sequence[EdgeEntry]) -> tuple[float, ...]:
    """Of each edge, as the file has them; empty when all are straight."""
    bulges = tuple(bulge_of(edge.curve.sweep_deg) if edge.curve else 0.0 for edge in edges)
    return bulges if any(bulges) else ()


def _cut_bulges(entry: TemplateEntry, edges: tuple[Edge, ...], file: str) -> tuple[float, ...]:
    if entry.cut_outline_mm is None:
        return (
            tuple(bulge_of(edge.curve.sweep_deg) if edge.curve else 0.0 for edge in edges)
            if any(edge.curve for edge in edges)
            else ()
        )
    if entry.cut_bulges and len(entry.cut_bulges) != len(entry.cut_outline_mm):
        raise unreadable(file, f"{entry.name} has {len(entry.cut_bulges)} cut bulges, one for each edge is needed")
    return entry.cut_bulges


def _curve_entry(arc: Arc | None) -> CurveEntry | None:
    if arc is None:
        return None
    return CurveEntry(
        sweep_deg=arc.sweep_deg, radius_mm=arc.radius_mm, u_radius_mm=arc.u_radius_mm, u_sweep_deg=arc.u_sweep_deg
    )


def _arc(entry: CurveEntry | None, chord: float) -> Arc | None:
    """The arc over a chord; what is not written of its uncertainty is that of a rise read off by hand."""
    if entry is None:
        return None
    bulge = bulge_of(entry.sweep_deg)
    # A rise h = chord * bulge / 2 wrong by u turns the sweep by 4 d(atan bulge) = 8 u / (chord (1 + bulge²)), and
    # the radius, c (1 + b²) / 4 |b|, by u |b² - 1| / 2 b².
    u_sweep = math.degrees(8 * HAND_U_MM / (chord * (1 + bulge**2)))
    u_radius = HAND_U_MM * math.hypot(abs(bulge**2 - 1) / (2 * bulge**2), (1 + bulge**2) / (4 * abs(bulge)))
    return Arc(
        radius_mm=entry.radius_mm if entry.radius_mm is not None else radius_of(chord, bulge),
        u_radius_mm=entry.u_radius_mm if entry.u_radius_mm is not None else u_radius,
        sweep_deg=entry.sweep_deg,
        u_sweep_deg=entry.u_sweep_deg if entry.u_sweep_deg is not None else u_sweep,
    )


def _turned_counter_clockwise(entry: TemplateEntry, file: str) -> TemplateEntry:
    """Return the entry with its outline, and its edges with it, listed the other way round."""
    if entry.cut_outline_mm is not None or entry.own_covariance_mm2 is not None or entry.sensitivity is not None:
        raise unreadable(file, f"the outline of {entry.name} runs clockwise")
    outline = geometry.counter_clockwise(entry.finished_outline_mm)
    return attrs.evolve(entry, finished_outline_mm=outline, edges=entry.edges[::-1])


def _edges(entry: TemplateEntry, outline: Array) -> tuple[Edge, ...]:
    given = entry.edges or [EdgeEntry() for _ in outline]
    chords = [float(chord) for chord in geometry.edge_lengths(outline)]
    return tuple(
        Edge(
            length_mm=edge.length_mm
            if edge.length_mm is not None
            else arc_length(chord, bulge_of(edge.curve.sweep_deg) if edge.curve else 0.0),
            u_mm=edge.u_mm if edge.u_mm is not None else HAND_U_MM,
            along_deg=edge.along if edge.along is not None else 0.0,
            dominant_term=edge.dominant_term or "as given by hand",
            budget_mm=dict(edge.budget_mm),
            curve=_arc(edge.curve, chord),
            set_by_person=edge.set_by_person,
        )
        for edge, chord in zip(given, chords, strict=True)
    )
