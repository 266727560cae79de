"""The picture of the layouts a person must choose from."""

import io

import attrs
import numpy as np
import pytest
import svgelements

from seamsurvey import geometry
from seamsurvey.model import Block, Piece
from seamsurvey.sheets.choices import ACROSS, SIDE_MM, choices_svg


def two_halves(turned: bool) -> Block:
    """A rectangle of 80 by 40 mm, cut in two one way or the other."""
    outline = np.array([[0, 0], [80, 0], [80, 40], [0, 40.0]])
    order = [1, 2, 3, 0] if turned else [0, 1, 2, 3]
    a, b, c, d = (outline[k] for k in order)
    pieces = (np.array([a, b, d]), np.array([b, c, d]))
    return Block(
        outline=outline,
        pieces=tuple(Piece(id=f"T1-{k}", template="T1", reversed=False, outline=p) for k, p in enumerate(pieces)),
    )


def shapes(svg: str) -> list[svgelements.Path]:
    """All paths of a picture, in mm, by a reader that is not ours."""
    return [
        e for e in svgelements.SVG.parse(io.StringIO(svg), ppi=25.4).elements() if isinstance(e, svgelements.Path)
    ]


def filled_areas(svg: str) -> list[float]:
    """The areas of all filled shapes."""
    areas = []
    for path in shapes(svg):
        if path.fill.value is not None:
            points = np.array([(p.x, p.y) for p in path.as_points()])
            areas.append(abs(geometry.signed_area(points)))
    return areas


def test_every_layout_is_drawn_once_to_one_size() -> None:
    """Six layouts stand in rows of four, each with all its pieces, its longer side 60 mm."""
    blocks = [two_halves(k % 2 == 0) for k in range(6)]
    svg = choices_svg(blocks, title="Six", colours={}, units="mm")
    each = SIDE_MM * SIDE_MM / 2 / 2
    assert filled_areas(svg) == pytest.approx([each] * 12, rel=1e-3)
    for number in range(1, 7):
        assert f">Layout {number}<" in svg
    corners = {round(path.bbox()[0], 1) for path in shapes(svg) if path.fill.value is not None}
    assert len(corners) == ACROSS


def test_the_words_name_size_symmetry_and_counts() -> None:
    """Under each picture stand its size in the job's units and how many of each template it takes."""
    block = attrs.evolve(two_halves(turned=False), symmetry="half-turn")
    assert "3 1/8 in × 1 9/16 in, symmetry: half-turn" in choices_svg([block], title="", colours={}, units="inch")
    assert ">T1 ×2<" in choices_svg([block], title="", colours={}, units="mm")
