"""The camera over the table, adjusted to all of a photo's references, each believed as far as its marks deserve."""

import contextlib
import math

import attrs
import numpy as np
from numpy.typing import NDArray

from seamsurvey import camera
from seamsurvey.errors import InputError, SeamsurveyError, UndecidedError
from seamsurvey.model import Picture
from seamsurvey.photo.adjust import LOG_ASPECT, LOG_SCALE, Fit, NoCameraError, Prior, adjust, first_camera
from seamsurvey.photo.evidence import Evidence
from seamsurvey.photo.focal import focal_prior
from seamsurvey.photo.id_card import HEIGHT_MM, LOG_PLAYING_CARD, WIDTH_MM
from seamsurvey.photo.observed import KNOWN, Observed
from seamsurvey.photo.page import TOLD_APART

# What is known of a phone's camera beforehand, as one standard deviation (common practice, no source).
CENTRE_SIGMA = 0.008  # of the picture's longer side: the stabilised lens is rarely in its middle
CUT_CENTRE_SIGMA = 0.25  # of a picture that was cut out of another: the lens's axis may be anywhere
K1_SIGMA, K2_SIGMA = 0.05, 0.03  # after the phone's own correction some percent are left at the corners
TILT_SIGMA = 1.0  # rad: nothing but that the table is in front

LEAST_MARKS = 12  # of a reference whose marks' own scatter tells how well they were made
LEAST_SHARE = 0.2  # of the believed scatter: a fit has taken part of the error with it
MISREAD = 0.04  # no reference's scale is off so far, but one that was misread
POOR_FIT = 3.0  # sigma0 of a start that led astray
ONE_SCALE = 0.01  # as a share: heights of rulers and mats make no more

# Of the logarithm of a card's proportions, one standard deviation: a far edge shows its upper rim, a near one its
# lower, 0.76 mm apart, and a used card is bent.
CARD_SIGMA = 0.004
NOT_SO = 9.0  # in chi-squared: three standard deviations


def adjust_all(picture: Picture, found: list[Evidence]) -> tuple[Fit, list[Evidence], str]:
    """The fit, the evidence with its marks' scatter as the fit has shown it, and what was left out ("": nothing).

    InputError ``no-camera``; UndecidedError ``references-disagree`` when scales contradict as only misread ones do.
    """
    try:
        return *_adjusted(picture, found), ""
    except InputError:
        without = _without_one(picture, found)
        if without is None:
            raise
        return without


def _adjusted(picture: Picture, found: list[Evidence]) -> tuple[Fit, list[Evidence]]:
    if sum(each.has_scale for each in found) > 1:
        _refuse_misread(picture, found)
    fit = _fit(picture, [each.observed for each in found])
    found = [attrs.evolve(each, observed=_as_seen(fit, k, each.observed)) for k, each in enumerate(found)]
    return _fit(picture, [each.observed for each in found]), found


def _without_one(picture: Picture, found: list[Evidence]) -> tuple[Fit, list[Evidence], str] | None:
    """What fits when one is left out, where that settles the scale: whichever is left out, it is the same."""
    fits = []
    for k in range(len(found)):
        rest = found[:k] + found[k + 1 :]
        if any(each.has_scale for each in rest):
            with contextlib.suppress(SeamsurveyError):
                fits.append((*_adjusted(picture, rest), found[k].graduation))
    fits = [each for each in fits if each[0].sigma0 < POOR_FIT]
    if not fits:
        return None
    heights = [float(fit.theta[camera.LOG_HEIGHT] - fit.theta[camera.LOG_FOCAL]) for fit, *_ in fits]
    if max(heights) - min(heights) > ONE_SCALE:
        return None
    return max(fits, key=lambda each: sum(len(one.observed.points_px) for one in each[1]))


def doubted_cards(picture: Picture, found: list[Evidence], *, said: bool) -> UndecidedError | None:
    """Why the cards among the evidence are no sure ID-1 cards; None where they are, or there are none.

    Corners as round are found on playing cards too, and only proportions tell them apart: all cards' together,
    freed, with the camera. ``said``: a person says they are; then they must only be no other cards.
    """
    cards = [k for k, each in enumerate(found) if each.observed.kind == "card"]
    if not cards:
        return None
    freed = [each.observed for each in found]
    alone = all(each.observed.kind == "card" for each in found if each.has_scale)
    for k in cards:
        scale_sigma = freed[k].scale_sigma if alone and k == cards[0] else math.inf
        freed[k] = attrs.evolve(freed[k], aspect_sigma=math.inf, scale_sigma=scale_sigma)
    fit = _fit(picture, freed)
    places = np.array([fit.starts[k] + LOG_ASPECT for k in cards])
    off = fit.unknowns[places]
    weight = np.linalg.inv(fit.covariance[np.ix_(places, places)] + CARD_SIGMA**2 * np.eye(len(cards)))
    own, other = (float((off - at) @ weight @ (off - at)) for at in (0.0, LOG_PLAYING_CARD))
    if own <= NOT_SO * len(cards) and other - own >= (0.0 if said else TOLD_APART):
        return None
    seen = WIDTH_MM / HEIGHT_MM * math.exp(-float(weight.sum(axis=0) @ off / weight.sum()))
    return UndecidedError(
        "id-card-unclear",
        f"What looks like {'an ID-1 card' if len(cards) == 1 else f'{len(cards)} ID-1 cards'} is {seen:.3f} times "
        f"as long as wide; a bank or member card is {WIDTH_MM / HEIGHT_MM:.3f} times.",
        where=picture.name,
        likely="Playing cards have corners as round, and are of another size; or a card is bent, or the photo was "
        "taken at a slant from which proportions can't be told.",
        todo="Lay a ruler beside the templates and take the photo again, from straight above."
        + ("" if said or other < own else " If it is a bank or member card, say --reference card."),
    )


