"""Everyday words: what the program writes for a person holds none of the workshop's own."""

import ast
import re
from pathlib import Path

import pytest

import seamsurvey
import seamsurvey_cli

# An engineer's words, or words that say something else to one who sews; beside each what is said instead.
NEVER = {
    r"set to (the|a) grid": "rounded to 1/16 in",
    r"\bcures?\b|\bcured\b": "way to sew it",
    r"patch(es)? more\b": "extra patches",
    r"lie in each other": "nest",
    r"largest doubt|limited by\b": "main error",
    r"\bdo(es|ne)? away with": "removes",
    r"\bhollow": "concave",
    r"whole line\b(?! inside)": "all steps",
    r"sigma": "times what the ± allows",
    r"\bk ?= ?2\b": "±",
    r"\brms\b": "on average",
    r"corners? to turn": "Y-seams",
    r"expanded uncertainty|standard deviation|covariance|chi.square|degrees of freedom": "±",
    r"residual|least squares|a posteriori": "off by",
    r"before the adjustment|after the adjustment": "as measured",
    r"\bmotif|\bfootprint|\bmitre": "paper, outline, corner",
    r"homograph|\bepsilon\b|\bNaN\b|\bregex": "nothing",
}
ROOMS = ("archive", "block", "checking", "foundation", "job", "photo", "sheets", "templates")
HOUSE, PROGRAM = Path(seamsurvey.__file__).parent, Path(seamsurvey_cli.__file__).parent
MODULES = sorted([path for room in ROOMS for path in (HOUSE / room).glob("*.py")] + [*PROGRAM.glob("*.py")])
PAPER = Path(__file__).parents[1]
PAGES = [
    PAPER / "README.md",
    *sorted((PAPER / "docs/how-to").glob("*.md")),
    *sorted((PAPER / "docs/tutorial").glob("*.md")),
]


def told(source: str) -> list[tuple[int, str]]:
    """Every text of a module that could be read by a person: literals with a blank in them, docstrings left out."""
    tree = ast.parse(source)
    docs = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    return [
        (node.lineno, node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value
        if id(node) not in docs
    ]


def workshop_words(texts: list[tuple[int, str]]) -> list[str]:
    """Every word of the list in some texts, with its line and what is said instead."""
    return [
        f"line {line}: “{text.strip()}”: say “{instead}”"
        for line, text in texts
        for word, instead in NEVER.items()
        if re.search(word, text, re.IGNORECASE)
    ]


@pytest.mark.parametrize("room", sorted({module.parent for module in MODULES}), ids=lambda room: room.name)
def test_no_text_of_the_program_holds_a_workshop_word(room: Path) -> None:
    """No literal that a person may read, in any room or command, has a word of the list."""
    found = {
        module.name: words
        for module in MODULES
        if module.parent == room and (words := workshop_words(told(module.read_text(encoding="utf-8"))))
    }
    assert not found


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_no_page_for_users_holds_a_workshop_word(page: Path) -> None:
    """Neither the README nor any how-to or tutorial has a word of the list."""
    assert not workshop_words(list(enumerate(page.read_text(encoding="utf-8").splitlines(), 1)))


def test_the_reader_of_literals_sees_what_is_told() -> None:
    """It finds plain and formatted texts, and leaves out docstrings and keys."""
    source = '"""hollow words."""\nX = "a hollow side"\ndef f(n):\n    "a cure"\n    return f"{n} px rms", "cure"\n'
    assert [text for _, text in told(source)] == ["a hollow side", " px rms"]
