"""What the house is made of: modules, functions, docstrings, and names that name no thing.

    python -m tests.structure.census [FOLDER]

A value named by a bare participle (`found`, `told`, `made`) says what was done to it, not what it
is; field terms are nouns. Counted are names bound in the program: variables, arguments, functions
and classes, of one word each. Words that end like a participle and are a noun or an adjective of
the field are none; which those are is our choice, no source.
"""

from __future__ import annotations

import ast
import statistics
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGES = ("kb", "engine", "render")
IRREGULAR = {
    "begun", "borne", "bought", "bound", "broken", "brought", "built", "caught", "chosen", "come",
    "dealt", "done", "drawn", "driven", "felt", "fitted", "fought", "found", "frozen", "given",
    "gone", "grown", "heard", "held", "hidden", "kept", "known", "laid", "led", "left", "lent",
    "lit", "lost", "made", "meant", "met", "paid", "put", "said", "seen", "sent", "shown", "shut",
    "sold", "sought", "spelt", "spent", "spoken", "stood", "struck", "sworn", "taken", "taught",
    "thought", "thrown", "told", "understood", "won", "worn", "written",
}  # fmt: skip
NOUNS = {
    "based", "bed", "breed", "cut", "deed", "embed", "feed", "hundred", "indeed", "led", "left",
    "need", "red", "run", "seed", "set", "shed", "speed", "split", "spread", "unused", "weed",
}  # fmt: skip


def texts(root: Path) -> Iterator[str]:
    """The text of each module of the program."""
    for package in PACKAGES:
        for path in sorted((root / package).rglob("*.py")):
            yield path.read_text(encoding="utf-8")


def bound_names(text: str) -> Iterator[str]:
    """Every name that a module binds, once for each place where it does."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id
        elif isinstance(node, ast.arg):
            yield node.arg
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name


def is_participle(name: str) -> bool:
    """Whether a name of one word is a past participle."""
    word = name.strip("_").lower()
    if "_" in word or word in NOUNS:
        return False
    return word in IRREGULAR or (word.endswith("ed") and len(word) > 3)


def participles(root: Path = ROOT) -> tuple[Counter[str], int]:
    """How often each participle is bound, and how many names there are."""
    names = [name for text in texts(root) for name in bound_names(text)]
    return Counter(name for name in names if is_participle(name)), len(names)


def functions(root: Path = ROOT) -> list[ast.FunctionDef]:
    """Every function of the program."""
    trees = (ast.walk(ast.parse(text)) for text in texts(root))
    return [node for tree in trees for node in tree if isinstance(node, ast.FunctionDef)]


def _lengths(numbers: list[int]) -> str:
    tenths = statistics.quantiles(numbers, n=10)
    return f"median {statistics.median(numbers):g}, p90 {tenths[8]:g}, longest {max(numbers)}"


def main() -> None:
    """Print the figures."""
    root = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT
    modules = [len(text.splitlines()) for text in texts(root)]
    every = functions(root)
    public = [node for node in every if not node.name.startswith("_")]
    documented = sum(ast.get_docstring(node) is not None for node in public)
    counts, names = participles(root)
    print(f"{len(modules)} modules, {sum(modules)} lines; lines: {_lengths(modules)}")
    lines = [(node.end_lineno or node.lineno) - node.lineno + 1 for node in every]
    print(f"{len(every)} functions; lines: {_lengths(lines)}")
    print(f"{documented / len(public):.0%} of {len(public)} public functions have a docstring")
    print(f"{sum(counts.values()) / names:.2%} of {names} bound names are bare participles")
    print(", ".join(f"{name} {times}" for name, times in counts.most_common(12)))


if __name__ == "__main__":
    main()
