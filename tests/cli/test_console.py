"""What is printed for a person to type again works where they stand."""

import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from seamsurvey.errors import InputError, command, plain
from seamsurvey_cli.console import error_lines, program


def test_a_command_stands_whole_on_one_line_and_quotes_what_needs_it() -> None:
    """However long, a command in a wrapped text is one line, and a shell reads the very words back."""
    words = ["convert", "--into", "my grandmother's block, the one from the tin box", "--layout", "2"]
    error = InputError(
        "a-code", "What.", todo=f"First a few words that fill the line up to here: {command(*words)}"
    )
    lines = error_lines(error)
    (line,) = [line for line in lines if "--layout" in line]
    assert shlex.split(line.partition("seamsurvey ")[2]) == words
    assert "\u00a0" not in "".join(lines) + str(error)


@pytest.mark.parametrize(
    ("called", "on_path", "said"),
    [
        ("/somewhere/bin/seamsurvey", True, "seamsurvey"),
        (".venv/bin/seamsurvey", False, ".venv/bin/seamsurvey"),
        ("my env/bin/seamsurvey", False, "'my env/bin/seamsurvey'"),
        ("-c", False, "seamsurvey"),
        ("/x/pytest", False, "seamsurvey"),
    ],
)
def test_the_program_is_called_as_it_can_be(
    monkeypatch: pytest.MonkeyPatch, called: str, on_path: bool, said: str
) -> None:
    """By its name where that finds this very one, else by the path it was called by."""
    monkeypatch.setattr(sys, "argv", [called])
    monkeypatch.setattr("shutil.which", lambda _: called if on_path else None)
    assert program() == said
    assert plain(f"Try {command('demo')}.", program()) == f"Try {said} demo."


def test_called_by_a_path_the_program_says_so(tmp_path: Path) -> None:
    """A script in a folder that is not on the path prints commands with its own path."""
    script = tmp_path / "seamsurvey"
    script.write_text(f"#!{sys.executable}\nfrom seamsurvey_cli.main import main\nmain()\n")
    script.chmod(0o755)
    done = subprocess.run(
        ["./seamsurvey", "section", "."],
        cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 3
    assert "./seamsurvey measure PHOTO --into ." in " ".join(done.stderr.split())
