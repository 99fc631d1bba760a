"""Does a shop keep what it was told, on SQLite and on PostgreSQL alike?"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from engine.cases.records import Closing, ProofReading
from engine.cases.shop import Shop
from kb.trouble import TroubleError
from tests.cases.intakes import JPEG, PNG, VERDICT, answer, intake, standing

Bench = Callable[[str], Shop]


def codes(error: pytest.ExceptionInfo[TroubleError]) -> list[str]:
    """The codes of the troubles."""
    return [trouble.code for trouble in error.value.troubles]


def test_a_case_is_read_as_it_was_told(shop: Shop) -> None:
    """Every field of intake and walk."""
    number, version = shop.begin(intake())
    shop.keep(number, version, standing([answer("volts-A", "3 V")], VERDICT))
    case = shop.case(number)
    assert case.intake == intake()
    assert case.standing == standing([answer("volts-A", "3 V")], VERDICT)
    assert (case.state, case.opened_by, case.changed_by) == ("verdict", "Ann", "Ann")


def test_each_event_has_its_time_and_who_told_it(at_bench: Bench) -> None:
    """Two people, one after the other."""
    ann, bob = at_bench("Ann"), at_bench("Bob")
    number, version = ann.begin(intake())
    version = ann.keep(number, version, standing([answer("a")]))
    bob.keep(number, version, standing([answer("a"), answer("b")]))
    told = bob.case(number).happenings
    assert [(h.who, h.body["test"]) for h in told] == [("Ann", "a"), ("Bob", "b")]
    assert told[0].at < told[1].at
    assert told[0].at.endswith("Z")


def test_what_is_taken_back_stays_in_the_trail(shop: Shop) -> None:
    """Marked with when and by whom; what came after it is told anew."""
    number, version = shop.begin(intake())
    version = shop.keep(number, version, standing([answer("a"), answer("b"), answer("c")]))
    version = shop.keep(number, version, standing([answer("a"), answer("d")]))
    shop.keep(number, version, standing([answer("a"), answer("d"), answer("b")]))
    case = shop.case(number)
    assert [h.body["test"] for h in case.happenings] == ["a", "b", "c", "d", "b"]
    assert [h.withdrawn_by for h in case.happenings] == [None, "Ann", "Ann", None, None]
    assert [e["test"] for e in case.standing.events] == ["a", "d", "b"]


def test_after_the_clock_was_set_back_the_case_at_hand_is_the_last(shop: Shop) -> None:
    """Though another bears a later time; what is told then is kept in the order of telling."""
    early = replace(shop, now=lambda: "2001-01-01T00:00:00.000000Z")
    number, version = shop.begin(intake())
    version = shop.keep(number, version, standing([answer("a")]))
    other, _ = shop.begin(intake())
    early.keep(number, version, standing([answer("a"), answer("b")]))
    assert early.last() == number
    assert [row.number for row in early.rows()] == [number, other]
    assert [h.body["test"] for h in early.case(number).happenings] == ["a", "b"]


def test_an_unopened_unit_becomes_what_it_turned_out_to_be(shop: Shop) -> None:
    """The case goes on under its topology, and nobody at an older version may say so."""
    number, version = shop.begin(intake(topology="unknown-lamp"))
    shop.turn_out(number, version, "buck-lamp")
    assert shop.case(number).intake.topology == "buck-lamp"
    with pytest.raises(TroubleError) as late:
        shop.turn_out(number, version, "enabled-lamp")
    assert codes(late) == ["CS112"]


def test_two_programs_on_one_case_never_write_over_each_other(at_bench: Bench) -> None:
    """The later one is told who was there before, and nothing of theirs is written."""
    ann, bob = at_bench("Ann"), at_bench("Bob")
    number, version = ann.begin(intake())
    bob.keep(number, version, standing([answer("b")]))
    with pytest.raises(TroubleError) as refused:
        ann.keep(number, version, standing([answer("a")]))
    assert codes(refused) == ["CS112"]
    assert "by Bob" in str(refused.value)
    assert [h.body["test"] for h in ann.case(number).happenings] == ["b"]


def test_of_many_that_answer_at_one_version_one_is_heard(at_bench: Bench) -> None:
    """Eight at once, twenty times."""
    shops = [at_bench(f"bench {n}") for n in range(8)]
    number, version = shops[0].begin(intake())

    refusals: list[str] = []

    def attempt(shop: Shop) -> bool:
        try:
            shop.keep(number, version, standing([answer(shop.who)]))
        except TroubleError as wrong:
            refusals.extend(trouble.code for trouble in wrong.troubles)
            return False
        return True

    with ThreadPoolExecutor(8) as crowd:
        for _ in range(20):
            assert sum(crowd.map(attempt, shops)) == 1
            version += 1
    assert shops[0].case(number).version == version
    assert refusals == ["CS112"] * 140


def test_benches_at_their_own_cases_do_not_hinder_each_other(at_bench: Bench) -> None:
    """Eight with a case each, thirty answers each at once: all are there."""
    shops = [at_bench(f"bench {n}") for n in range(8)]

    def job(shop: Shop) -> int:
        number, version = shop.begin(intake())
        events = []
        for step in range(30):
            events.append(answer(f"{shop.who} {step}"))
            version = shop.keep(number, version, standing(events))
        return number

    with ThreadPoolExecutor(8) as crowd:
        numbers = list(crowd.map(job, shops))
    assert len(set(numbers)) == 8
    for shop, number in zip(shops, numbers, strict=True):
        told = [h.body["test"] for h in shop.case(number).happenings]
        assert told == [f"{shop.who} {step}" for step in range(30)]


@pytest.mark.parametrize(
    ("words", "hit"),
    [
        (["porch"], True),
        (["PORCH", "won't"], True),
        (["buck-lamp"], True),
        (["8 w"], True),
        (["rust"], True),
        (["porch", "kitchen"], False),
        (["%"], False),
        (["_"], False),
    ],
)
def test_cases_are_found_by_any_words_of_theirs(shop: Shop, words: list[str], hit: bool) -> None:
    """Case aside, all of them; a joker of the database is a letter like others."""
    number, _ = shop.begin(intake())
    shop.note(number, "Rust at the cap")
    assert bool(shop.rows(words)) is hit


def test_the_last_changed_comes_first_and_is_the_one_to_resume(shop: Shop) -> None:
    """Unless it is closed."""
    first, version = shop.begin(intake())
    second, other = shop.begin(intake())
    shop.keep(first, version, standing())
    assert [row.number for row in shop.rows()] == [first, second]
    assert shop.last() == first
    shop.close(first, version + 1, Closing("scrapped"))
    assert shop.last() == second
    shop.close(second, other, Closing("scrapped"))
    assert shop.last() is None


def test_photographs_are_kept_byte_by_byte(shop: Shop) -> None:
    """In their order, each once, with the type that their bytes show."""
    number, _ = shop.begin(intake())
    for content in (JPEG, PNG, JPEG):
        shop.photograph(number, content, "the board")
    assert shop.contents(number) == (JPEG, PNG)
    assert [p.kind for p in shop.case(number).photographs] == ["image/jpeg", "image/png"]
    assert [p.size for p in shop.case(number).photographs] == [len(JPEG), len(PNG)]


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "CS114"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>", "CS114"),
        (b"GIF89a", "CS114"),
        (b"\xff\xd8\xff" + bytes(16 * 1024 * 1024), "CS115"),
    ],
    ids=["nothing", "svg", "gif", "big"],
)
def test_what_is_no_photograph_is_not_kept(shop: Shop, content: bytes, code: str) -> None:
    """Whatever it may be called."""
    number, _ = shop.begin(intake())
    with pytest.raises(TroubleError) as refused:
        shop.photograph(number, content)
    assert codes(refused) == [code]
    assert shop.contents(number) == ()


def test_a_case_keeps_so_many_photographs_and_no_more(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that is kept already is no further one."""
    monkeypatch.setattr("engine.cases.photographs.MOST", 2)
    number, _ = shop.begin(intake())
    for content in (JPEG, PNG, JPEG):
        shop.photograph(number, content)
    with pytest.raises(TroubleError) as refused:
        shop.photograph(number, JPEG + b"0")
    assert codes(refused) == ["CS117"]


