"""Small mistakes put into the program and its knowledge one at a time: does a test fail?

    python -m tests.bench.mutations [--seed N] [--many N] [--area NAME ...] [--jobs N] [--list]

A mutation turns one comparison, one number, one `and`, one sign or one `not` into another: in
the engine, in the audit, in the rules. Which ones is drawn by the seed, the same for the same
program, an equal number from each area. The tests that belong to the area run on a copy of the
program, those of the module itself first, until one fails. Printed: each mutation with what caught
it, then the survivors; ends with 1 where more than one in twenty survived.

After R. A. DeMillo, R. J. Lipton and F. G. Sayward, Hints on test data selection, Computer 11(4),
1978: small mistakes that no test sees tell where larger ones hide.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from tests.bench.safety_mutations import ROOT, copied

SURVIVORS = 0.05
# Numbers that guard against rounding or against no number at all: no unit reads the difference.
DUST, BEYOND = 1e-5, 1e9
SECONDS = 240.0
# Numbers that a module calls its algorithm's own move the time or the last digit of a result, never
# the result: a test that told two of them apart would hold a clock. So neither they nor the bound
# of what is compared with them is moved.
OWN = "of the algorithm"


@dataclass(frozen=True, slots=True)
class Area:
    """Files, and the tests that answer for them, the quickest first."""

    name: str
    files: tuple[str, ...]
    tests: tuple[str, ...]

    def paths(self) -> list[Path]:
        """The files in a fixed order."""
        return sorted(path for pattern in self.files for path in ROOT.glob(pattern))


AREAS = (
    Area("audit", ("engine/audit/*.py",), (
        "safety/test_audit_densities.py",
        "safety/test_audit_chart.py", "safety/test_audit_walk.py", "safety/test_stores.py",
        "safety/test_limits.py", "sources/test_belief_sources.py",
        "safety/test_audit_misses_nothing.py", "safety/test_audit_plans.py",
        "safety/test_audit_walks.py", "safety/test_audit_readings.py",
        "safety/test_audit_factors.py", "safety/test_second_start.py",
    )),
    Area("model", ("engine/model/*.py", "engine/model/file/*.py"), (
        "safety/test_stores.py", "words/test_modelfile.py", "words/test_modelfile_troubles.py",
        "properties/test_modelfile_reader.py", "safety/test_audit_plans.py",
        "safety/test_lying_documents.py", "properties/test_planner.py", "safety/test_limits.py",
        "words/test_modelfile_standins.py", "words/test_required_names.py",
    )),
    Area("readings", ("engine/readings/*.py",), (
        "properties/test_confusion.py", "words/test_readings.py",
        "properties/test_readings_partition.py",
        "properties/test_belief.py", "sources/test_belief_sources.py", "words/test_replies.py",
        "walk/test_acquaintance.py", "words/test_readings_on_shipped.py",
        "circuit/test_densities.py",
    )),
    Area("assembly", ("engine/assembly/*.py",), (
        "knowledge/test_small_model.py", "knowledge/test_finding.py",
        "knowledge/test_benchfile.py", "knowledge/test_methods.py",
        "knowledge/test_thresholds.py", "words/test_required_names.py",
        "words/test_leads.py", "words/test_cli_knowledge.py",
        "knowledge/test_shop_cannot_loosen.py", "knowledge/test_bench_that_is_there.py",
        "knowledge/test_shipped_topologies.py", "knowledge/test_own_knowledge.py",
    )),
    Area("deduce", ("engine/deduce/*.py",), (
        "knowledge/test_small_model.py", "deduction/test_chaining.py",
        "deduction/test_shipped_rules.py",
        "knowledge/test_exposure.py", "knowledge/test_finding.py", "knowledge/test_thresholds.py",
        "knowledge/test_bad_knowledge.py", "knowledge/test_shipped_topologies.py",
    )),
    Area("planner", ("engine/planner/*.py",), (
        "properties/test_planner_tables.py",
        "properties/test_planner.py", "properties/test_planner_requirements.py",
        "properties/test_planner_refusals.py", "properties/test_planner_shorts.py",
        "sources/test_planner_sources.py", "sources/test_repair_sources.py",
    )),
    Area("chart", ("engine/chart/*.py",), (
        "properties/test_chart_by_hand.py", "safety/test_audit_plans.py",
        "safety/test_second_start.py", "walk/test_instead.py",
        "safety/test_cold_first.py", "properties/test_trials.py", "page/test_page_is_the_chart.py",
        "safety/test_shipped_charts.py",
    )),
    Area("walk", ("engine/walk/*.py",), (
        "walk/test_warned.py", "walk/test_rereading.py", "safety/test_stores.py",
        "walk/test_entry.py", "walk/test_walk_ends.py", "walk/test_traced.py",
        "walk/test_thresholds.py", "walk/test_explain.py", "walk/test_acquaintance.py",
        "walk/test_alternatives.py", "safety/test_audit_walks.py", "walk/test_going_on.py",
        "safety/test_edited_walks.py", "walk/test_walk_states.py",
    )),
    Area("electrics", ("engine/electrics/*.py", "engine/calc/*.py"), (
        "sources/test_electrics.py", "sources/test_electrics_codes.py", "sources/test_prints.py",
        "properties/test_electrics_laws.py", "sources/test_calc_figures.py", "words/test_calc.py",
    )),
    Area("rules", ("kb/rules/*.yaml",), (
        "knowledge/test_bench_figures.py",
        "deduction/test_shipped_rules.py", "sources/test_failure_shares.py",
        "circuit/test_accord.py", "knowledge/test_shipped_topologies.py",
        "safety/test_shipped_charts.py",
    )),
)  # fmt: skip

# Of counts the bound moves by one; of real numbers that would change nothing anybody could see,
# so the comparison is turned around.
_BOUND_MOVED = {ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">"}
_COMPARED = {
    ast.Lt: ">=", ast.LtE: ">", ast.Gt: "<=", ast.GtE: "<", ast.Eq: "!=", ast.NotEq: "==",
    ast.In: "not in", ast.NotIn: "in", ast.Is: "is not", ast.IsNot: "is",
}  # fmt: skip
_SIGNS = {ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*"}
_FIGURE = re.compile(r"(?<=[ \[{])(odds|minutes|share|least|most|below|rank): ([0-9.]+)\b")


@dataclass(frozen=True, slots=True)
class Mutation:
    """A piece of a file and what stands there instead."""

    area: str
    file: str
    line: int
    start: int
    end: int
    before: str
    after: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line} {self.before!r} -> {self.after!r}"


def mutations(area: Area) -> list[Mutation]:
    """All that can be made of an area, in a fixed order."""
    found = []
    for path in area.paths():
        text = path.read_text(encoding="utf-8")
        pieces = _of_python(text) if path.suffix == ".py" else _of_rules(text)
        for start, end, after in pieces:
            line = text.count("\n", 0, start) + 1
            file = path.relative_to(ROOT).as_posix()
            found.append(Mutation(area.name, file, line, start, end, text[start:end], after))
    return found


def _of_rules(text: str) -> Iterator[tuple[int, int, str]]:
    # A rank orders and is no amount: three times the last one is the last one still.
    last = max((float(f[2]) for f in _FIGURE.finditer(text) if f[1] == "rank"), default=0.0)
    for figure in _FIGURE.finditer(text):
        if figure[1] == "rank" and float(figure[2]) == last:
            continue
        yield figure.start(2), figure.end(2), f"{float(figure[2]) * 3 or 1.0:g}"


def _of_python(text: str) -> Iterator[tuple[int, int, str]]:
    starts = [0]
    for line in text.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))

    def place(line: int, column: int) -> int:
        whole = text[starts[line - 1] : starts[line]].encode()
        return starts[line - 1] + len(whole[:column].decode())

    def ends(node: ast.expr) -> int:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        return place(node.end_lineno, node.end_col_offset)

    def between(left: ast.expr, right: ast.expr) -> tuple[int, int]:
        return ends(left), place(right.lineno, right.col_offset)

    tree = ast.parse(text)
    owned, names = _of_the_algorithm(tree, text)
    unread = _only_for_the_unit(tree)
    for node in ast.walk(tree):
        if getattr(node, "lineno", None) in owned:
            continue
        if isinstance(node, ast.Compare) and len(node.ops) == 1:
            start, end = between(node.left, node.comparators[0])
            if any(isinstance(side, ast.Name) and side.id in names for side in _sides(node)):
                continue
            if "(" not in text[start:end] and ")" not in text[start:end]:
                moved = _BOUND_MOVED if any(map(_counts, _sides(node))) else _COMPARED
                kind = type(node.ops[0])
                yield start, end, f" {moved.get(kind, _COMPARED[kind])} "
        elif isinstance(node, ast.BoolOp):
            start, end = between(node.values[0], node.values[1])
            words = text[start:end]
            was, now = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
            if words.count(was) == 1:
                yield start, end, words.replace(was, now)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            start = place(node.lineno, node.col_offset)
            yield start, start + len("not "), ""
        elif isinstance(node, ast.BinOp) and type(node.op) in _SIGNS:
            start, end = between(node.left, node.right)
            sign = text[start:end]
            if sign.strip() in ("+", "-", "*", "/") and not _worded(node):
                yield start, end, f" {_SIGNS[type(node.op)]} "
        elif isinstance(node, ast.Constant):
            value = node.value
            # a truth is an int, too
            if type(value) in (int, float) and _is_telling(value) and id(node) not in unread:
                yield place(node.lineno, node.col_offset), ends(node), repr(value * 2 + 1)


def _of_the_algorithm(tree: ast.Module, text: str) -> tuple[set[int], set[str]]:
    """Lines and names of the numbers that a module calls its algorithm's own, by the words after
    them or the comment before."""
    lines, owned, names = text.splitlines(), set[int](), set[str]()
    group: list[ast.Assign | ast.AnnAssign] = []
    for node in tree.body:
        if isinstance(node, (ast.Assign, ast.AnnAssign)):
            is_next = bool(group) and group[-1].end_lineno == node.lineno - 1
            group = [*group, node] if is_next else [node]
            above = group[0].lineno - 1
            while above and lines[above - 1].startswith("#"):
                above -= 1
            said = " ".join(line.strip("# ") for line in lines[above : group[0].lineno - 1])
            is_own = OWN in said.casefold()
            mine = [node] if is_own else []
        else:
            words = node.value if isinstance(node, ast.Expr) else None
            is_own = isinstance(words, ast.Constant) and OWN in str(words.value).casefold()
            mine, group = (group[-1:] if is_own else []), []
        for one in mine:
            owned.update(range(one.lineno, (one.end_lineno or one.lineno) + 1))
            targets = one.targets if isinstance(one, ast.Assign) else [one.target]
            names.update(name.id for target in targets for name in ast.walk(target)
                         if isinstance(name, ast.Name))  # fmt: skip
    return owned, names


def _only_for_the_unit(tree: ast.Module) -> set[int]:
    """Numbers handed to a call of which nothing but the unit is asked: any other would do."""
    calls = (
        node.value for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and node.attr == "unit"
    )  # fmt: skip
    return {id(handed) for call in calls if isinstance(call, ast.Call) for handed in call.args}


def _is_telling(value: float) -> bool:
    """Whether somebody could read a difference off a number."""
    return value == 0 or DUST <= abs(value) < BEYOND


def _sides(node: ast.Compare) -> tuple[ast.expr, ast.expr]:
    return node.left, node.comparators[0]


def _counts(side: ast.expr) -> bool:
    """Whether a side of a comparison is a whole number or a length."""
    if isinstance(side, ast.Constant):
        return type(side.value) is int
    return isinstance(side, ast.Call) and isinstance(side.func, ast.Name) and side.func.id == "len"


def _worded(node: ast.BinOp) -> bool:
    """Whether texts are joined: another sign would not even run."""
    return any(
        isinstance(side, ast.JoinedStr) or (isinstance(side, ast.Constant) and
                                            isinstance(side.value, str))
        for side in (node.left, node.right)
    )  # fmt: skip


def drawn(seed: int, many: int, areas: list[Area]) -> list[Mutation]:
    """About `many` of them, as many from each area."""
    found = []
    for area in areas:
        every = mutations(area)
        random.Random(f"{seed} {area.name}").shuffle(every)
        found.extend(every[: -(-many // len(areas))])
    return found


def nearest(mutation: Mutation) -> list[str]:
    """The tests of the mutation's area: those named like its module first, then those that import
    it, then the others; else in the area's order, the quickest first."""
    tests = next(area.tests for area in AREAS if area.name == mutation.area)
    path = Path(mutation.file)
    room, stem = ".".join(path.parent.parts), path.stem
    imports = re.compile(
        rf"from {re.escape(f'{room}.{stem}')} import|from {re.escape(room)} import .*\b{stem}\b"
    )

    def distance(test: str) -> int:
        if stem in Path(test).stem:
            return 0
        return 1 if imports.search((ROOT / "tests" / test).read_text(encoding="utf-8")) else 2

    return sorted(tests, key=distance)


