"""Which edges can meet: edges of one length, and long edges against sums of short ones."""

import itertools

import numpy as np

from seamsurvey.block.shapes import edge_sigma
from seamsurvey.model import Match, TemplateSet

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

    The joint uncertainty has the errors the edges share (scale, edge bias) in it only as far as they don't cancel.
    """
    names, lengths, own, shared = _edges(templates)
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
            for near in np.flatnonzero(np.abs(off) <= min(reach, shortest / 2)):
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
        for k in range(n):
            along = outline[(k + 1) % n] - outline[k]
            length = float(np.hypot(*along))
            row = np.zeros(2 * n)
            row[2 * k : 2 * k + 2] = -along / length
            row[2 * ((k + 1) % n) : 2 * ((k + 1) % n) + 2] = along / length
            names.append((template.name, k))
            lengths.append(length)
            shared = row @ template.sensitivity if p else np.zeros(0)
            rows.append(shared)
            own.append(max(float(row @ template.own_covariance @ row), 0.0) ** 0.5 or edge_sigma(template, k))
    sensitivity = np.array(rows).reshape(len(names), p)
    shared_covariance = sensitivity @ templates.shared_covariance.reshape(p, p) @ sensitivity.T
    return names, np.array(lengths), np.array(own), np.asarray(shared_covariance)
