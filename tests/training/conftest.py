"""The training stands beside the package, not in it: found last, so that an installed package is the one tested."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[2] / "pipeline"))