def caught_by(folder: Path, mutation: Mutation) -> str:
    """The first test that fails on the mutation; empty where it survives."""
    file = folder / mutation.file
    whole = file.read_text(encoding="utf-8")
    assert whole[mutation.start : mutation.end] == mutation.before, mutation
    changed = whole[: mutation.start] + mutation.after + whole[mutation.end :]
    file.write_text(changed, encoding="utf-8")
    tests = nearest(mutation)
    try:
        ran = subprocess.run(
            [sys.executable, "-m", "pytest", "-x", "-q", "--tb=no", "-p", "no:cacheprovider",
             *(f"tests/{test}" for test in tests)],
            cwd=folder, capture_output=True, text=True, check=False, timeout=SECONDS,
            env={**os.environ, "PYTHONPATH": str(folder), "XDG_CACHE_HOME": str(folder / "cache")},
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return f"nothing within {SECONDS:g} s"
    finally:
        file.write_text(whole, encoding="utf-8")
    failed = re.search(r"^(?:FAILED|ERROR) (\S+)", ran.stdout, re.MULTILINE)
    return failed[1] if failed else ("" if ran.returncode == 0 else f"exit {ran.returncode}")


def tried(mutations_: list[Mutation]) -> Iterator[tuple[Mutation, str]]:
    """Each with what caught it, one after another in a copy of their own."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        copied(folder)
        for mutation in mutations_:
            began = time.monotonic()
            found = caught_by(folder, mutation)
            seconds = time.monotonic() - began
            print(f"{mutation}: {found or 'SURVIVED'} ({seconds:.0f} s)", flush=True)
            yield mutation, found


def main() -> int:
    """Try them; the exit code."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--seed", type=int, default=1978)
    parser.add_argument("--many", type=int, default=150)
    parser.add_argument("--area", nargs="*", choices=[area.name for area in AREAS], default=[])
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--list", action="store_true", help="print them, try none")
    told = parser.parse_args()
    areas = [area for area in AREAS if not told.area or area.name in told.area]
    every = drawn(told.seed, told.many, areas)
    if told.list:
        print("\n".join(map(str, every)))
        return 0
    shares = [every[n :: told.jobs] for n in range(told.jobs)]
    with ThreadPoolExecutor(told.jobs) as pool:
        parts = pool.map(lambda share: list(tried(share)), shares)
        found = [pair for part in parts for pair in part]
    survivors = [mutation for mutation, by in found if not by or by.startswith("nothing within")]
    print(f"\n{len(found) - len(survivors)} of {len(found)} caught")
    for mutation in survivors:
        print(f"survived: {mutation}")
    return 1 if len(survivors) > SURVIVORS * len(found) else 0


if __name__ == "__main__":
    sys.exit(main())
