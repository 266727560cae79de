"""What a person says of one card, put in place of what was measured: a corner, an edge's length, an allowance.

Whatever is said counts as it is said, with its own uncertainty, and the outline stays closed: a length that is set
moves the corners as little as the lines' own errors make likely (least squares with a constraint), so that its
neighbours follow and the angles hardly do.
"""

from collections.abc import Mapping, Sequence

import attrs
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.adjustment import NotAdjustedError, adjust
from seamsurvey.errors import UsageError
from seamsurvey.geometry import edge_lengths, edge_vectors
from seamsurvey.model import Correction, Edge, Plane, SetLength, Template
from seamsurvey.plane import COVERAGE
from seamsurvey.templates.budget import EDGE_FIT, budgeted_edges
from seamsurvey.templates.corners import is_sound
from seamsurvey.units import mm_text

Floats = NDArray[np.float64]

YOUR_LENGTH, YOUR_CORNER = "your length", "your corner"
_SAME_EDGE = 0.25  # of its length: what is further from the photo is another edge, or another unit
_LEAST_VARIANCE = 1e-8  # mm²: corners that were put exactly still have an inverse


@frozen(kw_only=True)
class PlacedCorner:
    """A cut corner as a person put it: ``at`` (2,) plane mm, ``covariance`` (2, 2) mm²."""

    at: Floats = attrs.field(eq=False)
    covariance: Floats = attrs.field(eq=False)


def placed_corners(said: Correction, corners: Floats, plane: Plane, name: str) -> dict[int, PlacedCorner]:
    """The corners that were put, by index; UsageError ``no-such-part``, ``correction-impossible``."""
    _check_numbers(said.corners, len(corners), "corner", name)
    placed = {}
    for number, corner in said.corners.items():
        px = np.array([[corner.x, corner.y]])
        at = plane.to_mm(px)[0]
        steps = plane.to_mm(px + np.eye(2)) - at  # rows: how the place moves with a pixel to the right, and down
        placed[number - 1] = PlacedCorner(at=at, covariance=steps.T @ steps * (corner.u_px / COVERAGE) ** 2)
    moved = corners.copy()
    for k, each in placed.items():
        moved[k] = each.at
    if placed and not is_sound(moved):
        listed = ", ".join(str(k + 1) for k in placed)
        raise _impossible(
            name,
            f"With corner {listed} where job.toml puts it, the outline of {name} crosses itself.",
            "Corners may be numbered otherwise than you think, or x and y exchanged: x runs right, y down, in"
            " pixels of the picture as it is shown upright.",
        )
    return placed


def edge_allowances(said: Correction, allowance_mm: float, count: int, name: str) -> Floats:
    """(count,) mm: what is taken off each edge; UsageError ``no-such-part``."""
    _check_numbers(said.allowances_mm, count, "edge", name)
    distances = np.full(count, allowance_mm if said.allowance_mm is None else said.allowance_mm)
    for number, distance in said.allowances_mm.items():
        distances[number - 1] = distance
    return distances


def refuse_said_of_arcs(said: Correction, name: str) -> None:
    """UsageError ``correction-impossible`` where a corner or a length is set on a template with curved edges."""
    if said.corners or said.edges:
        raise _impossible(
            name,
            f"{name} has curved edges: its corners and lengths follow from its arcs, and can't be set.",
            "An allowance can be set, also one of each edge.",
        )


def with_said(
    template: Template, said: Correction, shared: Floats, plane: Plane, drawn: Sequence[int] = ()
) -> Template:
    """The template with the lengths that were set, and the marks of all that is a person's.

    ``shared`` (2n, p + 1) is how the finished corners move with its own plane's parameters and the edge bias;
    ``drawn`` are the edges (indices) that lie where a person drew them, and their corners with them.
    UsageError ``no-such-part``, ``correction-impossible``.
    """
    count = len(template.edges)
    _check_numbers(said.edges, count, "edge", template.name)
    if said.edges:
        template = _with_lengths(template, said.edges, shared, plane)
    of_corners = {(number - 1 - back) % count for number in said.corners for back in (0, 1)}
    of_corners |= {(k + beside) % count for k in drawn for beside in (-1, 0, 1)}
    of_lengths = {number - 1 for number in said.edges}
    edges = [
        _marked(edge, "length", YOUR_LENGTH)
        if k in of_lengths
        else _marked(edge, "corner", YOUR_CORNER)
        if k in of_corners
        else edge
        for k, edge in enumerate(template.edges)
    ]
    return attrs.evolve(template, edges=tuple(edges))


def _marked(edge: Edge, what: str, term: str) -> Edge:
    """The edge as a person's: a set length has only their doubt, a set corner's stands in the edge fit's place."""
    if term == YOUR_LENGTH:
        budget = {term: edge.u_mm / COVERAGE}
    else:
        budget = {term if name == EDGE_FIT else name: value for name, value in edge.budget_mm.items()}
    return attrs.evolve(
        edge, set_by_person=what, budget_mm=budget, dominant_term=max(budget, key=lambda name: budget[name])
    )


