"""What is fed, but for a shop's cases and pages: knowledge, netlists, documents, words."""

from __future__ import annotations

import functools
import io
import json
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from engine import calc, library, planner, schematic
from engine.calc.sums import Calculation
from engine.chart.drawing import document, draw_up
from engine.documents.chart import read_chart
from engine.documents.reading import MisfitError
from engine.drafting import begin, wiring, wishes
from engine.intake.suggestion import listener
from engine.model.file import inspect
from engine.model.records import Mains, Model
from engine.readings import bands, markings
from engine.schematic import cards
from engine.solver.network import network
from kb import quantities
from kb.language import answersfile, benchfile, circuit, lint, loader, trees
from kb.language.loader import as_shipped
from kb.trouble import Place, Trouble, TroubleError
from render.cli import files
from tests.bench.fuzz.trial import Reader
from tests.knowledge.shop import CORD_LAMP, EARTHED_LAMP, KIND, RULE

ROOT = Path(__file__).parents[3]
LANTERN = ROOT / "tests" / "safety" / "gate-lantern.model.json"
FOLDER = Path(tempfile.mkdtemp(prefix="fuzz-"))
_MOST_LETTERS = 3000


def _refused(what: object) -> TroubleError:
    """A refusal that a reader's callers put in words."""
    return TroubleError(Trouble("FUZZ", Place("input"), str(what), ""))


def put(name: str, text: str) -> Path:
    """A file of the fuzzer's own with this text."""
    path = FOLDER / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    return path


# ---- knowledge ----


@functools.cache
def entries() -> tuple[str, ...]:
    """Single entries of the shipped files, under their section, and whole small files."""
    found = [CORD_LAMP, EARTHED_LAMP, KIND, RULE]
    for path in sorted((ROOT / "kb").rglob("*.yaml")):
        text = path.read_text(encoding="utf-8")
        found.extend(_pieces(text) if len(text) > _MOST_LETTERS else [text])
    found += [p.read_text(encoding="utf-8") for p in sorted((ROOT / "samples").rglob("*.yaml"))]
    return tuple(found)


def _pieces(text: str) -> Iterator[str]:
    tree = trees.read(text)
    lines = text.splitlines(keepends=True)
    if not isinstance(tree, dict) or "topology" in tree:
        yield text[:20_000]
        return
    for section, entries_of in tree.items():
        if not isinstance(entries_of, list):
            continue
        head = f"step: {tree['step']}\n" if "step" in tree else ""
        starts = [mark[0] for mark in entries_of.marks]  # type: ignore[attr-defined]
        for number, start in enumerate(starts):
            end = starts[number + 1] if number + 1 < len(starts) else start + 40
            yield f"{head}{section}:\n{''.join(lines[start:end])}"


def _knowledge(text: str) -> None:
    folder = put("own/own.yaml", text).parent
    loader.read((folder,))


def _rules(text: str) -> None:
    folder = put("own/own.yaml", text).parent
    troubles = [one for one in lint.lint(loader.read((folder,))) if one.grave]
    if troubles:
        raise TroubleError(troubles)


def _unit(text: str) -> None:
    """From knowledge to a model: the topology of one's own, else the corded lamp under it."""
    folder = put("unit/own.yaml", text).parent
    if "topology:" not in text:
        put("unit/lamp.yaml", CORD_LAMP)
    else:
        (folder / "lamp.yaml").unlink(missing_ok=True)
    own = [
        name for name in loader.read((folder,)).topologies if name not in as_shipped().topologies
    ]
    for name in own or ["cord-lamp"]:
        library.model(name, mains=Mains(230.0, 50.0), kb=folder)


# ---- netlists and circuits ----


@functools.cache
def decks() -> tuple[str, ...]:
    """SPICE netlists: shipped circuits and libraries, samples, tests."""
    paths = [*ROOT.glob("kb/circuits/*.cir"), *ROOT.glob("kb/circuits/*.lib"),
             *ROOT.glob("samples/**/*.cir"), *ROOT.glob("samples/workshop/netlists/*"),
             *ROOT.glob("tests/sources/netlists/*.cir")]  # fmt: skip
    plain = "* small\nV1 in 0 DC 12\nR1 in out 10k\n.param c=4.7u\nC1 out 0 {c}\nD1 out 0 1N4148\n"
    texts = (path.read_text(encoding="utf-8") for path in sorted(paths) if path.suffix != ".md")
    return (plain, "R1 a b 1k\nQ1 c b e BC547\nX1 a b sub\n.subckt sub a b\nR2 a b 1\n.ends\n",
            *(text for text in texts if not text.startswith("(")))  # fmt: skip


