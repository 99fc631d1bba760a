"""Does every bad model document get a sentence with the place and the mend, and no traceback?"""

from __future__ import annotations

import re

import pytest

import engine.model.file as modelfile
from engine.model.file import read_model
from kb.trouble import TroubleError
from tests.words.lantern import TEXT, Document, Spoil, spoiled


def troubles_of(text: str) -> list[tuple[str, str]]:
    with pytest.raises(TroubleError) as caught:
        read_model(text, "lantern.json")
    return [(trouble.code, str(trouble)) for trouble in caught.value.troubles]


# --- what is wrong with the text ---

TEXTS = [
    ("", "MD101"),
    ("{", "MD101"),
    ("faults: []", "MD101"),
    ('{"format": "nextprobe-model/1", "prior": NaN}', "MD101"),
    ('{"format": "nextprobe-model/1", "prior": -Infinity}', "MD101"),
    ("[" * 100_000, "MD101"),
    ("1" * 5000, "MD101"),
    ('{"format": "nextprobe-model/1", "format": "nextprobe-model/1"}', "MD102"),
    ("[]", "MD103"),
    ("null", "MD103"),
    ('{"format": "nextprobe-chart/1"}', "MD103"),
    ("{}", "MD103"),
    ('{"format": "nextprobe-model/1"}', "MD104"),
    ('{"format": "nextprobe-model/1", "prior": 1e999}', "MD105"),
    ('{"format": "nextprobe-model/1", "says": "\\u0000"}', "MD106"),
    ('{"format": "nextprobe-model/1", "says": "\\ud800"}', "MD106"),
    ('{"format": "nextprobe-model/1", "": 3}', "MD106"),
]


@pytest.mark.parametrize(("text", "code"), TEXTS, ids=[t[:24] for t, _ in TEXTS])
def test_unreadable_text_is_told(text: str, code: str) -> None:
    assert code in [found for found, _ in troubles_of(text)]


def test_a_format_of_a_pages_length_is_not_told_whole() -> None:
    """A trouble is a line: a foreign document's first words are enough to know it by."""
    ((_, said),) = troubles_of(f'{{"format": "{"a format " * 50}"}}')
    assert '"a format a format' in said
    assert len(said) < 200


def test_of_very_many_troubles_the_rest_is_counted_without_a_place() -> None:
    """They lie all over the document; those told have places of their own."""
    faults = ", ".join(["3"] * 100)
    *told, (code, rest) = troubles_of(f'{{"format": "nextprobe-model/1",\n"faults": [{faults}]}}')
    assert code == "MD104"
    assert all(said.startswith("lantern.json:") for _, said in told)
    assert re.match(r"lantern\.json MD104 there are \d+ more troubles", rest, re.IGNORECASE)


def test_json_trouble_names_line_and_column() -> None:
    cut = TEXT.replace('"prior": 0.2},', '"prior": 0.2}', 1)
    assert troubles_of(cut)[0][1].startswith("lantern.json:5:3 MD101 ")


def test_constant_that_json_lacks_names_line_and_column() -> None:
    text = '{"format": "nextprobe-model/1",\n "prior": NaN}'
    assert troubles_of(text)[0][1].startswith("lantern.json:2:11 MD101 NaN is not a JSON number")


def test_missing_key_is_told_at_the_record_that_lacks_it() -> None:
    text = TEXT.replace('"id": "board-is-live", "hazard": "live-led-board",', '"id": "board",', 1)
    said = dict(troubles_of(text))["MD104"]
    line = text[: text.index('{"id": "board",')].count("\n") + 1
    assert said.startswith(f'lantern.json:{line}:3 MD104 cautions[1]: "hazard" is missing')


# --- what is wrong with the meaning ---


def prior_as_text(plain: Document) -> None:
    plain["faults"][0]["prior"] = "0.2"


def faults_as_object(plain: Document) -> None:
    plain["faults"] = {"socket-bent": 1}


def rig_yes_as_text(plain: Document) -> None:
    plain["rigs"][0]["hands_on"] = "no"


def fault_twice(plain: Document) -> None:
    plain["faults"][1]["id"] = "socket-bent"


def outcome_twice(plain: Document) -> None:
    plain["tests"][0]["outcomes"][1]["id"] = "works"


def empty_id(plain: Document) -> None:
    plain["rigs"][2]["id"] = " "


def unknown_rig(plain: Document) -> None:
    plain["tests"][0]["rig"] = "crane"


def unknown_supply(plain: Document) -> None:
    plain["tests"][0]["supply"] = "wind"


def unknown_opening(plain: Document) -> None:
    plain["tests"][1]["opened"] = ["lid"]


