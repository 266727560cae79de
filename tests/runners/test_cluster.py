"""On a Dask cluster of two worker processes: nothing is lost when one of them is killed."""

import sys
from collections.abc import Iterator
from pathlib import Path

import distributed
import pytest

from seamsurvey.errors import InputError, PartMissingError
from seamsurvey.runners import cluster
from seamsurvey.runners.cluster import Cluster
from tests.runners.work import doubled, killed_once

pytestmark = pytest.mark.filterwarnings("ignore")  # Dask's own, on closing


@pytest.fixture(scope="module")
def scheduler() -> Iterator[str]:
    """The address of a scheduler with two worker processes of one thread each, on this machine only."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    ) as local:
        yield local.scheduler_address


def test_a_killed_worker_loses_nothing(scheduler: str, tmp_path: Path) -> None:
    """Every piece of work is done once, though the first worker to get one of them is killed by it."""
    markers = [str(tmp_path / f"done-{k}") for k in range(4)]
    for name in markers[1:]:
        Path(name).write_text("")
    outcomes = list(Cluster(address=scheduler)(killed_once, markers))
    assert sorted(outcome.result or "" for outcome in outcomes) == [f"done-{k}" for k in range(4)]
    assert (tmp_path / "done-0").read_text() == "died here"


def test_results_are_those_of_this_machine(scheduler: str) -> None:
    """Equal work given twice is done twice, and all results come back."""
    outcomes = list(Cluster(address=scheduler)(doubled, [1, 2, 2, 3]))
    assert sorted(outcome.result or 0 for outcome in outcomes) == [2, 4, 4, 6]


def test_no_scheduler_is_said_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """An address where nothing answers is an input error with the address."""
    monkeypatch.setattr(cluster, "CONNECT_S", 0.5)
    with pytest.raises(InputError) as caught:
        list(Cluster(address="tcp://127.0.0.1:1")(doubled, [1]))
    assert (caught.value.code, caught.value.where) == ("no-cluster", "tcp://127.0.0.1:1")


def test_the_missing_part_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the optional part the error ends with exit code 6 and the command that installs it."""
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(PartMissingError) as caught:
        list(Cluster(address="tcp://127.0.0.1:1")(doubled, [1]))
    assert (int(caught.value.exit), caught.value.code) == (6, "cluster-missing")
    assert "seamsurvey[cluster]" in caught.value.todo
