"""From an outlined card to its template: the allowance off, corners with their errors, edges with their budgets."""

from collections.abc import Mapping, Sequence

import attrs
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.errors import UsageError
from seamsurvey.geometry import edge_lengths, offset_polygon
from seamsurvey.model import Correction, Picture, Plane, Template
from seamsurvey.templates.bowed import Bowed, finishing, moves_with_plane, row_moves
from seamsurvey.templates.budget import budgeted_edges
from seamsurvey.templates.cards import place_text
from seamsurvey.templates.fitted import corners_of
from seamsurvey.templates.outlined import Outlined
from seamsurvey.templates.said import (
    PlacedCorner,
    edge_allowances,
    placed_corners,
    refuse_said_of_arcs,
    with_said,
)
from seamsurvey.templates.wobble import Wobble
from seamsurvey.units import mm_text

Floats = NDArray[np.float64]

_NOMINAL_MM = 0.1  # a page printed a percent too small has its 1/4 inch this much narrower


@frozen(kw_only=True)
class FinishedShape:
    """A finished outline, corner for corner of the cut one; an outline of two arcs has their middles for corners.

    ``own`` (m, m) mm² and ``shared`` (m, p + 1), of plane and edge bias, are the errors of its corners and, after
    them, of its arcs' rises (``bowed``).
    """

    cut: Floats = field(eq=False)
    cut_bulges: tuple[float, ...]
    corners: Floats = field(eq=False)
    bulges: tuple[float, ...]
    own: Floats = field(eq=False)
    shared: Floats = field(eq=False)


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
    distances = edge_allowances(said, allowance_mm, len(card.corners), name)
    try:
        if card.bulges:
            refuse_said_of_arcs(said, name)
        shape = finished_shape(card, placed_corners(said, card.corners, plane, name), distances, wobble, plane)
    except ValueError as error:
        raise _no_room(card, float(distances.max()), picture, plane) from error
    rows = shape.corners.size
    template = Template(
        name=name,
        photo=card.photo,
        cut_outline=shape.cut,
        cut_bulges=shape.cut_bulges,
        finished_outline=shape.corners,
        corners_px=plane.to_px(shape.cut),
        edges=budgeted_edges(
            shape.corners, shape.own, shape.shared[:, :-1], shape.shared[:, -1], plane, bulges=shape.bulges
        ),
        own_covariance=shape.own[:rows, :rows],
        sensitivity=_in_the_set(shape.shared[:rows], card.photo, pictures),
        allowance_mm=allowance_mm if said.allowance_mm is None else said.allowance_mm,
        edge_allowances_mm=tuple(float(d) for d in distances) if said.allowances_mm else (),
    )
    drawn = [k for k, edge in enumerate(card.edges) if edge.drawn]
    return with_said(template, said, shape.shared, plane, drawn)


def finished_shape(
    card: Outlined, placed: Mapping[int, PlacedCorner], distances: Floats, wobble: Wobble, plane: Plane
) -> FinishedShape:
    """The outline with an allowance (n,) off each edge; ValueError where one has no room for it."""
    cut = Bowed(corners=card.corners.copy(), bulges=card.bulges or (0.0,) * len(card.corners))
    moves = row_moves(card.edges, cut)
    for k, corner in placed.items():
        cut.corners[k] = corner.at
        for move in moves:  # what a person put does not move with the fitted lines, nor with their bias
            move[2 * k : 2 * k + 2] = 0.0
    pairs = zip(card.edges, moves, strict=True)
    own = np.sum([move @ edge.covariance(wobble) @ move.T for edge, move in pairs], axis=0)
    for k, corner in placed.items():
        rows = slice(2 * k, 2 * k + 2)
        own[rows, rows] = corner.covariance
    bias = np.sum([move[:, 0] for move in moves], axis=0)
    if card.printed:
        bias[:] = 0.0  # the middle of a stroke has no bias: ink and blur move both its sides alike
    whole, finished = cut.with_three_corners(), cut.finished(distances)
    onto = finishing(cut, distances)
    return FinishedShape(
        cut=whole.corners,
        cut_bulges=whole.bulges if card.bulges else (),
        corners=finished.corners,
        bulges=finished.bulges if card.bulges else (),
        own=onto @ own @ onto.T,
        shared=onto @ np.column_stack([moves_with_plane(cut, plane), bias]),
    )


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
    inner = attrs.evolve(card, edges=card.seam, corners=corners, seam=())
    template = finished_card(inner, pictures, wobble, 0.0, name=name, said=said)
    drawn = card.seam_line.distance_mm if card.seam_line is not None else allowance_mm
    if abs(drawn - allowance_mm) < _NOMINAL_MM:
        drawn = allowance_mm
    cut = offset_polygon(corners, drawn)
    return attrs.evolve(
        template, cut_outline=cut, corners_px=pictures[card.photo][1].to_px(cut), allowance_mm=round(drawn, 2)
    )


def _no_room(card: Outlined, allowance_mm: float, picture: Picture, plane: Plane) -> UsageError:
    return UsageError(
        "allowance-too-large",
        f"A template has no room for an allowance of {mm_text(allowance_mm, 2)} on every side: its"
        f" shortest edge measures {mm_text(float(edge_lengths(card.corners).min()))}.",
        where=place_text(plane.to_px(card.corners), picture),
        likely="The templates are finished size, or the allowance is smaller.",
        todo="Run again with --allowance none, or with the right allowance.",
    )


def _in_the_set(shared: Floats, photo: int, pictures: Sequence[tuple[Picture, Plane]]) -> Floats:
    """(2n, P + 1): the sensitivity to the parameters of all planes of the set in turn, and to the edge bias."""
    counts = [len(plane.parameter_names) for _, plane in pictures]
    begin = sum(counts[:photo])
    result = np.zeros((len(shared), sum(counts) + 1))
    result[:, begin : begin + counts[photo]] = shared[:, :-1]
    result[:, -1] = shared[:, -1]
    return result
