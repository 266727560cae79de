"""Scenes laid out for training: their truth is where they say it is. No GPU, no PyTorch."""

import cv2
import numpy as np
import pytest

from training import homely, shapes
from training.layout import Laid, lay_out
from training.litter import cells, grains
from training.raster import Canvas, Kind, Thing
from training.shapes import cut, seam

WIDTH, HEIGHT = 448, 336


@pytest.fixture(scope="module")
def scenes() -> list[Laid]:
    """A dozen scenes of small size."""
    return [lay_out(np.random.default_rng(seed), WIDTH, HEIGHT) for seed in range(12)]


def test_a_seed_gives_one_scene() -> None:
    """The same seed lays the same scene, to the last byte and digit."""
    one, two = (lay_out(np.random.default_rng(3), WIDTH, HEIGHT) for _ in range(2))
    assert one.maps.top.tobytes() == two.maps.top.tobytes()
    assert all((a == b).all() for a, b in zip(one.faces, two.faces, strict=True))


def test_faces_are_where_the_map_says(scenes: list[Laid]) -> None:
    """Each pixel with a face's number lies in its outline to a pixel and a quarter; numbers are cards'."""
    for scene in scenes:
        for outline, number in zip(scene.faces, scene.numbers, strict=True):
            assert scene.maps.kinds[number] == Kind.CARD
            points = np.argwhere(scene.maps.top == number)[:, ::-1]
            sides = [
                cv2.pointPolygonTest(outline.astype(np.float32), (float(x), float(y)), True) for x, y in points
            ]
            # OpenCV paints every pixel that an outline, rounded to a sixteenth, runs through or beside.
            assert min(sides, default=0.0) > -1.25


def test_cards_lie_beside_one_another(scenes: list[Laid]) -> None:
    """No two faces of a scene share more than a hair: the area painted for all is that of each alone."""
    for scene in scenes:
        masks = []
        for outline in scene.faces:
            mask = np.zeros((HEIGHT, WIDTH), np.uint8)
            cv2.fillPoly(mask, [np.rint(outline * 16).astype(np.int32)], 1, shift=4)
            masks.append(cv2.erode(mask, np.ones((5, 5), np.uint8)))
        assert not masks or int(np.sum(masks, axis=0).max()) <= 1


def test_shapes_are_of_every_kind_and_closed() -> None:
    """Three hundred cards reach about 1 from their middle, run anticlockwise, and have from 3 to over 20 points."""
    rng = np.random.default_rng(8)
    shapes = [cut(rng).outline for _ in range(300)]
    areas = [float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2) for x, y in (s.T for s in shapes)]
    assert min(areas) > 0.005
    assert max(float(np.abs(s).max()) for s in shapes) < 3.0
    assert {3, 4, 6} < {len(s) for s in shapes}
    assert max(len(s) for s in shapes) > 20


def test_what_is_clear_shows_what_lies_below() -> None:
    """Under a clear plate the map below keeps the card's number, and the plate's is on top."""
    canvas = Canvas(100, 100)
    square = np.array([[20.0, 20.0], [80.0, 20.0], [80.0, 80.0], [20.0, 80.0]])
    canvas.paint(Thing(Kind.CARD, square, 1.0, 4))
    canvas.paint(Thing(Kind.RULER, square - 10, 2.0, 32, clear=True))
    maps = canvas.maps()
    assert maps.top[50, 50] == 2
    assert maps.below[50, 50] == 1
    assert maps.below[15, 15] == 0
    assert maps.top[75, 75] == 1


def test_a_seam_line_keeps_its_distance() -> None:
    """A seam line lies the told distance within each side of a rectangle; too wide a one is none."""
    corners = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0]])
    line = seam(corners, 3.0)
    assert line is not None
    np.testing.assert_allclose(line, [[3.0, 3.0], [37.0, 3.0], [37.0, 27.0], [3.0, 27.0]], atol=1e-9)
    assert seam(corners, 15.5) is None


def test_grains_are_many_and_one_thing() -> None:
    """A handful of grains lies in many places apart, all of them under the handful's one number."""
    canvas = Canvas(WIDTH, HEIGHT)
    canvas.paint(grains(np.random.default_rng(4), WIDTH, HEIGHT, 40))
    maps = canvas.maps()
    assert set(np.unique(maps.top)) == {0, 1}
    assert maps.kinds[1] == Kind.CLUTTER
    assert cv2.connectedComponents(maps.top)[0] > 8


def test_a_board_of_cells_keeps_its_margin() -> None:
    """Whatever is drawn of a board of cells, its outermost pixels stay bare and some cells are dark."""
    for seed in range(20):
        board = cells(np.random.default_rng(seed), 60, 40)
        assert board.shape == (40, 60)
        assert board.any()
        assert not board[[0, -1]].any()
        assert not board[:, [0, -1]].any()


def test_homely_scenes_hold_what_people_send() -> None:
    """A good part of all scenes is homely: at most two rulers, one to fourteen cards, no page that lies alone."""
    scenes = [lay_out(np.random.default_rng(seed), WIDTH, HEIGHT) for seed in range(40)]
    homely = [scene for scene in scenes if scene.is_homely]
    assert 10 <= len(homely) <= 30
    for scene in homely:
        assert np.count_nonzero(scene.maps.kinds == Kind.RULER) <= 2
        assert not np.any(scene.maps.kinds == Kind.LONE_PAGE)
        assert len(scene.faces) <= 14


def test_slim_cards_have_sharp_tips() -> None:
    """A slim card's sharpest corner has 5 to 25 degrees, and its ends reach one from its middle."""
    rng = np.random.default_rng(5)
    for _ in range(60):
        points = shapes.outline(rng, shapes.slim)
        one, other = np.roll(points, 1, 0) - points, np.roll(points, -1, 0) - points
        cosines = (one * other).sum(1) / np.hypot(*one.T) / np.hypot(*other.T)
        sharpest = float(np.degrees(np.arccos(cosines)).min())
        assert 4.99 < sharpest < 25.01
        assert np.abs(points[:, 0]).max() == pytest.approx(1.0)


def test_each_card_of_a_motley_set_is_of_another_look(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where every homely set is motley, no two cards of one share a look, and other scenes' do."""
    monkeypatch.setattr(homely, "MOTLEY", 1.0)
    others = 0
    for seed in range(12):
        scene = lay_out(np.random.default_rng(seed), WIDTH, HEIGHT)
        own = scene.maps.looks[list(scene.numbers)]
        if scene.is_homely:
            assert len(set(own.tolist())) == len(own)
        else:
            others += len(own) - len(set(own.tolist()))
    assert others > 0
