"""Steps of the line that its joiners share: a picture's plane, the units of results, what a photo's faults do."""

from collections.abc import Sequence

from attrs import evolve

from seamsurvey.model import Picture, Plane, TemplateSet, Wishes
from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.quality import template_warnings
from seamsurvey.photo.read import read_picture
from seamsurvey.sight.look import looked_at
from seamsurvey.units import fitting_unit


def picture_of(name: str, content: bytes) -> Picture:
    """A photo or scan read, and looked at; InputError as `read_picture`."""
    return looked_at(read_picture(name, content))


def plane_of(picture: Picture, wishes: Wishes) -> Plane:
    """Stage 1: the plane of one picture, by the wishes that bear on it."""
    return find_plane(
        picture,
        reference=wishes.reference,
        taken_with=wishes.taken_with,
        ruler=wishes.ruler,
        ruler_length_mm=wishes.ruler_length_mm,
        ruler_thickness_mm=wishes.ruler_thickness_mm,
        thickness_mm=wishes.thickness_mm,
        target_bars_mm=wishes.target_bars_mm,
        own_measure=wishes.scale_bar_mm is not None or wishes.page_grid_mm is not None,
    )


def units_of(templates: TemplateSet | None, wishes: Wishes) -> str:
    """Return "inch" or "mm": as wished, else as the reference is graduated, else as the lengths were cut."""
    if wishes.units != "auto":
        return wishes.units
    photos = templates.photos if templates else ()
    seen = {reference.unit for photo in photos for reference in photo.plane.references if reference.unit}
    if len(seen) == 1:
        return "inch" if "inch" in seen else "mm"
    return cut_by(templates) if templates else "inch"


def cut_by(templates: TemplateSet, usual: str = "inch") -> str:
    """Return "inch" or "mm", by which the templates were cut: what their finished edges fit best."""
    edges = [edge for template in templates.templates for edge in template.edges if edge.curve is None]
    return fitting_unit([edge.length_mm for edge in edges], [edge.u_mm for edge in edges], usual)


def judged(templates: TemplateSet, pictures: Sequence[Picture]) -> TemplateSet:
    """The templates, with what their photos' own faults do to them among the photos' warnings."""
    judged = []
    for index, (photo, picture) in enumerate(zip(templates.photos, pictures, strict=True)):
        corners = [template.corners_px for template in templates.templates if template.photo == index]
        said = template_warnings(picture, photo.plane, corners)
        judged.append(evolve(photo, warnings=(*photo.warnings, *said)))
    return evolve(templates, photos=tuple(judged))
