"""Time against size, both logarithmic, as an SVG."""

import math
from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape

WIDTH, HEIGHT, LEFT, BELOW, ABOVE, RIGHT = 640, 400, 62, 46, 34, 16
# P. Tol's "bright" scheme, which those who see few colours can tell apart; the marks differ in shape as well.
LOOKS = (("#4477aa", "circle"), ("#ee6677", "square"))


def growth_svg(
    series: Mapping[str, Sequence[tuple[float, float]]], *, across: Sequence[float], up: Sequence[float], words: str
) -> str:
    """Points (size, seconds) by series; ``across`` and ``up`` are the values at the axes' marks, ascending."""

    def x(value: float) -> float:
        share = math.log(value / across[0]) / math.log(across[-1] / across[0])
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    def y(value: float) -> float:
        share = math.log(max(value, up[0]) / up[0]) / math.log(up[-1] / up[0])
        return HEIGHT - BELOW - share * (HEIGHT - BELOW - ABOVE)

    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-family="sans-serif" '
        'font-size="12" fill="#222">',
        f"<title>{escape(words)}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
    ]
    for value in across:
        lines.append(f'<path d="M{x(value):.1f} {ABOVE}V{HEIGHT - BELOW}" stroke="#ddd"/>')
        lines.append(f'<text x="{x(value):.1f}" y="{HEIGHT - BELOW + 17}" text-anchor="middle">{value:g}</text>')
    for value in up:
        lines.append(f'<path d="M{LEFT} {y(value):.1f}H{WIDTH - RIGHT}" stroke="#ddd"/>')
        lines.append(f'<text x="{LEFT - 7}" y="{y(value) + 4:.1f}" text-anchor="end">{value:g} s</text>')
    lines.append(f'<text x="{WIDTH - RIGHT}" y="{HEIGHT - 8}" text-anchor="end">pieces</text>')
    for k, (name, points) in enumerate(series.items()):
        colour, shape = LOOKS[k % len(LOOKS)]
        lines += [_mark(x(size), y(seconds), colour, shape) for size, seconds in points]
        lines += [
            _mark(LEFT + 10 + 250 * k, 16, colour, shape),
            f'<text x="{LEFT + 20 + 250 * k}" y="20">{escape(name)}</text>',
        ]
    return "\n".join([*lines, "</svg>"]) + "\n"


def _mark(x: float, y: float, colour: str, shape: str) -> str:
    if shape == "circle":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{colour}" fill-opacity="0.75"/>'
    return f'<rect x="{x - 3.5:.1f}" y="{y - 3.5:.1f}" width="7" height="7" fill="{colour}" fill-opacity="0.75"/>'
