"""Sets of one of each template of a block, cut with an allowance nobody tells, and finished with each usual one."""

import math

import numpy as np

from seamsurvey.block.assemble import assemble
from seamsurvey.errors import InputError
from seamsurvey.geometry import offset_polygon
from seamsurvey.model import TemplateSet
from seamsurvey.templates.hypotheses import USUAL_MM, Closing, closing_of
from tests.block.sets import Drawn, template, template_set


def sets(drawn: Drawn, allowance_mm: float, noise_mm: float, seed: int = 0) -> list[tuple[float, TemplateSet]]:
    """The set by the allowance taken off; corners of the cut cards are off by ``noise_mm`` along x and y."""
    rng = np.random.default_rng([seed, 23])
    cut = []
    for one in drawn.templates:
        angle = rng.uniform(0, 2 * math.pi)
        turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
        outline = offset_polygon(one.finished, allowance_mm) @ turn.T
        cut.append((one.name, outline + rng.normal(0, noise_mm, outline.shape)))
    found = []
    for usual in USUAL_MM:
        try:
            finished = [template(name, offset_polygon(o, -usual), noise_mm, None, None) for name, o in cut]
        except ValueError:
            continue
        found.append((usual, template_set(*finished)))
    return found


def closes(templates: TemplateSet, seconds: float) -> Closing | None:
    """The assembler's word on a set, as ``convert`` asks for it."""
    try:
        return closing_of(assemble(templates, time_limit_s=seconds)[0])
    except InputError:
        return None