@functools.cache
def sheets() -> tuple[str, ...]:
    """KiCad netlists and schematics."""
    folder = ROOT / "tests" / "sources" / "netlists"
    return tuple(
        path.read_text(encoding="utf-8")
        for path in sorted(folder.iterdir()) if path.suffix in (".net", ".kicad_sch")
    )  # fmt: skip


def _netlist(text: str) -> None:
    knowledge = as_shipped()
    sheet = schematic.read_sheet(text, "netlist")
    guesses = schematic.guess(sheet, knowledge)
    groups = schematic.propose(guesses, sheet.common, knowledge)
    draft = begin("own-unit", "a unit of one's own", "own count", True)
    wiring.wire(draft, sheet, guesses, groups, {}, knowledge)
    cards.write(sheet, "own unit", [g.component.name for g in guesses if g.source])


def _deck(text: str) -> None:
    network(text, ("0",))


@functools.cache
def circuit_files() -> tuple[str, ...]:
    """What stands beside shipped circuits."""
    return tuple(
        p.read_text(encoding="utf-8")[:20_000] for p in sorted(ROOT.glob("kb/circuits/*.yml"))
    )


def _circuit(text: str) -> None:
    folder = put("circuits/own.yml", text).parent
    put("circuits/own.cir", decks()[0])
    data = circuit.circuit("own", folder)
    circuit.netlist_text(data.netlist, folder)


# ---- the bench, answers, readings ----

_BENCH = """\
format: nextprobe-bench/1
has: [insulation-tester]
lacks: [oscilloscope]
minutes: {factor: 1.2, actions: {ohms: 2}, openings: {buck-lamp/driver-out: 3}, remedies: {renew-C1: 9}}
spares: [buck-lamp, light-controlled-lamp/driver]
traced: {buck-lamp: [entry]}
worth: {minute: 0.8, units: {buck-lamp: 12}, currency: EUR}
"""  # noqa: E501


def _bench(text: str) -> None:
    file = benchfile.read(put("bench.yaml", text))
    troubles = list(benchfile.troubles(file, as_shipped()))
    if troubles:
        raise TroubleError(troubles)


_ANSWERS = (
    "other-socket: dead\nrail-volts: 3.1 V\n",
    'rail-volts: [3.1 V, "4.4 V"]\nother-socket: dead\n',
    '{"other-socket": "dead", "rail-volts": "<1000", "x": null}',
    "rail-volts: >20M # over\n",
)


def _answers(text: str) -> None:
    answersfile.read_takes(put("answers.yaml", text))


@functools.cache
def shipped_model(topology: str) -> Model:
    """A shipped topology's model."""
    return library.model(topology, mains=Mains(230.0, 50.0))


_READINGS = (
    "3.1 V",
    "4k7",
    "OL",
    "0.113",
    "<1000",
    "0-3 kV",
    "<550 GV",
    ">20M",
    "0.6..0.7 V",
    "3.1 ± 0.2",
    "3,1 mV",
    "lit",
    "dark",
    "between 2 and 3 ohm",
    "~ 12 VDC",
    "-325 V",
    "1e3",
    "0.33µF",
    "5 %",
    "113 mA",
    "230 V ±10 %",
    "2 to 3 k",
    "− 4",
    "open",
    "flickers",
    "below 2 V",
    "1 hour",
    "99999",
)


_UNITS = ("light-controlled-lamp", "buck-lamp")


def _with_models() -> tuple[str, ...]:
    """Good readings, once the models that they are held to are made: that takes its time."""
    for name in _UNITS:
        shipped_model(name)
    return _READINGS


def _reading(text: str) -> None:
    model = shipped_model(_UNITS[len(text) % 2])
    first = sum(map(ord, text)) % 7
    for test in model.tests[first::7]:
        arrangement = model.arrangement(test.supply)
        try:
            bands.read(text, test, arrangement)
        except TroubleError:
            continue


def _quantity(text: str) -> None:
    for take in (quantities.read_quantity, lambda t: quantities.read_as(t, "V"),
                 lambda t: quantities.read_as(t, "Ω")):  # fmt: skip
        try:
            take(text)
        except ValueError as wrong:
            said = _refused(wrong)
            if not str(said).isprintable() and text.isprintable():
                raise said from wrong


