"""Is a model document that lies about safety refused with the reason, or made harmless?

Each lie is told in the program's own document of a lamp. What is refused names its line; what is
replayed under the laws asks, measures and warns as an honest document would.
"""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Callable
from functools import cache
from typing import Any

import pytest

from engine import library, safetygate
from engine.chart.drawing import document as chart_document
from engine.chart.drawing import draw_up
from engine.model.file import Reading, inspect, read_model
from engine.model.file.laws import inside
from engine.model.file.shipped import as_shipped, tells
from engine.model.records import Mains, Model, document
from engine.planner import plan
from kb.trouble import TroubleError

Document = dict[str, Any]
Lie = Callable[[Document], None]
NONE, BATTERY, BENCH, STRING, ISOLATED, RCD, NORMAL = range(7)


@cache
def honest() -> str:
    everything = library.everything()
    model = library.model("buck-lamp", mains=Mains(230.0, 50.0), having=everything)
    return json.dumps(document(model), indent=0)


def told(lie: Lie) -> str:
    plain = json.loads(honest())
    lie(plain)
    return json.dumps(plain, indent=0)


@cache
def reading_of(lie: Lie) -> Reading:
    return inspect(told(lie), "lamp.json")


def by_id(records: list[Document], name: str) -> Document:
    return next(record for record in records if record["id"] == name)


def supply(plain: Document, number: int, **lies: object) -> None:
    plain["supply"]["arrangements"][number].update(lies)


def another_supply(plain: Document, like: int, **lies: object) -> None:
    """One more arrangement, copied from another with its minutes, and a test moved onto it."""
    arrangements, minutes = plain["supply"]["arrangements"], plain["supply"]["minutes"]
    new = {**copy.deepcopy(arrangements[like]), **lies}
    arrangements.append(new)
    old = arrangements[like]["id"]
    for row in minutes.values():
        row[new["id"]] = row[old]
    minutes[new["id"]] = {**minutes[old], new["id"]: 0.0, old: 0.0}
    for one, other in ((new["id"], old), (old, new["id"])):
        minutes[one][other] = minutes[one]["unplugged"] + minutes["unplugged"][other]
    by_id(plain["tests"], "volts-TP3")["supply"] = new["id"]


def nothing(plain: Document) -> None:
    """The honest document, which is read under the same laws."""


def dead_at_325(plain: Document) -> None:
    supply(plain, NONE, max_volts=325.0)


def dead_in_the_socket(plain: Document) -> None:
    supply(plain, NONE, says="plugged into the wall socket")


def mains_has_no_energy(plain: Document) -> None:
    supply(plain, NORMAL, energy="none", max_volts=0.0, hands_on=True, closed_only=False)


def limited_mains_for_closed_units_has_no_energy(plain: Document) -> None:
    supply(plain, ISOLATED, energy="none", max_volts=0.0, closed_only=True)


def two_dead(plain: Document) -> None:
    another_supply(plain, NONE, id="off", says="off")


def dead_one_dropped(plain: Document) -> None:
    del plain["supply"]["arrangements"][NONE]


def mains_called_low(plain: Document) -> None:
    supply(plain, ISOLATED, energy="elv", max_volts=12.0, hands_on=True)


def bench_source_from_the_wall(plain: Document) -> None:
    another_supply(plain, BENCH, id="handy", says="straight from the wall outlet")


def low_at_230(plain: Document) -> None:
    another_supply(plain, BENCH, id="handy", says="source of 230 V")


def low_over_60(plain: Document) -> None:
    supply(plain, BENCH, max_volts=61.0)


def low_without_number(plain: Document) -> None:
    supply(plain, BENCH, max_volts=math.nan)


def hands_on_limited_mains(plain: Document) -> None:
    supply(plain, ISOLATED, hands_on=True)


def hands_on_the_string_source(plain: Document) -> None:
    supply(plain, STRING, hands_on=True)


def hands_on_normal_mains(plain: Document) -> None:
    supply(plain, NORMAL, hands_on=True)


def normal_mains_for_opened_units(plain: Document) -> None:
    supply(plain, NORMAL, closed_only=False)


def bare_socket_by_another_name(plain: Document) -> None:
    another_supply(plain, NORMAL, id="plain", closed_only=False)


def bare_socket_in_other_words(plain: Document) -> None:
    another_supply(plain, ISOLATED, id="plain", says="the wall socket")


