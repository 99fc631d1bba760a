"""What rules concluded, held against the unit: stores, remedies, tests and supplies that can't be.

Codes: KB507 a store of charge that is none; KB508 a remedy that would return a unit unproved; KB509
a test, rig or lead that is inside, yet opens nothing; KB510 a supply or a proof that is not what
its name says; KB511 two rules give one name to different things.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from engine.deduce import anatomy, offers
from engine.deduce.deduction import Deduction
from engine.deduce.facts import View
from engine.model.absence import NO_REPAIR
from kb.language.guards import REMEDIES
from kb.trouble import Trouble

_LOAD = "works"
"""The place of what does the unit's work."""
LEADS = "leads"
"""What a rig is on that reads points brought out, whichever they are."""
PROVED = frozenset({"repair", "downgrade"})
"""Kinds of remedy after which a unit goes back into use, so that proofs must follow."""


def troubles(
    deduction: Deduction, openings: Mapping[str, tuple[str, ...]], topology: str
) -> Iterator[Trouble]:
    """Every conclusion that safety forbids, at the rule that made it.

    `openings` maps each opening to itself and all it needs first.
    """
    return _Review(deduction, openings, topology).troubles()


class _Review:
    def __init__(
        self, deduction: Deduction, openings: Mapping[str, tuple[str, ...]], topology: str
    ) -> None:
        self.deduction = deduction
        self.knowledge = deduction.knowledge
        self.topology = topology
        self.openings = openings
        self.parts = {part.name: part for part in deduction.all(anatomy.Part)}
        self.shown: defaultdict[str, set[str]] = defaultdict(set)
        for showing in deduction.all(anatomy.Showing):
            self.shown[showing.of_what].add(showing.behind)
        for name, behind in (
            *((board.name, board.behind) for board in deduction.all(anatomy.Board)),
            *((stage.name, stage.behind) for stage in deduction.all(anatomy.Stage)),
            *((point.name, point.behind) for point in deduction.all(anatomy.TestPoint)),
        ):
            self.shown[name].add(behind)

    def troubles(self) -> Iterator[Trouble]:
        """In the order: stores, remedies, tests, supplies."""
        yield from self._stores()
        yield from self._remedies()
        yield from self._leads()
        yield from self._tests()
        limiters = list(self._limiters())
        yield from limiters
        if not limiters:  # else proofs would be blamed for the limiter they were given
            yield from self._proofs()
            yield from self._names()

    def _at(self, view: View, code: str, what: str, mend: str) -> Trouble:
        cause = self.deduction.once.causes.get(view.fact)
        rule = cause.rule if cause is not None else ""
        place = self.knowledge.place("rules", rule)
        return Trouble(code, place, f"In {self.topology}, rule '{rule}' {what}", mend)

    def _stores(self) -> Iterator[Trouble]:
        points = {own.part: own.point for own in self.deduction.all(anatomy.Holding)}
        for store in self.deduction.all(offers.Store):
            part = store.part
            if part not in self.parts:
                why = f"finds a store of charge in '{part}', which is no part of the unit"
            elif not store.max_volts > 0:
                why = f"finds that {part} can hold {store.max_volts:g} volts, which is no charge"
            elif store.point not in (part, points.get(part)):
                why = f"has {part} measured at '{store.point}', where it does not show"
            else:
                continue
            yield self._at(
                store, "KB507", why,
                "Name a part, the most volts it can hold, and as point the part itself or what "
                "`holds` gives",
            )

    def _remedies(self) -> Iterator[Trouble]:
        faults = {h.id: [part for part, _ in h.parts] for h in self.deduction.hypotheses}
        cures: defaultdict[str, set[str]] = defaultdict(set)
        for cure in self.deduction.all(offers.Cure):
            cures[cure.remedy].add(cure.fault)
        lasts: dict[offers.Proof, None] = {}
        for remedy in self.deduction.all(offers.Remedy):
            targets = sorted(fault for fault in cures[remedy.name] if fault in faults)
            last = self._last_proof(remedy.name)
            if remedy.remedy_kind not in PROVED:
                why = self._objection(remedy, targets, faults)
            elif targets and last is None:
                why = f"offers '{remedy.name}', a {remedy.remedy_kind} that no proof follows"
            else:
                why = ""
                if targets and last is not None:
                    lasts[last] = None
            if why:
                yield self._at(
                    remedy, "KB508", why,
                    "Call what renews something inside a repair, and let its proofs follow",
                )
        for last in lasts:
            if not last.closed:
                yield self._at(
                    last, "KB508", f"lets repairs end in '{last.name}', with the unit open",
                    "Give it a `rank` before the proofs of the closed unit",
                )

    def _objection(
        self, remedy: offers.Remedy, targets: list[str], faults: Mapping[str, list[str]]
    ) -> str:
        """Why a remedy may not end without proofs, in words; empty if it may."""
        name, kind = remedy.name, remedy.remedy_kind
        if kind not in REMEDIES:
            return f"offers '{name}' of the unknown kind '{kind}'"
        if kind == NO_REPAIR and (wrong := [fault for fault in targets if fault != "no-fault"]):
            return f"would return the unit as it is ('{name}') with the fault {wrong[0]}"
        inside = [
            fault for fault in targets
            if not faults[fault] or not all(self._outside(part) for part in faults[fault])
        ]  # fmt: skip
        if kind == "outside" and inside:
            return f"would mend {inside[0]} outside the unit ('{name}'), but it lies inside"
        return ""

    def _last_proof(self, remedy: str) -> offers.Proof | None:
        proofs = {proof.name: proof for proof in self.deduction.all(offers.Proof)}
        candidates = [
            proofs[link.proof] for link in self.deduction.all(offers.ProofLink)
            if link.remedy == remedy and link.proof in proofs
        ]  # fmt: skip
        return max(candidates, key=lambda proof: proof.rank, default=None)

    def _outside(self, part: str) -> bool:
        """Whether it is a cause outside the unit, or a load outside it, behind no opening."""
        own = self.parts[part]
        is_load = own.place == _LOAD and "outside" in self.knowledge.parts[own.part_kind].traits
        return (own.place == "outside" or is_load) and not own.behind

    def _leads(self) -> Iterator[Trouble]:
        """A lead is clipped where something shows its point; what is read of leads has one."""
        leads = {lead.name: lead for lead in self.deduction.all(offers.Lead)}
        for name, lead in leads.items():
            of, openings = lead.of_what, set(self.openings.get(lead.behind, ()))
            if of in self.shown and not self.shown[of] & (openings | {""}):
                yield self._at(
                    lead, "KB509", f"brings out {of} on '{name}' with nothing opened that shows it",
                    f"Write the opening as `behind`: {', '.join(sorted(self.shown[of]))}",
                )  # fmt: skip
        on_leads = {rig.name for rig in self.deduction.all(offers.Rig) if rig.on == LEADS}
        for test in self.deduction.all(offers.Test):
            if test.lead not in leads if test.lead else test.rig in on_leads:
                lost = f"the lead '{test.lead}', which nothing brings out"
                reads = lost if test.lead else "no lead"
                yield self._at(
                    test, "KB509", f"has '{test.name}' done at leads, yet it reads {reads}",
                    f"Write as `lead` one of: {', '.join(leads) or 'none is concluded'}",
                )  # fmt: skip

    def _tests(self) -> Iterator[Trouble]:
        rigs = {rig.name: rig for rig in self.deduction.all(offers.Rig)}
        for test in self.deduction.all(offers.Test):
            openings = set(self.openings.get(test.behind, ()))
            action = self.knowledge.actions.get(test.action)
            points = [name for name in (test.point, test.on) if name]
            if action is not None and action.hands == "never":
                points = []
            rig = rigs.get(test.rig)
            if rig is not None and self._by_hand(rig):
                points.append(rig.on)
            for name in points:
                if name in self.shown and not self.shown[name] & (openings | {""}):
                    yield self._at(
                        test, "KB509",
                        f"has '{test.name}' done at {name} with nothing opened that shows it",
                        f"Write the opening as `behind`: {', '.join(sorted(self.shown[name]))}",
                    )
                    break

    def _by_hand(self, rig: offers.Rig) -> bool:
        word = self.knowledge.doings.get(rig.does)
        return word is None or word.hands

    def _limiters(self) -> Iterator[Trouble]:
        for limiter in self.deduction.all(offers.Limiter):
            arrangement = self.knowledge.arrangements.get(limiter.name)
            if arrangement is None or arrangement.energy != "mains" or arrangement.closed_only:
                yield self._at(
                    limiter, "KB510",
                    f"calls '{limiter.name}' limited mains, which it is not",
                    "Leave the limiter to the shipped rules",
                )

    def _proofs(self) -> Iterator[Trouble]:
        for proof in self.deduction.all(offers.Proof):
            arrangement = self.knowledge.arrangements.get(proof.supply)
            if arrangement is None or (arrangement.closed_only and not proof.closed):
                yield self._at(
                    proof, "KB510",
                    f"proves '{proof.name}' on '{proof.supply}', which is no supply for it",
                    "Name a supply of the bench, and a closed unit where it is for closed ones",
                )

    def _names(self) -> Iterator[Trouble]:
        yield from self._clashes(self.deduction.all(offers.Rig))
        yield from self._clashes(self.deduction.all(offers.Lead))
        yield from self._clashes(self.deduction.all(offers.Proof))

    def _clashes(
        self, things: Iterable[offers.Rig | offers.Lead | offers.Proof]
    ) -> Iterator[Trouble]:
        first: dict[str, View] = {}
        for thing in things:
            other = first.setdefault(thing.name, thing)
            if other.fact.content != thing.fact.content:
                yield self._at(
                    thing, "KB511",
                    f"gives the name '{thing.name}' to another {thing.kind} than one before",
                    "Give it a name of its own",
                )
