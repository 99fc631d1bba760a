"""Tells the chain of rules and facts behind one cell of the model."""

from __future__ import annotations

from collections.abc import Iterator

from engine.deduce.deduction import Deduction, Reasoner
from engine.deduce.facts import Cause, Fact, Findings
from kb.language.knowledge import Knowledge
from kb.trouble import Place, Trouble, TroubleError


def tell(reasoner: Reasoner, deduction: Deduction, test: str, fault: str) -> Iterator[str]:
    """Lines: why the test is offered, what the fault shows there, rule by rule with sources.

    TroubleError for an unknown test or fault.
    """
    knowledge = reasoner.knowledge
    test_fact = _find(deduction, "test", test)
    hypothesis = next((h for h in deduction.hypotheses if h.id == fault), None)
    if hypothesis is None:
        raise _unknown("fault", fault, [h.id for h in deduction.hypotheses])
    yield f"{test_fact.text('says')}"
    yield ""
    yield "Why this test is offered"
    yield from _chain(knowledge, deduction.once, test_fact)
    yield from _requirements(deduction, test)
    settlement, claim = reasoner.explain(deduction, test, fault)
    value = deduction.values[test, fault]
    quantity = knowledge.quantities[test_fact.text("looks_at")]
    yield ""
    yield f"Supposed: {hypothesis.says}"
    yield f"Then {quantity.says}: {quantity.values[value]} ({value})"
    if claim is None:
        yield f"  no rule claims anything else, so it is as when sound: {quantity.otherwise}"
    else:
        yield from _chain(knowledge, settlement.findings, claim)
    for answer in _answers(test_fact):
        if value in answer["for"]:
            yield f"That shows as the answer '{answer['outcome']}': {answer['says']}"
    for blur in deduction.of("blurs"):
        at = (blur.text("of"), blur.text("at"), blur.text("is"))
        if at == (test_fact.text("looks_at"), test_fact.text("at"), value):
            yield f"With odds {blur.number('odds'):g} it shows as '{blur.text('shows')}' instead"
            yield from _chain(knowledge, deduction.once, blur)


def _requirements(deduction: Deduction, test: str) -> Iterator[str]:
    """What must have been shown before the test is done, and the remedies that ask for it."""
    for asks in deduction.of("asks-for"):
        if asks.text("of") == test:
            yield f"Before it: {asks.text('part')} measured"
    for first in deduction.of("shorts-first"):
        if first.text("of") == test:
            yield f"Before it: {first.text('part')} read free of a short"
    parts = {s.text("part") for s in deduction.of("speaks-for") if s.text("test") == test}
    waiting = [a.text("of") for a in deduction.of("asks-for") if a.text("part") in parts]
    if waiting:
        yield f"It is what these ask for: {', '.join(dict.fromkeys(waiting))}"


def _answers(test_fact: Fact) -> list[dict[str, str]]:
    answers = test_fact.detail["answers"]
    assert isinstance(answers, list)
    return answers


def _find(deduction: Deduction, kind: str, name: str) -> Fact:
    for fact in deduction.of(kind):
        if fact.text("name") == name:
            return fact
    raise _unknown(kind, name, [fact.text("name") for fact in deduction.of(kind)])


def _unknown(kind: str, name: str, names: list[str]) -> TroubleError:
    return TroubleError(
        Trouble(
            "KB703", Place("command line"), f"There is no {kind} '{name}' in this model",
            f"Write one of: {', '.join(sorted(names))}",
        )
    )


def _chain(knowledge: Knowledge, findings: Findings, conclusion: Fact) -> Iterator[str]:
    for depth, fact, cause in findings.chain(conclusion):
        yield "  " * (depth + 1) + _line(knowledge, fact, cause)


def _line(knowledge: Knowledge, fact: Fact, cause: Cause | None) -> str:
    if cause is None:
        return f"{fact}"
    rule = knowledge.rules[cause.rule]
    return f"{fact}  <- {rule.id}: {rule.says} [{rule.source}]"
