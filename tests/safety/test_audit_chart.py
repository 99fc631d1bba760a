"""Does the checker see every way a chart can be wrong or unsafe? The ways are `spoils`."""

from __future__ import annotations

import pytest

import engine.audit as checker
from engine.audit import audit
from engine.model.records import document_sha256
from tests.safety.spoils import (
    CASES,
    Spoil,
    by_id,
    codes,
    confirmed,
    going_on,
    good_pair,
    instead,
    node,
    required,
)


def test_good_pair_has_no_breach() -> None:
    assert audit(*good_pair()) == ()


def test_good_confirm_step_has_no_breach() -> None:
    model, chart = good_pair()
    confirmed(chart)
    assert audit(model, chart) == ()


def test_what_is_shown_on_the_way_is_enough() -> None:
    model, chart = good_pair()
    required(model, chart, by_id(model["remedies"], "new-switch"), "bridge-switch", "lit")
    required(model, chart, by_id(model["tests"], "bridge-switch"), "probe-leds", "all-lit")
    assert audit(model, chart) == ()


def test_what_comes_instead_of_a_test_is_no_breach() -> None:
    model, chart = good_pair()
    instead(chart, test="rail-volts")
    assert audit(model, chart) == ()


def test_what_a_verdict_says_of_going_on_is_no_breach() -> None:
    model, chart = good_pair()
    going_on(model, chart)
    assert audit(model, chart) == ()


@pytest.mark.parametrize(("spoil", "code"), CASES, ids=[spoil.__name__ for spoil, _ in CASES])
def test_breach_is_seen(spoil: Spoil, code: str) -> None:
    model, chart = good_pair()
    spoil(model, chart)
    assert code in codes(model, chart)


def test_every_code_of_the_table_is_tried() -> None:
    listed = {word for word in (checker.__doc__ or "").split() if word.startswith("AU")}
    tried = {code for _, code in CASES}
    assert {code for code in listed if not code.startswith("AU4")} == tried


def test_shared_verdict_adds_up_its_arrivals() -> None:
    """Both ends of the last test give the driver remedy: one verdict, arrivals added up."""
    model, chart = good_pair()
    by_id(model["remedies"], "new-driver")["cures"].append("switch-open")
    by_id(model["remedies"], "new-switch")["minutes"] = 90
    node(chart, "n8")["branches"]["lit"] = "n13"
    del chart["nodes"]["n12"]
    node(chart, "n13").update(
        reach=0.575,
        faults=[
            {"id": "switch-open", "p": 0.3 / 0.575},
            {"id": "driver-dead", "p": 0.25 / 0.575},
            {"id": "other", "p": 0.025 / 0.575},
        ],
    )
    chart["expected_cost"] = 30.775 - 4.5 + 0.3 * 20
    # A store that stays below its limit: nobody need ask for it.
    model["stores"].append({"part": "C7", "max_volts": 12, "point": "TP4", "below": 30})
    chart["model_sha256"] = document_sha256(model)
    assert audit(model, chart) == ()
