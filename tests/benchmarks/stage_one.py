"""What stage 1 costs: time as a multiple of reading the same JPEG, and peak memory of a process of its own."""

import resource
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.read import read_picture
from tests.benchmarks.planes import KINDS, shoot
from tests.benchmarks.table import Table

TRIES = 3  # of which the quickest counts: what else the machine did is no cost of ours
SHOWN = (0, 3, 4, 5)  # classes of photos: one ruler, two rulers, mat and ruler, target and ruler
KIB_PER_MB = 1024.0  # ru_maxrss is in KiB (getrusage(2), Linux)


def stage_one() -> Table:
    """One rendered 12-megapixel photo of each class."""
    rows = []
    for place in SHOWN:
        shot = shoot(KINDS[place], 1)
        with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as fresh:
            told = fresh.submit(measure, shot.jpeg).result()
        read, found, peak = told["read_s"], told["found_s"], told["peak_mb"]
        rows.append([KINDS[place].name, f"{found / read:.0f}", f"{found:.1f}", f"{read:.2f}", f"{peak:.0f}"])
    return Table(
        heading="Photos: the cost of stage 1",
        command="python -m tests.benchmarks stage-one --write",
        about="One rendered 12-megapixel photo of each class, everything in it looked for and adjusted. Time as a "
        f"multiple of reading the same JPEG: both are the quickest of {TRIES}, so the machine's speed drops out. "
        "Peak memory is the whole process's, libraries included.",
        columns=["class", "times reading it", "s", "reading, s", "peak MB"],
        rows=rows,
    )


def measure(jpeg: bytes) -> dict[str, float]:
    """Seconds to read a photo and to find its plane, and the process's peak memory so far, MB."""
    reading, finding = [], []
    for _ in range(TRIES):
        begun = time.perf_counter()
        picture = read_picture("photo.jpg", jpeg)
        reading.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        find_plane(picture)
        finding.append(time.perf_counter() - begun)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KIB_PER_MB
    return {"read_s": min(reading), "found_s": min(finding), "peak_mb": peak}
