"""Which sets a folder holds, and what a manifest says of them."""

from pathlib import Path

import pytest

from seamsurvey.errors import InputError
from seamsurvey.job.manifest import read_manifest
from seamsurvey.job.sets import find_sets
from seamsurvey.model import Count


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """Pictures side by side, two levels of folders, a set measured before, and things that are no sets."""
    for name in (
        "star-1.jpg", "star-2.JPG", "star (3).png", "IMG_0412.jpg", "IMG_0413.jpg", "notes.txt", ".hidden.jpg",
        "box/a.jpg", "box/b.jpg", "box/inner/c.tif", "hand/measured.json", "empty/readme.md",
        "archive/sets/x/o.png",
    ):  # fmt: skip
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x")
    return tmp_path


def test_folders_and_groups_of_names_are_sets(shelf: Path) -> None:
    """Numbered pictures are one set, a camera's running numbers are not, and the archive itself is left out."""
    found = {each.name: each for each in find_sets(shelf, {}, leave_out=shelf / "archive")}
    assert {name: [photo.name for photo in each.photos] for name, each in found.items()} == {
        "IMG_0412": ["IMG_0412.jpg"],
        "IMG_0413": ["IMG_0413.jpg"],
        "box": ["a.jpg", "b.jpg"],
        "box/inner": ["c.tif"],
        "hand": [],
        "star": ["star (3).png", "star-1.jpg", "star-2.JPG"],
    }
    assert found["hand"].measured == shelf / "hand" / "measured.json"
    assert found["box/inner"].folder == "box~inner"


@pytest.mark.parametrize("kind", ["csv", "semicolons", "toml"])
def test_a_manifest_says_the_same_in_every_form(shelf: Path, kind: str) -> None:
    """CSV, the CSV of a spreadsheet with decimal commas, and TOML give the same wishes, source and photos."""
    path = shelf / f"list.{'toml' if kind == 'toml' else 'csv'}"
    path.write_text(
        {
            "csv": "set,title,allowance,counts,layout,source\nbox,Log,1/4in,T1=4; T2=4+2,2,shelf\n",
            "semicolons": "\ufeffset;title;allowance;source;layout\nbox;Log;1/4in;shelf;2\n",
            "toml": '[sets.box]\ntitle = "Log"\nallowance = "1/4in"\nlayout = 2\nsource = "shelf"\n'
            'counts = { T1 = 4, T2 = "4+2" }\n',
        }[kind],
        encoding="utf-8",
    )
    rows = read_manifest(path)
    counts = {} if kind == "semicolons" else {"counts": {"T1": Count(4), "T2": Count(4, 2)}}
    assert dict(rows["box"].wishes) == {"title": "Log", "allowance_mm": 6.35, "layout": 2, **counts}
    box = next(each for each in find_sets(shelf, rows, leave_out=shelf / "archive") if each.name == "box")
    assert (box.source, box.wishes["title"]) == ("shelf", "Log")


def test_a_manifest_may_put_photos_together(shelf: Path) -> None:
    """Pictures that the manifest gives to one set are no sets of their own any more."""
    path = shelf / "list.csv"
    path.write_text("set,photos\npair,IMG_0412.jpg; IMG_0413.jpg\n")
    found = {each.name: each for each in find_sets(shelf, read_manifest(path), leave_out=shelf / "archive")}
    assert [photo.name for photo in found["pair"].photos] == ["IMG_0412.jpg", "IMG_0413.jpg"]
    assert not {"IMG_0412", "IMG_0413"} & found.keys()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name,title\nbox,Log\n", "column “set”"),
        ("set,allowance\nbox,six\n", "line 2: allowance"),
        ("set,titel\nbox,Log\n", "“titel” is not a key"),
        ("set,title\nbox,a\nbox,b\n", "line 3: set “box” stands there already"),
        ("set,title\nbox,a,b\n", "more cells"),
        ("set,title\nbax,a\n", "set “bax” (line 2)"),
        ("set,photos\nbox,gone.jpg\n", "photo “gone.jpg” (line 2)"),
    ],
)
def test_mistakes_in_a_manifest_are_told_with_their_line(shelf: Path, text: str, words: str) -> None:
    """Each mistake is refused with its line and what is wrong with it."""
    path = shelf / "list.csv"
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        find_sets(shelf, read_manifest(path), leave_out=shelf / "archive")
    assert caught.value.code == "manifest"
    assert words in caught.value.what


def test_two_sets_of_one_name_and_an_empty_folder_are_refused(shelf: Path) -> None:
    """A folder and a picture of one name would share a folder in the archive; an empty folder holds no set."""
    (shelf / "box.jpg").write_bytes(b"x")
    (shelf / "box~inner.jpg").write_bytes(b"x")
    with pytest.raises(InputError) as caught:
        find_sets(shelf, {}, leave_out=shelf / "archive")
    assert caught.value.code == "sets-one-name"
    with pytest.raises(InputError) as caught:
        find_sets(shelf / "empty", {}, leave_out=shelf / "archive")
    assert caught.value.code == "no-sets"
