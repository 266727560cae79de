"""Files written by hand or by somebody else: read as they are meant, or refused with the place and the reason."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from seamsurvey.errors import InputError, UsageError
from seamsurvey.job.fitting import check_plan
from seamsurvey.job.foundation_file import read_foundation, write_foundation
from seamsurvey.job.known_names import check_names
from seamsurvey.job.layout_file import read_layout, write_layout
from seamsurvey.job.measured_file import read_measured, write_measured
from seamsurvey.job.set_file import read_set, write_set
from seamsurvey.job.wishes_file import merged, read_wishes
from tests.archive.drawn import record
from tests.scene.families import family
from tests.sheets.examples import forked_road, leaning_sails, templates_for

Change = Callable[[Any], None]


def changed(content: bytes, change: Change) -> bytes:
    """A JSON file after a change by hand."""
    data = json.loads(content)
    change(data)
    return json.dumps(data).encode()


def test_a_repeated_first_corner_is_no_corner() -> None:
    """Rings as other programs write them, the first corner again at the end, are the same shapes."""
    block, _ = forked_road()
    templates = templates_for(block)

    def close(data: Any) -> None:
        for each in data.get("templates", []):
            each["finished_outline_mm"].append(each["finished_outline_mm"][0])
        for each in data.get("pieces", []):
            each["outline_mm"].append(each["outline_mm"][0])
        if "block" in data:
            data["block"]["outline_mm"].append(data["block"]["outline_mm"][0])

    for read, content in (
        (read_measured, write_measured(templates, "inch")),
        (read_layout, write_layout(block, "mm")),
    ):
        assert read(changed(content, close)) == read(content)


def test_a_mark_at_the_beginning_of_job_toml_does_no_harm() -> None:
    """The byte order mark that some editors write is passed over, and stays through an answer."""
    from seamsurvey.job.answers import with_answers

    text = b"\xef\xbb\xbfpaper = 'a4'\n"
    assert merged(read_wishes(text)).paper == "a4"
    edited = with_answers(text, {("blocks",): 3})
    assert edited.startswith(b"\xef\xbb\xbf")
    assert merged(read_wishes(edited)).blocks == 3


def _set(*path: Any, value: Any) -> Change:
    def change(data: Any) -> None:
        for key in path[:-1]:
            data = data[key]
        data[path[-1]] = value

    return change


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (_set("templates", 0, "copies_seen", value=-3), "copies_seen of T1 is -3"),
        (_set("templates", 0, "count", value=-1), "count of T1 is -1"),
        (_set("templates", 0, "photo", value=7), "T1 is in photo 7, of 1"),
        (_set("photos", 0, "file", value="../../victim"), "'../../victim', which is no plain file name"),
        (_set("photos", 0, "file", value="/etc/passwd"), "no plain file name"),
    ],
)
def test_what_can_not_be_measured_is_refused(change: Change, told: str) -> None:
    """Negative numbers, a photo there is not, and names that lead out of the folder."""
    content = write_measured(templates_for(forked_road()[0]), "inch")
    with pytest.raises(InputError, match=told):
        read_measured(changed(content, change), "measured.json")


def test_a_piece_far_off_is_named_with_how_far() -> None:
    """A piece 500 mm off the block, and one that leaves a part of it bare, are told."""
    block, _ = forked_road()
    content = write_layout(block, "mm")

    def away(data: Any) -> None:
        data["pieces"][0]["outline_mm"] = [[x + 500, y] for x, y in data["pieces"][0]["outline_mm"]]

    with pytest.raises(InputError, match=r"piece T1-1 lies (4|5)\d\d\.\d mm outside the block"):
        read_layout(changed(content, away))
    with pytest.raises(InputError, match="leave a part of the block bare"):
        read_layout(changed(content, lambda data: data["pieces"].pop(0)))


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (_set("sections", 0, "copies", value=-3), "section A has -3 copies, but 4 places"),
        (
            _set("sections", 0, "pieces", 0, "piece", value="T9-1"),
            "A1 is made of T9-1, which the block does not have",
        ),
        (_set("sections", 0, "places", 1, "shift_mm", value=[500, 0]), "mm outside the block"),
        (_set("joins", 0, "parts", value=["A-1", "B"]), "step 1 joins B, which is no section"),
    ],
)
def test_a_plan_of_another_block_is_refused(change: Change, told: str) -> None:
    """Copies that are none, pieces and sections there are not, and a section 500 mm off."""
    block, plan = leaning_sails()
    with pytest.raises(InputError, match=told):
        check_plan(read_foundation(changed(write_foundation(plan), change)), block, "foundation.json")
    check_plan(read_foundation(write_foundation(plan)), block, "foundation.json")


@pytest.mark.parametrize("name", ["../x.json", "/x", "a/b.png"])
def test_an_archive_s_set_names_no_file_elsewhere(name: str) -> None:
    """What set.json says was made, and its overlays, lie in the set's folder."""
    whole = record(family("millrace-star"), "a")
    content = write_set(whole, "k", {"layout.json": "x"})
    assert read_set(content, "set.json").made == {"layout.json": "x"}
    for change in (_set("made", value={name: "x"}), _set("record", "overlays", value=[name])):
        with pytest.raises(InputError) as caught:
            read_set(changed(content, change), "set.json")
        assert caught.value.code == "name-outside"


@pytest.mark.parametrize(
    ("text", "told", "where"),
    [
        ('[colours]\nT1 = "#aabbcc"\nT77 = "#aabbcc"\n', "[colours] names T77", "line 3"),
        ('[fabrics]\n"T1-9" = "sky"\n', "no template or piece is called so. Did you mean T1-", "line 2"),
        ('title = "x"\n[colours]\nsky = "#aabbcc"\n', "[colours] names sky", "line 3"),
    ],
)
def test_names_that_nothing_has_are_refused_with_their_line(text: str, told: str, where: str) -> None:
    """A colour or a fabric of what is not there is told with its line and the nearest name."""
    block, _ = leaning_sails()
    with pytest.raises(UsageError) as caught:
        check_names(merged(read_wishes(text.encode())), None, block, text.encode())
    assert told in caught.value.what
    assert caught.value.where == f"job.toml, {where}"


def test_names_that_something_has_are_let_pass() -> None:
    """Templates, pieces, fabrics and the quilt's own strips may have a colour."""
    block, _ = leaning_sails()
    names = ("T2", '"T1-2"', "sky", "sashing")
    text = '[fabrics]\nT1 = "sky"\n[colours]\n' + "".join(f'{name} = "#aabbcc"\n' for name in names)
    check_names(merged(read_wishes(text.encode())), templates_for(block), block, text.encode())
