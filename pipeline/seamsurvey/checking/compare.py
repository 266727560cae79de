"""Measured templates against what they should be: partner by shape, then each length by itself.

Names say nothing here: a set is named in the order in which it lies. So each template is compared with the
shape it is nearest to, however it was turned, and turned over if need be.
"""

from collections.abc import Sequence

import numpy as np
from attrs import frozen
from scipy.optimize import linear_sum_assignment

from seamsurvey.check_model import CANT_TELL, NOTHING_TO_COMPARE, OFF, Checked, CheckReport, Wanted
from seamsurvey.checking.shapes import distances, distances_u
from seamsurvey.checking.verdict import verdict_on, what_to_change
from seamsurvey.model import Template, TemplateSet
from seamsurvey.units import mm_text

# A length farther than this from any wanted one is another length, not a bad copy: an allowance of 1/4 in left
# on or off, on both sides of an edge, is the largest mistake that is made with templates.
ANOTHER_MM = 12.7


@frozen
class _Match:
    """A wanted shape laid on a template: corner k of the template is corner ``corners[k]`` of the wanted one."""

    wanted: int
    corners: tuple[int, ...]
    turned_over: bool


def compare_shapes(
    templates: TemplateSet, wanted: Sequence[Wanted], *, tolerance_mm: float, risk: float
) -> CheckReport:
    """Every edge of every template against the wanted shape it is nearest to, and every diagonal that is not right.

    Right sides do not make a right shape: a square leans. Where the wanted shape's diagonals are known they are
    compared too, and told when they are not right.
    """
    matches = _matched(templates.templates, wanted)
    lengths: list[Checked] = []
    notes: list[str] = []
    for template, match in zip(templates.templates, matches, strict=True):
        if match is None:
            lengths += _uncompared(template)
            continue
        if match.turned_over:
            notes.append(f"{template.name} lies turned over, as seen against {wanted[match.wanted].name}.")
        lengths += _compared(template, templates, wanted[match.wanted], match, tolerance_mm=tolerance_mm, risk=risk)
    used = {match.wanted for match in matches if match is not None}
    missing = tuple(shape.name for k, shape in enumerate(wanted) if k not in used)
    return CheckReport(
        lengths=tuple(lengths), missing=(*missing, *_copies(templates.templates)), notes=tuple(notes),
        tolerance_mm=tolerance_mm, risk=risk,
    )  # fmt: skip


def compare_lengths(
    templates: TemplateSet, sizes_mm: Sequence[float], *, tolerance_mm: float, risk: float
) -> CheckReport:
    """Every edge against the nearest of a few lengths; a length that no edge is near is missing."""
    lengths: list[Checked] = []
    used: set[int] = set()
    for template in templates.templates:
        for number, edge in enumerate(template.edges, 1):
            k = int(np.argmin([abs(edge.length_mm - size) for size in sizes_mm]))
            off = edge.length_mm - sizes_mm[k]
            if abs(off) > ANOTHER_MM:
                lengths.append(_uncompared(template)[number - 1])
                continue
            used.add(k)
            lengths.append(
                _checked(
                    template, f"edge {number}", edge.length_mm, edge.u_mm,
                    wanted="size", wanted_mm=sizes_mm[k], wanted_u_mm=0.0, term=edge.dominant_term,
                    tolerance_mm=tolerance_mm, risk=risk,
                )
            )  # fmt: skip
    missing = tuple(mm_text(size, 2) for k, size in enumerate(sizes_mm) if k not in used)
    return CheckReport(
        lengths=tuple(lengths), missing=(*missing, *_copies(templates.templates)),
        tolerance_mm=tolerance_mm, risk=risk,
    )  # fmt: skip


def _matched(templates: Sequence[Template], wanted: Sequence[Wanted]) -> list[_Match | None]:
    """A shape for each template: one each as far as they go, the nearest for further copies."""
    fits = [[_best_fit(template, k, shape) for k, shape in enumerate(wanted)] for template in templates]
    cost = np.array([[off for off, _ in row] for row in fits]).reshape(len(templates), len(wanted))
    partners: dict[int, int] = {}
    if cost.size:
        rows, columns = linear_sum_assignment(np.minimum(cost, 10 * ANOTHER_MM))
        partners = {int(r): int(c) for r, c in zip(rows, columns, strict=True) if cost[r, c] <= ANOTHER_MM}
    for row in range(len(templates)):
        if row not in partners and len(wanted) and cost[row].min() <= ANOTHER_MM:
            partners[row] = int(cost[row].argmin())
    return [fits[row][partners[row]][1] if row in partners else None for row in range(len(templates))]


