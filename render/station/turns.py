"""What a form does to a case: fields in, an event taken and kept, or sentences on what is amiss.

The guard of energised steps stands here, for no page can be trusted to ask: a set-up that energises
counts only with each line of its list ticked, one that hands follow only with the volts of each
store below its limit. The way round either is to say that it can't be done.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from engine.cases.records import Closing, ProofReading
from engine.cases.shop import Shop
from engine.cases.sitting import Sitting
from engine.model.records import Arrangement, Proof, Store, Test
from engine.readings.bands import Answer
from engine.walk import job
from engine.walk.ending import conclude
from engine.walk.entry import admit
from engine.walk.events import Answered, CannotDo, Known, Lacking, Traced, Unmended
from engine.walk.job import Halt, Question, Setting
from engine.walk.state import Walk
from render.cli import casework
from render.cli.casework import MENDED
from render.station.seats import Archive, Check, Place, Seat
from render.terminal import docket, lacks, makesafe, replies
from render.terminal.replies import Told, Unclear
from render.terminal.session import measured_here
from render.wording.fixedwords import COUNTS_AS_CHARGED, STILL_CHARGED

MOST_WORDS = 2000
"""Letters of a note, or of what was done."""


class AmissError(Exception):
    """A form that was filled in amiss: sentences by field, to be shown beside it."""

    def __init__(self, **sentences: str) -> None:
        self.sentences = sentences
        super().__init__("; ".join(sentences.values()))


class StaleError(Exception):
    """A form of a step that is no longer the one that is due: nothing of it was taken."""


@dataclass(frozen=True, slots=True)
class Form:
    """The fields of a form, each with all of its values, and what its files hold."""

    fields: Mapping[str, Sequence[str]]
    files: Sequence[bytes] = ()

    def one(self, name: str) -> str:
        """A field's first value, empty where it is not there."""
        return (self.fields.get(name) or ("",))[0]

    def all(self, name: str) -> tuple[str, ...]:
        """All of its values."""
        return tuple(self.fields.get(name, ()))

    def number(self, name: str, count: int) -> int:
        """A choice by its number, from 0 to below `count`. AmissError for any other."""
        text = self.one(name)
        if text.isascii() and text.isdigit() and len(text) < 6 and int(text) < count:
            return int(text)
        raise AmissError(**{name: "Choose one of these."})


def check_fresh(place: Place, form: Form) -> None:
    """StaleError for a form of another version or step than the case is at."""
    if form.one("at") != version_of(place) or form.one("step") != place.step:
        raise StaleError


def version_of(place: Place) -> str:
    """The version of a case that forms name."""
    return str(place.sitting.version if isinstance(place, Seat) else place.case.version)


# ---- entry check ----


def check_in(shop: Shop, check: Check, form: Form) -> None:
    """An answer of the entry check, or the last one taken back."""
    question, answers = check.question, dict(check.case.standing.entry)
    sitting, options = Sitting.go_on(shop, check.case), check.case.standing.options
    if form.one("do") == "undo":
        if answers:
            answers.popitem()
        sitting.keep_entry(check.model, answers, options)
        return
    if question is None:
        raise StaleError
    choices = list(question.answers)
    answers[question.id] = choices[form.number("answer", len(choices))]
    admission = admit(check.model, answers)
    if admission.is_admitted:
        sitting.keep_entry(check.model, answers, options)
    else:
        sitting.turn_away(check.model, admission, options)


# ---- steps ----


def is_guarded(walk: Walk, setting: Setting) -> bool:
    """Whether each line of a set-up is to be ticked: it leaves something energised."""
    return setting.bench.supply != walk.model.dead_supply


def set_up(seat: Seat, form: Form) -> None:
    """A set-up step that was carried out."""
    setting = job.pending(seat.walk)
    if not isinstance(setting, Setting):
        raise StaleError
    amiss: dict[str, str] = {}
    if is_guarded(seat.walk, setting):
        count = len(list(docket.setting_lines(seat.walk, setting)))
        if set(form.all("did")) != {str(number) for number in range(count)}:
            amiss["did"] = "Tick each line once your hands have done it; if one can't be, say so."
    volts = _volts(setting.make_safe, form, amiss)
    if amiss:
        raise AmissError(**amiss)
    seat.take(setting.arrival(volts))


