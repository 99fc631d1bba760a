"""Do the sums of the bench come out on the command line as the engine works them?"""

from __future__ import annotations

import json

import pytest

from engine.calc import calculate, calculations
from tests.words.cli import Desk


def test_without_a_name_every_sum_is_listed_with_how_to_call_it(desk: Desk) -> None:
    """By name."""
    out = desk.run("calc").out
    for calculation in calculations():
        assert f"nextprobe calc {calculation.name}" in out


@pytest.mark.parametrize(
    ("words", "name", "given"),
    [
        (["10µF", "325V"], "discharge", {"capacitor": "10µF", "volts": "325V"}),
        (["volts=325V", "10µF"], "discharge", {"capacitor": "10µF", "volts": "325V"}),
        (["10µF", "325V", "4k7"], "discharge",
         {"capacitor": "10µF", "volts": "325V", "resistor": "4k7"}),
        (["yellow", "violet", "red", "gold"], "resistor-code",
         {"marking": "yellow violet red gold"}),
        (["470k 5%", "--mains", "120/60"], "zener-rail",
         {"dropper": "470k 5%", "mains": "120 V ±10 %"}),
        (["10µF", "40mA", "--mains", "120/60"], "ripple",
         {"capacitor": "10µF", "current": "40mA", "mains": "120 V ±10 %", "hertz": "60 Hz"}),
        (["4.3k", "E24"], "preferred", {"value": "4.3k", "series": "E24"}),
        ([], "led-check", {}),
    ],
)  # fmt: skip
def test_values_go_where_they_belong(
    desk: Desk, words: list[str], name: str, given: dict[str, str]
) -> None:
    """In order, by name, several words of one marking, mains by its option."""
    told = json.loads(desk.run("calc", name, *words, "--json").out)
    worked = calculate(name, **given)
    assert [entry["text"] for entry in told["results"]] == [e.text for e in worked.results]


def test_a_sum_shows_formula_results_rule_and_source(desk: Desk) -> None:
    """Each on its line."""
    out = desk.run("calc", "led-check").out
    for words in ("formula", "300 Ω", "rule", "source"):
        assert words in out
