"""Does `list` group by what one sees, and `show` tell how a unit is built and known?"""

from __future__ import annotations

import json

import pytest

from kb.language import loader
from tests.words.cli import Desk

SHIPPED = sorted(loader.as_shipped().topologies)


def test_list_groups_by_what_one_sees_from_outside(desk: Desk) -> None:
    """Both lamps with a window for light stand together, under a line that says so."""
    out = desk.run("list").out
    groups = {lines[0]: lines[1:] for lines in (g.splitlines() for g in out.split("\n\n"))}
    of = {line.split()[0]: head for head, lines in groups.items() for line in lines}
    assert "a window for light" in of["light-controlled-lamp"]
    assert of["light-controlled-lamp"] == of["enabled-lamp"] != of["buck-lamp"]
    assert {note["id"]: note["looks"] for note in json.loads(desk.run("list", "--json").out)} == {
        name: head[:1].lower() + head[1:].removesuffix(":") for name, head in of.items()
    }


@pytest.mark.parametrize("name", SHIPPED)
def test_show_tells_every_part_and_point(desk: Desk, name: str) -> None:
    run = desk.run("show", name, "--json")
    assert run.code == 0
    view = json.loads(run.out)
    unit = loader.as_shipped().topologies[name]
    parts = {part for stage in unit.stages.values() for part in stage.parts}
    assert {part["id"] for part in view["parts"]} == parts
    assert all(part["where"] for part in view["parts"])
    assert {point["id"] for point in view["points"]} == set(unit.points)
    model = json.loads(desk.run("model", name).out)
    read = {test["point"] for test in model["tests"]} & set(unit.points)
    assert {point["id"] for point in view["points"] if point["readings"]} == read


def test_show_draws_the_blocks_in_the_order_of_power(desk: Desk) -> None:
    out = desk.run("show", "light-controlled-lamp").out
    blocks = out.split("How power runs\n")[1].split("\n\n")[0]
    order = [line.split("]")[0].split("[")[1] for line in blocks.splitlines() if "[" in line]
    assert order == ["outside", "entry", "rectifier", "switch", "control", "filter", "driver",
                     "leds"]  # fmt: skip
    assert "+-- [control]" in blocks
    assert "fed by [rectifier]; controls [switch]" in blocks
    assert "TP3 comparator" in " ".join(out.split())


def test_show_of_what_nobody_knows_is_a_sentence(desk: Desk) -> None:
    run = desk.run("show", "bugs-lamp")
    assert (run.code, run.out) == (2, "")
    assert "KB701" in run.err


def test_show_tells_of_an_unopened_lamp_what_it_may_be(desk: Desk) -> None:
    """How often each comes in, and what is asked first."""
    out = desk.run("show", "unknown-lamp").out
    assert "cord-or-plug  39" in out
    assert "How does mains get into it?" in out
    assert "(behind the driver-board)" in out


def test_coverage_is_of_one_topology(desk: Desk) -> None:
    """An unopened lamp is several: they are named."""
    run = desk.run("coverage", "unknown-lamp")
    assert run.code == 2
    assert "KB710" in run.err
    assert "enabled-lamp" in run.err
