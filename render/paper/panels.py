"""Panels beside the flowchart: title block, entry check, cautions, proofs, legend.

A panel is rows of words under a title, set at a width; each comes at several widths so that the
imposition can fit it into a corner that the flowchart leaves free.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from render.paper import bands, blocks, fixedwords, signs
from render.paper.ink import Box, Panel, Stroke, Symbol, Words
from render.paper.outlines import Type, circle_path, diamond_path, outline_of, rectangle_path
from render.paper.phrasing import AGAIN, Wording, capital
from render.paper.script import Script
from render.paper.symbols import set_words
from render.paper.typeset import LEADING, Run, break_lines, fine, widest_word, width
from render.paper.unitmap import UnitMap, unit_map

_PAD = 0.4
_FRAME = 0.25
_GREY = "#333333"


@dataclass(frozen=True, slots=True)
class Row:
    """One entry of a panel: a marker, perhaps a picture, and words. `size` is a type factor."""

    runs: tuple[Run, ...]
    marker: str = ""
    sign: str = ""
    signal: str = ""
    figure: str = ""
    size: float = 1.0
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class Leaf:
    """A panel not yet set: its kind, title and rows, or the unit that it is a picture of."""

    kind: str
    title: str
    rows: tuple[Row, ...]
    unit: UnitMap | None = None


@dataclass(frozen=True, slots=True)
class Facts:
    """What the title block says besides the documents: date, reading distance, sheet count."""

    date: str
    read_from: float
    capital: float
    hands_capital: float
    sheet: str


def set_panel(leaf: Leaf, type_: Type, room: float) -> Panel:
    """The panel set `room` mm wide, its top left corner at (0, 0)."""
    if leaf.unit:
        return blocks.set_blocks(leaf.unit, type_, room)
    pad = _PAD * type_.body
    words: list[Words] = []
    strokes: list[Stroke] = []
    anchors: list[tuple[str, float]] = []
    y = pad * 0.6
    if leaf.title:
        head = (Run(fine(leaf.title, leaf.kind), bold=True),)
        for line in break_lines(head, type_.family, type_.body, room - 2 * pad):
            words.extend(set_words(line, pad, y, type_.body, type_.family))
            y += type_.body * LEADING
        y += 0.12 * type_.body
        strokes.append(Stroke((("M", 0.0, y), ("L", room, y)), _FRAME))
        y += 0.12 * type_.body
    for row in leaf.rows:
        if row.anchor:
            anchors.append((row.anchor, y))
        y = _set_row(row, type_, room, y, words, strokes)
    box = Box(0, 0, room, y + pad * 0.6)
    frame = Stroke(rectangle_path(box), _FRAME)
    return Panel(leaf.kind, leaf.title, box, tuple(words), (frame, *strokes), tuple(anchors))


def _set_row(
    row: Row, type_: Type, room: float, y: float, words: list[Words], strokes: list[Stroke]
) -> float:
    pad, size = _PAD * type_.body, type_.body * row.size
    indent = pad
    line_height = size * LEADING
    if row.sign:
        mark = 1.08 * size
        strokes.extend(signs.draw(row.sign, indent, y, mark))
        indent += 1.3 * size
    if row.figure:
        figure_w = 3.1 * size
        strokes.extend(
            _figure(row.figure, Box(indent, y + 0.08 * size, figure_w, 0.95 * size), type_)
        )
        indent += figure_w + 0.5 * size
    if row.marker:
        marker = (Run(row.marker, bold=True),)
        across = width(marker, type_.family, size)
        words.extend(_one_line(marker, indent, y, size, type_))
        indent += across + 0.35 * size
    runs = row.runs
    if row.signal:
        ink = signs.SIGNAL_COLOURS.get(row.signal, ("#FFFFFF", "#000000"))[1]
        runs = (Run(row.signal, bold=True, ink=ink), Run(" "), *runs)
    for number, line in enumerate(break_lines(runs, type_.family, size, room - indent - pad)):
        placed = list(set_words(line, indent, y, size, type_.family))
        if row.signal and not number:
            head = placed[0]
            back = signs.SIGNAL_COLOURS.get(row.signal, ("#FFFFFF", "#000000"))[0]
            chip = Box(head.x - 0.08 * size, y + 0.08 * size, head.width + 0.16 * size, 0.92 * size)
            strokes.append(Stroke(rectangle_path(chip), 0.0, "none", back))
        words.extend(placed)
        y += line_height
    return y + 0.14 * size


def _one_line(runs: tuple[Run, ...], x: float, y: float, size: float, type_: Type) -> list[Words]:
    lines = break_lines(runs, type_.family, size, 1e6)
    return [word for line in lines for word in set_words(line, x, y, size, type_.family)]


def _figure(kind: str, box: Box, type_: Type) -> Iterable[Stroke]:
    if kind == "connector":
        r = box.h / 2
        return (circle_path(box.x + box.w / 2, box.y + r, r),)
    if kind == "decision":
        return (Stroke(diamond_path(box), 0.35),)
    return (outline_of(kind, box, type_),)


def least_width(leaf: Leaf, type_: Type) -> float:
    """The narrowest width in mm at which no word of the panel has to be cut."""
    inner = max(
        (widest_word(row.runs, type_.family, type_.body * row.size) for row in leaf.rows),
        default=0.0,
    )
    marks = max(
        (
            1.3 * bool(row.sign)
            + 3.6 * bool(row.figure)
            + (len(row.marker) * 0.55 + 0.35) * bool(row.marker)
            for row in leaf.rows
        ),
        default=0.0,
    )
    return min(inner + marks * type_.body, 30 * type_.body) + 2 * _PAD * type_.body


def title_block(script: Script, facts: Facts) -> Leaf:
    """Topology, mains, depth, complaint, figures of the plan, versions, date and sheet."""
    model, chart = script.model, script.chart
    name = str(model.get("says") or model["topology"])
    mains = chart.get("mains") or model["mains"]
    complaint = chart.get("complaint") or model.get("complaint")
    lines = [
        f"{_figure_of(mains['volts'])} V {_figure_of(mains['hertz'])} Hz · "
        f"to the {chart.get('depth') or model['depth']} · "
        + (str(complaint).replace("-", " ") if complaint else "any complaint"),
        _plan_line(chart),
        f"knowledge {_short(str(model.get('knowledge') or ''))} · "
        f"model {_short(str(chart.get('model_sha256', '')))}",
        f"{facts.sheet} · {facts.date} · capitals {facts.capital:.2f} mm, to read from "
        f"{facts.read_from:g} m"
        + (
            f"; hands’ {facts.hands_capital:.2f} mm"
            if facts.hands_capital > facts.capital + 0.01
            else ""
        ),
    ]
    rows = [Row((Run(fine(name, "topology"), bold=True),), size=1.15)]
    rows.extend(Row((Run(fine(line, "title block")),)) for line in lines)
    return Leaf("title", "", tuple(rows))


def running_title(script: Script, facts: Facts) -> Leaf:
    """The small title block of a sheet of panels or of a later sheet of the flowchart."""
    model = script.model
    name = str(model.get("says") or model["topology"])
    mains = script.chart.get("mains") or model["mains"]
    line = (
        f"{facts.sheet} · {_figure_of(mains['volts'])} V · "
        f"model {_short(str(script.chart.get('model_sha256', '')))} · {facts.date}"
    )
    rows = (Row((Run(fine(name, "topology"), bold=True),)), Row((Run(fine(line, "title")),)))
    return Leaf("title", "", rows)


def _plan_line(chart: Mapping[str, Any]) -> str:
    minutes, cost = chart["expected_minutes"], chart["expected_cost"]
    proof = (
        "proved least"
        if chart.get("proved_optimal")
        else f"least possible {chart['lower_bound']:.1f}"
    )
    return f"tests {minutes:.1f} min; with repair, risk {cost:.1f} min, {proof}"


def _figure_of(value: float) -> str:
    return f"{value:g}"


def _short(digest: str) -> str:
    return digest[:8] or "unversioned"


def general() -> Leaf:
    """The general caution that defers to local codes and competent persons."""
    first, rest = fixedwords.GENERAL[0], fixedwords.GENERAL[1:]
    rows = [Row((Run(first),), sign="W012", signal="WARNING")]
    rows.extend(Row((Run(line),)) for line in rest)
    return Leaf("general", fixedwords.GENERAL_TITLE, tuple(rows))


def entry_check(script: Script) -> Leaf | None:
    """The questions of the entry check with what follows from each answer."""
    questions = script.model.get("entry") or ()
    rows = [Row((Run(fixedwords.ENTRY_LEAD),))]
    for number, question in enumerate(questions, start=1):
        where = f"entry question {question['id']}"
        stops = "; ".join(
            f"{' or '.join(answers)}: {fixedwords.ANSWERS.get(effect, effect)}"
            for effect, answers in _by_effect(question["answers"]).items()
            if effect != "go-on"
        )
        runs = (Run(fine(question["asks"], where) + " "), Run(fine(stops, where), bold=True))
        rows.append(Row(runs, marker=f"E{number}"))
    return Leaf("entry", fixedwords.ENTRY_TITLE, tuple(rows)) if questions else None


def _by_effect(answers: Mapping[str, str]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for answer, effect in answers.items():
        found.setdefault(effect, []).append(answer)
    return found


def make_safe(script: Script) -> Leaf:
    """What MAKE SAFE stands for, step by step, and the points it means in full words."""
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
    """The answers that no fault in question explains, test by test."""
    if script.wording is Wording.FULL or not script.again:
        return None
    rows = tuple(
        Row((Run(words.removeprefix(AGAIN).strip()),), marker=number)
        for number, words in sorted(script.again.items(), key=lambda item: int(item[0]))
    )
    return Leaf("again", fixedwords.AGAIN_TITLE, rows)


def cautions(script: Script) -> Leaf | None:
    """The full words of every caution on the chart, by its number."""
    rows = tuple(
        Row(
            (
                Run(fine(_hazard(caution), f"caution {caution['id']}") + ": ", bold=True),
                Run(fine(caution["says"], f"caution {caution['id']}")),
            ),
            signal=str(caution["signal"]).upper(),
            sign=signs.for_hazard(str(caution["hazard"]), str(caution["signal"]).upper()),
        )
        for caution in sorted(script.cautions, key=_hazard)
    )
    return Leaf("cautions", fixedwords.CAUTIONS_TITLE, rows) if rows else None


def _hazard(caution: Mapping[str, Any]) -> str:
    return str(caution["hazard"]).replace("-", " ")


def proofs(script: Script) -> Leaf | None:
    """The proofs after repair with their limits."""
    rows = []
    for number, proof in enumerate(script.proofs, start=1):
        where = f"proof {proof['id']}"
        limit = str(proof.get("limit") or "")
        text = str(proof["says"]).rstrip(". ")
        tail = f": {limit}" if limit and limit not in text else ""
        rows.append(Row((Run(fine(text + tail, where)),), marker=f"P{number}", anchor=f"P{number}"))
    if not rows:
        return None
    rows.append(Row((Run(fixedwords.PROOFS_TAIL, bold=True),)))
    return Leaf("proofs", fixedwords.PROOFS_TITLE, tuple(rows))


def legend() -> Leaf:
    """The symbols with their meaning."""
    rows = tuple(Row((Run(text),), figure=kind) for kind, text in fixedwords.LEGEND)
    return Leaf("legend", fixedwords.LEGEND_TITLE, rows)


def notes(script: Script) -> Leaf:
    """How the short signs on the chart are to be read."""
    told = list(fixedwords.LEGEND_NOTES)
    if script.wording is Wording.TIGHT and script.usual_proofs:
        told.append(fixedwords.USUAL_PROOFS.format(proofs=script.usual_proofs))
    return Leaf("notes", "", tuple(Row((Run(text),)) for text in told))


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
            due = f"{capital(str(test.get('instrument') or 'reads'))}: {_lowered(test['good'])}"
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


def _lowered(words: str) -> str:
    """Words as they go on after a colon; an abbreviation keeps its capitals."""
    return words if words[1:2].isupper() else words[:1].lower() + words[1:]


def instruments(script: Script) -> Leaf | None:
    """Every instrument that a test of the chart asks for."""
    used = {node["test"] for node in script.chart["nodes"].values() if node["kind"] == "test"}
    found = dict.fromkeys(
        str(test["instrument"])
        for test in script.model["tests"]
        if test["id"] in used and test.get("instrument")
    )
    if not found:
        return None
    rows = tuple(Row((Run(fine(name, "instrument")),), marker="•") for name in found)
    return Leaf("instruments", fixedwords.INSTRUMENTS_TITLE, rows)


def readings(script: Script) -> Leaf | None:
    """What the chart's tests show when all is well, but for those at test points."""
    numbers = {
        node["test"]: script.numbers[name]
        for name, node in script.chart["nodes"].items()
        if node["kind"] == "test" and name in script.numbers
    }
    pointed = {point["id"] for point in script.model.get("points") or ()}
    rows = []
    for test in script.model["tests"]:
        if test["id"] not in numbers or not test.get("good") or test.get("point") in pointed:
            continue
        point = f"{test['point']}: " if test.get("point") else ""
        words = fine(f"{point}{test['good']}", f"test {test['id']}")
        rows.append((int(numbers[test["id"]]), Row((Run(words),), marker=numbers[test["id"]])))
    ordered = tuple(row for _, row in sorted(rows, key=lambda pair: pair[0]))
    return Leaf("readings", fixedwords.READINGS_TITLE, ordered) if ordered else None