def socket_called_so_in_its_name(plain: Document) -> None:
    another_supply(plain, ISOLATED, id="direct-mains", says="")


def touched_at_60(plain: Document) -> None:
    plain["stores"][0]["below"] = 60.0


def touched_at_400(plain: Document) -> None:
    plain["stores"][0]["below"] = 400.0


def limit_of_nothing(plain: Document) -> None:
    plain["stores"][0]["below"] = 0.0


def limit_below_nothing(plain: Document) -> None:
    plain["stores"][0]["below"] = -5.0


def limit_left_out(plain: Document) -> None:
    plain["stores"][0]["below"] = None


def limit_no_number(plain: Document) -> None:
    plain["stores"][0]["below"] = math.nan


def limit_without_end(plain: Document) -> None:
    plain["stores"][0]["below"] = math.inf


def volts_below_nothing(plain: Document) -> None:
    plain["stores"][0]["max_volts"] = -1.0


def measured_nowhere(plain: Document) -> None:
    plain["stores"][0]["point"] = " "


def exposed_by_a_stranger(plain: Document) -> None:
    plain["stores"][0]["exposed_by"] = ["lid"]


def exposed_by_what_opens_nothing(plain: Document) -> None:
    plain["openings"].append({"id": "cold-checks", "minutes": 5.0, "inside": False})
    plain["stores"][0]["exposed_by"] = ["cold-checks"]


def board_drawn_from_outside(plain: Document) -> None:
    by_id(plain["openings"], "driver-board")["inside"] = False


def resistance_on_mains(plain: Document) -> None:
    by_id(plain["tests"], "ohms-R1").update(supply="isolated-limited", hands_on=False)


def ohms_in_the_unit_alone(plain: Document) -> None:
    test = by_id(plain["tests"], "ohms-R1")
    test.update(supply="isolated-limited", hands_on=False, instrument="")


def diode_range_on_the_string_source(plain: Document) -> None:
    by_id(plain["tests"], "junction-D1").update(supply="string-source", hands_on=False)


def hands_said_on_mains(plain: Document) -> None:
    by_id(plain["tests"], "volts-TP3")["hands_on"] = True


def board_needed_is_closed(plain: Document) -> None:
    by_id(plain["tests"], "ohms-R1")["opened"] = []


def opened_in_the_socket(plain: Document) -> None:
    by_id(plain["tests"], "tap-it")["opened"] = ["diffuser"]


def comes_in_opened(plain: Document) -> None:
    plain["start"]["opened"] = ["diffuser", "led-board", "driver-board"]


def comes_in_on_mains(plain: Document) -> None:
    plain["start"]["supply"] = "normal-mains"


def comes_in_on_limited_mains(plain: Document) -> None:
    plain["start"]["supply"] = "isolated-limited"


def comes_in_clipped(plain: Document) -> None:
    plain["start"]["rig"] = "meter-on-leads"


def proofs_dropped(plain: Document) -> None:
    by_id(plain["remedies"], "renew-C1")["proofs"] = []


def all_but_the_function_dropped(plain: Document) -> None:
    by_id(plain["remedies"], "renew-C1")["proofs"] = ["function"]


def last_proof_opened(plain: Document) -> None:
    by_id(plain["proofs"], "touch-current").update(supply="isolated-limited", closed=False)


def proof_opened_in_the_socket(plain: Document) -> None:
    by_id(plain["proofs"], "function")["opened"] = ["diffuser"]


def proof_by_hand_on_mains(plain: Document) -> None:
    by_id(plain["proofs"], "limiter-power-up")["hands_on"] = True


def insulation_of_an_energised_unit(plain: Document) -> None:
    by_id(plain["proofs"], "insulation")["supply"] = "normal-mains"


def repair_called_outside(plain: Document) -> None:
    by_id(plain["remedies"], "renew-C1").update(kind="outside", proofs=[])


def repair_called_nothing(plain: Document) -> None:
    by_id(plain["remedies"], "renew-C1").update(kind="none", proofs=[], cautions=[])


def repair_hidden_in_a_fault_outside(plain: Document) -> None:
    remedy = by_id(plain["remedies"], "renew-C1")
    remedy.update(kind="outside", proofs=[])
    for fault in plain["faults"]:
        if fault["id"] in remedy["cures"]:
            fault["stage"] = "outside"


