"""The entry check: what is asked before anything is opened or energised, and what follows from it.

Each answer of an entry question leads to go-on, cold-first, cold-only, scrap or refuse. The gravest
of them decides: a unit that must be refused is refused, however whole it looks otherwise.
Cold-first keeps the unit off the plain mains: it meets mains through the limiter only, after the
cold checks. Cold-only keeps it off anything energised above the touchable.

Some questions are conditional: due after some complaints or after some answers to other questions.
One that is due and has no answer keeps the unit cold until it has: silence after a trip is no pass.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.model.complaints import as_one, complaints_of
from engine.model.notes import EntryQuestion
from engine.model.records import Arrangement, Model, Remedy
from kb.trouble import Place, Trouble, TroubleError

GO_ON, COLD_FIRST, COLD_ONLY = "go-on", "cold-first", "cold-only"
SCRAP, REFUSE = "scrap", "refuse"
_NO_QUESTION = "none"
_GRAVITY = (GO_ON, COLD_FIRST, COLD_ONLY, SCRAP, REFUSE)


@dataclass(frozen=True, slots=True)
class Admission:
    """What the entry check decided, the question that decided it, all that was answered, and the
    questions that are due and were not."""

    decision: str
    answers: tuple[tuple[str, str], ...] = ()
    decided_by: EntryQuestion | None = None
    unanswered: tuple[EntryQuestion, ...] = ()

    @property
    def is_admitted(self) -> bool:
        """Whether diagnosis goes on at all."""
        return self.decision not in (SCRAP, REFUSE)


def admit(model: Model, answers: Mapping[str, str]) -> Admission:
    """Weigh the answers given so far; each counts, whether its question is due or not.

    Of the questions that are due and not answered, those put to every unit count as going on; a
    conditional one counts as cold-only (`without_answer`). Raises a `TroubleError` for a question
    or an answer the model does not have.
    """
    _check_known(model, answers)
    due = outstanding(model, answers)
    decision, decided_by = GO_ON, None
    for question in model.entry:
        if question.id in answers:
            follows = question.answers[answers[question.id]]
        elif question in due:
            follows = without_answer(question)
        else:
            continue
        if _GRAVITY.index(follows) > _GRAVITY.index(decision):
            decision, decided_by = follows, question
    return Admission(decision, tuple(answers.items()), decided_by, due)


def outstanding(model: Model, answers: Mapping[str, str]) -> tuple[EntryQuestion, ...]:
    """The questions that are due by the complaint and these answers, and not answered yet."""
    return tuple(
        question
        for question in model.entry
        if question.id not in answers and _due(question, model.complaint, answers)
    )


def _due(question: EntryQuestion, complaint: str | None, answers: Mapping[str, str]) -> bool:
    if not question.conditional or set(complaints_of(complaint)) & set(question.complaints):
        return True
    return any(answers.get(other) in triggers for other, triggers in question.after.items())


def without_answer(question: EntryQuestion) -> str:
    """What follows while a question that is due has no answer.

    Cold-only where something spoke for putting it and it can do more than go on: the most careful
    that still admits the unit, even where none of its answers leads there.
    """
    can_hold = any(follows != GO_ON for follows in question.answers.values())
    return COLD_ONLY if question.conditional and can_hold else GO_ON


def complaints_brought(model: Model, answers: Mapping[str, str]) -> tuple[str, ...]:
    """The complaints that entry answers are in themselves: damage, a bang, a smell, a trip."""
    pairs = ((question, answers.get(question.id, "")) for question in model.entry)
    return tuple(question.complains[said] for question, said in pairs if said in question.complains)


def complaint_now(model: Model, admission: Admission, general: str | None = None) -> str | None:
    """The model's complaint and those that the entry answers are, as one; None where they add none.

    All of them weigh: what happened (a bang, a fall) takes nothing back of how the unit was before,
    and a "no" takes back nothing that the owner told. Only the complaint `general`, which says that
    one of several things happened, gives way to the one that did.
    """
    joiners = complaints_brought(model, dict(admission.answers))
    own = complaints_of(model.complaint)
    if not admission.is_admitted or set(joiners) <= set(own):
        return None
    return as_one((*(one for one in own if one != general), *joiners))


def barred_supplies(model: Model, admission: Admission) -> frozenset[str]:
    """The supply arrangements that the admitted unit must never meet."""
    return frozenset(a.id for a in model.supply.arrangements if _bars(admission.decision, a))


def barred_tests(model: Model, admission: Admission) -> frozenset[str]:
    """The tests that need a barred supply arrangement, for withdrawal before planning."""
    supplies = barred_supplies(model, admission)
    return frozenset(test.id for test in model.tests if test.supply in supplies)


def cold_checks(model: Model, admission: Admission) -> frozenset[str]:
    """The tests to be done before a unit admitted cold-first is energised: instrument on the
    unplugged, unopened unit as it is. None for a unit admitted as usual."""
    if admission.decision != COLD_FIRST:
        return frozenset()
    start = model.start
    outer = {*start.opened, *(o.id for o in model.openings if not o.inside)}
    return frozenset(
        test.id
        for test in model.tests
        if test.hands_on
        and test.supply == model.dead_supply
        and set(test.opened) <= outer
        and test.rig == start.rig
    )


def _bars(decision: str, arrangement: Arrangement) -> bool:
    match decision:
        case "cold-first":
            return arrangement.energy == "mains" and arrangement.closed_only
        case "cold-only":
            return arrangement.energy in ("mains", "hvdc")
        case _:
            return False


def remedy_for(model: Model, admission: Admission) -> Remedy | None:
    """The model's own remedy of the deciding kind (scrap, refuse), if it has one."""
    for remedy in model.remedies:
        if remedy.kind == admission.decision:
            return remedy
    return None


def _check_known(model: Model, answers: Mapping[str, str]) -> None:
    questions = {question.id: question for question in model.entry}
    for name, answer in answers.items():
        if name not in questions:
            raise TroubleError(
                Trouble(
                    code="WK111",
                    place=Place(model.topology),
                    what=f'the entry check has no question "{name}"',
                    mend="Its questions are " + ", ".join(questions or [_NO_QUESTION]),
                )
            )
        if answer not in questions[name].answers:
            raise TroubleError(
                Trouble(
                    code="WK112",
                    place=Place(model.topology),
                    what=f'"{answer}" is no answer to the entry question "{name}"',
                    mend="Answer one of " + ", ".join(questions[name].answers),
                )
            )
