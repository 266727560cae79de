"""TemplateSets with known truth for the tests of the block room, and what a right layout is."""

import math
from collections.abc import Sequence
from typing import Protocol

import numpy as np
import shapely
from attrs import evolve
from numpy.typing import NDArray

from seamsurvey.arcs import drawn_out
from seamsurvey.model import Arc, Block, Edge, Template, TemplateSet
from tests.scene.congruence import Template as Cut
from tests.scene.families import Family

Points = NDArray[np.float64]
SURE_MM = 0.01  # the standard deviation claimed for a corner in a set without noise


def template(name: str, outline: Points, sigma: float, count: int | None, over: int | None) -> Template:
    """A template whose corners are known to ``sigma`` mm along x and y, independently."""
    n = len(outline)
    lengths = np.hypot(*(np.roll(outline, -1, axis=0) - outline).T)
    return Template(
        name=name,
        photo=0,
        cut_outline=outline,
        finished_outline=outline,
        corners_px=outline,
        edges=tuple(Edge(float(length), 2 * math.sqrt(2) * sigma, 0.0, "edge fit") for length in lengths),
        own_covariance=np.eye(2 * n) * sigma**2,
        sensitivity=np.zeros((2 * n, 0)),
        count=count,
        reversed_count=over,
    )


def curved(straight: Template, *sweeps_deg: float, u_deg: float = 0.2) -> Template:
    """The template with arcs of these sweeps for its edges, 0 for straight ones, bowing out where positive."""
    corners = straight.finished_outline
    edges = []
    for edge, sweep, start, end in zip(
        straight.edges, sweeps_deg, corners, np.roll(corners, -1, axis=0), strict=True
    ):
        if sweep:
            radius = math.dist(start, end) / 2 / math.sin(math.radians(abs(sweep)) / 2)
            arc = Arc(radius, 0.1, sweep, u_deg)
            edges.append(evolve(edge, length_mm=radius * math.radians(abs(sweep)), curve=arc))
        else:
            edges.append(edge)
    return evolve(straight, edges=tuple(edges))


def turned(outline: Points, degrees: float) -> Points:
    """The outline as a card lies on the table: turned about the origin, then shifted."""
    angle = math.radians(degrees)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    return np.asarray(outline @ turn.T + 100)


def template_set(*templates: Template) -> TemplateSet:
    """Templates that share no errors."""
    return TemplateSet(photos=(), templates=templates, shared_covariance=np.zeros((0, 0)))


class Drawn(Protocol):
    """What is measured of a drawing: a family has it, and a block of the trade."""

    @property
    def templates(self) -> Sequence[Cut]:
        """The templates that cut all its pieces."""


def measured(family: Drawn, noise: float = 0.0, seed: int = 0, counted: bool = True) -> TemplateSet:
    """One of each template of a drawing, turned anyhow, each corner off by ``noise`` mm along x and y."""
    rng = np.random.default_rng([seed, 5])
    templates = []
    for one in family.templates:
        angle = rng.uniform(0, 2 * math.pi)
        turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
        outline = one.finished @ turn.T + rng.normal(0, noise, one.finished.shape) + 100
        counts = (one.count, one.reversed_count) if counted else (None, None)
        templates.append(template(one.name, outline, max(noise, SURE_MM), *counts))
    return template_set(*templates)


def is_right(family: Family, block: Block) -> bool:
    """Whether a block has the family's pieces at their places, up to its outline's symmetries."""
    near = 4.0  # mm; pieces lie much further apart, and sizes are off by tenths
    if abs(block.width * block.height - family.size[0] * family.size[1]) > near * sum(family.size):
        return False
    truth = [(one.name, family.pieces[copy.piece].mean(axis=0)) for one in family.templates for copy in one.copies]
    pieces = [(piece.template, piece.outline.mean(axis=0)) for piece in block.pieces]
    if len(truth) != len(pieces):
        return False
    for mirrored in (False, True):
        for quarters in range(4):
            matched = set()
            for name, place in pieces:
                x, y = float(place[0]), float(place[1])
                width, height = block.width, block.height
                x = width - x if mirrored else x
                for _ in range(quarters):
                    x, y, width, height = height - y, x, height, width
                matched |= {
                    k
                    for k, (other, (tx, ty)) in enumerate(truth)
                    if other == name and abs(x - tx) < near and abs(y - ty) < near
                }
            if len(matched) == len(truth):
                return True
    return False


def tiling_faults(block: Block) -> tuple[float, float]:
    """How far the pieces' union misses the block's area, and the largest overlap of two, as shares of the area."""
    area = block.width * block.height
    shapes = [shapely.Polygon(drawn_out(piece.outline, piece.bulges, 1e-4)) for piece in block.pieces]
    assert all(shape.is_valid for shape in shapes)
    missing = abs(float(shapely.union_all(shapes).area) - area)
    overlap = max((float(a.intersection(b).area) for k, a in enumerate(shapes) for b in shapes[:k]), default=0.0)
    return missing / area, overlap / area