def getting_there_takes_less_than_nothing(plain: Document) -> None:
    plain["supply"]["minutes"]["unplugged"]["isolated-limited"] = -2.0


def no_way_down(plain: Document) -> None:
    del plain["supply"]["minutes"]["isolated-limited"]["unplugged"]


def misread_more_than_always(plain: Document) -> None:
    test = by_id(plain["tests"], "look-leds")
    first, second = (outcome["id"] for outcome in test["outcomes"][:2])
    test["misread"] = {first: {second: 1.5}}


def of_another_format(plain: Document) -> None:
    plain["format"] = "nextprobe-model/2"


def hazard_of_no_caution(plain: Document) -> None:
    by_id(plain["cautions"], "hot-lamp")["hazard"] = "warm"


def strange_answer_to_the_entry(plain: Document) -> None:
    plain["entry"][0]["answers"]["yes"] = "never mind"


REFUSED: list[tuple[Lie, str, str]] = [
    (dead_at_325, "MD152", "325 V"),
    (dead_in_the_socket, "MD152", '"plugged"'),
    (mains_has_no_energy, "MD152", '"normal-mains" is mains, not none'),
    (limited_mains_for_closed_units_has_no_energy, "MD152", '"isolated-limited" is mains'),
    (two_dead, "MD151", "2 arrangements"),
    (dead_one_dropped, "MD151", "0 arrangements"),
    (mains_called_low, "MD152", '"isolated-limited" is mains, not elv'),
    (bench_source_from_the_wall, "MD152", '"wall"'),
    (low_at_230, "MD152", '"230 V"'),
    (low_over_60, "MD152", "61 V"),
    (low_without_number, "MD101", "NaN"),
    (hands_on_limited_mains, "MD152", "isolated-limited"),
    (hands_on_the_string_source, "MD152", "string-source"),
    (hands_on_normal_mains, "MD152", "normal-mains"),
    (normal_mains_for_opened_units, "MD152", "closed units only"),
    (bare_socket_by_another_name, "MD152", "series lamp only"),
    (bare_socket_in_other_words, "MD152", "series lamp only"),
    (socket_called_so_in_its_name, "MD152", "series lamp only"),
    (touched_at_60, "MD157", "60 V"),
    (touched_at_400, "MD157", "400 V"),
    (limit_of_nothing, "MD157", "0 V"),
    (limit_below_nothing, "MD157", "-5 V"),
    (limit_left_out, "MD104", "below"),
    (limit_no_number, "MD101", "NaN"),
    (limit_without_end, "MD101", "Infinity"),
    (volts_below_nothing, "MD122", "-1"),
    (measured_nowhere, "MD157", "no point"),
    (exposed_by_a_stranger, "MD112", '"lid"'),
    (exposed_by_what_opens_nothing, "MD157", "exposes"),
    (board_drawn_from_outside, "MD152", '"driver-board"'),
    (resistance_on_mains, "MD153", '"ohms-R1"'),
    (ohms_in_the_unit_alone, "MD153", '"ohms-R1"'),
    (diode_range_on_the_string_source, "MD153", '"junction-D1"'),
    (hands_said_on_mains, "MD153", '"volts-TP3"'),
    (board_needed_is_closed, "MD153", "nobody has opened"),
    (opened_in_the_socket, "MD153", "closed units only"),
    (comes_in_opened, "MD152", "comes in opened"),
    (comes_in_on_mains, "MD152", "normal-mains"),
    (comes_in_on_limited_mains, "MD152", "isolated-limited"),
    (comes_in_clipped, "MD152", "meter-on-leads"),
    (proofs_dropped, "MD162", "renew-C1"),
    (all_but_the_function_dropped, "MD162", "insulation"),
    (last_proof_opened, "MD162", "closed up"),
    (proof_opened_in_the_socket, "MD163", "function"),
    (proof_by_hand_on_mains, "MD163", "limiter-power-up"),
    (insulation_of_an_energised_unit, "MD163", "energised"),
    (repair_called_outside, "MD163", "renew-C1"),
    (repair_called_nothing, "MD163", "renew-C1"),
    (repair_hidden_in_a_fault_outside, "MD163", "renew-C1"),
    (getting_there_takes_less_than_nothing, "MD121", "-2 minutes"),
    (no_way_down, "MD123", "isolated-limited"),
    (misread_more_than_always, "MD131", "1.5"),
    (of_another_format, "MD103", "nextprobe-model/2"),
    (hazard_of_no_caution, "MD154", "hot-lamp"),
    (strange_answer_to_the_entry, "MD113", "never mind"),
]


