"""measured.json: what each template measures (format seamsurvey.measured/1).

A file written by hand needs no more than ``format`` and ``templates[]`` {name, finished_outline_mm}.
"""

from typing import Any

import attrs
import numpy as np
from attrs import field, frozen
from shapely import Polygon

from seamsurvey import camera, geometry
from seamsurvey.errors import InputError
from seamsurvey.job.conversion import from_json, to_json
from seamsurvey.model import (
    Array,
    Edge,
    LeftOut,
    PhotoPlane,
    PhotoReport,
    Plane,
    Reference,
    ScanPlane,
    Template,
    TemplateSet,
)
from seamsurvey.units import nearest

FORMAT = "seamsurvey.measured/1"
# Of a length read off a ruler by hand: half a sixteenth of an inch at each end, as k = 2.
HAND_U_MM = 0.3


@frozen
class ReferenceEntry:
    """One graduated edge, with all that the overlay and the report draw."""

    kind: str
    graduation: str
    marks_used: int
    residual_px: float
    unit: str
    step_mm: float
    px_per_mm: float
    scale_off: float | None
    scale_u: float | None
    marks_px: Array
    marks_mm: Array
    mark_ends_px: Array
    residuals_px: Array
    outline_px: Array
    spots_px: Array = field(factory=lambda: np.zeros((0, 2)))
    misses_px: Array = field(factory=lambda: np.zeros((0, 2)))


@frozen
class PlaneEntry:
    """The way from pixels to millimetres.

    Of a scan ``matrix``: (x, y) mm = matrix · (x, y, 1) px. Of a photo ``parameters``: the camera's, as camera.py
    has them, seen at ``face_mm`` above the table. ``covariance`` is of the matrix's entries, row by row, or of the
    parameters and the face's height.
    """

    kind: str
    covariance: Array
    axis: Array
    warnings: list[str]
    matrix: Array | None = None
    parameters: Array | None = None
    face_mm: float | None = None
    covariance_of_heights: Array | None = None


@frozen
class CameraEntry:
    """The camera as adjusted; null for a flatbed scan, which has none."""

    focal_px: float
    k1: float
    tilt_deg: float
    distance_mm: float


@frozen
class PhotoEntry:
    """One photo and what its scale was taken from."""

    file: str
    sha256: str
    size_px: tuple[int, int]
    plane: PlaneEntry
    reference: ReferenceEntry | None = None
    further_references: list[ReferenceEntry] = field(factory=list)
    camera: CameraEntry | None = None
    warnings: list[str] = field(factory=list)


@frozen
class NearestEntry:
    """The nearest length with a plain name, and how far off it is (name minus length)."""

    text: str
    off_mm: float


@frozen
class EdgeEntry:
    """One side; ``along`` is its angle to the reference in degrees, 0 along it, 90 across."""

    length_mm: float | None = None
    u_mm: float | None = None
    along: float | None = None
    curve: None = None
    nearest: NearestEntry | None = None
    dominant_term: str | None = None
    budget_mm: dict[str, float] = field(factory=dict)


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
    corners_px: Array | None = None
    edges: list[EdgeEntry] = field(factory=list)
    own_covariance_mm2: Array | None = None
    sensitivity: Array | None = None


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


def write_measured(templates: TemplateSet, units: str) -> bytes:
    """Return measured.json as bytes; ``units`` ("inch" or "mm") is what the nearest lengths are named in."""
    return to_json(
        MeasuredFile(
            format=FORMAT,
            photos=[_photo_entry(photo) for photo in templates.photos],
            templates=[_template_entry(template, units) for template in templates.templates],
            shared_errors=SharedErrors(list(templates.shared_names), templates.shared_covariance),
            left_out=[LeftOutEntry(item.photo, item.outline_px, item.why) for item in templates.left_out],
            warnings=list(templates.warnings),
        )
    )


def read_measured(text: bytes, file: str = "measured.json") -> TemplateSet:
    """Return the templates of a measured.json; InputError ``file-unreadable`` says what is wrong with it."""
    entries = from_json(text, MeasuredFile, file, FORMAT)
    shared = entries.shared_errors or SharedErrors([], np.zeros((0, 0)))
    names = [entry.name for entry in entries.templates]
    for name in names:
        if names.count(name) > 1:
            raise _unreadable(file, f"two templates are called {name}")
    return TemplateSet(
        photos=tuple(_photo(entry, file) for entry in entries.photos),
        templates=tuple(_template(entry, len(shared.names), file) for entry in entries.templates),
        shared_names=tuple(shared.names),
        shared_covariance=shared.covariance.reshape(len(shared.names), len(shared.names)),
        left_out=tuple(
            LeftOut(photo=entry.photo, outline_px=entry.outline_px, why=entry.why) for entry in entries.left_out
        ),
        warnings=tuple(entries.warnings),
    )


def _photo_entry(photo: PhotoReport) -> PhotoEntry:
    plane = photo.plane
    references = [
        ReferenceEntry(
            marks_used=len(reference.marks_mm),
            residual_px=reference.residual_px,
            **{key: getattr(reference, key) for key in _SAME_IN_BOTH},
        )
        for reference in plane.references
    ]
    return PhotoEntry(
        file=photo.name,
        sha256=photo.sha256,
        size_px=photo.size_px,
        plane=_plane_entry(plane),
        camera=_camera_entry(plane),
        reference=references[0] if references else None,
        further_references=references[1:],
        warnings=list(photo.warnings),
    )


