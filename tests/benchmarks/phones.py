"""What a person holds over her table, drawn at random: a phone, the light, a long ruler."""

from collections.abc import Sequence

import numpy as np

from tests.scene.camera import Phone
from tests.scene.photo import Exposure

LONG_RULERS = ("wood-12in-cm", "wood-12in", "plastic-30cm")


def random_phone(rng: np.random.Generator, tilt_deg: tuple[float, float]) -> Phone:
    """A phone's main lens some 50 cm above the table, tilted by something between the two."""
    return Phone(
        focal_35mm=float(rng.uniform(24, 28)),
        principal=(float(rng.normal(0, 15)), float(rng.normal(0, 15))),
        k1=float(rng.normal(-0.005, 0.01)),
        k2=float(rng.normal(0, 0.004)),
        distance=float(rng.uniform(430, 560)),
        tilt=float(rng.uniform(*tilt_deg)),
        azimuth=float(rng.uniform(0, 360)),
        roll=float(rng.uniform(-6, 6)),
    )


def random_exposure(rng: np.random.Generator, grounds: Sequence[str]) -> Exposure:
    """A lamp from any side, a sharp or a soft lens, more or less noise, on one of the grounds."""
    return Exposure(
        ground=str(rng.choice(grounds)),
        lamp=float(rng.uniform(0, 360)),
        falloff=float(rng.uniform(0, 0.4)),
        level=float(rng.uniform(0.5, 0.9)),
        psf=float(rng.uniform(0.6, 1.1)),
        grain=float(rng.uniform(1e-4, 6e-4)),
        quality=int(rng.integers(85, 96)),
    )
