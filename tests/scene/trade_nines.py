"""Old blocks of two by two and three by three cells for the catalogue.

Names are the trade's common property, from memory; where one drawing has several, the commonest is taken.
"""

from __future__ import annotations

from collections.abc import Iterator

from .trade_block import TradeBlock, drafted
from .trade_cells import in_cells
from .trade_units import boxed

_FOURS = {
    "buckeye beauty": ("+/", "/+"),
    "turnstile": ("14", "23"),
    "pinwheel set on point": ("43", "12"),
    "four nine patches": ("##", "##"),
    "nine patches and halves": ("#\\", "\\#"),
    "two four patches and strips": ("+=", "=+"),
}
_NINES = {
    "swamp angel": ("/X\\", "X.X", "\\X/"),
    "aunt eliza's star": (".X.", "XQX", ".X."),
    "combination star": ("QXQ", "X.X", "QXQ"),
    "ohio star with four patches": ("+X+", "X.X", "+X+"),
    "ohio star with a four patch in the middle": (".X.", "X+X", ".X."),
    "ohio star with a nine patch in the middle": (".X.", "X#X", ".X."),
    "ohio star with a pinwheel in the middle": (".X.", "X%X", ".X."),
    "five hourglasses": ("X.X", ".X.", "X.X"),
    "rolling stone": ("Q=Q", "|.|", "Q=Q"),
    "snowballs and strips": ("O=O", "|.|", "O=O"),
    "snowballs and nine patches": ("#O#", "O#O", "#O#"),
    "snowballs and squares": (".O.", "O.O", ".O."),
    "prairie queen": ("/+\\", "+.+", "\\+/"),
    "churn dash with a square on point": ("/=\\", "|Q|", "\\=/"),
    "churn dash with a four patch": ("/=\\", "|+|", "\\=/"),
    "churn dash with a pinwheel": ("/=\\", "|%|", "\\=/"),
    "churn dash with an hourglass": ("/=\\", "|X|", "\\=/"),
    "churn dash of three strips": ("/E\\", "M.M", "\\E/"),
    "eccentric star": ("//\\", "\\.\\", "\\//"),
    "friendship star with corners": ("\\//", "\\.\\", "//\\"),
    "friendship star with a pinwheel": ("./.", "\\%\\", "./."),
    "friendship star with four patches": ("+/+", "\\.\\", "+/+"),
    "friendship star with a square on point": ("./.", "\\Q\\", "./."),
    "ladder about the middle": ("+/+", "\\+\\", "+/+"),
    "road to california": ("+/.", "/+/", "./+"),
    "capital t": ("/^\\", "<.>", "\\v/"),
    "flying geese inward": ("/v\\", ">.<", "\\^/"),
    "fifty-four forty or fight": ("+V+", "D+C", "+A+"),
    "star of tall points": (".V.", "D.C", ".A."),
    "tall points outward": (".A.", "C.D", ".V."),
    "air castle": ("/1\\", "2Q4", "\\3/"),
    "shoofly with a four patch": ("/.\\", ".+.", "\\./"),
    "shoofly with an hourglass": ("/.\\", ".X.", "\\./"),
    "shoofly with a square on point": ("/.\\", ".Q.", "\\./"),
    "double x": ("./\\", "/./", "\\/."),
    "nine patch of nine patches": ("###", "###", "###"),
}


def nine_cells() -> Iterator[TradeBlock]:
    """Those of two by two cells, then of three by three."""
    for name, rows in {**_FOURS, **_NINES}.items():
        yield drafted(name, "square", boxed(in_cells(*rows), len(rows)), 9)
