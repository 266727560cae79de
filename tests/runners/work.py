"""Work for the runners, in a module that other processes can import."""

import os
import signal
import time
from pathlib import Path


def doubled(number: int) -> int:
    """Twice the number; -1 dies, -2 never ends."""
    if number == -1:
        os.kill(os.getpid(), signal.SIGKILL)
    if number == -2:
        time.sleep(3600)
    return 2 * number


def killed_once(marker: str) -> str:
    """The first process to have this dies; the next one is through."""
    path = Path(marker)
    if not path.exists():
        path.write_text("died here")
        os.kill(os.getpid(), signal.SIGKILL)
    return path.name
