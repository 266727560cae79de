"""Measuring without a scale: what can't be said in pixels is refused, and all that was measured is told in them."""

from collections.abc import Sequence

import attrs

from seamsurvey.errors import UsageError
from seamsurvey.model import Corrections, Edge, Picture, Plane, ScanPlane, Template, TemplateSet
from seamsurvey.plane import BARE, STAND_IN_MM


def is_bare(pictures: Sequence[tuple[Picture, Plane]]) -> bool:
    """Whether the pictures have no scale."""
    return any(plane.kind == BARE for _, plane in pictures)


def refuse_lengths(
    pictures: Sequence[tuple[Picture, Plane]], allowance_mm: float | None, corrections: Corrections | None
) -> None:
    """UsageError ``pixels-only`` where a length was given, or pictures of several scales, and none is known."""
    said = corrections.templates.values() if corrections else ()
    given = [
        *(["an allowance"] if allowance_mm else []),
        *(["a template's allowance"] if any(s.allowance_mm or s.allowances_mm for s in said) else []),
        *(["an edge's length"] if any(s.edges for s in said) else []),
        *(["a second picture, of a scale of its own"] if len(pictures) > 1 else []),
    ]
    if given:
        raise UsageError(
            "pixels-only",
            f"Without a reference there is no scale, but there is {given[0]}.",
            where=", ".join(picture.name for picture, _ in pictures),
            likely="Lengths are pixels with --reference none: nothing in inches or millimetres fits beside them.",
            todo="Leave it out, or take the scale from a ruler: --reference auto.",
        )


def in_pixels(templates: TemplateSet) -> TemplateSet:
    """A set measured on bare planes with one pixel for each of its millimetres: every length is then in pixels."""
    return _scaled(templates, [1 / photo.plane.mm_per_px for photo in templates.photos])


def in_stand_ins(templates: TemplateSet) -> TemplateSet:
    """A set in pixels in the stand-in millimetres it was measured in: cards then have about the sizes of cards.

    What a block room knows of hands and scissors holds in them.
    """
    return _scaled(templates, [STAND_IN_MM / max(photo.size_px) for photo in templates.photos])


def _scaled(templates: TemplateSet, scales: Sequence[float]) -> TemplateSet:
    covariance = templates.shared_covariance.copy()
    covariance[-1, -1] *= scales[0] ** 2  # the edge bias; a bare plane's own parameters are taken as exact
    return attrs.evolve(
        templates,
        photos=tuple(
            attrs.evolve(photo, plane=_scaled_plane(photo.plane, scale))
            for photo, scale in zip(templates.photos, scales, strict=True)
        ),
        templates=tuple(_template(template, scales[template.photo]) for template in templates.templates),
        shared_covariance=covariance,
    )


def _scaled_plane(plane: Plane, scale: float) -> Plane:
    return attrs.evolve(plane, matrix=plane.matrix * scale) if isinstance(plane, ScanPlane) else plane


def _template(template: Template, scale: float) -> Template:
    sensitivity = template.sensitivity.copy()
    sensitivity[:, :-1] *= scale
    return attrs.evolve(
        template,
        cut_outline=template.cut_outline * scale,
        finished_outline=template.finished_outline * scale,
        own_covariance=template.own_covariance * scale**2,
        sensitivity=sensitivity,
        edges=tuple(_edge(edge, scale) for edge in template.edges),
    )


def _edge(edge: Edge, scale: float) -> Edge:
    return attrs.evolve(
        edge,
        length_mm=edge.length_mm * scale,
        u_mm=edge.u_mm * scale,
        budget_mm={name: value * scale for name, value in edge.budget_mm.items()},
        curve=edge.curve
        and attrs.evolve(
            edge.curve, radius_mm=edge.curve.radius_mm * scale, u_radius_mm=edge.curve.u_radius_mm * scale
        ),
    )
