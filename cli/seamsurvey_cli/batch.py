"""``seamsurvey batch``: many sets, each through the whole line, into one archive with an index."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from seamsurvey.errors import Exit
from seamsurvey.units import PAPERS
from seamsurvey_cli import batch_progress, console, option_types, options

if TYPE_CHECKING:
    from seamsurvey.archive_model import Archive
    from seamsurvey.job.sets import FoundSet
    from seamsurvey.runners.outcome import Runner


@click.command("batch")
@click.argument("folder", type=option_types.FolderPath(exists=True))
@click.option("--into", required=True, type=option_types.FolderPath(), metavar="ARCHIVE",
              help="The archive's folder.")  # fmt: skip
@click.option("--manifest", type=click.Path(path_type=Path, exists=True, dir_okay=False), metavar="FILE",
              help="What you know of each set.  [default: manifest.csv or .toml in FOLDER]")  # fmt: skip
@click.option("--jobs", type=click.IntRange(min=1), metavar="N",
              help="Sets at once.  [default: as processors and free memory allow]")  # fmt: skip
@click.option("--cluster", metavar="ADDRESS", help="Do the work on the Dask scheduler at tcp://HOST:PORT.")
@options.measuring
@click.option(
    "--layout",
    type=click.IntRange(min=1),
    help="Take this one of the layouts that fit; 1, the likeliest, is taken unasked.",
)
@options.time_limit
@click.option("--paper", type=click.Choice(sorted(PAPERS, reverse=True)), help="Paper of the sheets.")
@options.running
def command(
    folder: Path, into: Path, manifest: Path | None, jobs: int | None, cluster: str | None, **chosen: Any
) -> None:
    """Convert every set in FOLDER, and make an index of them all: index.html, index.csv, index.sqlite.

    A set is a subfolder with its pictures in it (or with a measured.json); pictures that lie in FOLDER itself are
    grouped by name: star-1.jpg and star-2.jpg are one set. Options count for every set; what the manifest says of a
    set comes before them. A set that fails stops no other. Run it again after an interruption, or when a picture or
    the manifest changed: only what is new or changed is done.

    Exit code 0: all sets done; 3: some could not be; 4: none failed, but for some a person must decide.
    """
    found = _sets(folder, into, manifest, options.wished(chosen))
    if chosen["dry_run"]:
        console.result(_outlook(found, into))
        return
    from seamsurvey.archive_line import fill_archive
    from seamsurvey.job.archive_folder import ArchiveFolder

    reporter = batch_progress.BatchReporter(
        quiet=chosen["quiet"], verbose=chosen["verbose"], no_color=chosen["no_color"]
    )
    with ArchiveFolder(into).held() as archive, reporter.running():
        whole = fill_archive(archive, found, _runner(jobs, cluster), tell=reporter, force=chosen["force"])
    ran = {each.name for each in found}
    if chosen["as_json"]:
        console.result([json.dumps(_envelope(whole, ran, into, reporter), ensure_ascii=False)])
    else:
        console.result(_lines(whole, ran, into, reporter))
    states = {record.state for record in whole.sets if record.name in ran}
    code = Exit.INPUT if "failed" in states else Exit.UNDECIDED if "to decide" in states else Exit.DONE
    if code:
        raise SystemExit(code)


def _sets(folder: Path, into: Path, manifest: Path | None, for_all: dict[str, Any]) -> list["FoundSet"]:
    from attrs import evolve

    from seamsurvey.job.manifest import NAMES, read_manifest
    from seamsurvey.job.sets import find_sets

    path = manifest or next((folder / name for name in NAMES if (folder / name).is_file()), None)
    rows = read_manifest(path) if path else {}
    return [evolve(each, wishes={**for_all, **each.wishes}) for each in find_sets(folder, rows, leave_out=into)]


def _runner(jobs: int | None, cluster: str | None) -> "Runner":
    if cluster is not None:
        from seamsurvey.runners.cluster import Cluster

        return Cluster(address=cluster)
    import os

    from seamsurvey.runners.processes import Processes, free_memory, room_for

    return Processes(at_once=jobs or room_for(free_memory(), os.cpu_count()), preload=("seamsurvey.set_line",))


def _outlook(found: list["FoundSet"], into: Path) -> list[str]:
    def what(each: "FoundSet") -> str:
        return ", ".join(photo.name for photo in each.photos) or "measured.json"

    return [
        *(f"set  {each.name}: {what(each)}" for each in found),
        f"would write  into {into}{'' if into.is_dir() else ', which is new'}",
        "Nothing was done (--dry-run).",
    ]


def _lines(whole: "Archive", ran: set[str], into: Path, reporter: batch_progress.BatchReporter) -> list[str]:
    states = [record.state for record in whole.sets if record.name in ran]
    counted = [f"{states.count(state)} {word}" for state, word in _WORDS.items() if state in states]
    lines = [f"Sets         {len(ran)} in this batch: {', '.join(counted)}"]
    if len(whole.sets) != len(ran):
        lines.append(f"             {len(whole.sets)} in the archive")
    pairs = len(whole.alike)
    if pairs:
        lines.append(f"Alike        {pairs} {'pair' if pairs == 1 else 'pairs'} of sets with one shape")
    others = sum(1 for record in whole.sets if record.name in ran and record.others_fit)
    if others:
        sets = "set" if others == 1 else "sets"
        lines.append(f"Others fit   in {others} {sets}: index.html says which, and leads to their pictures")
    lines += reporter.cost_lines()
    return [*lines, f"Open first   {into / 'index.html'}"]


_WORDS = {"done": "done", "to decide": "to decide", "failed": "not done"}


def _envelope(
    whole: "Archive", ran: set[str], into: Path, reporter: batch_progress.BatchReporter
) -> dict[str, Any]:
    return {
        "format": "seamsurvey.batch/1",
        "archive": str(into),
        "cost": reporter.cost(),
        "sets": [
            {
                "name": r.name,
                "state": r.state,
                "others_fit": r.others_fit,
                "code": r.problem.code if r.problem else None,
            }
            for r in whole.sets
            if r.name in ran
        ],
        "alike": [{"first": a.first, "second": a.second, "kind": a.kind, "size": a.size} for a in whole.alike],
    }
