"""Is a netlist taken apart as the person says, and is nothing of it lost without a word?"""

from __future__ import annotations

from pathlib import Path

import pytest
from ruamel.yaml import YAML

from kb.language.circuit import CircuitData
from kb.language.schema import Topology
from tests.words.cli import Desk

NETLIST = """\
a small supply
V1 l n sin 0 325 50
XJ1 l a contact
R1 a b 22
BR1 b n plus 0 bridge
C1 plus 0 10u
R2 plus 0 1Meg
Rx plus 0 3k3
.end
"""
SHEETS = Path(__file__).parents[1] / "sources" / "netlists"
ENTRY, RECTIFIER, FILTER = (
    "entry:mains-entry=J1,R1", "rectifier=BR1", "filter:bulk-filter=C1,R2",
)  # fmt: skip


def drafted(desk: Desk, *words: str):  # type: ignore[no-untyped-def]
    """`nextprobe new supply` from the netlist with these words more."""
    (desk.folder / "supply.cir").write_text(NETLIST, encoding="utf-8")
    return desk.run(
        "new", "supply", "--kb", "shop", "--yes", "--from-netlist", "supply.cir", *words
    )


def topology(desk: Desk) -> Topology:
    """What was written."""
    text = (desk.folder / "shop" / "supply.yaml").read_text(encoding="utf-8")
    return Topology.model_validate(YAML(typ="safe").load(text))


STAGED = ("--stage", ENTRY, "--stage", RECTIFIER, "--stage", FILTER,
          "--as", "R1=fusible-resistor")  # fmt: skip


def test_parts_come_with_kind_place_and_value_into_the_stages_named(desk: Desk) -> None:
    """As the netlist has them."""
    done = drafted(desk, *STAGED)
    assert done.code == 0, done.err
    made = topology(desk)
    assert list(made.stages) == ["entry", "rectifier", "filter"]
    r1, c1 = made.stages["entry"].parts["R1"], made.stages["filter"].parts["C1"]
    assert (r1.kind, r1.place, r1.value) == ("fusible-resistor", "line", "22 Ω")
    assert (c1.kind, c1.place, c1.value) == ("electrolytic", "reservoir", "10 µF")


def test_what_is_left_out_is_told_with_the_way_to_put_it_in(desk: Desk) -> None:
    """A part that no stage was given; a source is no part and needs no word."""
    said = drafted(desk, *STAGED).out
    assert "left out: Rx" in said
    assert "V1" not in said
    assert "--as" in said


def test_stages_are_proposed_where_none_is_named(desk: Desk) -> None:
    """In the order in which power meets them."""
    assert drafted(desk, "--as", "R1=fusible-resistor").code == 0
    assert [stage.kind for stage in topology(desk).stages.values()][:2] == [
        "mains-entry", "rectifier",
    ]  # fmt: skip


def test_the_circuit_is_kept_with_its_test_points(desk: Desk) -> None:
    """The netlist without its source, and the nets the probes go to."""
    drafted(desk, *STAGED)
    kept = desk.folder / "shop" / "circuits"
    data = CircuitData.model_validate(YAML(typ="safe").load((kept / "supply.yml").read_text()))
    assert data.points["TP2"] == ("plus", "0")
    assert list(topology(desk).points) == list(data.points)
    lines = (kept / data.netlist).read_text().splitlines()
    assert "* V1 l n sin 0 325 50" in lines
    assert "C1 plus 0 10u" in lines


def test_a_drawn_schematic_is_taken_as_well(desk: Desk) -> None:
    """Its circuit is written out as cards."""
    done = desk.run(
        "new", "stage-one", "--kb", "shop", "--yes", "--stage", "entry:mains-entry=R1,R2",
        "--from-netlist", str(SHEETS / "one-transistor.kicad_sch"),
        "--as", "R1=fusible-resistor:line", "--as", "R2=joint:line",
    )  # fmt: skip
    assert done.code == 0, done.err
    assert "left out: Q1" in done.out
    assert (desk.folder / "shop" / "circuits" / "stage-one.cir").read_text().startswith("* ")


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("NW105", ["--as", "R1"]),
        ("NW109", ["--stage", "entry:mains-entry=J1,R77"]),
        ("NW110", ["--stage", "front=V1"]),
        ("KB404", ["--stage", "front:no-such-kind=J1"]),
        ("KB406", ["--stage", ENTRY, "--as", "R1=fusible-resistor:lights"]),
    ],
)
def test_a_wrong_word_is_told_and_leaves_nothing(desk: Desk, code: str, words: list[str]) -> None:
    """Exit code 2 and no folder."""
    done = drafted(desk, *words)
    assert (done.code, code in done.err) == (2, True), done.err
    assert not (desk.folder / "shop").exists()


def test_at_a_terminal_each_proposed_stage_is_agreed_or_changed(desk: Desk) -> None:
    """Enter agrees; a line of one's own changes; an empty one ends."""
    (desk.folder / "supply.cir").write_text(NETLIST, encoding="utf-8")
    screen = desk.terminal(
        "new", "supply", "--kb", "shop", "--says", "A small supply", "--isolated",
        "--from-netlist", "supply.cir",
    )  # fmt: skip
    for prompt, typed in (
        ("Stage 1", "entry:mains-entry=J1"),
        ("Stage 2", "none"),
        ("Stage 2", "rectifier=BR1"),
        ("Stage 3", "none"),
        ("Stage 3", ""),
        ("guards", ""),
        ("shunts", ""),
        ("alongside", ""),
        ("line", ""),
        ("Opening, such as", ""),
        ("Behind entry", ""),
        ("Make the folder", "yes"),
    ):
        screen.wait(prompt)
        screen.type(typed + "\n")
    assert screen.end() == 0, screen.shown
    assert list(topology(desk).stages) == ["entry", "rectifier"]
