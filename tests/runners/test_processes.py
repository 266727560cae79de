"""Side by side in processes: all is done, and what dies stops nothing else."""

from collections.abc import Iterator

from seamsurvey.runners.processes import ROOM_BYTES, Processes, room_for
from tests.runners.work import doubled


def test_everything_is_done_and_the_dead_are_named() -> None:
    """Of six pieces of work one kills its process and one never ends; the four others are done, each just once."""
    run = Processes(at_once=3, limit_s=3.0)
    outcomes = {outcome.work: outcome for outcome in run(doubled, [1, -1, 2, -2, 3, 4])}
    assert {work: outcome.result for work, outcome in outcomes.items()} == {
        1: 2,
        -1: None,
        2: 4,
        -2: None,
        3: 6,
        4: 8,
    }
    assert "signal 9" in outcomes[-1].died
    assert "longer" in outcomes[-2].died


def test_work_is_taken_only_as_room_comes_free() -> None:
    """With two processes never more than two pieces are out: what waits takes no memory."""
    taken = 0

    def works() -> Iterator[int]:
        nonlocal taken
        for number in range(5):
            taken += 1
            yield number

    for done, _ in enumerate(Processes(at_once=2)(doubled, works()), start=1):
        assert taken <= done + 1


def test_there_is_room_for_as_many_as_memory_and_processors_allow() -> None:
    """Half the memory for eight processors makes four; a machine that tells nothing gets one."""
    assert room_for(4 * ROOM_BYTES, 8) == 4
    assert room_for(100 * ROOM_BYTES, 8) == 8
    assert (room_for(ROOM_BYTES // 2, 8), room_for(None, None)) == (1, 1)
