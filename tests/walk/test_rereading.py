"""Does a walk hear a test done again as one truth read twice, and go on when a repair did not help?

Reckoned by hand beside each: P(told twice | fault) is summed over what the one truth may be.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from engine.audit import audit_walk
from engine.evidence import Joint, Take, witness
from engine.model.plan import State
from engine.model.records import Model, Remedy, Store, document
from engine.planner import plan
from engine.walk import job, prepared, record, rereading
from engine.walk.ending import conclude
from engine.walk.events import Answered, CannotDo, Known, Unmended
from engine.walk.job import Outset, Question, Walk, pending
from kb.language.answersfile import read_answers, read_takes
from kb.trouble import TroubleError
from tests.models import simple_test, tiny_model

SLIP = 0.05


def two_suspects(wrong_verdict_minutes: float = 75.0, slip: float = SLIP) -> Model:
    """Two even faults and two tests, of a minute and of nine, that tell them apart; the first is
    misread once in twenty either way."""
    made = tiny_model(
        {"left": 1.0, "right": 1.0},
        [simple_test("look", 1.0, ("yes", "no")), simple_test("weigh", 9.0, ("light", "heavy"))],
        {"look": {"left": "yes", "right": "no"}, "weigh": {"left": "light", "right": "heavy"}},
        remedies=[Remedy(f"mend-{side}", f"Mend {side}", "repair", 5.0, (side,))
                  for side in ("left", "right")],
        wrong_verdict_minutes=wrong_verdict_minutes,
    )  # fmt: skip
    misread = {"yes": {"no": slip}, "no": {"yes": slip}} if slip else {}
    look, weigh = made.tests
    return replace(made, tests=(replace(look, misread=misread), weigh))


def begun(model: Model) -> Walk:
    """The walk before its first answer."""
    return job.begin(Outset(model), plan)


def answered(model: Model, *answers: str) -> Walk:
    """The walk, its cheap test answered in turn."""
    walk = begun(model)
    for answer in answers:
        if isinstance(step := pending(walk), job.Setting):
            walk = job.take(walk, step.event)
        walk = job.take(walk, Answered("look", answer))
    return walk


def test_a_verdict_that_hangs_on_one_reading_has_it_done_again() -> None:
    """One in twenty at 75 minutes is more than the minute that looking again takes."""
    walk = answered(two_suspects(), "yes")
    assert not walk.is_ended
    assert pending(walk) == Question("look")


def test_nothing_is_done_again_where_being_wrong_costs_little() -> None:
    """One in twenty at five minutes is a quarter of a minute."""
    assert answered(two_suspects(5.0), "yes").is_ended


def test_two_readings_that_agree_leave_two_misreadings() -> None:
    """0.95^2 to 0.05^2."""
    walk = answered(two_suspects(), "yes", "yes")
    assert walk.is_ended
    assert walk.belief["left"] == pytest.approx(0.9025 / 0.905)


def test_two_readings_that_differ_are_not_read_a_third_time() -> None:
    """0.95 times 0.05 either way: another test decides."""
    walk = answered(two_suspects(), "yes", "no")
    assert walk.belief == pytest.approx({"left": 0.5, "right": 0.5})
    assert pending(walk) == Question("weigh")


def test_nothing_is_done_again_where_nothing_can_have_been_misread() -> None:
    assert answered(two_suspects(slip=0.0), "yes").is_ended


def test_nothing_is_done_again_where_only_the_told_answer_can_be_told() -> None:
    """Yes is now and then told for no; no is never told for yes."""
    model = two_suspects()
    look, weigh = model.tests
    model = replace(model, tests=(replace(look, misread={"no": {"yes": SLIP}}), weigh))
    assert not answered(model, "yes").is_ended
    assert answered(model, "no").is_ended


def test_nothing_is_done_again_where_no_answer_changes_the_remedy() -> None:
    """One remedy cures both faults, whatever is read."""
    model = two_suspects()
    both = Remedy("mend-all", "Mend all", "repair", 5.0, ("left", "right"))
    model = replace(model, remedies=(*model.remedies, both))
    told = job.take(begun(model), Known("look", "yes"))
    assert told.is_ended


def test_nothing_is_done_again_where_no_other_test_could_settle_it() -> None:
    """A second reading that differs would leave even odds, and nothing to go on with."""
    walk = job.begin(Outset(two_suspects(), frozenset({"weigh"})), plan)
    assert job.take(walk, Answered("look", "yes")).is_ended


def test_nothing_is_done_again_where_the_job_ends_alike_whatever_is_read() -> None:
    """Three to two for the left: a second reading that differs leaves that again, and weighing is
    too dear at half an hour, so the remedy stays. At nine minutes it is weighed."""
    model = two_suspects()
    left, right = model.faults
    look, weigh = model.tests
    faults = (replace(left, prior=0.6), replace(right, prior=0.4))
    dear = replace(model, faults=faults, tests=(look, replace(weigh, minutes=30.0)))
    assert answered(dear, "yes").is_ended
    assert not answered(replace(dear, tests=(look, weigh)), "yes").is_ended


def on_the_socket(model: Model) -> Model:
    """The model with its cheap test watched on the closed unit."""
    look, weigh = model.tests
    return replace(model, tests=(replace(look, supply="socket", hands_on=False), weigh))


def test_what_a_closed_unit_did_is_not_watched_again_straight_away() -> None:
    """Looking on is the same look; as a reading it would be taken again."""
    assert answered(on_the_socket(two_suspects()), "yes").is_ended


def test_the_odds_of_having_been_misread_count_all_readings_of_a_test() -> None:
    """Two that differ, even odds: each is as likely to be the wrong one."""
    walk = job.take(answered(two_suspects(), "yes", "no"), CannotDo("weigh"))
    doubts = {doubt.step: doubt.odds for doubt in conclude(walk).doubts}
    assert doubts[1] == doubts[2] == pytest.approx(0.5)


def test_of_two_readings_that_differ_the_wrong_one_depends_on_the_fault() -> None:
    """Left shows yes: then the second was misread; right shows no: then the first."""
    walk = answered(two_suspects(), "yes", "no")
    assert rereading.slips(walk) == {
        1: pytest.approx({"left": 0.0, "right": 1.0}),
        2: pytest.approx({"left": 1.0, "right": 0.0}),
    }
    assert rereading.slips(answered(two_suspects(), "yes")) == {}


def test_what_can_not_be_done_again_ends_the_walk_as_it_stands() -> None:
    walk = job.take(answered(two_suspects(), "yes"), CannotDo("look"))
    assert walk.is_ended
    assert walk.belief["left"] == pytest.approx(0.95)


def test_a_walk_with_tests_done_again_is_saved_and_audited() -> None:
    """The document holds what the audit needs, and replays to the same walk."""
    walk = answered(two_suspects(), "yes", "yes")
    plain = json.loads(json.dumps(record.document(walk)))
    assert audit_walk(document(walk.model), plain) == ()
    assert job.replay(walk.outset, record.reopen(plain, "walk").events, plan) == walk


def test_an_outcome_the_test_does_not_have_is_refused_the_second_time_too() -> None:
    with pytest.raises(TroubleError, match="WK124"):
        job.take(answered(two_suspects(), "yes"), Answered("look", "perhaps"))


def test_a_test_read_once_says_what_its_row_says() -> None:
    """The law for several readings is Bayes' rule for one."""
    model = two_suspects()
    seen = Joint(witness(model)).reread({}, "look", [Take("", (("yes", 1.0),))])
    assert seen.weights == pytest.approx([0.95, 0.05])
    assert seen.misread(0) == pytest.approx([0.0, 1.0])


