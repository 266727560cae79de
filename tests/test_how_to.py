"""The tutorial and every how-to, run as they are printed."""

import json
import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from seamsurvey.job.manifest import read_manifest
from seamsurvey.job.wishes_file import merged, read_wishes
from seamsurvey.model import Count, SetCorner, SetLength
from seamsurvey_cli.main import _COMMANDS
from tests.cli.test_commands import run
from tests.quick_program import quicken
from tests.quick_sight import photo
from tests.several import HALF, MEASURED, SIDE, SQUARE

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
PAGES = sorted([ROOT / "README.md", *(DOCS / "tutorial").glob("*.md"), *(DOCS / "how-to").glob("*.md")])
# Of a check what it finds is not what is tried here.
_MAY_END_IN = {"check": {0, 3, 4}}


_FENCED = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def blocks(page: Path, language: str = "") -> list[str]:
    """The fenced blocks of a page in a language; "" and "sh" are what is typed, or printed."""
    return [text for kind, text in _FENCED.findall(page.read_text()) if kind.replace("sh", "") == language]


def commands(page: Path) -> list[str]:
    """Every command on a page that can be typed as it stands, in order: in blocks, and between backticks."""
    called = re.compile(rf"(?:\.venv/bin/)?seamsurvey (?:{'|'.join(_COMMANDS)}) .+")
    lines = [line for block in blocks(page) for line in block.splitlines()]
    prose = _FENCED.sub("", page.read_text())
    spans = [" ".join(span.split()) for span in re.findall(r"`([^`]+)`", prose)]
    whole = [each for each in (*lines, *spans) if called.fullmatch(each)]
    return [each for each in whole if not re.search(r"\b(?:JOB|PHOTO|FOLDER|KEY)\b", each)]


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    """A folder with what the pages speak of, and the program in .venv/bin, which is on no path."""
    for name in ("scan.jpg", "photo.jpg", "page.jpg"):
        photo(tmp_path / name)
    photo(tmp_path / "other-photo.jpg", SIDE + 1)
    (tmp_path / "first.jpg").write_text(json.dumps({HALF: SIDE}))
    (tmp_path / "second.jpg").write_text(json.dumps({SQUARE: SIDE}))
    (tmp_path / "my-job").mkdir()
    (tmp_path / "my-job" / "measured.json").write_text(json.dumps(MEASURED))
    (tmp_path / "sizes.csv").write_text(
        next(block for block in blocks(DOCS / "how-to" / "check-sizes.md") if block.startswith("template,length"))
    )
    return tmp_path


def put_recorder(desk: Path) -> Path:
    """In the program's place, what writes down the words that bash gives it; the result is where."""
    put_program(desk, "pass")
    (desk / ".venv" / "bin" / "seamsurvey").write_text(f"#!/bin/sh\nprintf '%s\\0' \"$@\" > '{desk / 'said'}'\n")
    return desk / "said"


def put_program(desk: Path, module: str) -> None:
    """Put a program that runs this module where the README's set-up puts it."""
    place = desk / ".venv" / "bin"
    place.mkdir(parents=True)
    program = place / "seamsurvey"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "{module}" "$@"\n')
    program.chmod(0o755)


REAL = "from seamsurvey_cli.main import main; main()"


def typed(desk: Path, line: str) -> subprocess.CompletedProcess[str]:
    """One line, typed into bash with the program on the path as well, as the how-tos have it."""
    path = f"{desk / '.venv' / 'bin'}{os.pathsep}{os.environ['PATH']}"
    sources = os.pathsep.join([str(ROOT), *(p for p in os.environ.get("PYTHONPATH", "").split(os.pathsep) if p)])
    env = {**os.environ, "PATH": path, "PYTHONPATH": sources, "SEAMSURVEY_CONVERT_TIME_LIMIT": "2"}
    return subprocess.run(["bash", "-c", line], cwd=desk, env=env, capture_output=True, text=True, check=False)  # noqa: S603, S607


ALL = [
    (page.relative_to(ROOT), line) for page in PAGES if page.parent.name != "tutorial" for line in commands(page)
]


def test_the_pages_have_commands() -> None:
    """What is looked for is found: a way of writing commands that is missed here would go untried."""
    assert len(ALL) > 12
    tried = {str(page) for page, _ in ALL}
    assert "docs/how-to/check-sizes.md" in tried
    for page in PAGES:
        for block in blocks(page):
            for line in block.splitlines():
                if "seamsurvey " in line and not line.startswith("python3"):
                    assert line in commands(page), f"{page.name}: {line}"


