"""Is a model document from elsewhere read as it is meant, with a note where something is odd?"""

from __future__ import annotations

import json

from engine.model.file import inspect, read_model
from engine.model.records import document, document_sha256
from tests.words.lantern import GOOD, TEXT, Document, spoiled


def noted(text: str) -> list[str]:
    """The codes of the notes that the good document does not bring."""
    usual = {note.what for note in inspect(TEXT, "lantern.json").notes}
    return [note.code for note in inspect(text, "x").notes if note.what not in usual]


def test_document_with_the_published_keys_alone_is_read() -> None:
    model = read_model(TEXT, "lantern.json")
    assert (model.topology, len(model.faults), model.tests[1].opened) == (
        "gate-lantern",
        5,
        ("cap",),
    )


def test_what_we_print_is_read_back_equal() -> None:
    model = read_model(TEXT, "lantern.json")
    assert read_model(json.dumps(document(model)), "again") == model


def test_hash_is_that_of_the_document_as_given() -> None:
    assert inspect(TEXT, "lantern.json").sha256 == document_sha256(GOOD)


def test_keys_we_do_not_know_are_left_alone() -> None:
    def add(plain: Document) -> None:
        plain["made_by"] = {"hand": True}
        plain["tests"][0]["mood"] = 3

    assert read_model(spoiled(add), "lantern.json") == read_model(TEXT, "lantern.json")


def test_byte_order_mark_is_no_trouble() -> None:
    assert read_model("\ufeff" + TEXT, "lantern.json").topology == "gate-lantern"


def test_minutes_of_staying_and_of_going_through_dead_may_be_left_out() -> None:
    def thin(plain: Document) -> None:
        dead = plain["supply"]["minutes"]["unplugged"]
        del dead["unplugged"]
        for name in ("battery", "limited", "mains"):
            row = plain["supply"]["minutes"][name]
            plain["supply"]["minutes"][name] = {"unplugged": row["unplugged"]}

    assert read_model(spoiled(thin), "lantern.json") == read_model(TEXT, "lantern.json")


def test_minutes_between_energised_arrangements_follow_the_rule_with_a_note() -> None:
    def shortcut(plain: Document) -> None:
        plain["supply"]["minutes"]["battery"]["limited"] = 0.25

    reading = inspect(spoiled(shortcut), "lantern.json")
    assert reading.model.supply.minutes["battery"]["limited"] == 3.5
    assert noted(spoiled(shortcut)) == ["MD124"]


def test_ohms_that_begin_at_nought_are_read_with_a_note() -> None:
    def ohms(plain: Document) -> None:
        plain["tests"][3].update(supply="unplugged", hands_on=True, hazards=[], cautions=[])
        for outcome in plain["tests"][3]["outcomes"]:
            outcome["unit"] = "Ω"
        plain["tests"][3]["outcomes"][0]["low"] = 0

    assert noted(spoiled(ohms)) == ["MD144"]


def test_over_range_may_take_what_lies_above_the_highest_band() -> None:
    def over_range(plain: Document) -> None:
        bands = plain["tests"][3]["outcomes"]
        bands[2].update(high=20.0)
        bands.append({"id": "over-range", "says": "OL", "low": None, "high": None, "unit": None})

    assert len(read_model(spoiled(over_range), "lantern.json").tests[3].outcomes) == 4


def test_wrong_verdict_may_be_priced_never_to_pay() -> None:
    def forbid(plain: Document) -> None:
        plain["wrong_verdict_minutes"] = 1e6

    assert read_model(spoiled(forbid), "x").wrong_verdict_minutes == 1e6


def test_two_variants_may_name_a_group_that_is_no_fault() -> None:
    def group(plain: Document) -> None:
        plain["faults"][1]["variant_of"] = plain["faults"][2]["variant_of"] = "worn-out"

    assert read_model(spoiled(group), "x").faults[1].variant_of == "worn-out"


def test_cautions_that_hazards_demand_are_put_at_the_test() -> None:
    """The live board's caution belongs to every opened test on mains, said or unsaid; so do those
    of limited mains, of a store near hands and of a closed unit in its socket."""

    def apart(plain: Document) -> None:
        for test in plain["tests"]:
            test["cautions"] = []
        plain["tests"][2]["hazards"] = ["mains-shock"]

    model = read_model(spoiled(apart), "x")
    assert [test.cautions for test in model.tests] == [
        ("shock", "mains-closed"),
        ("eyes", "stored-charge"),
        ("shock", "board-is-live", "limited-mains", "no-rcd-protection"),
        ("shock", "board-is-live", "limited-mains", "no-rcd-protection"),
    ]


def test_an_opening_without_those_before_it_is_a_note() -> None:
    def nested(plain: Document) -> None:
        outer = plain["openings"][0]["id"]
        plain["openings"].append({"id": "inner", "minutes": 1, "after": [outer]})
        plain["tests"][2]["opened"] = ["inner"]

    assert noted(spoiled(nested)) == ["MD155"]


def test_a_live_board_without_its_caution_is_a_note() -> None:
    def unwarned(plain: Document) -> None:
        plain["cautions"] = [c for c in plain["cautions"] if c["id"] != "board-is-live"]
        for test in plain["tests"]:
            test["cautions"] = [c for c in test["cautions"] if c != "board-is-live"]
            test["hazards"] = [h for h in test["hazards"] if h != "live-led-board"]

    assert "MD156" in noted(spoiled(unwarned))
    live = [c for c in read_model(spoiled(unwarned), "x").cautions if c.hazard == "live-led-board"]
    assert live[0].says.startswith("Whether the driver is isolated is not known")
