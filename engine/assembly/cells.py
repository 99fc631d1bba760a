"""The cells of the model: what each test can answer, and with what odds under each fault.

A test looks at a quantity; the value that the rules settled for it under a fault shows as the
answer that lists this value. Blurs share a value's odds between answers; what something unlisted
shows is left open where a rule says so; errs and slips say how an answer is misread. Cut points of
measured answers are rounded to what a meter shows.
"""

from __future__ import annotations

import itertools
import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from engine.deduce import offers
from engine.deduce.deduction import Deduction
from engine.model.absence import NO_LIGHT
from engine.model.records import Cut, Manner, Outcome, Test
from engine.readings.bands import band_words
from kb.trouble import TroubleError

OTHERWISE = "otherwise"
"""The manner of units that are in none of those that rules name."""

_ROUNDING = 1e-9
"""Odds that are nothing but rounding; of the algorithm."""

_Complain = Callable[[str, str, str], TroubleError]


class Cells:
    """Outcomes, rows of odds and misreadings of one deduction's tests."""

    def __init__(self, deduction: Deduction, trouble: _Complain) -> None:
        self.deduction = deduction
        self.trouble = trouble
        self._errs: defaultdict[tuple[str, str], dict[str, float]] = defaultdict(dict)
        for err in deduction.all(offers.Misreading):
            self._errs[err.test, err.really][err.reported] = err.odds
        self._blurs: defaultdict[tuple[str, str, str], list[offers.Blur]] = defaultdict(list)
        for blur in deduction.all(offers.Blur):
            self._blurs[blur.quantity, blur.at, blur.value].append(blur)
        self._slips: defaultdict[str, float] = defaultdict(float)
        for slip in deduction.all(offers.Slip):  # a slip and a wrong part are two mishaps
            self._slips[slip.test] += slip.odds

    def misread(self, test: offers.Test) -> dict[str, dict[str, float]]:
        """What rules say of one answer, and a slip's odds shared evenly among all the others.

        A slip comes on top of what is misread for a reason: a probe may slip there, too.
        """
        slip = self._slips.get(test.name, 0.0)
        ids = [answer.outcome for answer in self.answers(test)]
        rows: dict[str, dict[str, float]] = {}
        for really in ids:
            own = self._errs.get((test.name, really), {})
            others = [other for other in ids if other != really]
            each = {other: own.get(other, 0.0) + slip / len(others) for other in others}
            if row := {other: odds for other, odds in {**own, **each}.items() if odds}:
                rows[really] = row
        return rows

    def outcomes(self, test: offers.Test) -> Iterable[Outcome]:
        """The answers of a test, with half-open bands in the test's unit where it is measured.

        Those that show a short in the power path say so.
        """
        low: float | None = None
        for answer in self.answers(test):
            high = None if answer.below is None else _shown_by_meter(answer.below)
            yield Outcome(
                answer.outcome, answer.says, low, high, test.unit or None, answer.short
            )
            low = high

    def cuts(self, test: offers.Test) -> Iterable[Cut]:
        """The cut points of a measured test, with the limits that the rule sets them."""
        answers = self.answers(test)
        for low, high in itertools.pairwise(answers):
            if low.below is not None:
                least, most = (
                    None if limit is None else _shown_by_meter(limit)
                    for limit in (low.at_least, low.at_most)
                )
                cut = _shown_by_meter(low.below)
                yield Cut(low.outcome, high.outcome, cut, least, most)

    def answers(self, test: offers.Test) -> tuple[offers.Answer, ...]:
        """The answers as the offering rule lists them; TroubleError if there are fewer than two."""
        if len(test.answers) < 2:
            raise self.trouble(
                "KB502", f"test '{test.name}' has fewer than two answers", "List `answers`"
            )
        return test.answers

    def likelihood(
        self, tests: Iterable[Test]
    ) -> dict[str, dict[str, dict[str, float]]]:
        """Odds of each outcome under each hypothesis: test -> hypothesis -> outcome -> odds."""
        listing = self._listing()
        left_open = {own.test: own.odds for own in self.deduction.all(offers.Uncertainty)}
        rows: dict[str, dict[str, dict[str, float]]] = {}
        for test in tests:
            offer = listing[test.id]
            quantity, at = offer.looks_at, offer.at
            outcome_of = self.outcome_of(offer, quantity)
            rows[test.id] = {}
            for hypothesis in self.deduction.hypotheses:
                value = self.deduction.values[test.id, hypothesis.id]
                row: defaultdict[str, float] = defaultdict(float)
                left = 1.0
                for blur in self._blurs[quantity, at, value]:
                    row[outcome_of[blur.shows]] += blur.odds
                    left -= blur.odds
                if hypothesis.unlisted == NO_LIGHT:
                    spread = left_open.get(test.id, 0.0) * left
                    left -= spread
                    for outcome in test.outcomes:
                        row[outcome.id] += spread / len(test.outcomes)
                row[outcome_of[value]] += left
                rows[test.id][hypothesis.id] = {
                    outcome.id: row.get(outcome.id, 0.0) for outcome in test.outcomes
                }
        return rows

    def manners(self, tests: Iterable[Test]) -> tuple[Manner, ...]:
        """The manners of each hypothesis that has some, and last how it is in none of them.

        A test is in `shows` where one of its blurs has a manner; there all manners together are its
        row. TroubleError where a manner is said to have other odds in another place.
        """
        listing, tests = self._listing(), tuple(tests)
        return tuple(
            manner
            for hypothesis in self.deduction.hypotheses
            for manner in self._manners(hypothesis.id, tests, listing)
        )

    def _manners(
        self, fault: str, tests: Iterable[Test], listing: Mapping[str, offers.Test]
    ) -> Iterable[Manner]:
        looks = {}
        for test in tests:
            offer, value = listing[test.id], self.deduction.values[test.id, fault]
            blurs = self._blurs[offer.looks_at, offer.at, value]
            if any(blur.manner and blur.odds > 0 for blur in blurs):
                looks[test.id] = (blurs, self.outcome_of(offer, offer.looks_at), value)
        odds: dict[str, float] = {}
        for blur in (blur for blurs, _, _ in looks.values() for blur in blurs if blur.manner):
            if blur.odds > 0 and odds.setdefault(blur.manner, blur.odds) != blur.odds:
                raise self.trouble(
                    "KB513",
                    f"manner '{blur.manner}' has the odds {odds[blur.manner]:g} and {blur.odds:g}",
                    "A unit is in a manner once for all: give it the same odds wherever it shows",
                )
        if not odds:
            return
        left = 1.0 - sum(odds.values())
        if OTHERWISE in odds or left < -_ROUNDING:
            raise self.trouble(
                "KB513",
                f"manners of '{fault}' leave {left:.3g} of its units, or one is called "
                f"'{OTHERWISE}', as those in none of them are",
                "Give the manners odds of 1 at most together, and names of their own",
            )
        if left > _ROUNDING:
            odds[OTHERWISE] = left
        for name, share in odds.items():
            yield Manner(fault, name, share, {
                test: _in_manner(name, *looks[test]) for test in looks
            })  # fmt: skip

    def _listing(self) -> dict[str, offers.Test]:
        return {offer.name: offer for offer in self.deduction.all(offers.Test)}

    def outcome_of(self, test: offers.Test, quantity: str) -> dict[str, str]:
        """Which outcome each value of the quantity looked at shows as."""
        shows = {
            value: answer.outcome for answer in self.answers(test) for value in answer.values
        }
        lacking = set(self.deduction.knowledge.quantities[quantity].values) - set(shows)
        # a value that no rule claims here needs no answer; one that is shown does
        values = {
            self.deduction.values[test.name, h.id] for h in self.deduction.hypotheses
        }
        if lacking & values:
            words = ", ".join(sorted(lacking & values))
            raise self.trouble(
                "KB503",
                f"test '{test.name}' has no answer for {quantity} {words}",
                "Name the value under `for` of one of its answers",
            )
        return shows


