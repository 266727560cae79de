"""Every ruler of the scene renderer, which shares no code with the tool, is known and measured rightly."""

import io

import numpy as np
import pytest
from PIL import Image

from seamsurvey.model import ScanPlane
from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.read import read_picture
from tests.scene.cards import Cutting
from tests.scene.families import random_family
from tests.scene.geometry import placement
from tests.scene.rulers import GRADUATIONS, RULERS
from tests.scene.scan import Scanner, scan
from tests.scene.scene import LaidRuler, Scene


@pytest.mark.parametrize("name", RULERS)
def test_every_kind_of_ruler_at_a_random_angle(name: str) -> None:
    """Its graduations are named rightly, lengths along it are right to 0.01 %, across it within 3 sigmas."""
    seed = list(RULERS).index(name)
    rng = np.random.default_rng([seed, 9])
    kind, room = RULERS[name], (200.0, 150.0)
    turn = float(rng.uniform(0, 360))
    to_table = placement(turn, np.array(room) / 2, (kind.length / 2, kind.width / 2))
    scanner = Scanner(dpi=200, axis_error=(0.001, -0.0015), skew=0.0003, worn=0.03)
    scene = Scene("ruler", seed, random_family(1), Cutting(), room, (), (LaidRuler(kind, to_table),))
    buffer = io.BytesIO()
    Image.fromarray(scan(scene, scanner)).save(buffer, "JPEG", quality=88, dpi=(200, 200))
    plane = find_plane(read_picture(name, buffer.getvalue()))
    expected = {GRADUATIONS[scale.unit, scale.levels[-1][0]] for scale in kind.scales}
    assert {reference.graduation for reference in plane.references} == expected
    assert isinstance(plane, ScanPlane)
    true_to_px = scanner.to_image(room)[:, :2]
    found = plane.matrix[:, :2] @ true_to_px
    along = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    across = np.array([-along[1], along[0]])
    assert np.hypot(*(found @ along)) == pytest.approx(1.0, abs=1e-4)
    px, way = true_to_px @ across, found @ across / np.hypot(*(found @ across))
    gradient = np.concatenate([way[0] * np.append(px, 0), way[1] * np.append(px, 0)])
    sigma = np.sqrt(gradient @ plane.covariance @ gradient)
    assert abs(np.hypot(*(found @ across)) - 1) <= 3 * sigma