def unknown_caution(plain: Document) -> None:
    plain["tests"][1]["cautions"] = ["mind"]


def unknown_cure(plain: Document) -> None:
    plain["remedies"][0]["cures"].append("rust")


def unknown_proof(plain: Document) -> None:
    plain["remedies"][1]["proofs"] = ["smell"]


def unknown_parent(plain: Document) -> None:
    plain["faults"][1]["variant_of"] = "swich-open"


def unknown_outcome_in_row(plain: Document) -> None:
    plain["likelihood"]["probe-leds"]["led-open"] = {"one-drak": 1}


def unknown_fault_in_row(plain: Document) -> None:
    plain["likelihood"]["probe-leds"]["rust"] = {"all-lit": 1}


def unknown_test_in_rows(plain: Document) -> None:
    plain["likelihood"]["listen"] = {}


def unknown_outcome_in_misread(plain: Document) -> None:
    plain["tests"][1]["misread"] = {"all-lit": {"dim": 0.1}}


def unknown_start(plain: Document) -> None:
    plain["start"] = {"opened": ["lid"], "supply": "wind", "rig": "crane"}


def unknown_minutes(plain: Document) -> None:
    plain["supply"]["minutes"]["unplugged"]["wind"] = 3


def unknown_after(plain: Document) -> None:
    plain["openings"][0]["after"] = ["lid"]


def unknown_proof_supply(plain: Document) -> None:
    plain["proofs"][0]["supply"] = "wind"


def strange_kind(plain: Document) -> None:
    plain["remedies"][0]["kind"] = "pray"


def strange_signal(plain: Document) -> None:
    plain["cautions"][0]["signal"] = "Warning!"


def strange_energy(plain: Document) -> None:
    plain["supply"]["arrangements"][1]["energy"] = "dc"


def openings_in_a_circle(plain: Document) -> None:
    plain["openings"][0]["after"] = ["board"]


def variants_in_a_circle(plain: Document) -> None:
    plain["faults"][1]["variant_of"] = "driver-dead"
    plain["faults"][2]["variant_of"] = "switch-open"


def negative_minutes(plain: Document) -> None:
    plain["tests"][0]["minutes"] = -1


def absurd_minutes(plain: Document) -> None:
    plain["remedies"][0]["minutes"] = 1e9


def boundless_wrong_verdict(plain: Document) -> None:
    plain["wrong_verdict_minutes"] = 1e12


def negative_mains(plain: Document) -> None:
    plain["mains"]["volts"] = -230


def no_way_down(plain: Document) -> None:
    del plain["supply"]["minutes"]["limited"]["unplugged"]


def staying_costs(plain: Document) -> None:
    plain["supply"]["minutes"]["mains"]["mains"] = 1


def negative_odds(plain: Document) -> None:
    plain["likelihood"]["other-socket"]["other"] = {"dead": 1.5, "works": -0.5}


def priors_sum_to_less(plain: Document) -> None:
    plain["faults"][0]["prior"] = 0.1


def priors_all_zero(plain: Document) -> None:
    for fault in plain["faults"]:
        fault["prior"] = 0


def no_faults(plain: Document) -> None:
    plain["faults"] = []


def row_missing(plain: Document) -> None:
    del plain["likelihood"]["rail-volts"]["other"]


def rows_missing(plain: Document) -> None:
    del plain["likelihood"]["rail-volts"]


def row_sums_to_less(plain: Document) -> None:
    plain["likelihood"]["rail-volts"]["other"] = {"low": 0.5}


def manner(plain: Document, odds: float, low: float) -> None:
    """A fault's two manners, one of them reading low so often."""
    row = plain["likelihood"]["rail-volts"]["other"]
    high = {word: 1.0 - low if word != "low" else low for word in ("low", max(row))}
    plain["manners"] = [
        {"fault": "other", "id": "one", "odds": odds, "shows": {"rail-volts": row}},
        {"fault": "other", "id": "two", "odds": 0.5, "shows": {"rail-volts": high}},
    ]


def manners_sum_to_less(plain: Document) -> None:
    manner(plain, 0.4, 0.5)


def manners_against_the_row(plain: Document) -> None:
    manner(plain, 0.5, 1.0)


def manner_of_nobody(plain: Document) -> None:
    manner(plain, 0.5, 0.5)
    plain["manners"][0]["fault"] = "weather"


def misread_above_one(plain: Document) -> None:
    plain["tests"][1]["misread"] = {"all-lit": {"one-dark": 0.7, "all-lit": 0.7}}


def other_never_happens(plain: Document) -> None:
    plain["faults"][4]["prior"] = 0
    plain["faults"][0]["prior"] = 0.25