@pytest.mark.parametrize(
    ("volts", "before", "rig"),
    [(0.4, "clip", "probe"), (None, "clip", "clip"), (None, "", "probe"), (0.4, "", "probe")],
)
def test_hands_stop_before_the_rig_where_a_store_is_out_of_reach(
    volts: float | None, before: str, rig: str
) -> None:
    """The rig worn until then stays; where none is named, the bench's own."""
    store = Store("C1", 325.0, "across C1", 10.0, ())
    bench = State(frozenset(), "dead", "probe")
    setting = job.Setting(bench, (), 1.0, (store,), "look", rig_before=before)
    assert setting.arrival({"C1": volts}).rig == rig


# ---- answers written down beforehand ----


def read(model: Model, **takes: tuple[str, ...]) -> dict[str, tuple[prepared.Answer, ...]]:
    """Written answers, read."""
    return prepared.read_takes(model, takes, "answers")


def test_one_written_answer_is_not_asked_for_twice() -> None:
    """The verdict says then which test to do once more."""
    model = two_suspects()
    walk = prepared.work_on(job.begin(Outset(model), plan), read(model, look=("yes",)))
    assert [step.kind for step in walk.steps] == ["test"]
    assert (again := conclude(walk).again) is not None
    assert again.test == "look"


def test_a_written_answer_that_is_none_is_told_and_one_that_says_so_is_left_out() -> None:
    """Every line of a form wants something: what can't be done is no mistake."""
    model = two_suspects()
    with pytest.raises(TroubleError, match="perhaps"):
        read(model, look=("perhaps",))
    assert read(model, look=("can't do that",), weigh=("heavy",)).keys() == {"weigh"}
    look, weigh = model.tests
    dash = replace(look, outcomes=tuple(replace(o, id="-") if o.id == "no" else o
                                        for o in look.outcomes), misread={})  # fmt: skip
    assert read(replace(model, tests=(dash, weigh)), look=("-",))["look"][0].outcome == "-"


def test_written_readings_are_taken_in_their_order() -> None:
    model = two_suspects()
    takes = read(model, look=("yes", "no"), weigh=("heavy",))
    walk = prepared.work_on(job.begin(Outset(model), plan), takes)
    assert [step.answer for step in walk.steps] == ["yes", "no", "heavy"]
    assert conclude(walk).remedy.id == "mend-right"


