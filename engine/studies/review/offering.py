"""Tests as the rules offer them: can they be reached, do they tell anything, are they all there?

Codes: KB804 nobody can reach it; KB805 tells nothing; KB808 lacks what the person needs; KB809 a
number without its unit; KB810 bands overlap; KB811 a band is missing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any

from engine.deduce.facts import Fact
from engine.model import setup
from engine.model.records import Model, Test
from engine.studies.review.scope import Scope
from engine.studies.review.trying import Unit
from kb.trouble import Trouble

_WANTED = {"how": "how it is done", "instrument": "with what", "good": "what a good unit shows"}


def offer_troubles(scope: Scope, unit: Unit) -> Iterator[Trouble]:
    """Troubles of the tests, rigs and remedies that rules under review offer for a unit."""
    for fact in unit.deduction.of("test"):
        if _in_review(scope, unit, fact):
            yield from _band_troubles(scope, unit, fact)
            fields = ("how", "instrument", "good") if _cuts(fact) else ("how", "good")
            yield from _field_troubles(scope, unit, fact, fields)
    for kind in ("rig", "remedy", "proof"):
        for fact in unit.deduction.of(kind):
            if _in_review(scope, unit, fact):
                yield from _field_troubles(scope, unit, fact, ("how",))


def reachable(scope: Scope, unit: Unit) -> Iterator[Trouble]:
    """Tests that can't be done from the start, and those that show the same under every fault."""
    for test in unit.model.tests:
        if not _own(scope, unit, test):
            continue
        rule = test.because[0].rule if test.because else ""
        place = scope.knowledge.place("rules", rule)
        if not scope.has("rules", rule):
            place = scope.knowledge.place("topologies", unit.topology)
        if why := _bar(unit.model, test):
            yield Trouble(
                "KB804", place, f"Nobody can reach the test '{test.id}' of {unit.topology}: {why}",
                "Offer it at a supply that an opened unit may meet, or without the opening",
                grave=False,
            )  # fmt: skip
        elif _silent(unit.model, test):
            yield Trouble(
                "KB805", place,
                f"The test '{test.id}' of {unit.topology} shows the same under every fault",
                "Let a rule of step suppose move what it looks at, or exclude it with `unless`",
                grave=False,
            )  # fmt: skip


def _bar(model: Model, test: Test) -> str:
    """Why a test can't be done from the model's start; empty if it can."""
    start = setup.start(model)
    if not setup.allows(model, start, test):
        return f"it needs the unit opened and '{test.supply}', which is for closed units only"
    after = setup.reach(model, start, test)
    if after.opened and model.arrangement(after.supply).closed_only:
        return f"'{test.supply}' is for closed units only"
    return ""


def _silent(model: Model, test: Test) -> bool:
    rows = list(model.likelihood[test.id].values())
    return all(row == rows[0] for row in rows)


def _own(scope: Scope, unit: Unit, test: Test) -> bool:
    return scope.has("topologies", unit.topology) or scope.any_rule(
        [because.rule for because in test.because[:1]]
    )


def _in_review(scope: Scope, unit: Unit, fact: Fact) -> bool:
    cause = unit.deduction.once.causes.get(fact)
    return cause is not None and scope.has("rules", cause.rule)


def _band_troubles(scope: Scope, unit: Unit, fact: Fact) -> Iterator[Trouble]:
    """Bands that overlap or leave a gap, and cut points without a unit."""
    answers: Any = fact.detail.get("answers", ())
    cuts = _cuts(fact)
    if not cuts:
        return
    name = fact.text("name")
    fields = dict(fact.fields)
    if not (fields.get("unit") or fact.detail.get("unit")):
        yield _trouble(
            scope, unit, fact, "KB809", f"The test '{name}' has cut points, but no unit",
            "Add `unit: V`, A, ohm, F or H", grave=True,
        )  # fmt: skip
    for (lower, low), (upper, high) in pairwise(cuts):
        if f"{high:.3g}" == f"{low:.3g}" or high < low:
            yield _trouble(
                scope, unit, fact, "KB810",
                f"In the test '{name}' the answers '{lower['outcome']}' (below {low:.3g}) and "
                f"'{upper['outcome']}' (below {high:.3g}) overlap",
                "Let each `below` be more than the one before, for every value and mains",
                grave=True,
            )  # fmt: skip
    open_ended = [a["outcome"] for a in answers[:-1] if "below" not in a]
    if open_ended or "below" in answers[-1]:
        gap = f"'{open_ended[0]}' has no end" if open_ended else "nothing stands above the last one"
        yield _trouble(
            scope, unit, fact, "KB811", f"The bands of the test '{name}' leave a gap: {gap}",
            "Give each answer but the last its `below`", grave=True,
        )  # fmt: skip


def _cuts(fact: Fact) -> list[tuple[Mapping[str, Any], float]]:
    """The answers that end at a cut point, in order."""
    answers: Any = fact.detail.get("answers", ())
    return [(a, float(a["below"])) for a in answers if isinstance(a, Mapping) and "below" in a]


def _field_troubles(
    scope: Scope, unit: Unit, fact: Fact, fields_due: tuple[str, ...]
) -> Iterator[Trouble]:
    fields = dict(fact.fields)
    lacking = [name for name in fields_due if not str(fields.get(name, "")).strip()]
    if lacking:
        words = ", ".join(f"{_WANTED[name]} (`{name}`)" for name in lacking)
        yield _trouble(
            scope, unit, fact, "KB808",
            f"The {fact.kind} '{fact.text('name')}' does not tell {words}",
            "Add it to the rule: the person at the bench reads nothing else", grave=False,
        )  # fmt: skip


def _trouble(
    scope: Scope, unit: Unit, fact: Fact, code: str, what: str, mend: str, *, grave: bool
) -> Trouble:
    rule = unit.deduction.once.causes[fact].rule
    place = scope.knowledge.place("rules", rule)
    why = f"Seen in {unit.topology}, by rule '{rule}'"
    return Trouble(code, place, what, mend, why=why, grave=grave)