def _best_fit(template: Template, number: int, wanted: Wanted) -> tuple[float, _Match | None]:
    """The greatest difference of any known distance when the shape is laid on best; inf if the corners differ."""
    count = len(template.finished_outline)
    if count != len(wanted.distances_mm):
        return float("inf"), None
    seen = distances(template.finished_outline)
    best: tuple[float, _Match | None] = (float("inf"), None)
    for turned_over in (False, True):
        for shift in range(count):
            corners = tuple((shift - k if turned_over else shift + k) % count for k in range(count))
            off = float(np.nanmax(np.abs(seen - wanted.distances_mm[np.ix_(corners, corners)])))
            if off < best[0] - 1e-9:  # a symmetrical shape counts as not turned over
                best = (off, _Match(number, corners, turned_over))
    return best


def _compared(
    template: Template, templates: TemplateSet, wanted: Wanted, match: _Match, *, tolerance_mm: float, risk: float
) -> list[Checked]:
    count = len(template.finished_outline)
    order = np.ix_(match.corners, match.corners)
    should_be, should_u = wanted.distances_mm[order], wanted.distances_u_mm[order]
    seen, seen_u = distances(template.finished_outline), distances_u(template, templates.shared_covariance)
    found = []
    for i, j in _pairs(count):
        if np.isnan(should_be[i, j]):
            continue
        side = j == i + 1 or (i, j) == (0, count - 1)
        number = count if (i, j) == (0, count - 1) else i + 1
        worst = max((template.edges[i], template.edges[j]), key=lambda edge: edge.u_mm)
        checked = _checked(
            template, f"edge {number}" if side else f"corners {i + 1} and {j + 1}", seen[i, j], seen_u[i, j],
            wanted=wanted.name, wanted_mm=should_be[i, j], wanted_u_mm=should_u[i, j],
            term=template.edges[number - 1].dominant_term if side else worst.dominant_term,
            tolerance_mm=tolerance_mm, risk=risk,
        )  # fmt: skip
        if side or checked.verdict in (OFF, CANT_TELL):
            found.append(checked)
    return found


def _pairs(count: int) -> list[tuple[int, int]]:
    """All pairs of corners, the edges first and in order."""
    edges = [(k, k + 1) for k in range(count - 1)] + [(0, count - 1)]
    return edges + [(i, j) for i in range(count) for j in range(i + 1, count) if (i, j) not in edges]


def _checked(
    template: Template, what: str, measured: float, u: float, *, wanted: str, wanted_mm: float, wanted_u_mm: float,
    term: str, tolerance_mm: float, risk: float,
) -> Checked:  # fmt: skip
    off = float(measured - wanted_mm)
    off_u = float(np.hypot(u, wanted_u_mm))
    verdict = verdict_on(off, off_u, tolerance_mm=tolerance_mm, risk=risk)
    change = what_to_change(term, off_u, tolerance_mm=tolerance_mm, risk=risk) if verdict == CANT_TELL else ""
    return Checked(
        name=template.name, what=what, measured_mm=float(measured), u_mm=float(u), verdict=verdict, wanted=wanted,
        wanted_mm=float(wanted_mm), off_mm=off, off_u_mm=off_u, change=change,
    )  # fmt: skip


def _uncompared(template: Template) -> list[Checked]:
    return [
        Checked(
            name=template.name, what=f"edge {number}", measured_mm=edge.length_mm, u_mm=edge.u_mm,
            verdict=NOTHING_TO_COMPARE,
        )
        for number, edge in enumerate(template.edges, 1)
    ]  # fmt: skip


def _copies(templates: Sequence[Template]) -> list[str]:
    """Copies that the measuring took for one template: the best measured of them speaks for no other."""
    return [
        f"{template.copies_seen - 1} of {template.copies_seen} copies of {template.name}"
        for template in templates
        if template.copies_seen > 1
    ]


def as_measured(templates: TemplateSet) -> CheckReport:
    """Every edge as it was measured, compared with nothing."""
    return CheckReport(lengths=tuple(checked for t in templates.templates for checked in _uncompared(t)))
