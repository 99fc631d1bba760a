"""Where a unit's rules and its circuit don't agree, and where derived readings are out of date.

Codes: CI402 and CI403 from `engine.circuit`; KB817 rules and circuit disagree.
"""

from __future__ import annotations

from collections.abc import Iterator

from engine.circuit import accord, campaign, dictionary
from engine.deduce.deduction import Reasoner
from engine.studies.review.scope import Scope
from engine.studies.review.trying import Unit
from kb.trouble import Trouble, TroubleError

_TOLD = 4
"""How many rules a remark lists; for reading alone."""


def agreement(scope: Scope, unit: Unit) -> Iterator[Trouble]:
    """Old or missing readings, and cells in which nothing argues for the difference."""
    if not scope.has("topologies", unit.topology):
        return
    try:
        late = campaign.stale(unit.model)
        readings = dictionary.read(unit.topology, unit.model.mains)
    except TroubleError as error:
        yield from error.troubles
        return
    if late is not None:
        yield late
    if readings is None:
        return
    for one in accord.compare(unit.model, readings).open:
        yield Trouble(
            "KB817", scope.knowledge.place("topologies", unit.topology),
            f"At {unit.mains} rules and circuit of {unit.topology} disagree: "
            f"{accord.sentence(one)}",
            "Mend the rule or the circuit, or say in the circuit's file why it can't speak for "
            "the cell",
            why=f"{accord.simulation_words(unit.model, readings, one.test, one.fault)}. "
            f"By the rules: {_reasons(scope, unit, one.test, one.fault)}",
            grave=False,
        )  # fmt: skip


def _reasons(scope: Scope, unit: Unit, test: str, fault: str) -> str:
    """The rules behind a cell, the last of the chain first, each once."""
    reasoner = Reasoner(scope.knowledge)
    outcome, claim = reasoner.explain(unit.deduction, test, fault)
    if claim is None:
        return "no rule claims anything else than for a sound unit"
    rules = dict.fromkeys(
        f"{cause.rule} ({scope.knowledge.rules[cause.rule].says.rstrip('.')})"
        for _, _, cause in outcome.findings.chain(claim)
        if cause is not None
    )
    return "; ".join(list(rules)[:_TOLD])