def test_readings_in_a_list_are_read_from_a_file(tmp_path: Path) -> None:
    file = tmp_path / "answers.yaml"
    file.write_text('a: [3.1 V, "4,4 V"]\nb: lit\n', encoding="utf-8")
    assert read_takes(file) == {"a": ("3.1 V", "4,4 V"), "b": ("lit",)}


@pytest.mark.parametrize("text", ["a: []", "a: [[1]]", "a: [lit, {b: c}]", 'a: ["", lit]'])
def test_a_list_that_is_none_of_readings_is_told(tmp_path: Path, text: str) -> None:
    file = tmp_path / "answers.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(TroubleError, match="KB111"):
        read_takes(file)


def test_where_one_answer_is_wanted_a_list_is_told(tmp_path: Path) -> None:
    file = tmp_path / "answers.yaml"
    file.write_text("a: [3.1 V, 4.4 V]\n", encoding="utf-8")
    with pytest.raises(TroubleError, match=r"answers\.yaml:1"):
        read_answers(file)


# ---- a repair that did not help ----


def charged(model: Model) -> Model:
    """The model with a store of charge whose terminals lie open."""
    return replace(model, stores=(Store("C1", 325.0, "across C1", 10.0, ()),))


def unhelped(model: Model) -> Walk:
    """Looked once, which can't be done again; then the repair of that verdict did not help."""
    walk = job.take(answered(model, "yes"), CannotDo("look"))
    return job.take(walk, Unmended("mend-left"))


def test_a_repair_that_did_not_help_turns_the_walk_to_the_other_fault() -> None:
    """0.95 x 0.03 to 0.05; the repair's own minutes count."""
    walk = unhelped(two_suspects(5.0))
    assert walk.belief["left"] == pytest.approx(0.0285 / 0.0785)
    assert conclude(walk).remedy.id == "mend-right"
    assert walk.minutes == pytest.approx(1.0 + 5.0)


def test_after_a_repair_that_did_not_help_each_store_is_measured() -> None:
    """The proof may have charged it, however cold the bench was before."""
    walk = unhelped(charged(two_suspects(5.0)))
    assert [store.part for store in conclude(walk).make_safe] == ["C1"]


def test_the_audit_sees_a_store_that_is_not_measured_after_a_repair() -> None:
    walk = unhelped(charged(two_suspects(5.0)))
    plain = json.loads(json.dumps(record.document(walk)))
    assert audit_walk(document(walk.model), plain) == ()
    plain["verdict"]["make_safe"] = []
    assert {breach.code for breach in audit_walk(document(walk.model), plain)} == {"AU305"}


def test_the_audit_sees_a_repair_that_speaks_against_what_it_does_not_cure() -> None:
    walk = unhelped(two_suspects(5.0))
    plain = json.loads(json.dumps(record.document(walk)))
    plain["steps"][-1]["factors"]["right"] = 0.5
    assert "AU406" in {breach.code for breach in audit_walk(document(walk.model), plain)}


def test_a_bench_is_unplugged_after_a_repair() -> None:
    """Whatever it stood on at the verdict, or was powered by since."""
    model = two_suspects(5.0)
    model = replace(
        model, tests=tuple(replace(t, supply="limited", hands_on=False) for t in model.tests)
    )
    walk = job.begin(Outset(model), plan)
    step = pending(walk)
    assert isinstance(step, job.Setting)
    walk = job.take(job.take(walk, step.event), Answered("look", "yes"))
    walk = job.take(job.take(walk, CannotDo("look")), Unmended("mend-left"))
    assert [step.kind for step in walk.steps] == ["setup", "test", "cannot", "repair"]
    assert walk.unsettled
    assert audit_walk(document(model), json.loads(json.dumps(record.document(walk)))) == ()


def test_a_walk_beyond_a_repair_is_saved_and_goes_on() -> None:
    walk = unhelped(two_suspects(5.0))
    saved = record.reopen(json.loads(json.dumps(record.document(walk))), "walk")
    assert job.replay(walk.outset, saved.events, plan) == walk


def test_a_remedy_that_is_none_is_refused() -> None:
    with pytest.raises(TroubleError, match="WK127"):
        job.take(answered(two_suspects(5.0), "yes"), Unmended("pray"))


def test_a_file_says_which_remedy_did_not_help() -> None:
    model = two_suspects(5.0)
    lines = {"look": ("yes",), "mend-left": ("did not help",)}
    unmended = prepared.unhelpful(model, lines)
    assert unmended == {"mend-left"}
    walk = prepared.work_on(job.begin(Outset(model), plan), read(model, look=("yes",)), unmended)
    assert conclude(walk).remedy.id == "mend-right"


def test_what_was_known_beforehand_counts_as_a_reading() -> None:
    """0.05 stays 0.05 whether measured or told."""
    walk = job.take(job.begin(Outset(two_suspects()), plan), Known("look", "yes"))
    assert pending(walk) == Question("look")
