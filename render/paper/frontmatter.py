"""Panels to read before the flowchart: entry check, making safe, cautions, readings, names."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from engine.chart import secondstart
from render.drawing.typeset import Run, fine
from render.layout.panels import Leaf, Row
from render.layout.unitmap import unit_map
from render.wording import fixedwords
from render.wording.notices import gravest_first, notice
from render.wording.phrasing import AGAIN, Wording, capital, lower
from render.wording.script import Script


def entry_check(script: Script) -> Leaf | None:
    """The questions of the entry check with what follows from each answer."""
    questions = script.model.get("entry") or ()
    answers = fixedwords.ANSWERS
    if secondstart.second_of(script.chart) is not None:
        answers = {**answers, **fixedwords.SECOND_ANSWERS}
    rows = [Row((Run(fixedwords.ENTRY_LEAD),))]
    for number, question in enumerate(questions, start=1):
        where = f"entry question {question['id']}"
        stops = "; ".join(
            f"{' or '.join(words)}: {answers.get(effect, effect)}"
            for effect, words in _by_effect(question["answers"]).items()
            if effect != "go-on"
        )
        runs = (Run(fine(question["asks"], where) + " "), Run(fine(stops, where), bold=True))
        rows.append(Row(runs, marker=f"E{number}"))
    return Leaf("entry", fixedwords.ENTRY_TITLE, tuple(rows)) if questions else None


def _by_effect(answers: Mapping[str, str]) -> dict[str, list[str]]:
    by_effect: dict[str, list[str]] = {}
    for answer, effect in answers.items():
        by_effect.setdefault(effect, []).append(answer)
    return by_effect


def make_safe(script: Script) -> Leaf:
    """What MEASURE FIRST stands for, step by step, and the points it means in full words."""
    rows = [
        Row((Run(line),), marker=f"S{number}")
        for number, line in enumerate(fixedwords.SAFE, start=1)
    ]
    if script.wording is Wording.TIGHT and script.stores:
        rows.append(Row((Run("Points: ", bold=True), Run("; ".join(script.stores) + "."))))
    return Leaf("make-safe", fixedwords.SAFE_TITLE, tuple(rows))


def names(script: Script) -> Leaf | None:
    """What the short names on the symbols stand for."""
    pairs = {**script.names, **script.supplies}
    rows = tuple(Row((Run(name, bold=True), Run(": " + says))) for name, says in pairs.items())
    return Leaf("names", fixedwords.NAMES_TITLE, rows) if rows else None


def again(script: Script) -> Leaf | None:
    """The answers that no fault in question explains, tests of the same answers together."""
    if script.wording is Wording.FULL or not script.again:
        return None
    alike: dict[str, list[int]] = {}
    for number, words in sorted(script.again.items(), key=lambda item: int(item[0])):
        alike.setdefault(words.removeprefix(AGAIN).strip(), []).append(int(number))
    rows = tuple(_reading(words, steps) for words, steps in alike.items())
    return Leaf("again", fixedwords.AGAIN_TITLE, rows)


def cautions(script: Script) -> Leaf | None:
    """The full words of every caution on the chart, the gravest first."""
    at_every_repair = {caution["id"] for caution in script.grouped}
    notices = sorted((notice(caution) for caution in script.cautions), key=lambda one: one.hazard)
    rows = tuple(
        Row(
            (
                Run(one.hazard + ": ", bold=True),
                Run(one.says),
                Run(fixedwords.EVERY_REPAIR if one.id in at_every_repair else ""),
            ),
            signal=one.signal,
            sign=one.sign,
        )
        for one in gravest_first(notices)
    )
    return Leaf("cautions", fixedwords.CAUTIONS_TITLE, rows) if rows else None


def block_diagram(script: Script) -> Leaf | None:
    """The unit's stages as blocks, with its test points."""
    unit = unit_map(script.model)
    return Leaf("blocks", fixedwords.BLOCKS_TITLE, (), unit) if unit.stages else None


def points(script: Script) -> Leaf | None:
    """What each test point should read: the healthy words of every test made there."""
    notes = {str(point["id"]): str(point["says"]) for point in script.model.get("points") or ()}
    tests = [t for t in script.model["tests"] if t.get("good") and t.get("point") in notes]
    setups = {test["id"]: _setup_words(script, test, notes) for test in tests}
    if not tests:
        return None
    usual = Counter(setups.values()).most_common(1)[0][0]
    # Direct voltage before ripple, and what is done the usual way first.
    tests.sort(key=lambda t: str(t.get("instrument")), reverse=True)
    tests.sort(key=lambda t: setups[t["id"]] != usual)
    rows = [Row((Run(fixedwords.POINTS_LEAD + " "), Run(usual)))]
    for point, says in notes.items():
        where = f"test point {point}"
        runs = [Run(fine(capital(says), where) + ".", bold=True)]
        for test in (t for t in tests if t["point"] == point):
            due = f"{capital(str(test.get('instrument') or 'reads'))}: {lower(test['good'])}"
            other = "" if setups[test["id"]] == usual else f" ({setups[test['id']].rstrip('.')})"
            runs.append(Run(" " + fine(f"{due.rstrip('. ')}{other}.", where)))
        if len(runs) > 1:
            rows.append(Row(tuple(runs), marker=point))
    return Leaf("points", fixedwords.POINTS_TITLE, tuple(rows))


def _setup_words(script: Script, test: Mapping[str, Any], notes: Mapping[str, str]) -> str:
    """How a test at a point is fed and rigged, without naming the point."""
    point = str(test["point"])
    arrangements = script.model["supply"]["arrangements"]
    supplies = {a["id"]: str(a.get("says") or a["id"]) for a in arrangements}
    rigs = {rig["id"]: str(rig.get("says") or "") for rig in script.model["rigs"]}
    rig = rigs.get(test["rig"], "").replace(f"{point} ({notes[point]})", "the point")
    supply = supplies[test["supply"]].partition(":")[0]
    words = f"{supply}; {rig}." if rig and test["rig"] != "none" else f"{supply}."
    return fine(words, f"test {test['id']}")


def readings(script: Script) -> Leaf | None:
    """What the chart's tests show when all is well, but for those at test points."""
    numbers = {
        node["test"]: script.numbers[name]
        for name, node in script.chart["nodes"].items()
        if node["kind"] == "test" and name in script.numbers
    }
    at_points = {point["id"] for point in script.model.get("points") or ()}
    alike: dict[str, list[int]] = {}
    for test in sorted(script.model["tests"], key=lambda t: int(numbers.get(t["id"], "0"))):
        if test["id"] not in numbers or not test.get("good") or test.get("point") in at_points:
            continue
        point = f"{test['point']}: " if test.get("point") else ""
        words = fine(f"{point}{test['good']}", f"test {test['id']}")
        alike.setdefault(words, []).append(int(numbers[test["id"]]))
    rows = tuple(_reading(words, steps) for words, steps in alike.items())
    return Leaf("readings", fixedwords.READINGS_TITLE, rows) if rows else None


def _reading(words: str, steps: list[int]) -> Row:
    """What one step should read, or several that should read the same."""
    if len(steps) == 1:
        return Row((Run(words),), marker=str(steps[0]))
    return Row((Run(", ".join(map(str, steps)) + "\u00a0", bold=True), Run(words)))


def use() -> Leaf:
    """How to use the chart."""
    rows = tuple(Row((Run(line),), marker=str(n)) for n, line in enumerate(fixedwords.USE, start=1))
    return Leaf("use", fixedwords.USE_TITLE, rows)