@pytest.mark.parametrize(("page", "line"), ALL, ids=[f"{page.stem}: {line}" for page, line in ALL])
def test_every_command_can_be_typed_as_it_is_printed(
    desk: Path, page: Path, line: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As bash reads it, in a folder with the files it names, it does what it should: none is refused."""
    program = put_recorder(desk)
    quicken(monkeypatch)
    monkeypatch.chdir(desk)
    monkeypatch.setenv("SEAMSURVEY_CONVERT_TIME_LIMIT", "2")
    if "my-block" in line and ".jpg" not in line:
        (desk / "my-job").rename(desk / "my-block")
    assert typed(desk, line).returncode == 0
    words = program.read_text().split("\0")[:-1]
    assert run(*words) in _MAY_END_IN.get(words[0], {0}), f"{page}: {line}\n{capsys.readouterr()}"


# A word that means in PowerShell (about_Parsing) what it means in bash: letters and signs that mean nothing to
# either, then perhaps a part in quotes. An unquoted comma, a # or @ in front, a backtick, a $ are read otherwise.
_ALIKE = re.compile(r"""(?!#)[\w./=+:#-]*(?:'[^'`$"]*'|"[^"`$'\\]*")?""")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_every_command_reads_alike_in_powershell(page: Path) -> None:
    """Each word that bash reads is one word by PowerShell's rules as well, and the same."""
    for line in commands(page):
        rest, words = line, []
        while rest:
            word = _ALIKE.match(rest)
            assert word is not None, line
            words.append(re.sub("""['"]""", "", word[0]))
            rest = rest[word.end() :]
            assert word[0], line
            assert rest[:1] in ("", " "), line
            rest = rest.lstrip()
        assert words == shlex.split(line)


def test_the_tutorial_leads_to_its_end(tmp_path: Path) -> None:
    """Each step after the set-up, with the scan that ships: its files, the edit, and what that does."""
    (tmp_path / "sample_scans").symlink_to(ROOT / "sample_scans")
    put_program(tmp_path, REAL)
    page = DOCS / "tutorial" / "first-block.md"
    convert, again, wish, status = commands(page)
    done = typed(tmp_path, convert)
    assert done.returncode == 0, done.stderr
    assert [line.split()[2] for line in done.stderr.splitlines() if re.match(r"\d of 5 ", line)] != []
    assert {"report.html", "foundations.pdf", "job.toml"} <= {
        path.name for path in (tmp_path / "my-star").iterdir()
    }
    (edit,) = blocks(page, "toml")
    text = (tmp_path / "my-star" / "job.toml").read_text()
    assert f"# {edit.split(' = ')[0]} = " in text  # "take the # in front of a line away"
    example = next(line for line in text.splitlines() if line.startswith(f"# {edit.split(' = ')[0]} ="))
    (tmp_path / "my-star" / "job.toml").write_text(text.replace(example, edit.strip()))
    assert typed(tmp_path, again).returncode == 0
    width = json.loads((tmp_path / "my-star" / "layout.json").read_text())["block"]["width_mm"]
    assert width == pytest.approx(merged(read_wishes(edit.encode())).finish_mm)
    assert typed(tmp_path, wish).returncode == 0
    told = typed(tmp_path, status).stdout
    assert "Sheets       to be done" in told
    assert "Templates    as they should be" in told


def test_measurements_by_hand_lead_to_sheets(tmp_path: Path) -> None:
    """The file as it is printed and the three commands, one after the other; the curved template reads too."""
    put_program(tmp_path, REAL)
    page = DOCS / "how-to" / "measured-by-hand.md"
    whole, curved = blocks(page, "json")
    (tmp_path / "my-block").mkdir()
    (tmp_path / "my-block" / "measured.json").write_text(whole)
    for line in commands(page):
        done = typed(tmp_path, line)
        assert done.returncode == 0, done.stderr
    assert (tmp_path / "my-block" / "foundations.pdf").exists()
    data = json.loads(whole)
    data["templates"].append(json.loads(curved))
    (tmp_path / "my-block" / "measured.json").write_text(json.dumps(data))
    assert "as they should be" not in typed(tmp_path, "seamsurvey status my-block --json").stderr


@pytest.mark.parametrize("name", ["curved-seams", "set-in-seams"])
def test_a_block_drawn_elsewhere_is_printed(tmp_path: Path, name: str) -> None:
    """The layout as it is printed on the page is sectioned and drawn."""
    put_program(tmp_path, REAL)
    (layout,) = blocks(DOCS / "how-to" / f"{name}.md", "json")
    (tmp_path / "JOB").mkdir()
    (tmp_path / "JOB" / "layout.json").write_text(layout)
    for line in ("seamsurvey section JOB", "seamsurvey sheets JOB"):
        done = typed(tmp_path, line)
        assert done.returncode == 0, done.stderr


def test_the_corrections_mean_what_the_page_says() -> None:
    """The job.toml of the page reads as the corrections that its comments tell."""
    (text,) = blocks(DOCS / "how-to" / "correct-a-measurement.md", "toml")
    said = merged(read_wishes(text.encode()))
    kite = said.templates["T3"]
    assert (kite.name, kite.corners, kite.edges) == ("kite", {2: SetCorner(1234.5, 567.8)}, {1: SetLength(57.15)})
    assert kite.allowances_mm == {3: 0.0}
    assert said.templates["T5"].exclude
    assert (said.merge, said.split) == ((("T1", "T4"),), ("T2b",))


def test_every_piece_of_a_job_toml_on_a_page_can_be_read() -> None:
    """Whatever a how-to tells to write into job.toml is read."""
    for page in PAGES:
        for text in blocks(page, "toml"):
            assert read_wishes(text.encode(), page.name)


def test_both_manifests_of_the_archive_page_say_the_same(tmp_path: Path) -> None:
    """The table and the TOML file printed there are one set's wishes."""
    page = DOCS / "reference" / "archive.md"
    table = next(block for block in blocks(page) if block.startswith("set,title"))
    (tmp_path / "manifest.csv").write_text(table)
    (text,) = blocks(page, "toml")
    (tmp_path / "manifest.toml").write_text(text)
    by_table, by_toml = (read_manifest(tmp_path / f"manifest.{kind}") for kind in ("csv", "toml"))
    (row,) = by_table.values()
    assert row.wishes["counts"] == {"T1": Count(4), "T2": Count(4, 2)}
    (name,) = tomllib.loads(text)["sets"]
    assert (by_toml[name].wishes, by_toml[name].source) == (row.wishes, row.source)
