"""The ground under the templates in a photo: wood, cloth, a mat, paper, in uneven light and hard shadows.

What runs along the picture's border is ground: templates never do. Its colours, whatever they are, are counted
there, stretch by stretch, and a colour met in a few stretches only (a hand, a pencil, a thing cut off by the
border) does not count. What has none of the ground's colours is something that lies on it. On a mat or a
sheet of paper the ground is counted along that one's own border.
"""

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from seamsurvey.model import Picture, Plane
from seamsurvey.templates.cards import UNDERLAYS
from seamsurvey.templates.ground import Floats, Ground, Mask, coarse_light, spread
from seamsurvey.templates.masks import contour_of, disc, largest_part, opened

PHOTO_PER_MM = 2.5  # coarse pixels: fine enough to start an edge within 0.4 mm, coarse enough to average noise away
MARGIN_MM = 3.0  # round a reference: a millimetre for its outline's own error, two for its side and shadow
_RING = 0.05  # of the picture's shorter side: how deep its border is looked at
_STRETCHES = 24  # of the border
_LONELY = 2  # a colour met in so many stretches only belongs to a thing that runs off the picture
_BODY_MM = 45.0  # from its scale no ruler's other edge is farther, but for a quilter's wide one, which is clear
_CLEAR_RING = 0.4  # of the ring tells the ground's colours
_LINE_MM = 1.5  # half of it: what is narrower is a line of the paper, no card
_MARGIN_WIDE_MM = 60.0  # beyond its grid no mat goes on for more
_LINE_LONG_MM = 14.0  # a line is at least so long
_LEAST_LINE, _LINE_SIGMAS = 0.05, 3.0  # ln, and noise: how much brighter or darker than beside it a line is
_DIRECTIONS = 24
_BLUR_MM = 0.8  # deviation of the neighbourhood that votes: the grain of wood and the threads of cloth are finer
_LEAST_BIN, _MOST_BIN = 0.016, 0.05  # ln: a step of the count of colours; the ground's own noise, in these bounds
_REACH = (1.6, 0.6)  # ln: lightness and colour beyond this from the ground's are counted as this
_MORE_INSIDE = 2.0  # times as often as at the border: more than a sheet's own unevenness
_RARE = 0.02  # the share of a ground's colours that is not met along its border
_SURE = 1.5  # ln odds
_TURNS = 3
_SHADES = (-0.25, -0.55, -0.95)  # ln: how deep a shadow across the table may be, to begin with
_LEAST_SHADED = 0.05  # of the ground: a smaller shadow leaves the surface alone
_LIT = 0.8  # of the ground's light: in half a shadow this still is a lit one's
_DEEPEST_SHADE = -1.5  # ln, of the sheet's light
_WIDE_MM, _MOSTLY_WIDE = 6.0, 0.6  # half as wide no flower is; so much of a shadow's area is; and of a sheet's
_CLEARLY, _MODERATE = 0.5, 0.3  # a shadow must explain so much more; ln: what differs by more is another thing


@frozen
class Lying:
    """What lies on the ground: ``mask`` (h, w) of coarse pixels, and the coarse picture itself."""

    mask: Mask
    ground: Ground


def what_lies_there(picture: Picture, plane: Plane) -> Lying:
    """Everything in the photo that is not ground, references but for the mat included."""
    px_per_mm = 1 / plane.mm_per_px
    factor = max(1, round(px_per_mm / PHOTO_PER_MM))
    light = coarse_light(picture.pixels, factor)
    per_mm = px_per_mm / factor
    shape = light.shape[:2]
    rulers, sheets = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
    for reference in plane.references:
        corners = (reference.outline_px - (factor - 1) / 2) / factor
        into = sheets if reference.kind in UNDERLAYS else rulers
        cv2.fillPoly(into, [np.round(corners).astype(np.int32)], 1)
    from_ruler = cv2.distanceTransform(1 - rulers, cv2.DIST_L2, 5) / per_mm
    covered, beside = from_ruler <= MARGIN_MM, from_ruler <= _BODY_MM
    bare = without_lines(light, per_mm) if sheets.any() else light
    if any(reference.kind == "mat" for reference in plane.references):
        sheets = _with_margin(sheets, bare, per_mm)
        if _goes_on(sheets > 0, bare):
            sheets[:] = 1
    mask = np.zeros(shape, bool)
    lightness, chroma = np.zeros(shape), np.zeros(light.shape)
    noise = (0.0, 0.0)
    for sheet in (False, True):
        domain = sheets == int(sheet)
        if domain.mean() < 0.02:
            continue
        seen = bare if sheet else light
        odds, here_lightness, here_chroma, here_noise = _odds(seen, domain, covered, beside, per_mm, sheet=sheet)
        mask[domain] = odds[domain] > 0
        lightness[domain], chroma[domain] = here_lightness[domain], here_chroma[domain]
        noise = max(noise, here_noise)
    # The mat's own border is neither mat nor table.
    rim = cv2.morphologyEx(sheets, cv2.MORPH_GRADIENT, disc(MARGIN_MM * per_mm)) > 0
    mask &= ~rim if sheets.any() else True
    return Lying(mask, Ground(lightness=lightness, chroma=chroma, noise=noise, factor=factor, per_mm=per_mm))