def scales_off(fit: Fit, found: list[Evidence]) -> list[tuple[float, float]]:
    """Of each reference, how much larger its millimetres are than the adjusted ones, as a share; and its sigma."""
    result = []
    for k, each in enumerate(found):
        place = fit.starts[k] + LOG_SCALE
        prior = each.observed.scale_sigma
        # What the adjustment took from the prior is what was learnt: the variance of their difference.
        learnt = prior**2 - float(fit.covariance[place, place])
        result.append((-float(fit.unknowns[place]), math.sqrt(max(learnt, 0.0))))
    return result


def _refuse_misread(picture: Picture, found: list[Evidence]) -> None:
    """With every scale but one left free, the free ones show whether each was read for what it is."""
    scaled = [k for k, each in enumerate(found) if each.has_scale]
    anchor = min(scaled, key=lambda k: found[k].observed.scale_sigma)
    freed = [
        each.observed if k == anchor else attrs.evolve(each.observed, scale_sigma=math.inf)
        for k, each in enumerate(found)
    ]
    fit = _fit(picture, freed)
    for k in scaled:
        place = fit.starts[k] + LOG_SCALE
        off = float(fit.unknowns[place])
        # Where the lens's axis is unknown, or the slant, freed scales may be hardly known at all.
        if abs(off) > MISREAD + math.sqrt(NOT_SO * float(fit.covariance[place, place])):
            raise UndecidedError(
                "references-disagree",
                f"The {found[anchor].graduation} and the {found[k].graduation} differ in scale by the factor "
                f"{math.exp(abs(off)):.2f}.",
                where=picture.name,
                likely="One of them was taken for something it is not, or is a reduced copy.",
                todo="Take one of them out of the picture, or name the one to be used: --reference ruler, mat, "
                "target or card.",
            )


def _as_seen(fit: Fit, which: int, observed: Observed) -> Observed:
    """With its marks' scatter, and their points' about them, as believed or less, where the fit shows less.

    A mark's n points have its own error in common (sigma_m), and each an error of its own (sigma_p): their
    differences show the second, the marks' means, of variance sigma_m² + sigma_p² / n, show the first.
    """
    known = observed.edge == KNOWN
    _, place, count = np.unique(observed.mark[known], return_inverse=True, return_counts=True)
    if len(count) < LEAST_MARKS:
        return observed
    off, sigma = fit.residuals_px[which][known], observed.sigma_px[known]
    mean = np.bincount(place, off) / count
    several = count[place] > 1
    points = 1.0
    if np.any(several):
        apart = (off - mean[place]) / (sigma * np.sqrt(1 - 1 / np.maximum(count[place], 2)))
        points = min(1.0, max(LEAST_SHARE, _spread(apart[several])))
    own = points**2 * np.bincount(place, sigma**2) / count**2
    gains = np.bincount(place, fit.gains[which][known]) / count
    wide = _spread(mean) ** 2 - float(np.median(own))
    believed = observed.mark_sigma_mm
    marks = math.sqrt(max(wide, 0.0)) / float(np.median(gains))
    return attrs.evolve(
        observed,
        sigma_px=np.where(known, points * observed.sigma_px, observed.sigma_px),
        mark_sigma_mm=min(believed, max(LEAST_SHARE * believed, marks)),
    )


def _spread(values: NDArray[np.float64]) -> float:
    """A robust standard deviation about 0."""
    return 1.4826 * float(np.median(np.abs(values)))


def _fit(picture: Picture, observed: list[Observed]) -> Fit:
    """The best fit of those that the references lead to, each as a start."""
    size = (picture.width, picture.height)
    focal, focal_sigma = focal_prior(size, picture.focal_px, cut=picture.cut)
    prior = Prior(
        camera.parameters(focal, 500.0),
        np.array(
            [
                focal_sigma,
                *2 * ((CUT_CENTRE_SIGMA if picture.cut else CENTRE_SIGMA) * max(size),),
                K1_SIGMA, K2_SIGMA, TILT_SIGMA, TILT_SIGMA, math.inf,
            ]
        ),
    )  # fmt: skip
    best: Fit | None = None
    for start in sorted(observed, key=_start_rank):
        if not np.isfinite(start.scale_sigma):
            continue
        try:
            fit = adjust(size, observed, prior, first_camera(size, start, focal))
        except (NoCameraError, np.linalg.LinAlgError):
            continue
        if best is None or fit.sigma0 < best.sigma0:
            best = fit
        if best.sigma0 < POOR_FIT:
            break
    if best is None:
        alone = len(observed) == 1
        raise InputError(
            "no-camera",
            f"The {observed[0].kind} in the photo can't lie flat on a table as it was read."
            if alone
            else "The references in the photo can't all lie on one flat table.",
            where=picture.name,
            likely="It is bent, or was taken for something it is not."
            if alone
            else "One of them lies higher than the others, is bent, or was taken for something it is not.",
            todo="Lay it flat and take the photo again, straight from above."
            if alone
            else "Lay everything flat on one table and take the photo again, or name the reference to be used:"
            " --reference ruler, mat, target or card.",
        )
    return best


def _start_rank(observed: Observed) -> tuple[bool, float]:
    """First what has lines in two directions, of it what spreads widest in the picture."""
    both = all(np.any((observed.axis == axis) & (observed.edge == KNOWN)) for axis in (0, 1))
    return not both, -float(np.prod(np.ptp(observed.points_px, axis=0)))