@pytest.mark.parametrize(
    ("lie", "code", "words"), REFUSED, ids=[one[0].__name__ for one in REFUSED]
)
def test_a_lie_that_shows_is_refused_at_its_line(lie: Lie, code: str, words: str) -> None:
    with pytest.raises(TroubleError) as caught:
        read_model(told(lie), "lamp.json")
    said = [trouble for trouble in caught.value.troubles if trouble.code == code]
    assert any(words in str(trouble) for trouble in said), caught.value
    assert all(trouble.place.line and trouble.mend for trouble in said)


# ---- lies that are replayed under the laws ----


def all_stores_dropped(plain: Document) -> None:
    plain["stores"] = []


def largest_store_dropped(plain: Document) -> None:
    del plain["stores"][0]


def stores_and_all_names_dropped(plain: Document) -> None:
    """Nothing in the document names a capacitor any more."""
    plain["stores"], plain["stages"] = [], []
    for fault in plain["faults"]:
        fault["parts"] = []
    for test in plain["tests"]:
        test["on"] = ""


def store_said_to_hold_nothing(plain: Document) -> None:
    plain["stores"][0]["max_volts"] = 0.0


def store_said_to_hold_29(plain: Document) -> None:
    plain["stores"][0]["max_volts"] = 29.0


def cautions_emptied(plain: Document) -> None:
    for kind in ("tests", "rigs", "remedies", "proofs", "openings"):
        for record in plain[kind]:
            record["cautions"] = []
            if kind == "tests":
                record["hazards"] = []
    for arrangement in plain["supply"]["arrangements"]:
        arrangement["cautions"] = []
    plain["cautions"] = []


def hazards_emptied(plain: Document) -> None:
    for test in plain["tests"]:
        test["hazards"] = test["cautions"] = []


def cautions_in_other_words(plain: Document) -> None:
    for caution in plain["cautions"]:
        caution["says"] = "Nothing to fear here."


def cautions_with_a_milder_signal(plain: Document) -> None:
    for caution in plain["cautions"]:
        caution["signal"] = "NOTICE"


def hazards_renamed(plain: Document) -> None:
    """The stored charge and the limited mains become hazards nobody knows."""
    for caution in plain["cautions"]:
        if caution["hazard"] in ("stored-charge", "limited-mains"):
            caution["hazard"] += "-of-old"
    for test in plain["tests"]:
        test["hazards"] = []


def probes_without_hands(plain: Document) -> None:
    for test in plain["tests"]:
        test["hands_on"] = False


def rigs_without_hands(plain: Document) -> None:
    for rig in plain["rigs"]:
        rig["hands_on"] = False


def supplies_without_words(plain: Document) -> None:
    for arrangement in plain["supply"]["arrangements"]:
        arrangement.update(says="", how="")


def isolated_mains_in_soothing_words(plain: Document) -> None:
    supply(plain, ISOLATED, says="quiet supply", how="Just clip it on.")


def limited_mains_of_its_own(plain: Document) -> None:
    """Nobody can see in a document whether it is limited: it is told as the shipped one."""
    another_supply(plain, ISOLATED, id="ours", says="our bench supply", how="Switch on.")


def entry_dropped(plain: Document) -> None:
    plain["entry"] = []


def every_answer_goes_on(plain: Document) -> None:
    for question in plain["entry"]:
        question["answers"] = dict.fromkeys(question["answers"], "go-on")


def entry_asks_something_else(plain: Document) -> None:
    for question in plain["entry"]:
        question["asks"] = "Is it a nice day?"


def trip_left_unasked(plain: Document) -> None:
    plain["complaint"] = "trips-protection"
    plain["entry"] = []


def openings_without_order(plain: Document) -> None:
    """Boards can't be drawn through a closed lamp, whatever a document says: nothing is gained."""
    for opening in plain["openings"]:
        opening["after"] = []


def exposure_not_told(plain: Document) -> None:
    """Then it counts as exposed by whatever is opened first."""
    for store in plain["stores"]:
        store["exposed_by"] = None


