"""The documents say what the program does."""

import re
from pathlib import Path

from click.testing import CliRunner

from seamsurvey_cli.main import _COMMANDS, cli

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
ERROR_CODE = re.compile(
    r'(?:InputError|UndecidedError|UsageError|CannotWriteError|PartMissingError)\(\s*"([a-z-]+)"', re.DOTALL
)


def test_every_error_code_is_explained_and_no_other() -> None:
    """Each code raised in the source has one heading in errors.md, and each heading a code in the source."""
    sources = [p.read_text() for root in ("pipeline", "cli") for p in (ROOT / root).rglob("*.py")]
    raised = {code for text in sources for code in ERROR_CODE.findall(text)}
    explained = re.findall(r"^## ([a-z-]+)$", (DOCS / "reference" / "errors.md").read_text(), re.MULTILINE)
    assert sorted(explained) == sorted(raised)


def test_the_commands_page_is_what_help_prints() -> None:
    """docs/reference/commands.md holds the very words of --help for every command."""
    page = (DOCS / "reference" / "commands.md").read_text()
    for name in ("", *_COMMANDS):
        arguments = [name, "--help"] if name else ["--help"]
        printed = CliRunner().invoke(cli, arguments, prog_name="seamsurvey", terminal_width=100).output
        assert printed.strip() in page, f"run: python -m tests.write_commands_page ({name or 'seamsurvey'} differs)"


def test_no_link_in_the_documents_is_broken() -> None:
    """Every relative link in README, DEVELOPERS and docs leads to a file."""
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *DOCS.rglob("*.md"), ROOT / "sample_scans" / "README.md"]
    for page in pages:
        for target in re.findall(r"\]\((?!https?:|#)([^)#]+)", page.read_text()):
            assert (page.parent / target).exists(), f"{page.relative_to(ROOT)}: {target}"


def test_the_readme_opens_with_one_paragraph_and_has_two_set_up_commands() -> None:
    """The first paragraph states the job; the continuous integration runs the two commands found in the README."""
    text = (ROOT / "README.md").read_text()
    assert text.split("\n\n")[1].startswith("seamsurvey turns a scan")
    commands = re.findall(r"^python3 -m (?:venv|pip) .*$", text, re.MULTILINE)
    assert len(commands) == 2
    assert commands[0].endswith("&& .venv/bin/seamsurvey demo")
    assert commands[1].endswith("&& .venv/bin/python -m pytest")
