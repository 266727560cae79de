"""The command line: seamsurvey COMMAND. Results go to stdout, progress and advice to stderr."""

import json
import os
import sys
import traceback
from importlib import import_module
from typing import Any

import click

from seamsurvey import __version__
from seamsurvey.errors import Exit, SeamsurveyError, plain
from seamsurvey_cli import console

# Adjustments have some hundred unknowns at most: several threads on one of them spend far more time waiting for one
# another than calculating. Numpy reads this when it is loaded, so nothing here may load it before.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Each command's module is imported only when it is called or asked for help: --help must stay quick.
_COMMANDS = {
    "convert": "everything, photo to printed sheets",
    "measure": "what each template measures",
    "assemble": "the block from its measured templates",
    "section": "the block as sections to sew",
    "sheets": "the printed sheets and the report",
    "set": "wishes and answers written into a job",
    "status": "how a job stands, and what waits for an answer",
    "check": "whether templates, a printed page or a screen have the size they should have",
    "batch": "many sets into one archive with an index",
    "target": "a page of checker corners to photograph the templates on",
    "demo": "all steps on a scan that ships with the program",
}


class _Commands(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 (click's signature)
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in _COMMANDS:
            return None
        command: click.Command = import_module(f"seamsurvey_cli.{cmd_name}").command
        command.short_help = _COMMANDS[cmd_name]
        return command


@click.command(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="seamsurvey")
def cli() -> None:
    """From a scan or photo of patchwork templates beside a ruler to a true-size set of printed foundations.

    \b
    seamsurvey demo                             try it on a scan that ships with the program
    seamsurvey convert photo.jpg --into my-job  do it with yours
    """  # noqa: D301 (\b is click's)


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave with an exit code of ``seamsurvey.errors.Exit``."""
    arguments = sys.argv[1:] if arguments is None else arguments
    as_json = "--json" in arguments
    try:
        cli.main(arguments, prog_name="seamsurvey", standalone_mode=False, auto_envvar_prefix="SEAMSURVEY")
    except SeamsurveyError as error:
        _say(console.error_lines(error), as_json, error.exit, vars_of(error))
    except click.exceptions.Abort:
        _say(["Interrupted. Finished stages are kept; the same command goes on."], as_json, Exit.INTERRUPTED, {})
    except KeyboardInterrupt:
        _say(["Interrupted. Finished stages are kept; the same command goes on."], as_json, Exit.INTERRUPTED, {})
    except click.ClickException as error:
        if not as_json:
            error.show()
            sys.exit(Exit.USAGE)
        _say([], as_json, Exit.USAGE, {"code": "usage", "what": error.format_message()})
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(Exit.DONE)
    except Exception as error:
        if "--debug" in arguments:
            traceback.print_exc()
        lines = [
            f"seamsurvey: a bug of ours: {type(error).__name__}: {error}",
            "  to do   run the same command with --debug, and report what it prints together with the photo.",
        ]
        _say(lines, as_json, Exit.BUG, {"code": "bug", "what": f"{type(error).__name__}: {error}"})


def vars_of(error: SeamsurveyError) -> dict[str, str]:
    """What an error says, as the fields of the JSON envelope."""
    fields = ("code", "what", "where", "likely", "todo")
    return {name: plain(getattr(error, name), console.program()) for name in fields}


def _say(lines: list[str], as_json: bool, code: Exit, fields: dict[str, Any]) -> None:
    if as_json:
        print(json.dumps({"format": "seamsurvey.error/1", "exit": int(code), **fields}, ensure_ascii=False))
    for line in lines:
        print(line, file=sys.stderr)
    sys.exit(code)
