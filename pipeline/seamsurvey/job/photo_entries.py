"""The photos' part of measured.json: what each photo is, and its way from pixels to millimetres."""

from typing import Any

import attrs
import numpy as np
from attrs import field, frozen

from seamsurvey import camera
from seamsurvey.errors import InputError
from seamsurvey.job.made import check_name
from seamsurvey.model import Array, PhotoPlane, PhotoReport, Plane, Reference, ScanPlane
from seamsurvey.plane import BARE


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


def photo_entry(photo: PhotoReport) -> PhotoEntry:
    """What the file says of a photo."""
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


def photo_of(entry: PhotoEntry, file: str) -> PhotoReport:
    """The photo that an entry describes; InputError ``file-unreadable`` when its plane is none."""
    return PhotoReport(
        name=check_name(entry.file, file),
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
    if plane.kind in ("scan", BARE) and plane.matrix is not None:
        return ScanPlane(kind=plane.kind, matrix=plane.matrix, **common)
    theta, face, of_heights = plane.parameters, plane.face_mm, plane.covariance_of_heights
    if plane.kind == "photo" and theta is not None and face is not None and of_heights is not None:
        return PhotoPlane(theta=theta, size_px=entry.size_px, face_mm=face, of_heights=of_heights, **common)
    raise unreadable(file, f"the plane of {entry.file} is neither that of a scan nor that of a photo")


def unreadable(file: str, what: str) -> InputError:
    """The error for a job's file that says something impossible."""
    return InputError(
        "file-unreadable",
        f"In {file} {what}.",
        where=file,
        todo="Mend the file; docs/reference/job-folder.md describes it.",
    )
