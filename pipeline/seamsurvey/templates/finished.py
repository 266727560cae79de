"""From an outlined card to its template: the allowance off, corners with their errors, edges with their budgets."""

from collections.abc import Sequence

import attrs
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.errors import UsageError
from seamsurvey.geometry import edge_lengths, offset_polygon
from seamsurvey.model import Correction, Picture, Plane, Template
from seamsurvey.templates.budget import budgeted_edges
from seamsurvey.templates.cards import place_text
from seamsurvey.templates.lines import corners_of
from seamsurvey.templates.outline import corner_moves, finishing, own_covariance, shared_sensitivity
from seamsurvey.templates.outlined import Outlined
from seamsurvey.templates.said import edge_allowances, placed_corners, with_said
from seamsurvey.templates.wobble import Wobble
from seamsurvey.units import mm_text

Floats = NDArray[np.float64]

_NOMINAL_MM = 0.1  # a page printed a percent too small has its 1/4 inch this much narrower


@frozen(kw_only=True)
class CardErrors:
    """Errors of a card's finished corners: ``own`` (2n, 2n) mm², ``shared`` (2n, p + 1) of plane and edge bias."""

    own: Floats
    shared: Floats


def finished_card(
    card: Outlined,
    pictures: Sequence[tuple[Picture, Plane]],
    wobble: Wobble,
    allowance_mm: float,
    *,
    name: str,
    said: Correction | None = None,
) -> Template:
    """The template of a card, with what a person ``said`` of it; the errors of ``measure_templates``."""
    picture, plane = pictures[card.photo]
    said = said or Correction()
    placed = placed_corners(said, card.corners, plane, name)
    cut = card.corners.copy()
    for k, corner in placed.items():
        cut[k] = corner.at
    distances = edge_allowances(said, allowance_mm, len(cut), name)
    finished = _taken_off(cut, distances, picture, plane)
    if placed:
        # What a person put does not move with the fitted lines, nor with the bias they are fitted with.
        own = own_covariance(card.lines, cut, wobble)
        bias = corner_moves(card.lines, cut)[:, ::2].sum(axis=1)
        for k, corner in placed.items():
            rows = slice(2 * k, 2 * k + 2)
            own[rows, :] = own[:, rows] = 0.0
            own[rows, rows] = corner.covariance
            bias[rows] = 0.0
        moves = finishing(cut, distances)
        of_plane = plane.sensitivity(plane.to_px(cut)).reshape(cut.size, -1)
        errors = CardErrors(own=moves @ own @ moves.T, shared=np.column_stack([moves @ of_plane, moves @ bias]))
    else:
        errors = CardErrors(
            own=own_covariance(card.lines, finished, wobble),
            shared=shared_sensitivity(card.lines, cut, distances, plane),
        )
    if card.printed:
        errors.shared[:, -1] = 0.0  # the middle of a stroke has no bias: ink and blur move both its sides alike
    template = Template(
        name=name,
        photo=card.photo,
        cut_outline=cut,
        finished_outline=finished,
        corners_px=plane.to_px(cut),
        edges=budgeted_edges(finished, errors.own, errors.shared[:, :-1], errors.shared[:, -1], plane),
        own_covariance=errors.own,
        sensitivity=_in_the_set(errors.shared, card.photo, pictures),
        allowance_mm=allowance_mm if said.allowance_mm is None else said.allowance_mm,
        edge_allowances_mm=tuple(float(d) for d in distances) if said.allowances_mm else (),
    )
    return with_said(template, said, errors.shared, plane)


def printed_seam(
    card: Outlined,
    pictures: Sequence[tuple[Picture, Plane]],
    wobble: Wobble,
    allowance_mm: float,
    *,
    name: str,
    said: Correction | None = None,
) -> Template:
    """The template of a printed outline whose seam line is drawn, or of a frame with a window: as that stands.

    The cut outline lies the drawn distance outside it, or ``allowance_mm`` where that is as good as the same.
    """
    corners = corners_of(card.seam)
    inner = attrs.evolve(card, lines=card.seam, corners=corners, seam=())
    template = finished_card(inner, pictures, wobble, 0.0, name=name, said=said)
    drawn = card.seam_line.distance_mm if card.seam_line is not None else allowance_mm
    if abs(drawn - allowance_mm) < _NOMINAL_MM:
        drawn = allowance_mm
    cut = offset_polygon(corners, drawn)
    return attrs.evolve(
        template, cut_outline=cut, corners_px=pictures[card.photo][1].to_px(cut), allowance_mm=round(drawn, 2)
    )


def _taken_off(cut: Floats, distances: Floats, picture: Picture, plane: Plane) -> Floats:
    try:
        return offset_polygon(cut, -distances)
    except ValueError as error:
        raise UsageError(
            "allowance-too-large",
            f"A template has no room for an allowance of {mm_text(float(distances.max()), 2)} on every side: its"
            f" shortest edge measures {mm_text(float(edge_lengths(cut).min()))}.",
            where=place_text(plane.to_px(cut), picture),
            likely="The templates are finished size, or the allowance is smaller.",
            todo="Run again with --allowance none, or with the right allowance.",
        ) from error


def _in_the_set(shared: Floats, photo: int, pictures: Sequence[tuple[Picture, Plane]]) -> Floats:
    """(2n, P + 1): the sensitivity to the parameters of all planes of the set in turn, and to the edge bias."""
    counts = [len(plane.parameter_names) for _, plane in pictures]
    begin = sum(counts[:photo])
    result = np.zeros((len(shared), sum(counts) + 1))
    result[:, begin : begin + counts[photo]] = shared[:, :-1]
    result[:, -1] = shared[:, -1]
    return result