def all_tests_tell_nothing(plain: Document) -> None:
    for rows in plain["likelihood"].values():
        for fault in rows:
            rows[fault] = rows["socket-bent"]


def no_tests(plain: Document) -> None:
    plain["tests"], plain["likelihood"] = [], {}


def no_outcomes(plain: Document) -> None:
    plain["tests"][0]["outcomes"] = []


def gap_between_bands(plain: Document) -> None:
    plain["tests"][3]["outcomes"][0]["high"] = 4.0


def bands_overlap(plain: Document) -> None:
    plain["tests"][3]["outcomes"][0]["high"] = 5.0


def band_backwards(plain: Document) -> None:
    plain["tests"][3]["outcomes"][1].update(low=5.6, high=4.6)


def bands_end_below(plain: Document) -> None:
    plain["tests"][3]["outcomes"][2]["high"] = 9.0


def two_bands_without_beginning(plain: Document) -> None:
    plain["tests"][3]["outcomes"][1]["low"] = None


def band_without_unit(plain: Document) -> None:
    plain["tests"][3]["outcomes"][1]["unit"] = None


def bands_in_two_units(plain: Document) -> None:
    plain["tests"][3]["outcomes"][1]["unit"] = "mV"


def two_dead(plain: Document) -> None:
    plain["supply"]["arrangements"][1]["energy"] = "none"


def none_dead(plain: Document) -> None:
    plain["supply"]["arrangements"][0]["energy"] = "elv"


def dead_not_to_be_touched(plain: Document) -> None:
    plain["supply"]["arrangements"][0]["hands_on"] = False


def touchable_mains(plain: Document) -> None:
    plain["supply"]["arrangements"][2]["hands_on"] = True


def seventy_volts_called_elv(plain: Document) -> None:
    plain["supply"]["arrangements"][1]["max_volts"] = 70


def start_opened_without_its_before(plain: Document) -> None:
    plain["start"]["opened"] = ["board"]


def start_opened_on_mains(plain: Document) -> None:
    plain["start"] = {"opened": ["cap"], "supply": "mains", "rig": "none"}


def hands_on_mains(plain: Document) -> None:
    plain["tests"][2]["hands_on"] = True


def opened_on_closed_only(plain: Document) -> None:
    plain["tests"][2]["supply"] = "mains"


def closed_test_after_opened_start(plain: Document) -> None:
    plain["start"]["opened"] = ["cap"]


def hazard_unwarned(plain: Document) -> None:
    plain["tests"][0]["hazards"] = ["falling-lamp"]


def fault_without_cure(plain: Document) -> None:
    plain["remedies"][0]["cures"] = []


def repair_without_proof(plain: Document) -> None:
    plain["remedies"][1]["proofs"] = []


def repair_called_outside(plain: Document) -> None:
    plain["remedies"][1]["kind"] = "outside"


def limit_raised(plain: Document) -> None:
    plain["stores"][0]["below"] = 60


def exposed_by_nothing_known(plain: Document) -> None:
    plain["stores"][0]["exposed_by"] = ["lid"]


