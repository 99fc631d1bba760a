"""What must have been shown before a remedy is named or a repair tried, from what rules concluded.

Three kinds: a part's own check ("measure before you unsolder"), met by whatever it shows; shorts
excluded ("an open fuse is a messenger"), met by an answer of a cold reading that a unit gives whose
fuse went alone, and hardly ever one whose fuse the short took along; and, after a bang, the short
check at the contacts, met by an answer that no short gives which shows there, with a fusible part
read whole, by an answer of its own check that it hardly ever gives once open. The second is strict:
it is never waived, nor is the third before anything that energises, repairs or returns the unit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from engine.deduce import anatomy, offers
from engine.deduce.deduction import Deduction
from engine.model.absence import NO_SHORT, UNENERGISED
from engine.model.records import Fault, Requirement, Test

SELDOM, MOSTLY = 0.05, 0.5
"""An answer excludes a short where the short gives it with the first odds at most, and the open
fuse alone with the second at least."""
CONTACTS = "supply contacts"
"""What a short check at the contacts speaks of: no single part."""
_READINGS = frozenset({"ohms", "diode", "esr", "battery"})
_COLD = frozenset({UNENERGISED, "elv"})
Likelihood = Mapping[str, Mapping[str, Mapping[str, float]]]


class Requisites:
    """The requirements of one deduction, given the tests, faults and odds of its model."""

    def __init__(
        self,
        deduction: Deduction,
        tests: Iterable[Test],
        faults: Iterable[Fault],
        likelihood: Likelihood,
    ) -> None:
        self.deduction = deduction
        self.tests = tuple(tests)
        self.faults = tuple(faults)
        self.likelihood = likelihood
        self.words = {part.name: part.says for part in deduction.all(anatomy.Part)}
        self.own = self._own_checks()
        self.asked = _group_parts(deduction.all(offers.MeasureFirst))
        self.feared = _group_parts(deduction.all(offers.ShortsFirst))
        self.fuses = {pair.first: pair.second for pair in deduction.all(anatomy.Pair)}
        self.kept = {keeping.remedy: keeping for keeping in deduction.all(offers.Keeping)}
        self.cleared = {own.of_what: own.shows for own in deduction.all(offers.ShortCheckFirst)}
        self.whole = _group_parts(deduction.all(offers.WholeFirst))
        self.passing = self._short_checks()

    def _own_checks(self) -> dict[str, dict[str, tuple[str, ...]]]:
        """part -> test -> the answers that count as having measured or seen it."""
        tests = {test.id: test for test in self.tests}
        checks: defaultdict[str, dict[str, tuple[str, ...]]] = defaultdict(dict)
        for own in self.deduction.all(offers.OwnCheck):
            test = tests.get(own.test)
            if test is None:
                continue
            answers = tuple(o.id for o in test.outcomes if own.outcome in ("", o.id))
            if answers:
                before = checks[own.part].get(test.id, ())
                checks[own.part][test.id] = tuple(dict.fromkeys((*before, *answers)))
        return dict(checks)

    def of(self, name: str) -> tuple[Requirement, ...]:
        """What a remedy, or a test that tries one, asks for. A part that no test here can speak
        for, whatever it shows, is not asked for: a shop that lacks the instrument measures it once
        it is out, and a look alone would bar the remedy of each fault that is not seen."""
        requirements = []
        for part in self.asked.get(name, ()):
            checks = self.own.get(part, {})
            if any(len(checks.get(test.id, ())) == len(test.outcomes) for test in self.tests):
                requirements.append(Requirement(part, checks, f"{self._words(part)} measured"))
        for part in self.feared.get(name, ()):
            by = self._excluding(part)
            says = f"{self._words(part)} read free of a short"
            requirements.append(Requirement(part, by, says, strict=True))
        requirements.extend(self._clearance(name))
        if (condition := self.kept.get(name)) is not None:
            test, outcome = condition.test, condition.outcome
            says = "the unit tried after the repair"
            requirements.append(Requirement(test, {test: (outcome,)}, says, strict=True))
        return tuple(requirements)

    def _clearance(self, name: str) -> Iterator[Requirement]:
        """The short check that comes first after a bang; a cold test goes on without it where it
        can't be done, nothing else does."""
        shows = self.cleared.get(name)
        if shows == NO_SHORT:
            says = "no short between the supply contacts"
            yield Requirement(CONTACTS, self.passing, says, strict=True)
        elif shows:
            checks = [test for test in self.tests if test.id in self.passing]
            answers = {test.id: tuple(o.id for o in test.outcomes) for test in checks}
            strict = all(test.id != name for test in self.tests)
            yield Requirement(CONTACTS, answers, "short check at the supply contacts done", strict)
        for part in self.whole.get(name, ()):
            says = f"{self._words(part)} read whole"
            yield Requirement(part, self._whole(part), says, strict=True)

    def _short_checks(self) -> dict[str, tuple[str, ...]]:
        """The answers of short checks that no short gives which shows in one of them."""
        names = {check.test for check in self.deduction.all(offers.ShortCheck)}
        checks = [test for test in self.tests if test.id in names]
        shorts = [
            fault.id for fault in self.faults
            if any(
                self._odds(test, fault.id, o.id) >= MOSTLY
                for test in checks for o in test.outcomes if o.short
            )
        ]  # fmt: skip
        return self._free(checks, shorts)

    def _whole(self, fuse: str) -> dict[str, tuple[str, ...]]:
        """The answers of its own checks that a fusible part hardly ever gives once it is open."""
        own = self.own.get(fuse, {})
        open_faults = [f.id for f in self.faults if any(p.part == fuse for p in f.parts)]
        return self._free((test for test in self.tests if test.id in own), open_faults)

    def _free(self, tests: Iterable[Test], faults: Iterable[str]) -> dict[str, tuple[str, ...]]:
        """The answers that none of these faults gives but seldom, and that show no short."""
        free = {
            test.id: tuple(
                o.id for o in test.outcomes
                if not o.short and all(self._odds(test, f, o.id) <= SELDOM for f in faults)
            )
            for test in tests
        }  # fmt: skip
        return {test: answers for test, answers in free.items() if answers}

    def _odds(self, test: Test, fault: str, outcome: str) -> float:
        return self.likelihood[test.id][fault].get(outcome, 0.0)

    def _words(self, part: str) -> str:
        return self.words.get(part, part)

    def _excluding(self, part: str) -> dict[str, tuple[str, ...]]:
        """The answers of cold readings that a short of the part hardly ever gives."""
        fuse = self.fuses[part]
        parts = {fault.id: [p.part for p in fault.parts] for fault in self.faults}
        shorts = [f for f, own in parts.items() if part in own and fuse in own]
        lone = [f for f, own in parts.items() if own == [fuse]]
        energy = self.deduction.knowledge.arrangements
        action = {own.name: own.action for own in self.deduction.all(offers.Test)}
        answers: dict[str, tuple[str, ...]] = {}
        for test in self.tests:
            if action[test.id] not in _READINGS or energy[test.supply].energy not in _COLD:
                continue
            rows = self.likelihood[test.id]
            free = tuple(
                o.id for o in test.outcomes
                if not o.short and all(rows[fault].get(o.id, 0.0) <= SELDOM for fault in shorts)
                and all(rows[fault].get(o.id, 0.0) >= MOSTLY for fault in lone)
            )  # fmt: skip
            if free:
                answers[test.id] = free
        return answers


def _group_parts(
    views: Iterable[offers.MeasureFirst | offers.ShortsFirst | offers.WholeFirst],
) -> dict[str, tuple[str, ...]]:
    parts: defaultdict[str, tuple[str, ...]] = defaultdict(tuple)
    for view in views:
        if view.part not in parts[view.of_what]:
            parts[view.of_what] += (view.part,)
    return dict(parts)