def _in_manner(
    manner: str, blurs: Iterable[offers.Blur], outcome_of: Mapping[str, str], value: str
) -> dict[str, float]:
    """What a test shows of a unit in one manner: its own blur, else the value, and of that what
    blurs without a manner make of it."""
    row: defaultdict[str, float] = defaultdict(float)
    left = 1.0
    for blur in blurs:
        if blur.manner == manner:
            return {outcome_of[blur.shows]: 1.0}
        left -= blur.odds if blur.manner else 0.0
    for blur in blurs:
        if not blur.manner:
            row[outcome_of[blur.shows]] += blur.odds / max(left, _ROUNDING)
    row[outcome_of[value]] += 1.0 - sum(row.values())
    return dict(row)


_BAND = re.compile(r"\[([a-z][a-z-]*)\]")


def spell_bands(test: Test) -> Test:
    """The test with the band of each answer that its words name in brackets written out."""

    def band(text: str) -> str:
        def words(match: re.Match[str]) -> str:
            span = next((band_words(o) for o in test.outcomes if o.id == match[1]), "")
            first = not text[: match.start()].strip()
            return (span[:1].upper() + span[1:] if first else span) or match[0]

        return _BAND.sub(words, text)

    return replace(test, says=band(test.says), how=band(test.how), good=band(test.good))


def _shown_by_meter(cut: float) -> float:
    """A cut point rounded to the three digits a person reads off a meter."""
    return float(f"{cut:.3g}")
