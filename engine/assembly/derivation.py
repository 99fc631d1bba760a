"""Tells the chain of rules and facts behind one cell of the model."""

from __future__ import annotations

from collections.abc import Iterator

from engine.deduce import offers
from engine.deduce.deduction import Deduction, Reasoner
from engine.deduce.facts import Cause, Fact, Findings
from kb.language.knowledge import Knowledge
from kb.trouble import Place, Trouble, TroubleError


def tell(reasoner: Reasoner, deduction: Deduction, test: str, fault: str) -> Iterator[str]:
    """Lines: why the test is offered, what the fault shows there, rule by rule with sources.

    TroubleError for an unknown test or fault.
    """
    knowledge = reasoner.knowledge
    offer = _find(deduction, test)
    hypothesis = next((h for h in deduction.hypotheses if h.id == fault), None)
    if hypothesis is None:
        raise _unknown("fault", fault, [h.id for h in deduction.hypotheses])
    yield offer.says
    yield ""
    yield "Why this test is offered"
    yield from _chain(knowledge, deduction.once, offer.fact)
    yield from _requirements(deduction, test)
    settlement, claim = reasoner.explain(deduction, test, fault)
    value = deduction.values[test, fault]
    quantity = knowledge.quantities[offer.looks_at]
    yield ""
    yield f"Supposed: {hypothesis.says}"
    yield f"Then {quantity.says}: {quantity.values[value]} ({value})"
    if claim is None:
        yield f"  no rule claims anything else, so it is as when sound: {quantity.otherwise}"
    else:
        yield from _chain(knowledge, settlement.findings, claim)
    for answer in offer.answers:
        if value in answer.values:
            yield f"That shows as the answer '{answer.outcome}': {answer.says}"
    for blur in deduction.all(offers.Blur):
        if (blur.quantity, blur.at, blur.value) == (offer.looks_at, offer.at, value):
            yield f"With odds {blur.odds:g} it shows as '{blur.shows}' instead"
            yield from _chain(knowledge, deduction.once, blur.fact)


def _requirements(deduction: Deduction, test: str) -> Iterator[str]:
    """What must have been shown before the test is done, and the remedies that ask for it."""
    measured_first = deduction.all(offers.MeasureFirst)
    for asks in measured_first:
        if asks.of_what == test:
            yield f"Before it: {asks.part} measured"
    for first in deduction.all(offers.ShortsFirst):
        if first.of_what == test:
            yield f"Before it: {first.part} read free of a short"
    parts = {check.part for check in deduction.all(offers.OwnCheck) if check.test == test}
    waiting = [asks.of_what for asks in measured_first if asks.part in parts]
    if waiting:
        yield f"It is what these ask for: {', '.join(dict.fromkeys(waiting))}"


def _find(deduction: Deduction, name: str) -> offers.Test:
    tests = {test.name: test for test in reversed(deduction.all(offers.Test))}
    if name not in tests:
        raise _unknown("test", name, list(tests))
    return tests[name]


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
