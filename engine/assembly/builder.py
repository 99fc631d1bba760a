"""Builds the model document from what the rules implied.

Only arithmetic stands here: shares become priors, settled values become rows of odds, bands become
cut points. What a fault, test, remedy or caution is comes from the deduction.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from engine.assembly import lacks, reach, safeguards, shares
from engine.assembly.cells import Cells, spell_bands
from engine.assembly.designators import natural
from engine.assembly.diagram import part_notes, point_notes, stage_notes
from engine.assembly.finding import Finder
from engine.assembly.methods import furnish
from engine.assembly.reckoning import sums_of
from engine.assembly.requisites import Requisites
from engine.deduce import anatomy, offers
from engine.deduce.composition import Bench
from engine.deduce.deduction import Deduction
from engine.deduce.expressions import evaluate
from engine.deduce.facts import Fact
from engine.deduce.hypotheses import Hypothesis
from engine.deduce.whereabouts import Unit
from engine.model.absence import NO_RIG, UNENERGISED
from engine.model.notes import EntryQuestion
from engine.model.records import (
    FORMAT,
    SUMS,
    Arrangement,
    Because,
    Caution,
    Fault,
    FaultyPart,
    Mains,
    Model,
    Opening,
    Proof,
    Remedy,
    Rig,
    Start,
    Supply,
    Test,
)
from kb.language.schema import Topology
from kb.trouble import Place, Trouble, TroubleError

if TYPE_CHECKING:
    from engine.circuit.dictionary import Dictionary

COLD_CHECKS = "cold-checks"
_LEDS = "lights"
"""The place of the LEDs."""
_LEVELS = {
    "stage": frozenset({"board", "stage", "unit"}),
    "part": frozenset({"board", "part", "unit"}),
}
"""How far a remedy reaches that ends a diagnosis of each depth: to the part, no stage is reworked
whose parts were never measured."""


def build(
    deduction: Deduction,
    topology: str,
    bench: Bench,
    depth: str,
    readings: Dictionary | None = None,
) -> Model:
    """The model of a unit; its cut points go where `readings` part, where there are any.

    TroubleError where the knowledge leaves a hole.
    """
    builder = _Builder(deduction, topology, bench, depth)
    model = furnish(builder.model(), deduction)
    if readings is not None:
        from engine.evidence.cuts import place_cuts  # late: brings numpy along

        model = place_cuts(model, readings, builder.values(), builder.values(bench.values))
    return replace(model, tests=tuple(spell_bands(test) for test in model.tests))


class _Builder:
    def __init__(self, deduction: Deduction, topology: str, bench: Bench, depth: str) -> None:
        self.deduction = deduction
        self.knowledge = deduction.knowledge
        self.topology: Topology = self.knowledge.topologies[topology]
        self.bench = bench
        self.depth = depth
        self.hazards = _group((own.of_what, own.hazard) for own in deduction.all(offers.Hazard))
        caution_ids = {caution.id for caution in self.cautions()}
        self.cautioned = _group(
            (own.of_what, own.caution) for own in deduction.all(offers.Cautioning)
            if own.caution in caution_ids
        )  # fmt: skip
        self.cold_first = deduction.all(offers.ColdFirst)
        self.cells = Cells(deduction, self.trouble)
        self.finder = Finder(deduction)
        self.shares = shares.families(deduction)

    def values(self, among: Mapping[str, str] | None = None) -> dict[str, float]:
        """Values of the parts that have one, as the rules took them; of those `among` only."""
        return {
            part.name: part.value
            for part in self.deduction.all(anatomy.Part)
            if part.value is not None and part.value > 0
            if among is None or part.name in among
        }

    def check_safeguards(self) -> None:
        """Conclusions that safety forbids end the building, all of them told at once."""
        openings = {name: self.opening_chain(name) for name in self.topology.openings}
        if troubles := dict.fromkeys(
            safeguards.troubles(self.deduction, openings, self.topology.topology)
        ):
            raise TroubleError(troubles)

    def model(self) -> Model:
        lacks.check(self.deduction, self.bench.without)
        self.check_safeguards()
        faults, remedies = self.faults(), self.remedies()
        remedy_ids = {"", *(remedy.id for remedy in remedies)}
        tests = tuple(test for test in self.tests() if test.mends in remedy_ids)
        number = self.knowledge.numbers
        dead = next(a for a in self.knowledge.arrangements.values() if a.energy == UNENERGISED)
        used_rigs = {test.rig for test in tests}
        lacks.check_ends(self.deduction, self.bench.without, faults, remedies)
        likelihood = self.cells.likelihood(tests)
        requisites = Requisites(self.deduction, tests, faults, likelihood)
        bench = self.bench
        unit = Unit(self.knowledge, self.topology, bench.volts, bench.values, bench.traced)
        tests = tuple(replace(test, requires=requisites.of(test.id)) for test in tests)
        return Model(
            format=FORMAT,
            topology=self.topology.topology,
            says=self.topology.says,
            knowledge=self.knowledge.edition,
            mains=Mains(self.bench.volts, self.bench.hertz),
            depth=self.depth,
            complaint=self.bench.complaint,
            wrong_verdict_minutes=number["wrong-verdict-minutes"].value,
            faults=faults,
            remedies=tuple(replace(r, requires=requisites.of(r.id)) for r in remedies),
            proofs=self.proofs(),
            cautions=self.cautions(),
            tests=tests,
            likelihood=likelihood,
            manners=self.cells.manners(tests),
            openings=self.openings(tests),
            rigs=tuple(rig for rig in self.rigs() if rig.id in used_rigs | {NO_RIG}),
            supply=self.supply(dead.arrangement),
            stores=reach.stores(self.deduction),
            start=Start((), dead.arrangement, NO_RIG),
            entry=self.entry(),
            stages=stage_notes(self.deduction),
            points=point_notes(self.deduction, unit),
            parts=part_notes(unit),
            finds=self.finder.notes(tests),
            shares=self.shares,
        )

    def cautions(self) -> tuple[Caution, ...]:
        """All cautions that can be true of this unit."""
        traits = {own.trait for own in self.deduction.all(anatomy.Trait) if own.of_what == "unit"}
        has_leds = any(part.place == _LEDS for part in self.deduction.all(anatomy.Part))
        return tuple(
            Caution(c.id, c.hazard, c.signal, c.says if has_leds else c.without_leds or c.says)
            for c in self.knowledge.cautions.values()
            if not c.only_for or c.only_for in traits
        )

    def because(self, conclusion: Fact) -> tuple[Because, ...]:
        """The rule behind a fact and, below it, the rules behind the facts it stood on."""
        reasons: list[Because] = []
        for _, _, cause in self.deduction.once.chain(conclusion):
            if cause is not None:
                rule = self.knowledge.rules[cause.rule]
                facts = tuple(str(below) for below in cause.facts)
                reasons.append(Because(rule.id, facts, rule.says, rule.source))
        return tuple(reasons)

    def faults(self) -> tuple[Fault, ...]:
        hypotheses = self.deduction.hypotheses
        family = {own.part: own.family for own in self.deduction.all(anatomy.Membership)}
        slices = {share.family: share.middle for share in self.shares}
        weigh: defaultdict[str, float] = defaultdict(lambda: 1.0)
        for weighting in self.deduction.all(anatomy.Weighting):
            weigh[weighting.fault] *= weighting.factor

        def family_of(hypothesis: Hypothesis) -> str:
            if not hypothesis.parts:
                return hypothesis.variant_of or hypothesis.id
            part = hypothesis.parts[0][0]
            if part not in family:
                raise self.trouble(
                    "KB506", f"the failures of part {part} are counted in no family",
                    "Let a rule conclude `counts-in` for it, or give its stage kind a `family`",
                )
            return family[part]

        totals: defaultdict[str, float] = defaultdict(float)
        for hypothesis in hypotheses:
            totals[family_of(hypothesis)] += hypothesis.share
        raw = {
            h.id: slices.get(family_of(h), 0.0) * h.share / totals[family_of(h)] * weigh[h.id]
            for h in hypotheses
        }
        whole = math.fsum(raw.values())
        if not whole > 0:
            raise self.trouble("KB501", "no hypothesis has any share of the cases", "Add a slice")
        by_name = {fault.name: fault.fact for fault in self.deduction.all(anatomy.Fault)}
        # the only one of a mode's variants that shows anything is a fault by itself
        siblings = Counter(h.variant_of for h in hypotheses)
        names = {h.id for h in hypotheses}
        return tuple(
            Fault(
                h.id,
                h.stage,
                h.says,
                raw[h.id] / whole,
                tuple(FaultyPart(part, mode) for part, mode in h.parts),
                h.variant_of if siblings[h.variant_of] > 1 or h.variant_of in names else None,
                (
                    *(self.because(by_name[h.id]) if h.id in by_name else ()),
                    *shares.sources(self.deduction, h, family_of(h)),
                ),
            )
            for h in hypotheses
        )

    def tests(self) -> tuple[Test, ...]:
        handwork = {own.test for own in self.deduction.all(offers.Handwork)}
        arrangements = self.knowledge.arrangements
        tests = []
        for offer in self.deduction.all(offers.Test):
            if self.cold_first and arrangements[offer.supply].closed_only:
                continue
            if self.depth == "stage" and offer.level == "part":
                continue
            if {offer.supply, offer.name} & self.bench.without:
                continue
            openings = self.opening_chain(offer.behind)
            if self.cold_first:
                openings = (COLD_CHECKS, *openings)
            name = offer.name
            search, rig_search = self.finder.of_test(offer), self.finder.of_rig(offer.rig)
            tests.append(
                Test(
                    id=name,
                    says=offer.says,
                    minutes=round(offer.minutes + search.minutes, 6),
                    opened=tuple(
                        dict.fromkeys(
                            (*openings, *rig_search.behind, *search.behind,
                             *self.finder.lead_of(offer))
                        )
                    ),
                    supply=offer.supply,
                    rig=offer.rig,
                    hands_on=name in handwork or reach.test_by_hand(self.knowledge, offer),
                    outcomes=tuple(self.cells.outcomes(offer)),
                    hazards=self.hazards[name],
                    cautions=self.cautioned[name],
                    because=self.because(offer.fact),
                    misread=self.cells.misread(offer),
                    how=self.instructions(name, search.before(offer.how)),
                    instrument=offer.instrument,
                    good=offer.good,
                    point=offer.point,
                    on=offer.on,
                    mends=offer.mends,
                    cuts=tuple(self.cells.cuts(offer)),
                )
            )
        self.check_names(tests)
        order = {name: rank for rank, name in enumerate(self.knowledge.rules)}
        return tuple(
            sorted(tests, key=lambda t: (len(t.opened), order[t.because[0].rule], natural(t.id)))
        )

    def instructions(self, test: str, how: str) -> str:
        """How a test is done or a supply arranged, with the sums it wants worked."""
        sums = sums_of(self.deduction, self.topology.topology, test)
        return f"{how}{SUMS}{', '.join(sums)}." if sums else how

    def check_names(self, tests: Iterable[Test]) -> None:
        by_name: dict[str, Test] = {}
        for test in tests:
            other = by_name.setdefault(test.id, test)
            if other is not test:
                raise self.trouble(
                    "KB505",
                    f"the rules {other.because[0].rule} and {test.because[0].rule} both offer a "
                    f"test called '{test.id}'",
                    "Give one of them another name, or exclude one with `unless`",
                )

    def trouble(self, code: str, what: str, mend: str) -> TroubleError:
        place = self.knowledge.places.get(
            ("topologies", self.topology.topology), Place(self.topology.topology)
        )
        return TroubleError(Trouble(code, place, f"In {self.topology.topology}, {what}", mend))

    def opening_chain(self, behind: str) -> tuple[str, ...]:
        """The opening and all it needs first, in the order they are made."""
        if not behind:
            return ()
        if behind not in self.topology.openings:
            raise self.trouble(
                "KB504", f"something lies behind '{behind}', which is no opening",
                f"Write one of: {', '.join(self.topology.openings) or 'none are listed'}",
            )
        before: list[str] = []
        for earlier in self.topology.openings[behind].after:
            before.extend(name for name in self.opening_chain(earlier) if name not in before)
        return (*before, behind)

    def openings(self, tests: Iterable[Test]) -> tuple[Opening, ...]:
        """The levels of access, the stages to trace and the leads that tests here take."""
        levels = [
            Opening(
                name, opening.minutes, opening.after, opening.says, opening.how,
                self.cautioned[name],
            )
            for name, opening in self.topology.openings.items()
        ]
        names = {name for test in tests for name in test.opened}
        levels.extend(self.finder.openings(names, self.cautioned))
        levels.extend(self.finder.leads(names, self.cautioned, self.opening_chain))
        if self.cold_first:
            reasons = "; ".join(own.why for own in self.cold_first)
            levels.insert(
                0,
                Opening(
                    COLD_CHECKS, self.knowledge.numbers["cold-look-minutes"].value, (),
                    "look the closed unit over: soot, cracks, a burnt smell, a rattle",
                    f"Cold checks come first: {reasons}. What is loose or bare is dealt with "
                    "before anything else.",
                    self.cautioned[self.dead],
                    inside=False,
                ),
            )
        return tuple(levels)

    @property
    def dead(self) -> str:
        arrangements = self.knowledge.arrangements.values()
        return next(a.arrangement for a in arrangements if a.energy == UNENERGISED)

    def rigs(self) -> Iterable[Rig]:
        yield Rig(NO_RIG, 0.0, False, "nothing fitted", "")
        inside = {test.rig for test in self.deduction.all(offers.Test) if test.behind}
        for offer in self.deduction.all(offers.Rig):
            name = offer.name
            is_hands_on = reach.rig_by_hand(self.knowledge, offer, name in inside)
            search = self.finder.of_rig(name)
            yield Rig(
                name, round(offer.minutes + search.minutes, 6), is_hands_on, offer.says,
                search.before(offer.how), self.cautioned[name], offer.off,
            )

    def supply(self, dead: str) -> Supply:
        mains = {
            "volts": self.bench.volts,
            "peak": self.bench.volts * math.sqrt(2),
            "mean": self.bench.volts * 2 * math.sqrt(2) / math.pi,
        }
        entries = [
            a for a in self.knowledge.arrangements.values()
            if a.arrangement not in self.bench.without
        ]
        arrangements = tuple(
            Arrangement(
                a.arrangement, a.energy, evaluate(a.volts.removeprefix("= "), mains), a.hands_on,
                a.closed_only, a.says, self.instructions(a.arrangement, a.how),
                self.cautioned[a.arrangement],
            )
            for a in entries
        )
        minutes = {
            s.arrangement: {
                t.arrangement: 0.0 if s is t else s.leave_minutes + t.connect_minutes
                for t in entries
            }
            for s in entries
        }
        return Supply(arrangements, minutes)

    def remedies(self) -> tuple[Remedy, ...]:
        fault_ids = {h.id for h in self.deduction.hypotheses}
        deduction = self.deduction
        cures = _group((cure.remedy, cure.fault) for cure in deduction.all(offers.Cure))
        proves = _group((link.remedy, link.proof) for link in deduction.all(offers.ProofLink))
        companions = _group((own.remedy, own.says) for own in deduction.all(offers.Companion))
        rank = {proof.name: proof.rank for proof in deduction.all(offers.Proof)}
        remedies = []
        for offer in deduction.all(offers.Remedy):
            name = offer.name
            faults = tuple(fault for fault in cures[name] if fault in fault_ids)
            if not faults or offer.level not in _LEVELS[self.depth]:
                continue
            if name in self.bench.without:
                continue
            remedies.append(
                Remedy(
                    name, offer.says, offer.remedy_kind, offer.minutes,
                    tuple(sorted(faults)), tuple(sorted(proves[name], key=lambda p: rank[p])),
                    offer.how, companions[name], self.cautioned[name], self.because(offer.fact),
                )
            )
        return tuple(sorted(remedies, key=lambda r: natural(r.id)))

    def proofs(self) -> tuple[Proof, ...]:
        ranking = []
        for offer in self.deduction.all(offers.Proof):
            because = self.because(offer.fact)
            ranking.append(
                (
                    offer.rank,
                    Proof(
                        offer.name, offer.says, offer.supply, offer.limit, because[0].source,
                        offer.minutes, (), False, offer.closed, offer.how,
                        self.cautioned[offer.name], because,
                    ),
                )
            )
        return tuple(proof for _, proof in sorted(ranking, key=lambda pair: pair[0]))

    def entry(self) -> tuple[EntryQuestion, ...]:
        """The whole entry check: whether a conditional question is due shows only as it is put."""
        return tuple(
            EntryQuestion(
                e.question, e.asks, dict(e.answers), e.why, dict(e.complains), e.complaints,
                dict(e.after),
            )
            for e in self.knowledge.entry.values()
        )


def _group(pairs: Iterable[tuple[str, str]]) -> defaultdict[str, tuple[str, ...]]:
    """What belongs to each name, each once, in their order."""
    groups: defaultdict[str, tuple[str, ...]] = defaultdict(tuple)
    for name, word in pairs:
        if word not in groups[name]:
            groups[name] += (word,)
    return groups
