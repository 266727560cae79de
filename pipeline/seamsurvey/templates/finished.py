"""From an outlined card to its template: the allowance off, corners with their errors, edges with their budgets.

An outline is here one row of numbers: its corners x0, y0, x1, ... and then, for each arc in turn, its rise, how far
its middle lies outwards of its chord (mm). Two corners and the rise are an arc's radius, sweep and length.
"""

import math
from collections.abc import Callable, Mapping, Sequence

import attrs
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.arcs import along_arc, sweep_of
from seamsurvey.curves import bulge_between, offset_outline
from seamsurvey.errors import UsageError
from seamsurvey.geometry import edge_lengths, edge_vectors, offset_polygon
from seamsurvey.model import Correction, Picture, Plane, Template
from seamsurvey.templates.budget import budgeted_edges
from seamsurvey.templates.cards import place_text
from seamsurvey.templates.fitted import FittedEdge, corners_of
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

_STEP_MM = 1e-4  # of the difference quotients; outlines are nearly linear in their errors over this
_NOMINAL_MM = 0.1  # a page printed a percent too small has its 1/4 inch this much narrower


@frozen(kw_only=True)
class FinishedShape:
    """A finished outline, corner for corner of the cut one; an outline of two arcs has their middles for corners.

    ``own`` (m, m) mm² and ``shared`` (m, p + 1), of plane and edge bias, are the errors of its row.
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


# --- how an outline moves with every error ---


@frozen(kw_only=True)
class Bowed:
    """An outline: ``corners`` (n, 2) mm, ``bulges`` of its edges, as in ``arcs``, 0 where one is straight."""

    corners: Floats = field(eq=False)
    bulges: tuple[float, ...]

    @property
    def row(self) -> Floats:
        """The corners, and the rise of each arc."""
        rises = edge_lengths(self.corners) * np.array(self.bulges) / 2
        return np.concatenate([self.corners.ravel(), rises[np.array(self.bulges) != 0]])

    def with_row(self, row: Floats) -> "Bowed":
        """The outline of another row, with the same edges curved."""
        corners = row[: self.corners.size].reshape(-1, 2)
        rises = iter(row[self.corners.size :])
        chords = edge_lengths(corners)
        bulges = [2 * float(next(rises)) / chords[k] if bulge else 0.0 for k, bulge in enumerate(self.bulges)]
        return Bowed(corners=corners, bulges=tuple(bulges))

    def with_three_corners(self) -> "Bowed":
        """An outline of two edges with the middles of its arcs for corners, too; any other as it is."""
        if len(self.corners) > 2:
            return self
        corners: list[Floats] = []
        bulges: list[float] = []
        for k, bulge in enumerate(self.bulges):
            start, end = self.corners[k], self.corners[1 - k]
            corners.append(start)
            if bulge:
                corners.append(along_arc(start, end, bulge, np.array([0.5]))[0])
            bulges += [math.tan(math.radians(sweep_of(bulge)) / 8)] * 2 if bulge else [0.0]
        return Bowed(corners=np.array(corners), bulges=tuple(bulges))

    def finished(self, allowances: Floats) -> "Bowed":
        """The outline with an allowance (n,) off each edge; ValueError where an edge has no room for it.

        Arcs stay concentric.
        """
        corners, bulges = offset_outline(self.corners, self.bulges, -allowances)
        return Bowed(corners=corners, bulges=bulges or self.bulges).with_three_corners()


def row_moves(edges: Sequence[FittedEdge], cut: Bowed) -> list[Floats]:
    """For each edge (m, 2 or 3): how the cut row moves with the numbers of its error."""

    def row(changed: Sequence[FittedEdge]) -> Floats:
        corners = corners_of(changed, cut.corners)
        ends = zip(changed, corners, np.roll(corners, -1, axis=0), strict=True)
        return Bowed(corners=corners, bulges=tuple(bulge_between(e.curve, *both) for e, *both in ends)).row

    result = []
    for k, edge in enumerate(edges):
        half = max(1.0, float(np.abs(edge.places).max()))
        columns = []
        for number in range(3 if edge.bend else 2):
            step = _STEP_MM / half**number
            error = step * np.eye(3)[number]
            ahead, behind = (row([*edges[:k], edge.moved(by), *edges[k + 1 :]]) for by in (error, -error))
            columns.append((ahead - behind) / (2 * step))
        result.append(np.column_stack(columns))
    return result


def finishing(cut: Bowed, allowances: Floats) -> Floats:
    """(m', m): how the finished row moves with the cut one."""
    return _quotients(lambda row: cut.with_row(row).finished(allowances).row, cut.row)


def moves_with_plane(cut: Bowed, plane: Plane) -> Floats:
    """(m, p): how the cut row moves with the plane's parameters; an arc's rise by its middle and its ends."""
    count = len(cut.corners)
    of_corners = plane.sensitivity(plane.to_px(cut.corners))
    ways = edge_vectors(cut.corners) / edge_lengths(cut.corners)[:, None]
    rows = [of_corners.reshape(cut.corners.size, -1)]
    for k, bulge in enumerate(cut.bulges):
        if bulge:
            after = (k + 1) % count
            middle = along_arc(cut.corners[k], cut.corners[after], bulge, np.array([0.5]))
            of_middle = plane.sensitivity(plane.to_px(middle))[0]
            outward = np.array([ways[k, 1], -ways[k, 0]])
            rows.append((outward @ (of_middle - (of_corners[k] + of_corners[after]) / 2))[None])
    return np.vstack(rows)


def _quotients(function: Callable[[Floats], Floats], at: Floats) -> Floats:
    steps = _STEP_MM * np.eye(len(at))
    return np.column_stack([(function(at + step) - function(at - step)) / (2 * _STEP_MM) for step in steps])
