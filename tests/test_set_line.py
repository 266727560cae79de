"""One set of many: a layout that others rival is no reason to stop."""

import json
from typing import Any

import pytest

from seamsurvey import convert
from seamsurvey.archive_line import said_of
from seamsurvey.archive_model import DONE
from seamsurvey.set_line import SetWork, work_set
from tests.several import DRAWN, MEASURED, layouts


@pytest.mark.parametrize(("wishes", "others"), [({}, 3), ({"layout": 2}, 0)])
def test_a_set_is_done_with_the_likeliest_and_marked(
    wishes: dict[str, int], others: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With sheets, the first layout and the number of the others; one that the manifest chose is not marked."""

    def assembled(*_: Any, **__: Any) -> Any:
        return layouts(*DRAWN)

    monkeypatch.setattr(convert, "assemble", assembled)
    files = {"measured.json": json.dumps(MEASURED).encode()}
    done = work_set(SetWork(name="a", folder="a", key="k", wishes=wishes, files=files))
    assert (done.record.state, done.record.layouts, done.record.others_fit) == (DONE, 4, others)
    assert "foundations.pdf" in done.files
    assert done.files["layout.json"] == done.files[f"layout-{wishes.get('layout', 1)}.json"]
    assert ("3 other layouts fit" in said_of(done.record)) == (others > 0)
