"""Several pictures of one set make one inventory."""

import attrs
import numpy as np
import pytest

from seamsurvey.errors import InputError
from seamsurvey.geometry import edge_lengths
from tests.looked import look_and_measure
from tests.templates import drawing as d

SQUARE = d.turned([[0, 0], [30, 0], [30, 30], [0, 30]], 7, (28, 45))
AGAIN = d.turned([[0, 0], [30, 0], [30, 30], [0, 30]], 33, (90, 45))
NEARLY = d.turned([[0.0, 0.0], [30.0, 0.0], [30.0, 31.2], [0.0, 31.2]], 20, (75, 45))
TRIANGLE = d.turned([[0, 0], [44, 0], [0, 44]], 31, (83, 46))
CHEVRON = d.turned([[0, 0], [30, 0], [30, 15], [50, 15], [50, 45], [0, 45]], 12, (32, 45))


def test_a_template_seen_in_two_pictures_is_one_with_a_copy() -> None:
    """Names go on from picture to picture; what was seen before is a copy, and where it lies is told."""
    pictures = [d.scan([SQUARE, TRIANGLE], card=d.DARK), d.scan([CHEVRON, AGAIN], card=d.DARK)]
    found = look_and_measure(pictures, allowance_mm=0.0)
    assert [len(t.edges) for t in found.templates] == [4, 3, 6]
    square = found.templates[0]
    assert square.copies_seen == 2
    (copy,) = square.copies
    assert {copy.photo, square.photo} == {0, 1}
    assert len(found.photos) == 2
    # Each picture has errors of its own; only the edge bias is common.
    planes = [len(plane.parameter_names) for _, plane in pictures]
    assert len(found.shared_names) == sum(planes) + 1
    for template in found.templates:
        other = slice(planes[0], -1) if template.photo == 0 else slice(0, planes[0])
        assert not np.any(template.sensitivity[:, other])


def test_a_nearly_equal_template_in_another_picture_is_kept_apart_and_told() -> None:
    """30 and 31.2 mm are two templates in two pictures as they are in one."""
    pictures = [d.scan([SQUARE, TRIANGLE], card=d.DARK), d.scan([NEARLY], card=d.DARK)]
    found = look_and_measure(pictures, allowance_mm=0.0)
    assert len(found.templates) == 3
    assert any("nearly the same shape" in text for text in found.warnings)
    np.testing.assert_allclose(
        sorted(edge_lengths(found.templates[2].finished_outline)), [30, 30, 31.2, 31.2], atol=0.1
    )


def test_a_picture_without_a_template_is_told_by_its_name() -> None:
    """An empty second picture changes no measurement and gives a warning; a set of empty ones is refused."""
    full, (bare, plane) = d.scan([SQUARE], card=d.DARK), d.scan([], card=d.DARK)
    empty = attrs.evolve(bare, name="lid.png")
    found = look_and_measure([full, (empty, plane)], allowance_mm=0.0)
    assert [text for text in found.warnings if "lid.png shows no template" in text]
    alone = look_and_measure([full], allowance_mm=0.0)
    np.testing.assert_array_equal(found.templates[0].finished_outline, alone.templates[0].finished_outline)
    with pytest.raises(InputError) as caught:
        look_and_measure([(empty, plane)], allowance_mm=0.0)
    assert caught.value.code == "no-templates"
    assert "lid.png" in str(caught.value)
