"""Pictures measured as the line does it: looked at first."""

from collections.abc import Sequence
from typing import Any

from seamsurvey.model import Picture, Plane, TemplateSet
from seamsurvey.sight.look import looked_at
from seamsurvey.templates.all_cards import Cards, outline_cards
from seamsurvey.templates.measure import measure_templates


def look_and_measure(pictures: Sequence[tuple[Picture, Plane]], **how: Any) -> TemplateSet:
    """As `measure_templates`, of pictures that nobody has looked at."""
    return measure_templates(_looked_at(pictures), **how)


def look_and_outline(pictures: Sequence[tuple[Picture, Plane]], **how: Any) -> Cards:
    """As `outline_cards`, of pictures that nobody has looked at."""
    return outline_cards(_looked_at(pictures), **how)


def _looked_at(pictures: Sequence[tuple[Picture, Plane]]) -> list[tuple[Picture, Plane]]:
    return [(picture if picture.seen else looked_at(picture), plane) for picture, plane in pictures]