def test_a_closed_case_says_what_it_was_and_takes_no_more_answers(shop: Shop) -> None:
    """Until it is opened again: then what was found counts no longer."""
    number, version = shop.begin(intake())
    proof = ProofReading("steady", "Closed up, an hour", "steady light", "steady", True)
    closing = Closing("mended", ("C1-open",), "new C1", (proof,), 12.5, "EUR")
    version = shop.close(number, version, closing)
    kept = shop.case(number).closing
    assert kept is not None
    assert (kept.faults, kept.done) == (("C1-open",), "new C1")
    assert (kept.cost, kept.currency) == (12.5, "EUR")
    assert [(p.proof, p.reading, p.passed, p.who) for p in kept.proofs] == [
        ("steady", "steady", True, "Ann")
    ]
    with pytest.raises(TroubleError) as refused:
        shop.keep(number, version, standing([answer("a")]))
    assert codes(refused) == ["CS113"]
    version = shop.reopen(number)
    assert shop.case(number).closing is None
    assert shop.rows()[0].faults == ()
    shop.keep(number, version, standing([answer("a")]))


def test_a_case_that_is_not_there_is_said_not_to_be(shop: Shop) -> None:
    """By each way in."""
    for job in (
        lambda: shop.case(7), lambda: shop.note(7, "x"), lambda: shop.label(7, {"a": "b"}),
        lambda: shop.photograph(7, JPEG), lambda: shop.keep(7, 1, standing()),
        lambda: shop.close(7, 1, Closing("mended")), lambda: shop.reopen(7),
    ):  # fmt: skip
        with pytest.raises(TroubleError) as refused:
            job()
        assert codes(refused) == ["CS111"]


def test_an_outcome_is_one_of_four(shop: Shop) -> None:
    """Another is refused in words, and the database would not take it either."""
    number, version = shop.begin(intake())
    with pytest.raises(TroubleError) as refused:
        shop.close(number, version, Closing("given away"))
    assert codes(refused) == ["CS116"]
