"""Measured sets drawn from the model: true outlines, an error of the scale and of each corner, stated as it is."""

from collections.abc import Sequence

import numpy as np

from seamsurvey.geometry import edge_lengths
from seamsurvey.model import Array, Edge, Template, TemplateSet
from seamsurvey.plane import ACROSS


def measured(
    outlines: Sequence[Array], *, own_mm: float, scale: float, rng: np.random.Generator | None
) -> TemplateSet:
    """The outlines as measured with corner errors of ``own_mm`` and one scale error of ``scale`` (standard).

    Without ``rng`` the measurement is without error, and says the same of its uncertainty.
    """
    off = 1.0 + (float(rng.normal(0, scale)) if rng is not None else 0.0)
    templates = []
    for number, true in enumerate(outlines, 1):
        noise = rng.normal(0, own_mm, true.shape) if rng is not None else np.zeros_like(true)
        seen = true * off + noise
        lengths = edge_lengths(seen)
        # Of a length L: two corners' errors along it, and L times the scale's error (JCGM 100:2008, 5.1.2).
        u = 2 * np.sqrt(2 * own_mm**2 + (lengths * scale) ** 2)
        edges = tuple(Edge(float(length), float(v), 0.0, ACROSS) for length, v in zip(lengths, u, strict=True))
        templates.append(
            Template(
                name=f"T{number}", photo=0, cut_outline=seen, finished_outline=seen, corners_px=np.zeros((0, 2)),
                edges=edges, own_covariance=own_mm**2 * np.eye(2 * len(seen)), sensitivity=seen.reshape(-1, 1),
            )
        )  # fmt: skip
    return TemplateSet(
        photos=(), templates=tuple(templates), shared_names=("scale",), shared_covariance=np.array([[scale**2]])
    )