def measure(seat: Seat, form: Form) -> None:
    """Stores of a walk that had halted, measured after all."""
    halt = job.pending(seat.walk)
    if not isinstance(halt, Halt):
        raise StaleError
    amiss: dict[str, str] = {}
    volts = _volts(halt.stores, form, amiss)
    if amiss:
        raise AmissError(**amiss)
    seat.take(measured_here(seat.walk, volts))


def _volts(stores: Sequence[Store], form: Form, amiss: dict[str, str]) -> makesafe.Volts:
    volts: makesafe.Volts = {}
    for number, store in enumerate(stores):
        name = f"volts-{number}"
        if form.one(f"out-{number}"):
            volts[store.part] = None
            continue
        read = makesafe.volts_of(form.one(name))
        if read is None:
            amiss[name] = makesafe.NO_VOLTS
        elif abs(read) >= store.below:
            amiss[name] = STILL_CHARGED
        else:
            volts[store.part] = read
    return volts


def answer(seat: Seat, form: Form) -> None:
    """What the test that is due showed."""
    question = job.pending(seat.walk)
    if not isinstance(question, Question):
        raise StaleError
    test = seat.walk.model.test(question.test)
    supply = seat.walk.model.arrangement(seat.walk.bench.supply)
    _take(seat, Answered, _showing(test, form, supply))


def know(seat: Seat, form: Form) -> None:
    """What a test of the person's choice would show, known already."""
    tests = {test.id: test for test in open_tests(seat.walk)}
    if form.one("test") not in tests:
        raise AmissError(test="That check is answered already, or is none of this unit.")
    _take(seat, Known, _showing(tests[form.one("test")], form, None))


def open_tests(walk: Walk) -> tuple[Test, ...]:
    """The tests that are not answered yet."""
    return tuple(test for test in walk.model.tests if test.id not in walk.done)


def reading(test: Test, text: str, supply: Arrangement | None) -> Told | Unclear:
    """A typed reading, by the grammar of the terminal; its commands are no readings here."""
    reply = replies.to_test(text, test, supply)
    if isinstance(reply, Told | Unclear):
        return reply
    return Unclear("That is no reading. Type what the meter shows, or take an answer below.")


def _showing(test: Test, form: Form, supply: Arrangement | None) -> Answer:
    """The answer that was tapped, or else typed."""
    if form.one("outcome"):
        outcome = test.outcomes[form.number("outcome", len(test.outcomes))]
        return Answer(test.id, ((outcome.id, 1.0),))
    if not form.one("reading"):
        raise AmissError(reading="Type what the meter shows, or take an answer below.")
    reply = reading(test, form.one("reading"), supply)
    if isinstance(reply, Unclear):
        raise AmissError(reading=reply.says)
    return reply.answer


def _take(seat: Seat, kind: type[Answered] | type[Known], reply: Answer) -> None:
    shares = reply.shares if reply.straddles else ()
    seat.take(kind(reply.test, reply.outcome, reply.reading or None, shares))


def choices_of_cannot(walk: Walk) -> list[tuple[str, lacks.Lack]]:
    """What may be said not to be possible at the step that is due, in words with its event."""
    ahead = job.pending(walk)
    if isinstance(ahead, Setting) and (ahead.returns or not ahead.test):
        # No way round what makes the bench safe, but that an opening can't be made.
        names = () if ahead.returns else ahead.opened[:1]
        return [
            (f"open: {walk.model.opening(name).says or name}", Lacking("opening", name))
            for name in names
        ]
    node = job.due(walk)
    return [] if node is None else list(lacks.of(walk, node))


