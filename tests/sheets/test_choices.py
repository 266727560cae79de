"""The picture of the layouts a person must choose from."""

import io

import attrs
import numpy as np
import pytest
import shapely
import svgelements

from seamsurvey import geometry
from seamsurvey.model import Block, Piece
from seamsurvey.sheets.choices import ACROSS, DIFFERENT, SIDE_MM, choices_svg, differing, values
from seamsurvey.sheets.type import width_mm


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


def texts(svg: str) -> list[svgelements.Text]:
    """All texts of a picture."""
    return [
        e for e in svgelements.SVG.parse(io.StringIO(svg), ppi=25.4).elements() if isinstance(e, svgelements.Text)
    ]


def test_every_layout_is_drawn_once_at_one_scale() -> None:
    """Six layouts stand in rows of four with all their pieces; one half as large is drawn half as large."""
    blocks = [two_halves(k % 2 == 0) for k in range(5)]
    small = attrs.evolve(
        blocks[0],
        outline=blocks[0].outline / 2,
        pieces=tuple(attrs.evolve(piece, outline=piece.outline / 2) for piece in blocks[0].pieces),
    )
    svg = choices_svg([*blocks, small], title="Six", colours={}, units="mm")
    each = SIDE_MM * SIDE_MM / 2 / 2
    assert filled_areas(svg) == pytest.approx([*[each] * 10, *[each / 4] * 2], rel=1e-3)
    for number in range(1, 7):
        assert f">Layout {number}<" in svg
    corners = {round(path.bbox()[0], 1) for path in shapes(svg) if path.fill.value is not None}
    assert len(corners) == ACROSS


def test_the_words_name_size_symmetry_and_counts() -> None:
    """Under each picture stand its size in the job's units and how many of each template it takes."""
    block = attrs.evolve(two_halves(turned=False), symmetry="half-turn")
    scaled = attrs.evolve(block, outline=block.outline / 80 * 25.4 * 3)
    assert "3 × 1 1/2 in, the same after a half turn" in choices_svg([scaled], title="", colours={}, units="inch")
    assert ">2 of T1<" in choices_svg([block], title="", colours={}, units="mm")


def test_captions_never_collide() -> None:
    """Forty templates' names stay within their picture's width, line below line, beside neighbours."""
    strips = [np.array([[0, k], [80, k], [80, k + 1], [0, k + 1.0]]) for k in range(40)]
    many = Block(
        outline=np.array([[0, 0], [80, 0], [80, 40], [0, 40.0]]),
        pieces=tuple(
            Piece(id=f"strip {k}-1", template=f"strip {k}", reversed=False, outline=s) for k, s in enumerate(strips)
        ),
    )
    svg = choices_svg([many, two_halves(turned=True), many], title="", colours={}, units="mm")
    boxes = []
    for text in texts(svg):
        size = float(text.values["font-size"])
        if text.values.get("text-anchor") == "start":
            width = width_mm(text.text, size * 72 / 25.4, text.values.get("font-weight", "regular"))
            boxes.append(shapely.box(text.x, text.y - 0.7 * size, text.x + width, text.y))
    assert len(boxes) > 15
    assert not any(a.intersects(b) for k, a in enumerate(boxes) for b in boxes[:k])


def test_what_differs_from_the_neighbour_is_outlined() -> None:
    """A layout turned over is the same; one with two halves cut the other way is outlined there, and said so."""
    side = 40.0
    square = np.array([[0, 0], [side, 0], [side, side], [0, side]])

    def row(turned: bool) -> Block:
        halves = [square[[0, 1, 2]], square[[0, 2, 3]]] if not turned else [square[[0, 1, 3]], square[[1, 2, 3]]]
        outlines = [*halves, *(square + np.array([side * k, 0.0]) for k in (1, 2, 3))]
        names = ["T1", "T1", "T2", "T2", "T2"]
        return Block(
            outline=np.array([[0, 0], [4 * side, 0], [4 * side, side], [0, side]]),
            pieces=tuple(
                Piece(id=f"{n}-{k}", template=n, reversed=False, outline=o)
                for k, (n, o) in enumerate(zip(names, outlines, strict=True))
            ),
        )

    one, other = row(turned=False), row(turned=True)
    assert differing(one, one) == ()
    # Turned by a half or mirrored along the row the halves lie otherwise, turned over across it they lie alike.
    assert differing(one, other) == ()
    moved = attrs.evolve(
        one,
        pieces=(*(attrs.evolve(p, outline=p.outline + np.array([side, 0])) for p in one.pieces[:2]),
                attrs.evolve(one.pieces[2], outline=square), *one.pieces[3:]),
    )  # fmt: skip
    assert differing(one, moved) == ("T1-0", "T1-1", "T2-2")
    assert "Most pieces lie elsewhere than in layout 1." in choices_svg(
        [one, moved], title="", colours={}, units="mm"
    )
    last = attrs.evolve(one, pieces=(*one.pieces[:4], attrs.evolve(one.pieces[4], template="T3")))
    svg = choices_svg([one, last], title="", colours={}, units="mm")
    assert "Outlined in red: 1 piece that lies otherwise" in svg
    outlined = [path for path in shapes(svg) if path.stroke.hex == DIFFERENT.colour]
    assert len(outlined) == 1


def test_templates_on_the_border_are_light_and_those_within_dark() -> None:
    """The star's diamonds are darker than its corners and sides; a wished colour stays."""
    from tests.foundation.blocks import eight_pointed_star

    found = values([eight_pointed_star()], {})
    tone = {name: sum(int(colour[k : k + 2], 16) for k in (1, 3, 5)) for name, colour in found.items()}
    assert min(tone, key=lambda name: tone[name]) == "A"
    assert values([eight_pointed_star()], {"A": "#ff0000"})["A"] == "#ff0000"
