"""The scale of a screen or a printer from one box, measured with a ruler: across and up, each by itself."""

from seamsurvey.check_model import Checked, CheckReport
from seamsurvey.checking.verdict import RISK, verdict_on

# What the two bars on every sheet say of themselves: 99.5 to 100.5 mm.
TOLERANCE_SHARE = 0.005
# Of a length read off a ruler: half a millimetre at the most, as k = 2.
READING_U_MM = 0.3
_WORDS = ("across", "up")


def check_box(measured_mm: tuple[float, float], wanted_mm: tuple[float, float]) -> CheckReport:
    """Whether a box shown or printed ``wanted_mm`` wide and high is so, with both scales in a note."""
    lengths = tuple(
        Checked(
            name="box", what=word, measured_mm=seen, u_mm=READING_U_MM, wanted="box", wanted_mm=should,
            off_mm=seen - should, off_u_mm=READING_U_MM,
            verdict=verdict_on(seen - should, READING_U_MM, tolerance_mm=TOLERANCE_SHARE * should, risk=RISK),
            change="measure a larger box, or read the ruler with a magnifying glass",
        )
        for word, seen, should in zip(_WORDS, measured_mm, wanted_mm, strict=True)
    )  # fmt: skip
    return CheckReport(lengths=lengths, notes=scale_notes(lengths), tolerance_share=TOLERANCE_SHARE, risk=RISK)


def scale_notes(lengths: tuple[Checked, ...]) -> tuple[str, ...]:
    """The scale across and up, from two lengths, and a warning when they differ."""
    scales = [checked.measured_mm / (checked.wanted_mm or 1.0) for checked in lengths]
    u = [checked.off_u_mm / (checked.wanted_mm or 1.0) for checked in lengths]
    notes = [
        f"Scale {100 * scales[0]:.2f} ± {100 * u[0]:.2f} % across, {100 * scales[1]:.2f} ± {100 * u[1]:.2f} % up."
    ]
    apart = abs(scales[0] - scales[1])
    if apart > (u[0] ** 2 + u[1] ** 2) ** 0.5:
        notes.append(
            f"The two directions differ by {100 * apart:.2f} %: it is stretched, and no single scale will mend it."
        )
    return tuple(notes)