def without_lines(light: Floats, per_mm: float) -> Floats:
    """(h, w, 3) light with the long, straight, narrow lines painted over that a mat or a squared paper has.

    Some have a card's very colour. The tip of a card is narrow too, but short.
    """
    clean = light.astype(np.float32)
    wide = disc(_LINE_MM * per_mm)
    for brighter, turn in ((True, cv2.MORPH_OPEN), (False, cv2.MORPH_CLOSE)):
        bare = np.stack([cv2.morphologyEx(channel, turn, wide) for channel in np.moveaxis(clean, 2, 0)], axis=2)
        over = (clean - bare if brighter else bare - clean).mean(axis=2)
        thin = (over > max(_LEAST_LINE, _LINE_SIGMAS * spread(over))).astype(np.uint8)
        line = np.zeros_like(thin)
        for k in range(_DIRECTIONS):
            line |= cv2.morphologyEx(
                thin, cv2.MORPH_OPEN, _segment(_LINE_LONG_MM * per_mm, np.pi * k / _DIRECTIONS)
            )
        line = cv2.dilate(line, np.ones((3, 3), np.uint8))
        clean[line > 0] = bare[line > 0]
    return np.asarray(clean, dtype=float)


def _segment(length: float, angle: float) -> NDArray[np.uint8]:
    half = round(length / 2)
    kernel = np.zeros((2 * half + 1, 2 * half + 1), np.uint8)
    across = round(half * float(np.cos(angle))), round(half * float(np.sin(angle)))
    cv2.line(kernel, (half - across[0], half - across[1]), (half + across[0], half + across[1]), (1,))
    return np.asarray(kernel)


def _with_margin(grid: NDArray[np.uint8], light: Floats, per_mm: float) -> NDArray[np.uint8]:
    """A mat's grid with the margin round it, to the mat's own border: as far as its colour goes, in whole sides."""
    inward = cv2.distanceTransform(np.pad(grid, 1), cv2.DIST_L2, 5)[1:-1, 1:-1] / per_mm
    outward = cv2.distanceTransform(1 - grid, cv2.DIST_L2, 5) / per_mm
    along = (inward > 0) & (inward < _MARGIN_WIDE_MM)
    own = np.median(light[along], axis=0)
    away = np.abs(light - own).max(axis=2)
    alike = (outward < _MARGIN_WIDE_MM) & (
        away < max(_LEAST_LINE, _LINE_SIGMAS * 1.4826 * float(np.median(away[along])))
    )
    alike = opened(alike | (grid > 0), 2 * _LINE_MM * per_mm)
    hull = np.zeros_like(grid)
    corners = cv2.convexHull(np.round(contour_of(largest_part(alike))).astype(np.int32))
    return np.asarray(cv2.fillConvexPoly(hull, corners, (1,)))


def _goes_on(sheet: Mask, light: Floats) -> bool:
    """Whether what lies round a sheet is the sheet: a shadow across squared paper hides its lines."""
    if sheet.all():
        return False
    colour = light - light.mean(axis=2, keepdims=True)
    own: Floats = np.median(colour[sheet], axis=0)
    away = np.abs(colour - own).max(axis=2)
    limit = max(_LEAST_LINE, _LINE_SIGMAS * 1.4826 * float(np.median(away[sheet])))
    darker = light.mean(axis=2) - float(np.median(light.mean(axis=2)[sheet]))
    alike = (away < limit) & (darker > _DEEPEST_SHADE) & (darker < _LEAST_LINE)
    return float(alike[~sheet].mean()) > _MOSTLY_WIDE


