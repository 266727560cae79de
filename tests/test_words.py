"""Everyday words: what the program writes for a person holds none of the workshop's own."""

import ast
import re
from pathlib import Path

import pytest

import seamsurvey

# An engineer's words, or words that say something else to one who sews; beside each what is said instead.
NEVER = {
    r"set to (the|a) grid": "rounded to 1/16 in",
    r"\bcures?\b|\bcured\b": "way to sew it",
    r"patch(es)? more\b": "extra patches",
    r"lie in each other": "nest",
    r"largest doubt": "main error",
    r"\bdo(es|ne)? away with": "removes",
    r"\bhollow": "concave",
    r"whole line\b": "all steps",
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
ROOMS = ("sheets", "foundation")
MODULES = sorted(
    path.relative_to(Path(seamsurvey.__file__).parent)
    for room in ROOMS
    for path in (Path(seamsurvey.__file__).parent / room).glob("*.py")
)


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


@pytest.mark.parametrize("module", MODULES, ids=str)
def test_no_text_of_the_sheets_and_the_planner_holds_a_workshop_word(module: Path) -> None:
    """No literal that a person may read has a word of the list."""
    source = (Path(seamsurvey.__file__).parent / module).read_text(encoding="utf-8")
    found = [
        f"line {line}: “{text.strip()}”: say “{instead}”"
        for line, text in told(source)
        for word, instead in NEVER.items()
        if re.search(word, text, re.IGNORECASE)
    ]
    assert not found, "\n".join(found)


def test_the_reader_of_literals_sees_what_is_told() -> None:
    """It finds plain and formatted texts, and leaves out docstrings and keys."""
    source = '"""hollow words."""\nX = "a hollow side"\ndef f(n):\n    "a cure"\n    return f"{n} px rms", "cure"\n'
    assert [text for _, text in told(source)] == ["a hollow side", " px rms"]
