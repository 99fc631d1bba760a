"""Does a draft say what was put in, when it counts as live, and what it leans on?

How a mains transformer and a switch-mode supply isolate: common practice, no source.
"""

from __future__ import annotations

from functools import cache

import pytest

from engine import drafting
from engine.deduce.composition import Bench, compose
from engine.drafting import wishes
from kb.language import loader
from kb.language.knowledge import Knowledge
from kb.language.schema import Topology
from tests.docs.schemas import WORKSHOP

LAMP = ("mains-entry", "rectifier", "bulk-filter", "led-string")
BEHIND_TRANSFORMER = ("mains-entry", "mains-transformer", "rectifier", "bulk-filter", "led-string")
SWITCH_MODE = ("mains-entry", "rectifier", "bulk-filter", "switch-mode-converter", "low-supply")
T1 = "mains-transformer T1 mains-transformer transforms 24 V"


@cache
def knowledge() -> Knowledge:
    """Shipped knowledge and the workshop's own."""
    return loader.read((WORKSHOP,))


def wish(stages: tuple[str, ...], *parts: str, live: bool = False) -> Topology:
    """A draft with what a person named, and nothing else."""
    draft = drafting.begin("x-unit", "A unit", "the bench", live=live)
    for stage in stages:
        draft = drafting.with_stage(draft, knowledge(), stage, stage)
    for part in parts:
        draft = drafting.with_part(draft, knowledge(), *wishes.part(part))
    return draft


def remarks(start: Topology) -> str:
    """All that is said of it once it is filled."""
    return "\n".join(drafting.remarks(start, drafting.fill(start, knowledge()), knowledge()))


def is_live(draft: Topology) -> bool:
    """Whether the rules find that its boards are joined to the mains."""
    facts = compose(knowledge(), drafting.fill(draft, knowledge()), Bench(230, 50))
    return any(dict(f.fields).get("is") == "non-isolated" for f in facts if f.kind == "trait")


def test_what_was_put_in_is_told_and_what_was_named_is_not() -> None:
    """By designator, kind and stage."""
    said = remarks(wish(LAMP, "bulk-filter C7 electrolytic reservoir 10 uF, 400 V", live=True))
    assert "BR1 bridge-rectifier in rectifier" in said
    assert "C7" not in said


@pytest.mark.parametrize(
    ("stages", "parts", "why"),
    [
        (LAMP, (), "BR1 stands there"),
        (SWITCH_MODE, ("switch-mode-converter T1 pulse-transformer carries-over 12 V",),
         "BR1 stands there"),
        (("mains-entry",), (), "there is none"),
    ],
)  # fmt: skip
def test_a_unit_said_to_be_isolated_that_counts_as_live_is_told_why(
    stages: tuple[str, ...], parts: tuple[str, ...], why: str
) -> None:
    """As the rules do, so says the draft."""
    start = wish(stages, *parts)
    assert is_live(start)
    assert f"it counts as live all the same: only a transformer with nothing in front of it but " \
           f"fuse and wires isolates, and {why}" in remarks(start)  # fmt: skip


def test_a_part_alongside_of_nothing_is_told() -> None:
    """With what it could lie across; rules see what it does only where that is written."""
    part = "mains-entry R9 film-resistor alongside 1 Mohm"
    said = remarks(wish(LAMP, "mains-entry R1 fusible-resistor line 10 ohm", part, live=True))
    assert "R9 in mains-entry lies alongside, and nobody said of what" in said
    assert "`parallel_to:` and the part in line (R1)" in said


def test_a_transformer_in_front_of_all_isolates() -> None:
    """Where the unit does not say that it is live."""
    assert not is_live(wish(BEHIND_TRANSFORMER, T1))
    assert is_live(wish(BEHIND_TRANSFORMER, T1, live=True))


def test_stages_behind_a_transformer_tell_what_they_assume() -> None:
    """A shipped bridge takes what the transformer is marked with, an LED string a current set."""
    said = remarks(wish(BEHIND_TRANSFORMER, T1))
    assert "behind T1, rectifier assumes alternating volts: mains, what a transformer is" in said
    assert "led-string assumes a driver that sets the current" in said
    assert "mains-entry assumes" not in said
    assert "live" not in said


def test_a_part_that_is_put_in_stands_where_power_meets_it() -> None:
    """The controller of a converter in front of the transformer that was named first."""
    start = wish(SWITCH_MODE, "switch-mode-converter T1 pulse-transformer carries-over 12 V")
    parts = drafting.fill(start, knowledge()).stages["switch-mode-converter"].parts
    assert [part.place for part in parts.values()] == ["controls", "pulses", "carries-over"]