def use() -> Leaf:
    """How to use the chart."""
    rows = tuple(Row((Run(line),), marker=str(n)) for n, line in enumerate(fixedwords.USE, start=1))
    return Leaf("use", fixedwords.USE_TITLE, rows)


def faults(script: Script) -> Leaf:
    """Every fault: how often, where the chart ends for it, remedy and proof."""
    verdicts = _verdicts_by_fault(script)
    rows = []
    ordered = sorted(script.model["faults"], key=lambda f: -float(f["prior"]))
    for fault in ordered:
        where = f"fault {fault['id']}"
        ends = ", ".join(verdicts.get(fault["id"], ())) or "not on this chart"
        runs = (
            Run(fine(str(fault["says"]).rstrip(". "), where), bold=True),
            Run(" · " + fine(f"{bands.percent(float(fault['prior']))} · {ends}", where)),
        )
        rows.append(Row(runs))
    return Leaf("faults", fixedwords.FAULTS_TITLE, tuple(rows))


def _verdicts_by_fault(script: Script) -> Mapping[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, node in script.chart["nodes"].items():
        if node["kind"] != "verdict":
            continue
        number = script.numbers[script.merged.get(name, name)]
        for fault in node["faults"]:
            ends = found.setdefault(fault["id"], [])
            if number not in ends:
                ends.append(number)
    return found


Setter = Callable[[float], Panel]


def unused(symbols: Iterable[Symbol]) -> frozenset[str]:
    """Kinds of the legend that the drawn symbols don't need."""
    drawn = {symbol.kind for symbol in symbols}
    return frozenset({"connector"} - drawn)
