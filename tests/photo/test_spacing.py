"""Even spacing is found among strays and gaps, with its own step and never half or double of it."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from seamsurvey.photo.spacing import even_spacing


@settings(derandomize=True, deadline=None, max_examples=60)
@given(
    step=st.floats(4.0, 120.0),
    count=st.integers(40, 200),
    missing=st.floats(0.0, 0.2),
    strays=st.integers(0, 10),
    seed=st.integers(0, 10_000),
)
def test_marks_are_numbered_rightly(step: float, count: int, missing: float, strays: int, seed: int) -> None:
    """With a fifth of the marks gone and strays among them, the rest are numbered by their true steps."""
    rng = np.random.default_rng(seed)
    number = np.sort(rng.permutation(count)[: round(count * (1 - missing))])
    true = 100.0 + number * step + rng.normal(0, min(0.02 * step, 0.3), len(number))
    stray = rng.uniform(100, 100 + count * step, strays)
    places = np.concatenate([true, stray])
    order = rng.permutation(len(places))
    spacing = even_spacing(places[order])
    assert spacing is not None
    members = order[spacing.members]
    mine = members < len(true)
    assert mine.sum() >= 0.85 * len(true)
    offsets = spacing.index[mine] - number[members[mine]]
    assert len(set(offsets.tolist())) == 1


def test_neither_half_nor_double_the_step() -> None:
    """A comb with a stroke of dirt here and there halfway keeps its step; one with every half mark halves it."""
    comb = np.arange(100) * 20.0
    dirt = comb[5:95:9] + 10.0
    with_dirt, halved = np.concatenate([comb, dirt]), np.linspace(0, 1980, 199)
    for places, step in ((np.asarray(with_dirt, float), 20.0), (halved, 10.0)):
        spacing = even_spacing(places)
        assert spacing is not None
        found = np.polyfit(spacing.index, places[spacing.members], 1)[0]
        assert abs(found - step) < 1e-9


def test_chance_makes_no_comb() -> None:
    """Three hundred places strewn by chance are not evenly spaced, whatever the seed."""
    for seed in range(40):
        assert even_spacing(np.random.default_rng(seed).uniform(0, 3000, 120)) is None
