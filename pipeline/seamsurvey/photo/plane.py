"""Stage 1: from the picture to the plane that its templates lie in, by scanner or by camera."""

import attrs

from seamsurvey.errors import InputError, UndecidedError
from seamsurvey.model import Picture, Plane, ScanPlane
from seamsurvey.photo.bare import bare_plane
from seamsurvey.photo.photo_plane import find_photo_plane
from seamsurvey.photo.scan_plane import DPI_WARN, NotAScanError, find_scan_plane
from seamsurvey.photo.stated_resolution import stated_plane
from seamsurvey.units import INCH

# Of a picture whose file tells neither scanner nor camera, and which lies as a scan would. Seen from 500 mm, each
# millimetre by which a card's face lies higher or lower than the ruler's marks is 0.2 % of every length.
UNTOLD_SIGMA = 0.0015


def find_plane(
    picture: Picture,
    *,
    reference: str = "auto",
    taken_with: str = "auto",
    ruler: str = "auto",
    ruler_length_mm: float | None = None,
    ruler_thickness_mm: float | None = None,
    thickness_mm: float | None = None,
    target_bars_mm: tuple[float, float] | None = None,
    own_measure: bool = False,
) -> Plane:
    """The plane of the templates' faces, with its covariance, from everything in the picture that tells it.

    ``reference`` is "auto", "none", or the only kind to be used; ``taken_with`` "auto", "scanner" or "camera";
    ``ruler`` is "auto", "inch" or "cm" and only chooses among what the picture allows; ``ruler_length_mm`` is the
    checked distance of the ruler's first and last whole mark and replaces its nominal length;
    ``ruler_thickness_mm`` and ``thickness_mm`` say how high the ruler's marks and the cards' faces lie above the
    table, and ``target_bars_mm`` what the bars on the printed target measure, lying and upright (all three for a
    camera only).

    With ``reference`` "resolution" a scan's scale is what its file states. ``own_measure``: a page carries its own
    scale, to be used later, so that the file's will do where nothing else is found.

    InputError and UndecidedError as `scan_plane.find_scan_plane` and `photo_plane.find_photo_plane` raise them;
    InputError ``not-a-scan``, ``no-resolution``. There is no default scale: with
    ``reference`` "none" the plane has none, and says so.
    """
    if reference == "none":
        return bare_plane(picture)
    if reference == "resolution":
        return stated_plane(picture)
    if own_measure and reference == "auto" and picture.dpi is not None and picture.camera is None:
        try:
            return find_scan_plane(picture, ruler=ruler, ruler_length_mm=ruler_length_mm)
        except (InputError, UndecidedError, NotAScanError):
            return stated_plane(picture)

    def by_camera() -> Plane:
        return find_photo_plane(
            picture,
            reference=reference,
            ruler=ruler,
            ruler_length_mm=ruler_length_mm,
            ruler_thickness_mm=ruler_thickness_mm,
            thickness_mm=thickness_mm,
            target_bars_mm=target_bars_mm,
        )

    said = taken_with != "auto"
    other_than_ruler = reference not in ("auto", "ruler")
    if taken_with == "camera" or (not said and (picture.camera is not None or other_than_ruler)):
        return by_camera()
    try:
        plane = find_scan_plane(picture, ruler=ruler, ruler_length_mm=ruler_length_mm)
    except NotAScanError as error:
        if not said:
            return by_camera()
        raise _not_a_scan(picture, str(error)) from error
    except InputError:
        if said or picture.dpi is not None:
            raise
        return by_camera()  # what a scan's eyes can't find a photo's may
    return plane if said or _tells_of_scanner(picture, plane) else _as_untold(plane)


def _tells_of_scanner(picture: Picture, plane: ScanPlane) -> bool:
    """Whether the file's resolution is the picture's: a scanner writes the true one, a camera none."""
    return picture.dpi is not None and all(
        abs(abs(plane.matrix[k, k]) * stated / INCH - 1) < DPI_WARN for k, stated in enumerate(picture.dpi)
    )


def _as_untold(plane: ScanPlane) -> ScanPlane:
    scale = plane.matrix.ravel()
    return attrs.evolve(
        plane,
        covariance=plane.covariance + UNTOLD_SIGMA**2 * scale[:, None] * scale[None, :],
        warnings=(
            *plane.warnings,
            "Nothing in the file says whether a scanner or a camera took the picture. It was taken for a scan, "
            "with a larger uncertainty; say --taken-with scanner or --taken-with camera if you know.",
        ),
    )


def _not_a_scan(picture: Picture, why: str) -> InputError:
    return InputError(
        "not-a-scan",
        f"This looks like a camera photo, not a flatbed scan. {why}",
        where=picture.name,
        likely="In a photo the scale changes over the picture; measured as a scan, every length would be wrong.",
        todo="Run again without --taken-with scanner.",
    )
