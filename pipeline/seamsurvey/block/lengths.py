"""Which edges can meet: edges of one length, and long edges against sums of short ones."""

import itertools
from dataclasses import dataclass

import numpy as np

from seamsurvey.block.shapes import edge_sigma
from seamsurvey.model import TemplateSet

# Two lengths agree when they differ by less than this many joint standard deviations: about one true pair in
# 15,000 is missed, were the errors normal; a hand-cut card's errors are not, hence four and not three.
AGREE = 4.0
_MOST_PARTS = 3

EdgeName = tuple[str, int]
"""A template and the number of its edge."""


@dataclass(frozen=True)
class Match:
    """What an edge can meet: one edge of its length, or several end to end.

    ``off_mm`` is the edge's length minus the others' sum, ``sigma_mm`` its joint standard deviation.
    """

    edge: EdgeName
    others: tuple[EdgeName, ...]
    off_mm: float
    sigma_mm: float


def matches(templates: TemplateSet, most_parts: int = _MOST_PARTS) -> tuple[Match, ...]:
    """For every edge, all that it can meet, by number of parts, the closest first; an edge can meet its own copy.

    The joint uncertainty has the errors the edges share (scale, edge bias) in it only as far as they don't cancel.
    """
    names, lengths, own, shared = _edges(templates)
    covariance = np.diag(own**2) + shared
    shortest = float(lengths.min(initial=np.inf))
    found: list[Match] = []
    for parts in range(1, most_parts + 1):
        for group in itertools.combinations_with_replacement(range(len(names)), parts):
            total = float(lengths[list(group)].sum())
            for k, name in enumerate(names):
                if abs(lengths[k] - total) > shortest / 2 or (parts == 1 and k > group[0]):
                    continue
                combination = np.zeros(len(names))
                combination[k] += 1
                for g in group:
                    combination[g] -= 1
                sigma = float(np.sqrt(max(combination @ covariance @ combination, float(own[k]) ** 2)))
                off = float(lengths[k] - total)
                if abs(off) <= AGREE * sigma:
                    found.append(Match(name, tuple(names[g] for g in group), off, sigma))
    return tuple(sorted(found, key=lambda m: (m.edge, len(m.others), abs(m.off_mm) / m.sigma_mm)))


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
