"""Does each number that stands in the code say what it is, or where it is from?"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def is_numeric(node):
    """Whether an expression is a number, a sum of numbers, or a row or table of them."""
    match node:
        case ast.Constant(value=bool()):
            return False
        case ast.Constant(value=value):
            return isinstance(value, (int, float))
        case ast.UnaryOp(operand=inner):
            return is_numeric(inner)
        case ast.BinOp(left=left, right=right):
            return is_numeric(left) and is_numeric(right)
        case ast.Tuple(elts=[_, *_] as members):
            return all(map(is_numeric, members))
        case ast.Dict(values=[_, *_] as members):
            return any(map(is_numeric, members))
    return False


def unexplained(text):
    """Lines of a module's numbers with neither a comment before or beside nor words after them.

    Numbers on lines that follow each other are explained together.
    """
    lines, body, bare = ["", *text.splitlines()], ast.parse(text).body, []
    group, ended = [], 0
    for node in [*body, None]:
        if isinstance(node, (ast.Assign, ast.AnnAssign)) and ended in (0, node.lineno - 1):
            group.append(node)
            ended = node.end_lineno
            continue
        after = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        if group and not after and not lines[group[0].lineno - 1].startswith("#"):
            bare += [lines[n.lineno] for n in group if is_numeric(n.value) and not beside(n, lines)]
        group = [node] if isinstance(node, (ast.Assign, ast.AnnAssign)) else []
        ended = group[0].end_lineno if group else 0
    return bare


def beside(node, lines):
    """Whether a comment stands on one of a statement's lines."""
    return any(re.search(r"#(?! fmt)", line) for line in lines[node.lineno : node.end_lineno + 1])


def test_every_number_of_the_engine_says_what_it_is():
    """Where it is from, or that it is the algorithm's own."""
    modules = sorted((ROOT / "engine").rglob("*.py"))
    bare = {str(p.relative_to(ROOT)): unexplained(p.read_text(encoding="utf-8")) for p in modules}
    assert {path: lines for path, lines in bare.items() if lines} == {}


@pytest.mark.parametrize("text", ["A = 1.0\n", "A, B = 1, -2\n", "\nA = {'x': 2.0}\n"])
def test_a_number_without_words_is_found(text):
    """One, two at once, a table."""
    assert len(unexplained(text)) == 1
    assert unexplained("# Why.\n" + text.lstrip()) == []
    assert unexplained(text + '"""Why."""\n') == []