def _odds(
    light: Floats, domain: Mask, covered: Mask, beside: Mask, per_mm: float, *, sheet: bool
) -> tuple[Floats, Floats, Floats, tuple[float, float]]:
    """(h, w) ln odds that a pixel is something on the ground; its lightness and chroma against it; their noise."""
    ring, stretch = _ring(domain, covered, beside)
    ground, odds = ring, np.zeros(domain.shape)
    shadow_known, turn = False, 0
    while turn < _TURNS:
        surface, shade = _surface(light, ground)
        relative = light - surface
        lightness = relative.mean(axis=2)
        if shade is not None and not shadow_known and _falls_in(ground & (lightness < shade / 2), ring, per_mm):
            # What was odd or usual before was so on a surface that ran between light and shadow.
            shadow_known, turn = True, 0
        chroma = relative - lightness[..., None]
        noise = (spread(lightness[ground]), spread(chroma[ground]))
        cells = _Cells(lightness, chroma, noise)
        of_ground = cells.counted(ring, stretch)
        if turn:
            everywhere = cells.counted(ground & (odds < -_SURE), None)
            of_ground = 0.5 * (of_ground + everywhere)
        of_other: Floats | float = 1.0 / cells.size
        if not turn and sheet:
            of_other = 0.3 * of_other + 0.7 * _met_inside(cells.counted(domain & ~covered, None), of_ground)
        if turn:
            of_other = 0.3 * of_other + 0.7 * cells.counted(domain & ~covered & (odds > _SURE), None)
        ratio = np.log(of_other) - np.log((1 - _RARE) * of_ground + _RARE / cells.size)
        odds = np.asarray(cv2.GaussianBlur(cells.at(ratio), (0, 0), _BLUR_MM * per_mm), dtype=float)
        ground = domain & ~covered & (odds < 0)
        turn += 1
    if shade is not None:
        odds = np.where(_no_shadow(ground, lightness, ring, shade, per_mm), _SURE, odds)
    return odds, lightness, chroma, noise


def _met_inside(inside: Floats, along_border: Floats) -> Floats:
    """The share of each colour among what lies on a sheet: its excess over what the sheet's border lets expect.

    A sheet is alike all over, so a colour that is met inside more often than at its border is a card's, though
    cards lie near the border as well.
    """
    met = along_border > 0
    order = np.argsort(inside[met] / along_border[met])
    weight = np.cumsum(along_border[met][order])
    bare = float((inside[met] / along_border[met])[order][np.searchsorted(weight, 0.5 * weight[-1])])
    excess = np.where(inside > _MORE_INSIDE * bare * along_border, inside - bare * along_border, 0.0)
    return np.asarray(excess / max(float(excess.sum()), 1e-12))


def _falls_in(dark: Mask, ring: Mask, per_mm: float) -> bool:
    """Whether the dark part of the ground is a shadow, wide and from the border in, and not a cloth's pattern."""
    wide = opened(dark, _WIDE_MM * per_mm)
    return bool(_from_border(wide, ring).sum() > _MOSTLY_WIDE * dark.sum())


def _from_border(mask: Mask, ring: Mask) -> Mask:
    """The connected parts of a mask that reach the border."""
    _, labels = cv2.connectedComponents(mask.astype(np.uint8), connectivity=4)
    return np.asarray(mask & np.isin(labels, np.unique(labels[ring & mask])))


def _no_shadow(ground: Mask, lightness: Floats, ring: Mask, shade: float, per_mm: float) -> Mask:
    """Where a card has the shaded ground's own colour: the shadow comes in over the border, a card lies inside."""
    blurred = cv2.GaussianBlur(lightness, (0, 0), _BLUR_MM * per_mm)
    dark = opened(ground & (blurred < shade / 2), _LINE_MM * per_mm)
    return dark & ~_from_border(dark, ring)


