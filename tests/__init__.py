"""Tests, the renderer they draw with, and the benchmarks."""

import os

# As the program does (seamsurvey_cli/main.py), before numpy is loaded: two workers on two cores share no threads.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
