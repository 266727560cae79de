"""The whole program with pictures that are read and measured in no time.

Where nobody says the allowance, it is taken as decided: none.
"""

from typing import Any

import attrs
import pytest

from seamsurvey import check_line, check_page_line, measuring
from seamsurvey.model import Corrections
from tests import quick_sight


def _decided(*args: Any, **kwargs: Any) -> Any:
    said = {"corrections": Corrections(), "counts": {}, **kwargs}
    found = quick_sight.measured(*args, **said)
    templates = tuple(
        attrs.evolve(t, allowance_from="decided") if t.allowance_from == "open" else t for t in found.templates
    )
    return attrs.evolve(found, templates=templates)


def quicken(patch: pytest.MonkeyPatch) -> None:
    """Put the quick pictures in place of the real ones, also where sizes are checked."""
    quick_sight.quick_sight(patch)
    for module in (measuring, check_line):
        patch.setattr(module, "measure_templates", _decided)
    for module in (check_line, check_page_line):
        patch.setattr(module, "picture_of" if module is check_line else "read_picture", quick_sight.read)
        patch.setattr(module, "plane_of", lambda *_: quick_sight.plane())