def cannot(seat: Seat, form: Form) -> None:
    """Something that can't be done or had: the rest is planned anew without it."""
    choices = choices_of_cannot(seat.walk)
    seat.do_without(choices[form.number("lack", len(choices))][1])


def mark(seat: Seat, form: Form) -> None:
    """What is told of the unit itself: a value, how it is built, what a good one reads."""
    text = " ".join(form.one("mark").split())
    if "=" not in text:
        raise AmissError(mark="Write a part and what it is, such as R2=330k or L1=none.")
    seat.mark(text)


def trace(seat: Seat, form: Form) -> None:
    """There is a drawing of a stage."""
    seat.take(Traced(form.one("stage")))


def stores_of_repair(seat: Seat) -> tuple[Store, ...]:
    """The stores to be measured before a hand goes in for the repair, and not measured yet.

    That is no event of the walk: after a restart it is asked for again."""
    if not seat.walk.is_ended or seat.cleared is seat.walk:
        return ()
    return conclude(seat.walk).make_safe


def pass_over(seat: Seat, form: Form) -> None:
    """Nobody can say what the test that is due shows."""
    question = job.pending(seat.walk)
    if not isinstance(question, Question):
        raise StaleError
    seat.take(CannotDo(question.test))


def make_safe(shop: Shop, seat: Seat, form: Form) -> None:
    """The volts before a repair; they are left with the case as a note."""
    stores = stores_of_repair(seat)
    amiss: dict[str, str] = {}
    volts = _volts(stores, form, amiss)
    for number, store in enumerate(stores):
        if volts.get(store.part, 0.0) is None:
            amiss[f"volts-{number}"] = COUNTS_AS_CHARGED
    if amiss:
        raise AmissError(**amiss)
    texts = [f"{store.point} ({store.part}) {volts[store.part]:g} V" for store in stores]
    if texts:
        shop.note(seat.case.number, f"Before the repair: {', '.join(texts)}.")
    seat.cleared = seat.walk


def no_help(seat: Seat, form: Form) -> None:
    """The remedy was carried out and the unit is as it was."""
    if job.pending(seat.walk) is not None:
        raise StaleError
    seat.take(Unmended(conclude(seat.walk).remedy.id))


# ---- closing ----


def close(shop: Shop, place: Place, form: Form, proofs: Sequence[Proof]) -> None:
    """The end of a case: what it really was, what was done, proofs with pass or fail."""
    if isinstance(place, Archive):
        raise StaleError
    amiss: dict[str, str] = {}
    if not form.one("outcome"):
        amiss["outcome"] = "Say what became of the unit."
    readings = []
    for number, proof in enumerate(proofs):
        read, verdict = form.one(f"read-{number}"), form.one(f"pass-{number}")
        if verdict and not read:
            amiss[f"read-{number}"] = "Write what it read or showed, beside whether it passed."
        elif read and verdict not in ("yes", "no"):
            amiss[f"read-{number}"] = "Say whether it passed."
        elif read:
            is_pass = verdict == "yes"
            readings.append(ProofReading(proof.id, proof.says, proof.limit, read, is_pass))
        elif form.one("outcome") == MENDED:
            amiss[f"read-{number}"] = "A mended unit has passed this proof: write what it read."
    cost = _cost(form, amiss)
    if amiss:
        raise AmissError(**amiss)
    model = place.walk.model if isinstance(place, Seat) else place.model
    faults = () if form.one("unclear") else form.all("fault")
    closing = casework.closing_of(
        place.case, model,
        Closing(
            form.one("outcome"), faults, form.one("done")[:MOST_WORDS], tuple(readings), cost,
            form.one("currency")[:12],
        ),
    )  # fmt: skip
    shop.close(place.case.number, place.case.version, closing)


def _cost(form: Form, amiss: dict[str, str]) -> float | None:
    text = form.one("cost").replace(",", ".")
    if not text:
        return None
    plain = text.replace(".", "", 1)
    if plain.isascii() and plain.isdigit() and len(plain) < 9:
        return float(text)
    amiss["cost"] = "Write a plain number, such as 12.50."
    return None
