"""Adding a part, a stage, a rule or a whole topology takes YAML only, and shows in model and chart.

The topologies here put the shipped stages together in other ways than any shipped one does.
"""

from __future__ import annotations

from functools import cache

import pytest

from engine.assembly.builder import build
from engine.audit import audit
from engine.chart import drawing
from engine.deduce.composition import Bench
from engine.deduce.deduction import Reasoner
from engine.model.plan import Ask
from engine.model.records import document
from engine.planner import plan
from kb.language import loader
from tests.knowledge.shop import CORD_LAMP, KIND, folder

BUCK = (loader.SHIPPED / "topologies" / "buck-lamp.yaml").read_text(encoding="utf-8")
DUSK = (loader.SHIPPED / "topologies" / "light-controlled-lamp.yaml").read_text(encoding="utf-8")
EFFORT = 4e8
"""Of planning, whatever the clock says: the same plan on every machine."""
MINE = BUCK.replace("topology: buck-lamp", "topology: my-lamp")


def modelled(at, topology, volts=230, **files):
    knowledge = loader.read((folder(at, **files),))
    bench = Bench(volts, {230: 50, 120: 60}[volts])
    return build(Reasoner(knowledge).deduce(topology, bench), topology, bench, "part")


@cache
def as_shipped(kept):
    """The shipped lamp under another name."""
    return modelled(kept, "my-lamp", lamp=MINE)


@pytest.fixture(scope="module")
def shipped(tmp_path_factory):
    return as_shipped(tmp_path_factory.mktemp("shop"))


def checks_of(model):
    return {test.id for test in model.tests}


def faults_of(model):
    return {fault.id for fault in model.faults}


def asked(made):
    return {node.test for node in made.nodes.values() if isinstance(node, Ask)}


def test_a_part_kind_brings_its_faults_tests_and_remedy(tmp_path, shipped):
    """A thermistor in line, of a kind that is not shipped."""
    lamp = MINE.replace(
        "      RV1: {", "      NTC1: {kind: soft-start-thermistor, place: line, value: 10 ohm}\n"
        "      RV1: {",
    )  # fmt: skip
    model = modelled(tmp_path, "my-lamp", lamp=lamp, parts=KIND)
    assert faults_of(model) - faults_of(shipped) == {"NTC1-open", "NTC1-drifted"}
    assert "ohms-NTC1" in checks_of(model) - checks_of(shipped)
    assert model.row("known-good-socket", "NTC1-open")["dark"] == 1
    assert model.row("known-good-socket", "NTC1-drifted")["dim"] == 1
    assert model.row("ohms-NTC1", "NTC1-drifted")["above"] == 1
    assert "NTC1-open" in model.remedy("renew-NTC1").cures


def test_a_stage_brings_its_faults_tests_and_branches(tmp_path, shipped):
    """A second filter behind the first."""
    lamp = MINE.replace(
        "  driver:\n    kind: buck-converter",
        "  calm:\n    kind: bulk-filter\n    behind: driver-board\n    board: driver\n"
        "    parts:\n      L9: {kind: choke, place: line, value: 1 mH}\n"
        "      C9: {kind: electrolytic, place: reservoir, value: 22 uF, volts: 400 V}\n"
        "  driver:\n    kind: buck-converter",
    )
    assert "calm" in lamp
    lamp += "  TP9: {stage: calm, side: out, says: behind the second filter}\n"
    model = modelled(tmp_path, "my-lamp", lamp=lamp)
    assert {"L9-open", "C9-short", "C9-open"} <= faults_of(model) - faults_of(shipped)
    assert {"esr-C9", "ohms-L9", "volts-TP9"} <= checks_of(model) - checks_of(shipped)
    made = plan(model, seconds=0.0, effort=EFFORT)
    assert asked(made) & {test for test in checks_of(model) if test.endswith("9")}
    assert {"C9-short", "L9-open"} <= {
        fault for node in made.nodes.values() if hasattr(node, "weights")
        for fault, _ in node.weights
    }  # fmt: skip


def test_a_rule_brings_its_test_outcomes_and_branch(tmp_path, shipped):
    """A quick look that a shop believes in, and what it shows under a supposed fault."""
    rules = """\
quantities:
  - {quantity: smell, says: what it smells of, values: {fishy: like fish, none: nothing}, otherwise: none}
rules:
  - id: smell-it
    says: Electrolytics that leak smell of fish.
    step: offer
    when: [head: {of: unit, node: $n}]
    then:
      - test:
          name: smell-the-vents
          action: ask
          says: Does it smell of fish at the vents?
          minutes: 0.1
          supply: unplugged
          rig: none
          behind: ""
          looks_at: smell
          at: unit
          answers:
            - {outcome: clean, says: nothing, for: [none]}
            - {outcome: fishy, says: like fish, for: [fishy]}
    source: the shop's own habit
  - id: short-smells
    says: A shorted electrolytic has vented.
    step: suppose
    when: [condition: {part: $p, acts: short}, trait: {of: $p, is: polarised}]
    then: [smell: {at: unit, is: fishy}]
    source: the shop's own habit
"""  # noqa: E501
    model = modelled(tmp_path, "my-lamp", lamp=MINE, rules=rules)
    assert checks_of(model) - checks_of(shipped) == {"smell-the-vents"}
    assert faults_of(model) == faults_of(shipped)
    assert model.row("smell-the-vents", "C1-short") == {"clean": 0, "fishy": 1}
    assert model.row("smell-the-vents", "C1-open") == {"clean": 1, "fishy": 0}
    assert [b.rule for b in model.test("smell-the-vents").because] == ["smell-it"]
    assert "smell-the-vents" in asked(plan(model, seconds=0.0, effort=EFFORT))


