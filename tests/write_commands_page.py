"""Write docs/reference/commands.md from --help: `python -m tests.write_commands_page`."""

from pathlib import Path

from click.testing import CliRunner

from seamsurvey_cli.main import _COMMANDS, cli

PAGE = Path(__file__).parents[1] / "docs" / "reference" / "commands.md"
HEAD = """# Commands

Results go to stdout, progress and advice to stderr; colours are off for NO_COLOR or a pipe. Exit codes and errors:
[errors.md](errors.md). Lengths are read as `16in`, `5 1/2 in`, `2.125"`, `6 mm`, `1.5cm`. This page is what
`--help` prints (`python -m tests.write_commands_page`).
"""


def main() -> None:
    """Write the page anew."""
    parts = [HEAD]
    for name in ("", *_COMMANDS):
        arguments = [name, "--help"] if name else ["--help"]
        printed = CliRunner().invoke(cli, arguments, prog_name="seamsurvey", terminal_width=100).output
        parts.append(f"## seamsurvey {name}".rstrip() + f"\n\n```\n{printed.strip()}\n```\n")
    PAGE.write_text("\n".join(parts), encoding="utf-8")


if __name__ == "__main__":
    main()