MEANINGS: list[tuple[Spoil, str, str]] = [
    (prior_as_text, "MD104", "faults[0].prior"),
    (faults_as_object, "MD104", "faults"),
    (rig_yes_as_text, "MD104", "rigs[0].hands_on"),
    (empty_id, "MD106", "rigs[2].id"),
    (fault_twice, "MD111", '"socket-bent"'),
    (outcome_twice, "MD111", "tests[0].outcomes[1]"),
    (unknown_rig, "MD112", '"crane"'),
    (unknown_supply, "MD112", '"wind"'),
    (unknown_opening, "MD112", '"lid"'),
    (unknown_caution, "MD112", '"mind"'),
    (unknown_cure, "MD112", '"rust"'),
    (unknown_proof, "MD112", '"smell"'),
    (unknown_parent, "MD112", '"swich-open"'),
    (unknown_outcome_in_row, "MD112", '"one-drak"'),
    (unknown_fault_in_row, "MD112", '"rust"'),
    (unknown_test_in_rows, "MD112", '"listen"'),
    (unknown_outcome_in_misread, "MD112", '"dim"'),
    (unknown_start, "MD112", "start"),
    (unknown_minutes, "MD112", '"wind"'),
    (unknown_after, "MD112", '"lid"'),
    (unknown_proof_supply, "MD112", '"wind"'),
    (strange_kind, "MD113", '"pray"'),
    (strange_signal, "MD113", "DANGER, WARNING, CAUTION, NOTICE"),
    (strange_energy, "MD113", '"dc"'),
    (openings_in_a_circle, "MD114", '"cap"'),
    (variants_in_a_circle, "MD115", '"driver-dead"'),
    (negative_minutes, "MD121", "-1 minutes"),
    (absurd_minutes, "MD121", "1e+09 minutes"),
    (boundless_wrong_verdict, "MD121", "1e+12 minutes"),
    (negative_mains, "MD122", "-230"),
    (no_way_down, "MD123", '"limited" to "unplugged"'),
    (staying_costs, "MD125", "Write 0"),
    (negative_odds, "MD131", "-0.5"),
    (priors_sum_to_less, "MD132", "0.9"),
    (priors_all_zero, "MD132", "sum to 0"),
    (no_faults, "MD132", "no faults"),
    (row_missing, "MD133", '"other"'),
    (rows_missing, "MD133", '"rail-volts"'),
    (row_sums_to_less, "MD134", "0.5"),
    (misread_above_one, "MD135", "1.4"),
    (manners_sum_to_less, "MD138", "0.9"),
    (manners_against_the_row, "MD138", '"rail-volts"'),
    (manner_of_nobody, "MD112", '"weather"'),
    (other_never_happens, "MD136", "faults[4].prior"),
    (all_tests_tell_nothing, "MD137", "5 possible faults"),
    (no_tests, "MD137", "Add a test"),
    (no_outcomes, "MD141", '"other-socket"'),
    (gap_between_bands, "MD142", "ends at 4"),
    (bands_overlap, "MD142", "ends at 5"),
    (band_backwards, "MD142", '"right"'),
    (bands_end_below, "MD142", "9 or more"),
    (two_bands_without_beginning, "MD142", "no end"),
    (band_without_unit, "MD143", "no unit"),
    (bands_in_two_units, "MD143", "several units"),
    (two_dead, "MD151", "2 arrangements"),
    (none_dead, "MD151", "0 arrangements"),
    (dead_not_to_be_touched, "MD152", '"unplugged"'),
    (touchable_mains, "MD152", '"limited"'),
    (seventy_volts_called_elv, "MD152", "70 V"),
    (start_opened_without_its_before, "MD152", '"cap"'),
    (start_opened_on_mains, "MD152", '"mains"'),
    (hands_on_mains, "MD153", '"bridge-switch"'),
    (opened_on_closed_only, "MD153", '"bridge-switch"'),
    (closed_test_after_opened_start, "MD153", '"other-socket"'),
    (hazard_unwarned, "MD154", '"falling-lamp"'),
    (fault_without_cure, "MD161", '"socket-bent"'),
    (repair_without_proof, "MD162", '"new-switch"'),
    (repair_called_outside, "MD163", '"switch-open"'),
    (limit_raised, "MD157", "60 V"),
    (exposed_by_nothing_known, "MD112", '"lid"'),
]


@pytest.mark.parametrize(
    ("spoil", "code", "words"), MEANINGS, ids=[spoil.__name__ for spoil, _, _ in MEANINGS]
)
def test_bad_meaning_is_told(spoil: Spoil, code: str, words: str) -> None:
    said = [sentence for found, sentence in troubles_of(spoiled(spoil)) if found == code]
    assert any(words in sentence for sentence in said)


def test_trouble_stands_at_its_line() -> None:
    text = spoiled(negative_minutes)
    line = next(n for n, words in enumerate(text.splitlines(), 1) if '"minutes": -1' in words)
    (said,) = [sentence for _, sentence in troubles_of(text)]
    assert said.startswith(f"lantern.json:{line}:15 MD121 tests[0].minutes: -1 minutes")


def test_all_troubles_are_told_at_once() -> None:
    def several(plain: Document) -> None:
        negative_minutes(plain)
        unknown_rig(plain)
        row_missing(plain)

    assert {code for code, _ in troubles_of(spoiled(several))} == {"MD112", "MD121", "MD133"}


def test_a_flood_of_troubles_is_cut_with_their_number() -> None:
    def flood(plain: Document) -> None:
        plain["remedies"][0]["cures"] = [f"gremlin-{n}" for n in range(100)]

    said = troubles_of(spoiled(flood))
    assert len(said) == 41
    assert "61 more troubles" in said[-1][1]


def test_every_code_of_the_table_is_tried() -> None:
    listed = set(re.findall(r"MD\d+", modelfile.__doc__ or ""))
    told = {code for _, code in TEXTS} | {code for _, code, _ in MEANINGS}
    noted = {"MD124", "MD144", "MD155", "MD156"}
    replayed = {"MD158", "MD171", "MD172", "MD173", "MD174"}  # see test_lying_documents.py
    assert listed == told | noted | replayed