def test_two_fuses_leave_the_short_behind_them_some_odds_of_its_own(tmp_path):
    """Each usually opens; together they must not take more than all of the short's share."""
    second = "      R2: {kind: fusible-resistor, place: line, value: 22 ohm}\n"
    lamp = CORD_LAMP.replace("  rectifier:\n", second + "  rectifier:\n", 1)
    model = modelled(tmp_path, "cord-lamp", lamp=lamp)
    assert {"C1-short", "C1-short-took-R1"} <= faults_of(model)
    assert all(fault.prior > 0 for fault in model.faults)


def held_bus(topology):
    """The dusk lamp with its filter in front of switch and control, which now tap a held bus."""
    start, end = topology.index("  filter:\n"), topology.index("  driver:\n    kind")
    filtered = topology[start:end]
    rest = topology[:start] + topology[end:]
    before = rest.index("  switch:\n")
    return (rest[:before] + filtered + rest[before:]).replace("fed_by: rectifier", "fed_by: filter")


def without_control(topology):
    """The dusk lamp without switch and control: a plain lamp with the same parts besides."""
    start, end = topology.index("  switch:\n"), topology.index("  filter:\n    kind")
    lines = (topology[:start] + topology[end:]).splitlines(keepends=True)
    return "".join(line for line in lines if "stage: control" not in line)


def two_filters(topology):
    return topology.replace(
        "  leds:\n    kind: led-string",
        "  calm:\n    kind: bulk-filter\n    behind: shell\n    board: driver\n    parts:\n"
        "      L2: {kind: choke, place: line, value: 1 mH}\n"
        "      C2: {kind: electrolytic, place: reservoir, value: 10 uF, volts: 400 V}\n"
        "  leds:\n    kind: led-string",
    )


def named(text, name):
    return "topology: " + name + text[text.index("\n", text.index("topology:")) :]


COMPOSED = {
    "cord-lamp": CORD_LAMP,
    "two-filters": named(two_filters(CORD_LAMP), "two-filters"),
    "held-bus": named(held_bus(DUSK), "held-bus"),
    "no-control": named(without_control(DUSK), "no-control"),
}


@cache
def composed(name, volts, at):
    return modelled(at, name, volts, **{name.replace("-", "_"): COMPOSED[name]})


@pytest.fixture(scope="module", params=[(n, v) for n in COMPOSED for v in (230, 120)], ids=str)
def model(request, tmp_path_factory):
    return composed(*request.param, tmp_path_factory.mktemp("shop"))


def test_stages_in_another_order_make_a_model_that_can_be_planned(model):
    """Its chart passes every check of cost, safety and shape."""
    made = plan(model, seconds=0.0, effort=EFFORT)
    assert audit(document(model), drawing.document(drawing.draw_up(model, made))) == ()


def test_a_sound_unit_of_them_works(model):
    """Whatever the order of the stages, nothing wrong shows nothing wrong."""
    assert model.row("known-good-socket", "no-fault")["lights-well"] == 1
    assert model.row("light-on-limited-mains", "no-fault")["lights"] == 1
    assert model.row("ohms-at-contacts", "no-fault").get("near-nothing", 0) == 0


def test_every_part_of_them_can_be_renewed_and_each_fault_is_cured(model):
    cured = {fault for remedy in model.remedies for fault in remedy.cures if remedy.kind != "scrap"}
    assert faults_of(model) - {"other"} <= cured


def test_in_them_an_open_part_in_line_keeps_the_lamp_dark(model):
    in_line = {"J1-open", "R1-open", "BR1-open-bond", "L1-open", "J2-open"} & faults_of(model)
    assert len(in_line) >= 4
    for fault in in_line:
        assert model.row("known-good-socket", fault)["dark"] == 1, fault


def test_they_are_told_apart_to_some_depth(model):
    """At least half of the faults stand in a class of their own."""
    signatures = {}
    for fault in faults_of(model):
        rows = tuple(tuple(model.row(test.id, fault).items()) for test in model.tests)
        signatures.setdefault(rows, []).append(fault)
    alone = sum(1 for group in signatures.values() if len(group) == 1)
    assert alone >= len(model.faults) / 2
    assert max(map(len, signatures.values())) <= 4
