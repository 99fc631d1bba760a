"""Do an owner's own words bring up the complaint that they mean?

`python -m tests.bench.owners_words FILE` measures it on texts of real intake desks.
"""

from __future__ import annotations

import itertools
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.intake import speech
from engine.intake.suggestion import Listener, Settings, listener
from kb.language import loader
from kb.language.ownerswords import Saying, ours
from kb.trouble import TroubleError


def first(text: str) -> str:
    """The complaint that comes first; empty where none does."""
    heard = listener().hear(text)
    return heard[0].complaint if heard else ""


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("doesn't turn on", "never-lights"),
        ("doesnt turn on", "never-lights"),
        ("won't switch off", "stays-on"),
        ("won’t switch off!", "stays-on"),
        ("stays on all day", "stays-on"),
        ("flashes", "slow-flash"),
        ("it is flashing", "slow-flash"),
        ("wont trun on", "never-lights"),
        ("it dosnt swich on", "never-lights"),
        ("the lihgt flikers", "flicker"),
        ("LAMP IS TOTALY DEAD", "never-lights"),
        ("no longer comes on when it gets dark", "never-on-in-dark"),
        ("goes out after ten minutes, works again when cold", "quits-when-warm"),
        ("it went out with a loud bang", "died-with-flash"),
        ("half the LEDs are dark", "some-dark"),
        ("trips the breaker when I plug it in", "trips-protection"),
        ("keeps blowing bulbs", "blows-bulbs"),
        ("it doesn't charge any more", "not-charging"),
        ("can't be dimmed", "will-not-dim"),
        ("there is no sound from it", "no-sound"),
        ("gives no output voltage", "no-output"),
        ("smells of burnt plastic", "burnt-smell"),
        ("a humming noise", "hum-buzz"),
        ("still glows a little when it is off", "glow-when-off"),
        ("turns itself on and off at dusk", "cycles"),
        ("not as bright as it was", "dim"),
        ("stripes when I film it", "shimmer"),
        ("the arm has snapped off", "broken-mechanical"),
    ],
)
def test_a_sentence_brings_up_its_complaint(text: str, complaint: str) -> None:
    """Mistyped, contracted, denied or shouted."""
    assert first(text) == complaint


@pytest.mark.parametrize(
    ("plain", "denied"),
    [("turns off", "does not turn off"), ("it lights", "it does not light"), ("dims", "won't dim")],
)
def test_a_denial_changes_what_is_meant(plain: str, denied: str) -> None:
    """To the contrary, however it is put."""
    assert first(plain) != first(denied)


@pytest.mark.parametrize("text", ["", "???", "my aunt bought it in March", "12345", "ok"])
def test_nothing_is_suggested_where_nothing_is_told(text: str) -> None:
    """Never forced."""
    assert listener().hear(text) == ()


@given(st.text(max_size=200))
def test_any_text_gets_three_suggestions_at_most(text: str) -> None:
    """Each with odds, in falling order, and with words that speak for it."""
    heard = listener().hear(text)
    assert len(heard) <= 3
    odds = [one.odds for one in heard]
    assert odds == sorted(odds, reverse=True)
    assert sum(odds) <= 1 + 1e-9
    assert all(one.because for one in heard)


def test_the_words_that_speak_for_it_are_the_owners_own() -> None:
    """As they were typed, mistakes included."""
    (best, *_) = listener().hear("The bulb FLIKERS badly")
    assert best.because[0] == "flikers"


@pytest.mark.parametrize("text", [
    "the flex was renewed and a new plug fitted", "wants a new switch",
    "rewired, tested and passed", "advised them to buy another transformer",
    "cleaned the contacts of the holder",
])  # fmt: skip
def test_a_text_that_tells_no_complaint_gets_none_pressed_on_it(text: str) -> None:
    """What was done or is wanted is none. Texts of our own, as people at intake desks write."""
    assert listener().hear(text) == ()


def test_a_cause_told_beside_it_hides_no_complaint() -> None:
    assert listener().hear("it flickers, perhaps the switch is faulty")[0].complaint == "flicker"


def test_only_complaints_that_are_asked_for_come_up() -> None:
    """Of a unit that has no others."""
    among = ("never-lights", "dim")
    assert {s.complaint for s in listener().hear("flickers and is dim", among)} == {"dim"}


def test_each_complaint_of_the_desk_has_sentences() -> None:
    """But the one that stands for several; those without a unit so far are named."""
    known = set(loader.read().complaints)
    told = {saying.complaint for saying in ours().complaints}
    assert known - told == {"bang-smell-trip-damage"}
    assert told - known == {"blows-bulbs", "not-charging", "will-not-dim", "no-sound", "no-output"}


def test_no_sentence_stands_under_two_complaints() -> None:
    """Word by word."""
    pairs = [(t, s.complaint) for s in ours().complaints for t in s.sentences]
    pairs += [(text, "") for text in ours().quiet.sentences]
    assert len({text for text, _ in pairs}) == len(pairs)


def test_a_sentence_that_is_added_moves_its_complaint_up() -> None:
    """Learning is counting: by hand, of two complaints with the same words but one."""
    dull = tuple(f"grey {letter}" for letter in string.ascii_lowercase[:5])
    before = (Saying(complaint="a", says="a", cases=1, sentences=(*dull, "zonk")),
              Saying(complaint="b", says="b", cases=1, sentences=dull))  # fmt: skip
    teach = Listener(before, settings=Settings(least=0, telling=-9))
    odds = {one.complaint: one.odds for one in teach.hear("zonk")}
    assert odds["a"] > 0.5 > odds["b"]
    assert sum(odds.values()) == pytest.approx(1)
    alike = {one.complaint: one.odds for one in teach.hear("grey")}
    assert alike["a"] < alike["b"]


WORDS = ("flicker", "bright", "socket", "holder")


@pytest.mark.parametrize("word", WORDS)
def test_each_single_slip_of_the_finger_is_one_letter_away(word: str) -> None:
    """Left out, doubled, wrong, or swapped with its neighbour."""
    for place in range(len(word)):
        slips = {
            word[:place] + word[place + 1 :], word[:place] + word[place] + word[place:],
            word[:place] + "q" + word[place + 1 :],
            word[:place] + word[place : place + 2][::-1] + word[place + 2 :],
        }  # fmt: skip
        assert {speech.distance(slip, word, 2) for slip in slips - {word}} == {1}


def test_the_distance_is_the_same_both_ways() -> None:
    """And nothing is near that is not."""
    for one, other in itertools.combinations((*WORDS, "flickers", "dark", "bark"), 2):
        assert speech.distance(one, other, 9) == speech.distance(other, one, 9)
        assert speech.distance(one, other, 1) <= 2


def test_a_file_of_another_shape_is_refused(tmp_path) -> None:  # type: ignore[no-untyped-def]
    """In words."""
    file = tmp_path / "words.json"
    file.write_text('{"format": "nextprobe-owners-words/1"}', encoding="utf-8")
    with pytest.raises(TroubleError, match="KB709"):
        ours(file)