def _ring(domain: Mask, covered: Mask, beside: Mask) -> tuple[Mask, NDArray[np.int64]]:
    """The border of a part of the picture, and which stretch of it each pixel belongs to.

    Without what lies beside a ruler's scale, its body, of which nobody knows how wide it is; unless that is most.
    """
    deep = _RING * min(domain.shape)
    inward = cv2.distanceTransform(np.pad(domain, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    ring = domain & (inward <= deep) & ~covered
    clear = ring & ~beside
    if clear.sum() > _CLEAR_RING * ring.sum():
        ring = clear
    rows, columns = np.nonzero(domain)
    middle = rows.mean(), columns.mean()
    y, x = np.indices(domain.shape)
    half = np.ptp(rows) / 2 + 1, np.ptp(columns) / 2 + 1
    angle = np.arctan2((y - middle[0]) / half[0], (x - middle[1]) / half[1])
    return ring, np.minimum(_STRETCHES - 1, ((angle / np.pi + 1) / 2 * _STRETCHES).astype(int))


def _surface(light: Floats, ground: Mask) -> tuple[Floats, float | None]:
    """(h, w, 3): a smooth surface through the ground's light, which a lamp to one side and a lens leave uneven.

    Also the depth of a hard shadow that falls across it (ln), None without one.
    """
    step = max(1, min(light.shape[:2]) // 120)
    y, x = (2 * axis / size - 1 for axis, size in zip(np.indices(light.shape[:2]), light.shape[:2], strict=True))
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=2)
    few = np.zeros_like(ground)
    few[::step, ::step] = ground[::step, ::step]
    fit, _, least = _fitted(terms[few], light[few].mean(axis=1), None)
    depth = None
    # A hard shadow across the ground: one surface for all of it runs between the two, and fits neither.
    for shade in _SHADES:
        of_lit, fitted_shade, misfit = _fitted(terms[few], light[few].mean(axis=1), shade)
        if misfit < _CLEARLY * least:
            fit, depth, least = of_lit, fitted_shade, misfit / _CLEARLY
    # One surface of lightness, and one colour: light is uneven, its colour hardly is.
    level = terms @ fit
    colour = np.median(light[few] - light[few].mean(axis=1, keepdims=True), axis=0)
    return np.asarray(level[..., None] + colour), depth


def _fitted(terms: Floats, values: Floats, shade: float | None) -> tuple[Floats, float | None, float]:
    """A surface's coefficients, robust, the shadow's depth, and the mean of the values' moderate distances from it.

    ``shade``: where the values lie nearer to the surface plus this, they are in a shadow, whose depth is fitted.
    """
    weight, shaded, off = np.ones(len(values)), np.zeros(len(values)), np.zeros(len(values))
    fit: Floats = np.zeros(terms.shape[1])
    for turn in range(8 if shade is None else 16):
        if shade is not None:
            level = terms @ fit if turn else np.full(len(values), np.quantile(values, _LIT))
            shaded = (values - level < shade / 2).astype(float)
            if not _LEAST_SHADED < shaded.mean() < 1 - _LEAST_SHADED:
                return fit, None, np.inf
        design = np.column_stack([terms, shaded]) if shade is not None else terms
        solved = np.asarray(np.linalg.lstsq(design * weight[:, None], values * weight, rcond=None)[0])
        fit = solved[: terms.shape[1]]
        if shade is not None:
            shade = float(min(solved[-1], _SHADES[0]))
        off = np.asarray(np.abs(values - design @ solved))
        weight = 1 / np.maximum(1.0, off / (1.4826 * float(np.median(off)) + 1e-3))
    return fit, shade, float(np.minimum(off, _MODERATE).mean())


class _Cells:
    """Colours counted in cells of lightness and of two differences of channels."""

    def __init__(self, lightness: Floats, chroma: Floats, noise: tuple[float, float]) -> None:
        steps = [float(np.clip(noise[0], _LEAST_BIN, _MOST_BIN))]
        steps += 2 * [float(np.clip(noise[1], 0.6 * _LEAST_BIN, 0.6 * _MOST_BIN))]
        values = (lightness, chroma[..., 0] - chroma[..., 1], chroma[..., 2] - chroma[..., 1])
        limits = (_REACH[0], _REACH[1], _REACH[1])
        self.shape = tuple(2 * int(limit / step) + 1 for limit, step in zip(limits, steps, strict=True))
        self.size = float(np.prod(self.shape))
        index = [
            np.clip(np.round(value / step).astype(int) + size // 2, 0, size - 1)
            for value, step, size in zip(values, steps, self.shape, strict=True)
        ]
        self._index = np.ravel_multi_index(index, self.shape)

    def counted(self, where: Mask, stretch: NDArray[np.int64] | None) -> Floats:
        """The share of each cell's colour among the pixels; of a border, without what only few stretches show."""
        if stretch is None:
            total = np.bincount(self._index[where], minlength=int(self.size)).astype(float)
        else:
            largest = np.zeros((_LONELY, int(self.size)))
            total = np.zeros(int(self.size))
            for k in np.unique(stretch[where]):
                here = where & (stretch == k)
                share = np.bincount(self._index[here], minlength=int(self.size)) / here.sum()
                total += share
                for rank in range(_LONELY):
                    share, largest[rank] = np.minimum(share, largest[rank]), np.maximum(share, largest[rank])
            total -= largest.sum(axis=0)
        smooth = gaussian_filter(total.reshape(self.shape), 1.0, mode="nearest", truncate=3.0)
        return np.asarray(np.maximum(smooth, 0) / max(smooth.sum(), 1e-12))

    def at(self, values: Floats) -> Floats:
        """(h, w): each pixel's cell's value."""
        return np.asarray(values.ravel()[self._index])
