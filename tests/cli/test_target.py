"""The command that writes the target."""

import json
from pathlib import Path

import pypdfium2
import pytest

from .test_commands import run


def test_the_target_is_written_once_and_never_over_another_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A4 by name, an existing file refused with exit code 5 and left alone, replaced with --force."""
    path = tmp_path / "page.pdf"
    assert run("target", "--paper", "a4", "--into", str(path)) == 0
    assert str(path) in capsys.readouterr().out
    width, height = pypdfium2.PdfDocument(path)[0].get_size()
    assert (width * 25.4 / 72, height * 25.4 / 72) == pytest.approx((210.0, 297.0), abs=0.01)
    path.write_bytes(b"mine")
    assert run("target", "--into", str(path)) == 5
    assert "file-exists" in capsys.readouterr().err
    assert path.read_bytes() == b"mine"
    assert run("target", "--into", str(path), "--force", "--json") == 0
    assert json.loads(capsys.readouterr().out) == {
        "format": "seamsurvey.target/1", "paper": "letter", "file": str(path)
    }  # fmt: skip
    assert path.read_bytes().startswith(b"%PDF")
    assert [p.name for p in tmp_path.iterdir()] == ["page.pdf"]