def _with_lengths(template: Template, lengths: Mapping[int, SetLength], shared: Floats, plane: Plane) -> Template:
    """The outline that closes with these lengths, nearest to the measured one by its own lines' errors.

    With the gain of that adjustment, x' = x + K (l - f(x)), every error of the corners becomes (1 - K F) times
    what it was, those that the set shares too, and the lengths' own come in by K (propagation of uncertainty,
    JCGM 102:2011, 6.2).
    """
    measured = template.finished_outline
    own = template.own_covariance + _LEAST_VARIANCE * np.eye(measured.size)
    places = [number - 1 for number in lengths]
    wanted = np.array([length.length_mm for length in lengths.values()])
    u = np.array([length.u_mm for length in lengths.values()])
    size = measured.size
    for number, length in lengths.items():
        seen = float(edge_lengths(measured)[number - 1])
        if abs(length.length_mm - seen) > _SAME_EDGE * seen:
            raise _impossible(
                template.name,
                f"Edge {number} of {template.name} can't be {mm_text(length.length_mm, 2)}: the photo shows"
                f" {mm_text(seen, 2)}.",
                "An edge may be numbered otherwise than you think, or a length be written in the wrong unit; where"
                " a corner is torn off, say where it was: corners.",
            )

    def constrain(x: Floats) -> tuple[Floats, Floats]:
        outline = x.reshape(-1, 2)
        ways = edge_vectors(outline) / edge_lengths(outline)[:, None]
        rows = np.zeros((len(places), size))
        for row, k in enumerate(places):
            after = 2 * ((k + 1) % len(outline))
            rows[row, after : after + 2], rows[row, 2 * k : 2 * k + 2] = ways[k], -ways[k]
        return edge_lengths(outline)[places] - wanted, rows

    start = _scaled(measured, places, wanted)
    try:
        result = adjust(start.ravel(), lambda x: (x, np.eye(size)), measured.ravel(), own, constrain=constrain)
    except NotAdjustedError as error:
        raise _open(template.name, lengths) from error
    outline = result.parameters.reshape(-1, 2)
    if not is_sound(outline):
        raise _open(template.name, lengths)
    rows = constrain(result.parameters)[1]
    gain = np.linalg.solve(rows @ own @ rows.T, rows @ own).T
    kept = np.eye(size) - gain @ rows
    own = kept @ own @ kept.T + gain @ np.diag((u / COVERAGE) ** 2) @ gain.T
    return attrs.evolve(
        template,
        finished_outline=outline,
        own_covariance=own,
        sensitivity=kept @ template.sensitivity,
        edges=budgeted_edges(outline, own, kept @ shared[:, :-1], kept @ shared[:, -1], plane),
    )


def _scaled(outline: Floats, places: list[int], wanted: Floats) -> Floats:
    """A start for the adjustment: the outline at the size that the wanted lengths have on average."""
    middle = outline.mean(axis=0)
    return np.asarray(middle + (outline - middle) * float(np.mean(wanted / edge_lengths(outline)[places])))


def said_warnings(before: Template, after: Template, said: Correction) -> tuple[str, ...]:
    """A sentence for each set length: what the photo says, and what follows of the other edges."""
    warnings = []
    followers = [
        f"edge {k} by {new.length_mm - old.length_mm:+.2f} mm"
        for k, (old, new) in enumerate(zip(before.edges, after.edges, strict=True), 1)
        if k not in said.edges and abs(new.length_mm - old.length_mm) >= 0.05
    ]
    for number, length in said.edges.items():
        old = before.edges[number - 1]
        off = length.length_mm - old.length_mm
        text = (
            f"{after.name}, edge {number} is {mm_text(length.length_mm, 2)} because you say so; in the photo it"
            f" measures {mm_text(old.length_mm, 2)} ± {old.u_mm:.2f}."
        )
        if abs(off) > np.hypot(old.u_mm, length.u_mm):
            text += " That is more than the two uncertainties explain: look at the edge again."
        warnings.append(text)
    if said.edges and followers:
        warnings.append(f"So that the outline of {after.name} closes, {', '.join(followers)} followed.")
    return tuple(warnings)


def _check_numbers(given: Mapping[int, object], count: int, part: str, name: str) -> None:
    for number in given:
        if not 1 <= number <= count:
            raise UsageError(
                "no-such-part",
                f"{name} has no {part} {number}: its {part}s are 1 to {count}.",
                where=f"[templates.{name}] in job.toml",
                likely="Corners and edges are counted counter-clockwise, as the overlay picture numbers them.",
                todo="Look at the overlay picture, and mend the number in job.toml.",
            )


def _open(name: str, lengths: Mapping[int, SetLength]) -> UsageError:
    said = ", ".join(f"edge {number} {mm_text(each.length_mm, 2)}" for number, each in lengths.items())
    return _impossible(
        name,
        f"No outline of {name} closes with {said}.",
        "An edge may be numbered otherwise than you think, or a length be written in the wrong unit.",
    )


def _impossible(name: str, what: str, likely: str) -> UsageError:
    return UsageError(
        "correction-impossible",
        what,
        where=f"[templates.{name}] in job.toml",
        likely=likely,
        todo="Look at the overlay picture, and mend the lines in job.toml.",
    )