def _plane_entry(plane: Plane) -> PlaneEntry:
    entry = PlaneEntry(plane.kind, plane.covariance, plane.axis, list(plane.warnings))
    if isinstance(plane, ScanPlane):
        return attrs.evolve(entry, matrix=plane.matrix)
    if isinstance(plane, PhotoPlane):
        return attrs.evolve(
            entry, parameters=plane.theta, face_mm=plane.face_mm, covariance_of_heights=plane.of_heights
        )
    raise TypeError(f"no entry for a {type(plane).__name__}")


def _camera_entry(plane: Plane) -> CameraEntry | None:
    if not isinstance(plane, PhotoPlane):
        return None
    return CameraEntry(
        focal_px=float(np.exp(plane.theta[camera.LOG_FOCAL])),
        k1=float(plane.theta[camera.K1]),
        tilt_deg=plane.tilt_deg,
        distance_mm=plane.distance_mm,
    )


_SAME_IN_BOTH = tuple(a.name for a in attrs.fields(Reference))


def _photo(entry: PhotoEntry, file: str) -> PhotoReport:
    return PhotoReport(
        name=entry.file,
        sha256=entry.sha256,
        size_px=entry.size_px,
        plane=_plane(entry, file),
        warnings=tuple(entry.warnings),
    )


def _plane(entry: PhotoEntry, file: str) -> Plane:
    references = ([entry.reference] if entry.reference else []) + entry.further_references
    plane = entry.plane
    common: dict[str, Any] = {
        "covariance": plane.covariance,
        "axis": plane.axis,
        "references": tuple(
            Reference(**{key: getattr(reference, key) for key in _SAME_IN_BOTH}) for reference in references
        ),
        "warnings": tuple(plane.warnings),
    }
    if plane.kind == "scan" and plane.matrix is not None:
        return ScanPlane(matrix=plane.matrix, **common)
    theta, face, of_heights = plane.parameters, plane.face_mm, plane.covariance_of_heights
    if plane.kind == "photo" and theta is not None and face is not None and of_heights is not None:
        return PhotoPlane(theta=theta, size_px=entry.size_px, face_mm=face, of_heights=of_heights, **common)
    raise _unreadable(file, f"the plane of {entry.file} is neither that of a scan nor that of a photo")


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
        finished_outline_mm=template.finished_outline,
        corners_px=template.corners_px,
        edges=[
            EdgeEntry(
                length_mm=edge.length_mm,
                u_mm=edge.u_mm,
                along=edge.along_deg,
                nearest=NearestEntry(*nearest(edge.length_mm, units, edge.u_mm)),
                dominant_term=edge.dominant_term,
                budget_mm=dict(edge.budget_mm),
            )
            for edge in template.edges
        ],
        own_covariance_mm2=template.own_covariance,
        sensitivity=template.sensitivity,
    )


def _template(entry: TemplateEntry, shared: int, file: str) -> Template:
    _check_outline(entry, file)
    if geometry.signed_area(entry.finished_outline_mm) < 0:
        entry = _turned_counter_clockwise(entry, file)
    outline = entry.finished_outline_mm
    count = len(outline)
    edges = _edges(entry, outline, file)
    own = entry.own_covariance_mm2
    if own is None:
        # An edge of length u(k = 2) has two ends, each with half its variance, alike in every direction.
        variance = np.array([(edge.u_mm / 2) ** 2 / 2 for edge in edges])
        own = np.diag(np.repeat((variance + np.roll(variance, 1)) / 2, 2))
    sensitivity = entry.sensitivity if entry.sensitivity is not None else np.zeros((2 * count, shared))
    if own.shape != (2 * count, 2 * count) or sensitivity.shape != (2 * count, shared):
        raise _unreadable(file, f"the covariance or the sensitivity of {entry.name} has the wrong size")
    return Template(
        name=entry.name,
        photo=entry.photo,
        cut_outline=entry.cut_outline_mm if entry.cut_outline_mm is not None else outline,
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
    )


def _check_outline(entry: TemplateEntry, file: str) -> None:
    outline = entry.finished_outline_mm
    if outline.ndim != 2 or outline.shape[1:] != (2,) or len(outline) < 3:
        raise _unreadable(file, f"the outline of {entry.name} needs at least three corners [x, y]")
    if not Polygon(outline).is_valid or geometry.signed_area(outline) == 0:
        raise _unreadable(file, f"the outline of {entry.name} crosses itself or has no area")


def _turned_counter_clockwise(entry: TemplateEntry, file: str) -> TemplateEntry:
    """Return the entry with its outline, and its edges with it, listed the other way round."""
    if entry.cut_outline_mm is not None or entry.own_covariance_mm2 is not None or entry.sensitivity is not None:
        raise _unreadable(file, f"the outline of {entry.name} runs clockwise")
    outline = geometry.counter_clockwise(entry.finished_outline_mm)
    return attrs.evolve(entry, finished_outline_mm=outline, edges=entry.edges[::-1])


def _edges(entry: TemplateEntry, outline: Array, file: str) -> tuple[Edge, ...]:
    if entry.edges and len(entry.edges) != len(outline):
        raise _unreadable(file, f"{entry.name} has {len(outline)} corners but {len(entry.edges)} edges")
    given = entry.edges or [EdgeEntry() for _ in outline]
    return tuple(
        Edge(
            length_mm=edge.length_mm if edge.length_mm is not None else float(length),
            u_mm=edge.u_mm if edge.u_mm is not None else HAND_U_MM,
            along_deg=edge.along if edge.along is not None else 0.0,
            dominant_term=edge.dominant_term or "as given by hand",
            budget_mm=dict(edge.budget_mm),
        )
        for edge, length in zip(given, geometry.edge_lengths(outline), strict=True)
    )


def _unreadable(file: str, what: str) -> InputError:
    return InputError(
        "file-unreadable",
        f"In {file} {what}.",
        where=file,
        todo="Mend the file; docs/reference/job-folder.md describes it.",
    )
