"""Do we read netlists as the tools that wrote them mean them?

- `one-transistor.kicad_sch` and `.net`: a schematic of KiCad 9 and the netlist that KiCad itself
  exported from it; from the source distribution of kinparse 1.2.4 (MIT licence), its test data.
- SPICE cards: the user's manual of SPICE3, element by element.
- our own circuits, written for ngspice.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from engine import schematic
from engine.schematic import spicecards
from engine.schematic.sheet import Sheet
from kb.language import loader
from kb.language.circuit import SHIPPED
from kb.trouble import TroubleError

HERE = Path(__file__).parent / "netlists"
KNOWLEDGE = loader.read()


def sheet(path: Path) -> Sheet:
    """The netlist in a file."""
    return schematic.read_sheet(path.read_text(encoding="utf-8"), path.name)


def joined(of: Sheet) -> set[frozenset[tuple[str, int]]]:
    """Which legs are joined, whatever the nets are called."""
    nets: dict[str, set[tuple[str, int]]] = {}
    for component in of.components:
        for leg, net in enumerate(component.nets):
            nets.setdefault(net, set()).add((component.name, leg))
    return {frozenset(legs) for legs in nets.values()}


def test_a_drawn_schematic_joins_what_its_own_tool_says_it_joins() -> None:
    """Wires, labels and power symbols, against the exported netlist."""
    drawn, exported = sheet(HERE / "one-transistor.kicad_sch"), sheet(HERE / "one-transistor.net")
    assert joined(drawn) == joined(exported)
    assert len(exported.components) == 6


def test_labels_and_power_symbols_name_their_nets_as_the_tool_does() -> None:
    """GND, +5V, IN and OUT."""
    drawn, exported = sheet(HERE / "one-transistor.kicad_sch"), sheet(HERE / "one-transistor.net")
    named = {net for part in exported.components for net in part.nets if "Net-" not in net}
    assert named <= {net for part in drawn.components for net in part.nets}
    assert exported.common == drawn.common == "GND"


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("10", 10.0), ("4.7k", 4700.0), ("1Meg", 1e6), ("1M", 1e-3), ("6.8u", 6.8e-6),
        ("100nF", 1e-7), ("2.2mH", 2.2e-3), ("1e3", 1000.0), ("10p", 1e-11), ("5Volts", 5.0),
    ],
)  # fmt: skip
def test_suffixes_are_those_of_spice(text: str, value: float) -> None:
    """SPICE3 manual, numbers: case does not count, M is milli, letters after it are let be."""
    assert spicecards.number(text) == pytest.approx(value)


def test_cards_are_put_together_and_comments_left_out() -> None:
    """Title, comment, continuation, parameter, end."""
    text = (
        "an amplifier\n* R9 a b 1\nR1 in\n+ out 10k ; feed\n.param big=4.7u\n"
        "C1 out 0 {big}\nQ1 c b e qgen\n.end\nR2 x y 1\n"
    )
    found = spicecards.read(text, "here").components
    assert [(c.name, c.nets, c.value, c.model, c.line) for c in found] == [
        ("R1", ("in", "out"), "10k", "", 3),
        ("C1", ("out", "0"), "4.7u", "", 6),
        ("Q1", ("c", "b", "e"), "", "qgen", 7),
    ]


def test_what_a_subcircuit_holds_is_no_part_of_the_unit_unless_it_is_all_there_is() -> None:
    """The body of a definition is read only where nothing else is."""
    body = ".subckt stage a b\nR1 a b 1\n.ends\n"
    both = spicecards.read(f"title\n{body}X1 p q stage\n", "here").components
    assert [c.name for c in both] == ["X1"]
    assert [c.name for c in spicecards.read(f"title\n{body}", "here").components] == ["R1"]


@pytest.mark.parametrize("name", sorted(path.stem for path in SHIPPED.glob("*.cir")))
def test_most_parts_of_our_own_circuits_are_taken_for_what_they_are(name: str) -> None:
    """Three of four at least, by designator, value and model alone."""
    topology = KNOWLEDGE.topologies[name]
    due = {part: fact for stage in topology.stages.values() for part, fact in stage.parts.items()}
    guesses = schematic.guess(sheet(SHIPPED / f"{name}.cir"), KNOWLEDGE)
    compared = [(due[g.component.name].kind, g.kind) for g in guesses if g.component.name in due]
    assert len(compared) > 7  # the smallest lamp has eight of them
    assert sum(one == other for one, other in compared) / len(compared) >= 0.75


def test_the_lamps_netlist_falls_into_its_stages() -> None:
    """Entry, rectifier, filter and driver in this order, parted as the topology parts them."""
    of = sheet(SHIPPED / "buck-lamp.cir")
    groups = schematic.propose(schematic.guess(of, KNOWLEDGE), of.common, KNOWLEDGE)
    stages = KNOWLEDGE.topologies["buck-lamp"].stages
    due = {stage.kind: set(stage.parts) for stage in stages.values()}
    assert [group.kind for group in groups[:3]] == ["mains-entry", "rectifier", "bulk-filter"]
    assert all(set(group.parts) == due[group.kind] for group in groups[:3])
    driver = next(group for group in groups if group.kind == "buck-converter")
    assert due["buck-converter"] <= set(driver.parts)


@pytest.mark.parametrize(
    ("code", "text"),
    [
        ("NL102", "(export (components"),
        ("NL102", "(kicad_pcb (version 1))"),
        ("NL103", "title\nR1 in\n"),
        ("NL104", "only a title\n"),
        ("NL104", "(export (version E) (components) (nets))"),
        ("NL105", '(kicad_sch (lib_symbols) (sheet (at 1 1)))'),
    ],
)  # fmt: skip
def test_what_is_no_netlist_is_told_kindly(code: str, text: str) -> None:
    """An open bracket, a board, a card cut short, nothing at all, sheets within sheets."""
    with pytest.raises(TroubleError) as caught:
        schematic.read_sheet(text, "given.net")
    assert [trouble.code for trouble in caught.value.troubles] == [code]
    assert caught.value.troubles[0].mend
