"""Which edges can meet: edges of one length, and long edges against sums of short ones; arcs only their like."""

import itertools

import numpy as np
from numpy.typing import NDArray

from seamsurvey.arcs import arc_length
from seamsurvey.block.shapes import bulge_sigma, bulges_of, edge_sigma
from seamsurvey.model import Match, Template, TemplateSet

# Two lengths agree when they differ by less than this many joint standard deviations: about one true pair in
# 15,000 is missed, were the errors normal; a hand-cut card's errors are not, hence four and not three.
AGREE = 4.0
_MOST_PARTS = 3

_MOST_SUMS = 300_000  # sums of so many parts are left out where there are more of them
_MOST_EACH = 12  # of each edge: more say only that everything fits everything

EdgeName = tuple[str, int]
"""A template and the number of its edge."""


def matches(templates: TemplateSet, most_parts: int = _MOST_PARTS) -> tuple[Match, ...]:
    """For every edge, all that it can meet, by number of parts, the closest first; an edge can meet its own copy.

    An arc meets one arc of its length and sweep that bows the other way; what is straight meets what is straight.
    The joint uncertainty has the errors the edges share (scale, edge bias) in it only as far as they don't cancel.
    """
    names, lengths, own, shared = _edges(templates)
    bows = _Bows(templates)
    covariance = np.diag(own**2) + shared
    shortest = float(lengths.min(initial=np.inf))
    spread = np.sqrt(np.diag(covariance))
    found: list[Match] = []
    for parts in range(1, most_parts + 1):
        if len(names) ** parts > _MOST_SUMS:
            break
        groups = np.array(list(itertools.combinations_with_replacement(range(len(names)), parts)))
        totals = lengths[groups].sum(axis=1)
        reach = AGREE * (spread.max(initial=0.0) * (1 + parts))
        for k, name in enumerate(names):
            off = lengths[k] - totals
            for near in np.flatnonzero((np.abs(off) <= min(reach, shortest / 2)) & bows.meet(k, groups)):
                combination = np.zeros(len(names))
                combination[k] += 1
                np.subtract.at(combination, groups[near], 1)
                sigma = float(np.sqrt(max(combination @ covariance @ combination, float(own[k]) ** 2)))
                if abs(off[near]) <= AGREE * sigma:
                    others = tuple(names[g] for g in groups[near])
                    found.append(Match(*name, others, float(off[near]), 2 * sigma))
    found.sort(key=lambda m: (m.template, m.edge, len(m.others), abs(m.off_mm) / m.u_mm))
    by_edge = itertools.groupby(found, key=lambda m: (m.template, m.edge))
    return tuple(match for _, group in by_edge for match in itertools.islice(group, _MOST_EACH))


class _Bows:
    """The bulges of all edges, in the order of the templates, and one standard deviation of each."""

    def __init__(self, templates: TemplateSet) -> None:
        edges = [(t, k, bulge) for t in templates.templates for k, bulge in enumerate(bulges_of(t))]
        self._bulge = np.array([bulge for _, _, bulge in edges])
        self._sigma = np.array([bulge_sigma(t, k) if bulge else 0.0 for t, k, bulge in edges])

    def meet(self, edge: int, groups: NDArray[np.int_]) -> NDArray[np.bool_]:
        """(g,): whether an edge and each group (g, parts) of others are straight, or two arcs that fit together."""
        if not self._bulge[edge]:
            return np.asarray((self._bulge[groups] == 0).all(axis=1))
        if groups.shape[1] > 1:
            return np.zeros(len(groups), bool)
        other = groups[:, 0]
        apart = np.abs(self._bulge[edge] + self._bulge[other])
        return np.asarray(
            (self._bulge[other] != 0) & (apart <= AGREE * np.hypot(self._sigma[edge], self._sigma[other]))
        )


def _edges(templates: TemplateSet) -> tuple[list[EdgeName], np.ndarray, np.ndarray, np.ndarray]:
    """Names, lengths (n,), own standard deviations (n,) and shared covariance (n, n) of all edges."""
    names: list[EdgeName] = []
    lengths: list[float] = []
    own: list[float] = []
    rows: list[np.ndarray] = []
    p = len(templates.shared_covariance)
    for template in templates.templates:
        outline = template.finished_outline
        n = len(outline)
        bulges = bulges_of(template)
        for k in range(n):
            along = outline[(k + 1) % n] - outline[k]
            length = float(np.hypot(*along))
            row = np.zeros(2 * n)
            row[2 * k : 2 * k + 2] = -along / length
            row[2 * ((k + 1) % n) : 2 * ((k + 1) % n) + 2] = along / length
            names.append((template.name, k))
            lengths.append(arc_length(length, bulges[k]))
            row *= lengths[-1] / length  # an arc grows with its chord
            shared = row @ template.sensitivity if p else np.zeros(0)
            rows.append(shared)
            chord = max(float(row @ template.own_covariance @ row), 0.0) ** 0.5 or edge_sigma(template, k)
            own.append(float(np.hypot(chord, _by_bow(template, k, length))) if bulges[k] else chord)
    sensitivity = np.array(rows).reshape(len(names), p)
    shared_covariance = sensitivity @ templates.shared_covariance.reshape(p, p) @ sensitivity.T
    return names, np.array(lengths), np.array(own), np.asarray(shared_covariance)


def _by_bow(template: Template, k: int, chord: float) -> float:
    """One standard deviation of an arc's length that comes from its bulge."""
    bulge, sigma = bulges_of(template)[k], bulge_sigma(template, k)
    return abs(arc_length(chord, bulge + sigma) - arc_length(chord, bulge - sigma)) / 2
