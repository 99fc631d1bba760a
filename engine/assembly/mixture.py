"""A unit that nobody has opened yet, as one model: a mixture over topologies and their faults, and
over what may be wrong outside their electronics.

Faults of one topology that end alike here stand as one, their rows between them: those that go on
in it, and those of each remedy that can be told without knowing it (the socket, no fault at all).
In the topology each is weighed by its own rows again. Tests are what one sees (`looks`), tests of
the closed unit that no topology has (`apart`), and those closed tests that every topology and every
outer fault speak of, so that an answer counts on, whichever topology it turns out to be. Ends are
verdicts about what lies outside, and connectors: go on in that topology. So planner, chart, walk
and audit need to know nothing of it.

Weights: the share of an outer fault, or of a topology by its cases within those whose electronics
failed, times how much likelier the complaint makes it. Rows that an entry is silent about are those
of the appearances between them. O(faults x tests).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from engine.assembly import hiding
from engine.assembly.seeing import SEEN, Row, each, mean, once, slips
from engine.model.absence import NO_REPAIR, NO_RIG
from engine.model.complaints import complaints_of
from engine.model.records import (
    Because,
    Fault,
    Model,
    Outcome,
    Remedy,
    Requirement,
    Rig,
    Start,
    Test,
)
from engine.model.shares import FamilyShare, Voice
from engine.readings.counts import Opinion, interval, pooled
from kb.language.knowledge import Knowledge
from kb.language.schema import Appearance, ClosedTest, OuterFault, Unopened
from kb.trouble import Trouble, TroubleError

CONNECTOR = "connector"
"""The kind of remedy that ends nothing: one goes on in the topology that it names."""
_INSIDE = "inside"
_TOLD = ("outside", NO_REPAIR)
"""Kinds of remedy that need no topology known."""
_HANDS_OFF = "unplugged"

@dataclass(frozen=True, slots=True)
class Member:
    """A topology that it may be: its model under the complaint, how many times likelier the
    complaint makes it than a unit whose every fault leaves it as likely, and the minutes to expect
    from going on in it."""

    model: Model
    weight: float
    minutes: float


def complaint_weight(plain: Model, complained: Model) -> float:
    """How many times likelier a complaint makes a topology: the mean of its faults' weights.

    Priors are divided by it, so it shows in those of a fault that the complaint says nothing of.
    """
    before = {fault.id: fault.prior for fault in plain.faults}
    ratios = [before[f.id] / f.prior for f in complained.faults if f.prior > 0]
    return max(ratios, default=1.0)


def members_of(knowledge: Knowledge, name: str) -> tuple[str, ...]:
    """The topologies that an unopened unit may turn out to be."""
    return tuple(
        topology for topology, own in knowledge.appearances.items()
        if own.of == name and topology in knowledge.topologies
    )  # fmt: skip


def mixture(
    knowledge: Knowledge, name: str, members: Sequence[Member], complaint: str | None
) -> Model:
    """The model of an unopened unit; `members` are those of `members_of`, one at least.

    TroubleError KB624 where an outer fault speaks of answers that a test does not have.
    """
    return _Mixture(knowledge, name, members, complaint).model()


@dataclass(frozen=True, slots=True)
class _Group:
    """Faults of one topology that end alike here; `verdicts` are the remedies that need no topology
    known and cure all of them."""

    fault: Fault
    topology: str
    rows: Mapping[str, Row]
    verdicts: frozenset[str]


class _Mixture:
    def __init__(
        self, knowledge: Knowledge, name: str, members: Sequence[Member], complaint: str | None
    ) -> None:
        self.knowledge, self.complaint = knowledge, complaint
        self.unit: Unopened = knowledge.unopened[name]
        self.members = {member.model.topology: member for member in members}
        self.models = [member.model for member in members]
        self.first = self.models[0]
        self.outer = {n: o for n, o in knowledge.outer.items() if o.of == name}
        self.looks = {n: one for n, one in knowledge.looks.items() if one.of == name}
        self.pages = {n: knowledge.appearances[n] for n in self.members}
        self.shares = self._shares()
        self.chain = hiding.chain(self.models, [look.behind for look in self.looks.values()])
        self.cold = hiding.cold_openings(self.first)
        self.common_tests = tuple(self._common_tests())

    # ---- weights ----

    def _shares(self) -> dict[str, FamilyShare]:
        """The share of each outer fault and each topology before any complaint."""
        weights = {name: one.cases for name, one in self.outer.items()}
        among = math.fsum(page.cases for page in self.pages.values())
        for name, page in self.pages.items():
            weights[name] = self.unit.inside * page.cases / among
        counts = pooled([Opinion(weights, self.unit.strength)])
        total = math.fsum(counts.values())
        return {
            name: FamilyShare(
                name, count / total, *interval(min(count, total), total), count, total,
                (self._voice(name, count / total),),
            )
            for name, count in counts.items()
        }  # fmt: skip

    def _voice(self, name: str, share: float) -> Voice:
        entry = self.outer.get(name) or self.pages[name]
        says = f"{self.unit.says}: {name.replace('-', ' ')}"
        source = f"{entry.source}; {self.unit.source}"
        return Voice(self.unit.unopened, says, source, share, strength=self.unit.strength)

    def _outer_weight(self, name: str) -> float:
        likelier = self.outer[name].complaints
        return self.shares[name].middle * math.prod(
            likelier.get(word, 1.0) for word in complaints_of(self.complaint)
        )

    # ---- tests ----

    def _common_tests(self) -> Iterator[Test]:
        """The closed tests that all topologies and all outer faults speak of."""
        names = [test.id for test in self.first.tests if self._is_shared(test)]
        for name in names:
            tests = [model.test(name) for model in self.models]
            requires = self._requires(tests[0].requires, names)
            if requires is None:
                continue
            rig = next((test.rig for test in tests if test.rig != NO_RIG), NO_RIG)
            yield replace(
                tests[0], minutes=max(test.minutes for test in tests), rig=rig, requires=requires
            )

    def _is_shared(self, test: Test) -> bool:
        """Whether every model has it, done to the closed unit, with the same answers."""
        answers = [outcome.id for outcome in test.outcomes]
        for model in self.models:
            own = next((one for one in model.tests if one.id == test.id), None)
            if own is None or hiding.is_inside(model, own.opened) or own.supply != test.supply:
                return False
            if [outcome.id for outcome in own.outcomes] != answers or own.mends:
                return False
        return all(test.id in one.shows for one in self.outer.values())

    def _requires(
        self, wants: Iterable[Requirement], names: Sequence[str]
    ) -> tuple[Requirement, ...] | None:
        """What the test requires, as far as tests here show it; None where safety hangs on more."""
        requirements = []
        for want in wants:
            by = {test: outcomes for test, outcomes in want.by.items() if test in names}
            if by:
                requirements.append(replace(want, by=by))
            elif want.strict:
                return None
        return tuple(requirements)

    def _safely(self) -> tuple[Requirement, ...]:
        """What must have been shown before anything is energised, or asked of the owner."""
        wants = (test.requires for test in self.common_tests)
        needs = [requires for requires in wants if any(one.strict for one in requires)]
        return max(needs, key=len, default=())

    def _looks(self) -> Iterator[Test]:
        for name, look in self.looks.items():
            if look.behind and look.behind not in {opening.id for opening in self.chain}:
                continue
            outcomes = tuple(Outcome(n, says) for n, says in look.answers.items())
            yield Test(
                id=SEEN + name, says=look.asks, minutes=look.minutes,
                opened=(*self.cold, *hiding.way_to(self.chain, look.behind)),
                supply=_HANDS_OFF, rig=NO_RIG, hands_on=False, outcomes=outcomes,
                because=(Because(name, (), look.asks, look.source),),
                misread=slips(tuple(look.answers), look.misread),
                how="See for yourself, or ask the owner; don't know is an answer.",
                requires=(*once(look), *(self._safely() if look.by == "owner" else ())),
            )  # fmt: skip

    def _apart(self) -> Iterator[Test]:
        closed_only = {a.id for a in self.first.supply.arrangements if a.closed_only}
        supplies = {a.id for a in self.first.supply.arrangements}
        for name, own in self.unit.apart.items():
            if own.supply not in supplies or (self.cold and own.supply in closed_only):
                continue
            alike = [
                test for model in self.models for test in model.tests
                if test.supply == own.supply and test.hands_on == own.by_hand
                and not hiding.is_inside(model, test.opened)
            ]  # fmt: skip
            energised = own.supply != _HANDS_OFF
            yield Test(
                id=name, says=own.asks, minutes=own.minutes, opened=self.cold, supply=own.supply,
                rig=NO_RIG, hands_on=own.by_hand,
                outcomes=tuple(Outcome(n, says) for n, says in own.answers.items()),
                hazards=each(test.hazards for test in alike),
                cautions=each(test.cautions for test in alike),
                because=(Because(name, (), own.asks, own.source),),
                misread=slips(tuple(own.answers), own.misread), how=own.how, good=own.good,
                instrument=own.instrument,
                requires=(*once(own), *(self._safely() if energised else ())),
            )  # fmt: skip

    # ---- rows ----

    def _look_row(self, name: str, entry: OuterFault | Appearance) -> Row:
        """The odds of each answer; those of the appearances between them where it is silent."""
        answers = self.looks[name].answers
        if name in entry.looks:
            return {answer: entry.looks[name].get(answer, 0.0) for answer in answers}
        telling = {n: page for n, page in self.pages.items() if name in page.looks}
        whole = math.fsum(self.shares[n].middle for n in telling)
        if not telling:
            return dict.fromkeys(answers, 1.0 / len(answers))
        return {
            answer: math.fsum(
                self.shares[n].middle / whole * page.looks[name].get(answer, 0.0)
                for n, page in telling.items()
            )
            for answer in answers
        }

    def _outer_row(self, name: str, test: Test) -> Row:
        shows = self.outer[name].shows[test.id]
        answers = [outcome.id for outcome in test.outcomes]
        for answer in shows:
            if answer not in answers:
                raise TroubleError(
                    Trouble(
                        "KB624", self.knowledge.at("outer", name, "shows", test.id, answer),
                        f"'{name}' speaks of the answer '{answer}' to {test.id}, which it has not",
                        f"Write one of: {', '.join(answers)}",
                    )
                )  # fmt: skip
        return {answer: shows.get(answer, 0.0) for answer in answers}

    def _apart_row(self, name: str, test: str, own: ClosedTest) -> Row:
        odds = self.outer[name].shows.get(test, own.inside) if name in self.outer else own.inside
        return {answer: odds.get(answer, 0.0) for answer in own.answers}

    # ---- faults and remedies ----

    def _groups(self) -> Iterator[_Group]:
        for topology, member in self.members.items():
            model = member.model
            weight = self.shares[topology].middle * member.weight
            verdicts = {
                fault: frozenset(r.id for r in model.remedies if r.kind in _TOLD
                                 and fault in r.cures)
                for fault in (f.id for f in model.faults)
            }  # fmt: skip
            groups: defaultdict[frozenset[str], list[Fault]] = defaultdict(list)
            for fault in sorted(model.faults, key=lambda fault: -fault.prior):
                groups[verdicts[fault.id]].append(fault)
            for faults in groups.values():
                likeliest = faults[0]
                more = f", or {len(faults) - 1} more alike" if len(faults) > 1 else ""
                yield _Group(
                    Fault(
                        f"{topology}.{likeliest.id}", topology,
                        f"{topology}: {likeliest.says}{more}",
                        weight * math.fsum(fault.prior for fault in faults),
                        because=likeliest.because,
                    ),
                    topology,
                    {test.id: mean(model, test.id, faults) for test in self.common_tests},
                    verdicts[likeliest.id],
                )  # fmt: skip

    def _outer_faults(self) -> Iterator[Fault]:
        for name, one in self.outer.items():
            because = (
                Because(name, (), one.says, one.source),
                Because(self.unit.unopened, (), self.unit.says, self.unit.source),
            )
            yield Fault(name, name, one.says, self._outer_weight(name), because=because)

    def _remedies(self, groups: Sequence[_Group]) -> Iterator[Remedy]:
        proofs = [proof.id for proof in self._common_proofs()]
        cautions = {caution.hazard: caution.id for caution in self.first.cautions}
        for name, one in self.outer.items():
            yield Remedy(
                f"see-to-{name}", one.remedy, one.kind, one.minutes, (name,),
                tuple(proofs) if one.kind == "repair" else (), one.how,
                cautions=tuple(cautions[h] for h in one.hazards if h in cautions),
                because=(Because(name, (), one.says, one.source),),
            )  # fmt: skip
        for topology, member in self.members.items():
            says = " ".join(self.knowledge.topologies[topology].says.split())
            yield Remedy(
                f"go-on-{topology}", f"Go on as {topology}: {says}", CONNECTOR, member.minutes,
                tuple(group.fault.id for group in groups if group.topology == topology),
                how=f"On paper by the chart of {topology}; at the bench by nextprobe walk "
                f"{topology}: what was answered here counts on.",
                because=(Because(topology, (), says, self.pages[topology].source),),
            )  # fmt: skip
        for remedy in self._plain_remedies():
            cures = tuple(group.fault.id for group in groups if remedy.id in group.verdicts)
            if cures:
                yield replace(remedy, cures=cures)

    def _plain_remedies(self) -> Iterator[Remedy]:
        """The remedies that need no topology known, each once."""
        names = [test.id for test in self.common_tests]
        once = {r.id: r for model in reversed(self.models) for r in model.remedies
                if r.kind in _TOLD}  # fmt: skip
        for remedy in once.values():
            requires = self._requires(remedy.requires, names)
            if requires is not None:
                yield replace(remedy, requires=requires, companions=())

    def _common_proofs(self) -> list[hiding.Proof]:
        return [p for p in self.first.proofs if all(p in model.proofs for model in self.models)]

    # ---- the whole ----

    def model(self) -> Model:
        groups, outer = list(self._groups()), list(self._outer_faults())
        faults = [*outer, *(group.fault for group in groups)]
        whole = math.fsum(fault.prior for fault in faults)
        tests = (*self._looks(), *self._apart(), *self.common_tests)
        rigs = self._rigs({test.rig for test in tests} | {NO_RIG})
        used = {test.id for test in tests} | {rig.id for rig in rigs}
        proofs = tuple(self._common_proofs())
        used |= {proof.id for proof in proofs} | {a.id for a in self.first.supply.arrangements}
        return Model(
            format=self.first.format, topology=self.unit.unopened, says=self.unit.says,
            knowledge=self.first.knowledge, mains=self.first.mains, depth=self.first.depth,
            complaint=self.complaint,
            wrong_verdict_minutes=max(model.wrong_verdict_minutes for model in self.models),
            faults=tuple(replace(fault, prior=fault.prior / whole) for fault in faults),
            remedies=tuple(self._remedies(groups)), proofs=proofs,
            cautions=hiding.union(model.cautions for model in self.models),
            tests=tests, likelihood=self._likelihood(tests, groups),
            openings=(*hiding.openings_of(self.first, self.cold), *self.chain), rigs=rigs,
            supply=self.first.supply, stores=hiding.stores(self.models, self.chain),
            start=Start((), self.first.dead_supply, NO_RIG),
            entry=hiding.union(model.entry for model in self.models),
            methods=hiding.methods(self.models, used),
            kit=tuple(k for k in self.first.kit if all(k in model.kit for model in self.models)),
            shares=tuple(sorted(self.shares.values(), key=lambda s: (-s.count, s.family))),
        )  # fmt: skip

    def _rigs(self, names: set[str]) -> tuple[Rig, ...]:
        rigs = hiding.union(model.rigs for model in self.models)
        words = self.unit.rigs
        return tuple(
            replace(rig, says=words[rig.id].says, how=words[rig.id].how) if rig.id in words else rig
            for rig in rigs if rig.id in names
        )  # fmt: skip

    def _likelihood(
        self, tests: Iterable[Test], groups: Sequence[_Group]
    ) -> dict[str, dict[str, Row]]:
        rows: dict[str, dict[str, Row]] = {}
        for test in tests:
            own = self.unit.apart.get(test.id)
            look = test.id.removeprefix(SEEN) if test.id.startswith(SEEN) else ""
            rows[test.id] = of_test = {}
            for name, one in self.outer.items():
                of_test[name] = (
                    self._look_row(look, one) if look
                    else self._apart_row(name, test.id, own) if own
                    else self._outer_row(name, test)
                )  # fmt: skip
            for group in groups:
                of_test[group.fault.id] = (
                    self._look_row(look, self.pages[group.topology]) if look
                    else self._apart_row(group.topology, test.id, own) if own
                    else group.rows[test.id]
                )  # fmt: skip
        return rows