def _value_told(text: str) -> None:
    values = library.listed_values("buck-lamp", Mains(230.0, 50.0))
    texts = markings.assignments(text.splitlines() or [text])
    markings.read({p: t for p, t in texts.items() if p in values}, values)


_WISHES = (
    "entry:mains-entry=F1,R1",
    "entry R1 fusible-resistor line 10 ohm, 250 V",
    "TP1 entry out here",
    "shell 3 open the shell",
    "driver shell 30 driver board",
    "entry shell driver",
    "a fed_by b",
    "R4=film-resistor:starts",
    "R4=:starts",
)


def _wish(text: str) -> None:
    for take in (wishes.stage, wishes.part, wishes.point, wishes.opening, wishes.board,
                 wishes.lies, wishes.link, wiring.naming):  # fmt: skip
        try:
            take(text)
        except TroubleError:
            continue


@functools.cache
def _sums() -> tuple[tuple[Calculation, tuple[str, ...]], ...]:
    return tuple((one, tuple(p.name for p in one.parameters)) for one in calc.calculations())


_VALUES = ("10µF", "325 V", "4k7 5%", "yellow violet red gold", "34V", "0", "36 V", "8 W", "50 Hz")


def _sum(text: str) -> None:
    """The lines of a text as the values of every sum, in turn."""
    values = text.split(";") or [""]
    for number, (one, names) in enumerate(_sums()):
        told = {name: values[(number + at) % len(values)] for at, name in enumerate(names)}
        try:
            calc.calculate(one.name, **told)
        except TroubleError:
            continue


def _words(text: str) -> None:
    for suggestion in listener().hear(text):
        str(suggestion)


_SAID = (
    "It WON'T come on any more, since the storm",
    "flickers like mad after ten minutes",
    "buzzes and smells burnt, tripped the breaker",
    "comes on in the day",
    "only half the leds lit",
    "doesn't switch off; not dim, not dark",
    "nichts geht mehr",
    "stopped working. no idea why",
)


# ---- documents ----


def _model(text: str) -> None:
    reading = inspect(text, "model.json")
    plan = planner.plan(reading.model, seconds=0.05)
    draw_up(reading.model, plan)


@functools.cache
def charts() -> tuple[str, ...]:
    """The lantern's chart, and a shipped one."""
    lantern = inspect(LANTERN.read_text(encoding="utf-8"), "lantern").model
    models = (lantern, library.model("buck-lamp", mains=Mains(230.0, 50.0), depth="stage"))
    return tuple(json.dumps(document(draw_up(m, planner.plan(m, seconds=1.0)))) for m in models)


def _chart(text: str) -> None:
    try:
        read_chart(decoded(text))
    except MisfitError as wrong:
        raise _refused(wrong) from wrong


def decoded(text: str) -> Any:
    """A document's JSON, read as commands read it."""
    no_json = ("FUZZ", "this is not JSON", "")
    return files.read_json(put("document.json", text), "the document", no_json)[0]


def typed(text: str) -> io.StringIO:
    """Lines as if they were typed."""
    lines = io.StringIO(text)
    sys.stdin = lines
    return lines


READERS = (
    Reader("knowledge", entries, _knowledge),
    Reader("rules", entries, _rules, 60.0),
    Reader("units", entries, _unit, 240.0),
    Reader("spice", decks, _netlist),
    Reader("kicad", sheets, _netlist, 60.0),
    Reader("solver", decks, _deck),
    Reader("circuits", circuit_files, _circuit),
    Reader("bench", lambda: (_BENCH,), _bench),
    Reader("answers", lambda: _ANSWERS, _answers),
    Reader("readings", _with_models, _reading),
    Reader("quantities", lambda: (*_READINGS, *_VALUES), _quantity),
    Reader("values", lambda: ("R2=330k", "L1=none", "volts-TP1=3.1 V", "R2=4k7 5%\nC1=10 uF"),
           _value_told),
    Reader("wishes", lambda: _WISHES, _wish),
    Reader("sums", lambda: (";".join(_VALUES), ";".join(reversed(_VALUES)), "1", "10;10"), _sum),
    Reader("words", lambda: _SAID, _words),
    Reader("models", lambda: (LANTERN.read_text(encoding="utf-8"),), _model),
    Reader("charts", charts, _chart),
)  # fmt: skip