def repair_called_scrap(plain: Document) -> None:
    """It escapes its proofs, and is told as what it says: not returned."""
    by_id(plain["remedies"], "renew-C1").update(kind="scrap", proofs=[], cautions=[])


REPLAYED: list[tuple[Lie, str]] = [
    (all_stores_dropped, "MD158"),
    (largest_store_dropped, "MD158"),
    (stores_and_all_names_dropped, "MD158"),
    (store_said_to_hold_nothing, "MD158"),
    (store_said_to_hold_29, "MD158"),
    (cautions_emptied, "MD172"),
    (hazards_emptied, "MD172"),
    (cautions_in_other_words, "MD172"),
    (cautions_with_a_milder_signal, "MD172"),
    (hazards_renamed, "MD172"),
    (probes_without_hands, "MD173"),
    (rigs_without_hands, "MD173"),
    (supplies_without_words, "MD174"),
    (isolated_mains_in_soothing_words, "MD174"),
    (limited_mains_of_its_own, "MD174"),
    (entry_dropped, "MD171"),
    (every_answer_goes_on, "MD171"),
    (entry_asks_something_else, "MD171"),
    (trip_left_unasked, "MD171"),
    (openings_without_order, "MD158"),
    (exposure_not_told, "MD158"),
    (repair_called_scrap, "MD172"),
]
LIES = [lie for lie, _ in REPLAYED]


@pytest.mark.parametrize(("lie", "code"), REPLAYED, ids=[one[0].__name__ for one in REPLAYED])
def test_a_lie_that_is_put_right_is_noted(lie: Lie, code: str) -> None:
    reading = reading_of(lie)
    assert code in {note.code for note in reading.notes}
    again = inspect(json.dumps(document(reading.model)), "again")
    assert again.model == reading.model


@pytest.mark.parametrize("lie", LIES, ids=[lie.__name__ for lie in LIES])
def test_after_any_lie_the_unit_is_met_as_an_honest_document_has_it(lie: Lie) -> None:
    lied, true = reading_of(lie).model, reading_of(nothing).model
    assert charged(lied) >= charged(true) or len(charged(lied)) == 1
    assert all(tells(caution) for caution in lied.cautions)
    for question in as_shipped().questions():
        assert question in lied.entry
    honest_tests = {test.id: test for test in true.tests}
    for test in lied.tests:
        same = honest_tests[test.id]
        assert test.hands_on == same.hands_on
        missed = needed(true, same.hazards) - {hazard_of(lied)[c] for c in test.cautions}
        assert not missed, (test.id, missed)
    for rig in lied.rigs:
        assert rig.hands_on == true.rig(rig.id).hands_on
    for arrangement in lied.supply.arrangements:
        if arrangement.energy == "mains" and not arrangement.closed_only:
            assert "filament lamp in series" in arrangement.how
            assert arrangement.says in ("isolated limited mains", "limited mains behind an RCD")


def charged(model: Model) -> set[str]:
    """The stores that are measured."""
    return {store.part for store in model.stores if store.max_volts > store.below}


def needed(model: Model, hazards: tuple[str, ...]) -> set[str]:
    """Hazards that energy, access and hands bring about; dazzle and a hot lamp can be left unsaid
    by a document, for nothing else in it shows them."""
    return set(hazards) - {
        "bright-light", "hot-lamp", "hot-air", "current-sockets", "floating-source", "live-lead"
    }


def hazard_of(model: Model) -> dict[str, str]:
    return {caution.id: caution.hazard for caution in model.cautions}


@pytest.mark.parametrize("lie", LIES, ids=[lie.__name__ for lie in LIES])
def test_no_hands_go_near_an_unmeasured_store_after_any_lie(lie: Lie) -> None:
    """The plan that is made of the lie passes the gate, and stores are asked for in it."""
    model = reading_of(lie).model
    chart = chart_document(draw_up(model, plan(model, seconds=0.0, effort=4e8)))
    safetygate.check(model, json.loads(json.dumps(chart)))
    opened = [n for n in chart["nodes"].values() if n["kind"] == "setup" and n["open"]]
    assert all(inside(model, tuple(node["open"])) for node in opened)


def test_what_a_document_cannot_show_is_said() -> None:
    model = reading_of(nothing).model
    assert safetygate.origin_note(model, from_document=False) == ""
    assert safetygate.origin_note(model, from_document=True).startswith(
        "Made from a model of unknown origin"
    )
