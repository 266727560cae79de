"""The mean of two trainings' weights, of which the second went on from the first.

    python -m training.mean FORMER.onnx LATER.onnx OUT.onnx

A training on scenes of one kind forgets some of what it knew; part of the way back it knows most of both (Wortsman
et al., Robust fine-tuning of zero-shot models, CVPR 2022).
"""

import sys
from pathlib import Path

import torch

from training import export
from training.network import Net

LATER = 0.65  # share of the later training; half sees as much, to within what the tables can tell


def mean(former: Net, later: Net) -> Net:
    """A network whose every weight lies between theirs, nearer to the later."""
    between = Net()
    theirs = later.state_dict()
    between.load_state_dict({
        name: torch.lerp(weight, theirs[name], LATER) if weight.is_floating_point() else theirs[name]
        for name, weight in former.state_dict().items()
    })  # fmt: skip
    between.eval()
    return between


def main() -> None:
    """The command above."""
    former, later = Net(), Net()
    export.load(Path(sys.argv[1]), former)
    export.load(Path(sys.argv[2]), later)
    export.save(mean(former, later), Path(sys.argv[3]), "mean of two trainings")


if __name__ == "__main__":
    main()
