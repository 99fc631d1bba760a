"""The word "none" means several things in documents; in the engine each has a name of its own."""

import ast
from pathlib import Path

import pytest

from engine.model import absence

ROOT = Path(__file__).resolve().parents[2]
WORD = "none"
HERE = "engine/model/absence.py"
ENGINE = sorted((ROOT / "engine").rglob("*.py"))


def bare_words(text):
    """Lines in which the word stands by itself, other than to give it a name of the module."""
    tree = ast.parse(text)
    named = {
        id(node.value)
        for node in tree.body
        if isinstance(node, ast.Assign) and all(isinstance(t, ast.Name) for t in node.targets)
    }
    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and node.value == WORD and id(node) not in named
    ]


@pytest.mark.parametrize("path", ENGINE, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_bare_none_stands_in_the_engine(path):
    """An energy, a rig, a stage or a remedy is called by its name."""
    assert bare_words(path.read_text(encoding="utf-8")) == []


def test_the_names_are_given_in_one_module():
    """And each says the word that documents and knowledge write."""
    names = {name: value for name, value in vars(absence).items() if name.isupper()}
    assert set(names.values()) == {WORD}
    for path in ENGINE:
        if path.relative_to(ROOT).as_posix() != HERE:
            assigned = {
                target.id
                for node in ast.parse(path.read_text(encoding="utf-8")).body
                if isinstance(node, ast.Assign)
                for target in node.targets
                if isinstance(target, ast.Name)
            }
            assert not assigned & names.keys()


@pytest.mark.parametrize(
    "text",
    [
        'dead = energy == "none"',
        'rigs = {"none"}',
        'def f():\n    rig = "none"',
        'A = ("none", "b")',
    ],
)
def test_a_bare_word_is_found(text):
    """Compared, in a set, inside a function, in a row."""
    assert len(bare_words(text)) == 1
    assert bare_words('NO_RIG = "none"') == []
