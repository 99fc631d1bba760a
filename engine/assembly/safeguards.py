"""What rules concluded, held against the unit: stores, remedies, tests and supplies that can't be.

Codes: KB507 a store of charge that is none; KB508 a remedy that would return a unit unproved; KB509
a test, rig or lead that is inside, yet opens nothing; KB510 a supply or a proof that is not what
its name says; KB511 two rules give one name to different things.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from engine.deduce.deduction import Deduction
from engine.deduce.facts import Fact
from engine.model.absence import NO_REPAIR
from kb.language import bounds
from kb.language.guards import REMEDIES
from kb.trouble import Trouble

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
        self.parts = {part.text("name"): part for part in deduction.of("part")}
        self.shown: defaultdict[str, set[str]] = defaultdict(set)
        for fact in deduction.of("shows"):
            self.shown[fact.text("of")].add(fact.text("behind"))
        for kind in ("board", "stage", "point"):
            for fact in deduction.of(kind):
                self.shown[fact.text("name")].add(fact.text("behind"))

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

    def _at(self, fact: Fact, code: str, what: str, mend: str) -> Trouble:
        cause = self.deduction.once.causes.get(fact)
        rule = cause.rule if cause is not None else ""
        place = self.knowledge.place("rules", rule)
        return Trouble(code, place, f"In {self.topology}, rule '{rule}' {what}", mend)

    def _stores(self) -> Iterator[Trouble]:
        points = {fact.text("part"): fact.text("point") for fact in self.deduction.of("holds")}
        for store in self.deduction.of("store"):
            part, point, most = store["part"], store["point"], store["max_volts"]
            if part not in self.parts:
                why = f"finds a store of charge in '{part}', which is no part of the unit"
            elif not bounds.is_number(most) or not float(most) > 0:
                why = f"finds that {part} can hold {most!r} volts, which is no charge at all"
            elif point not in (part, points.get(str(part))):
                why = f"has {part} measured at '{point}', where it does not show"
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
        for cure in self.deduction.of("cures"):
            cures[cure.text("remedy")].add(cure.text("fault"))
        lasts: dict[Fact, None] = {}
        for remedy in self.deduction.of("remedy"):
            targets = sorted(fault for fault in cures[remedy.text("name")] if fault in faults)
            last = self._last_proof(remedy.text("name"))
            if remedy.text("kind") not in PROVED:
                why = self._objection(remedy, targets, faults)
            elif targets and last is None:
                why = f"offers '{remedy['name']}', a {remedy['kind']} that no proof follows"
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
            if last["closed"] is not True:
                yield self._at(
                    last, "KB508", f"lets repairs end in '{last['name']}', with the unit open",
                    "Give it a `rank` before the proofs of the closed unit",
                )

    def _objection(
        self, remedy: Fact, targets: list[str], faults: Mapping[str, list[str]]
    ) -> str:
        """Why a remedy may not end without proofs, in words; empty if it may."""
        name, kind = remedy.text("name"), remedy.text("kind")
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

    def _last_proof(self, remedy: str) -> Fact | None:
        proofs = {proof.text("name"): proof for proof in self.deduction.of("proof")}
        candidates = [
            proofs[link.text("proof")] for link in self.deduction.of("proves")
            if link.text("remedy") == remedy and link.text("proof") in proofs
        ]  # fmt: skip
        return max(candidates, key=lambda proof: proof.number("rank"), default=None)

    def _outside(self, part: str) -> bool:
        return self.parts[part].text("place") == "outside" and not self.parts[part].text("behind")

    def _leads(self) -> Iterator[Trouble]:
        """A lead is clipped where something shows its point; what is read of leads has one."""
        leads = {lead.text("name"): lead for lead in self.deduction.of("lead")}
        for name, lead in leads.items():
            of, openings = lead.text("of"), set(self.openings.get(lead.text("behind"), ()))
            if of in self.shown and not self.shown[of] & (openings | {""}):
                yield self._at(
                    lead, "KB509", f"brings out {of} on '{name}' with nothing opened that shows it",
                    f"Write the opening as `behind`: {', '.join(sorted(self.shown[of]))}",
                )  # fmt: skip
        on_leads = {r.text("name") for r in self.deduction.of("rig") if r.text("on") == LEADS}
        for test in self.deduction.of("test"):
            fields = dict(test.fields)
            lead_of = str(fields.get("lead", ""))
            if lead_of not in leads if lead_of else fields["rig"] in on_leads:
                reads = f"the lead '{lead_of}', which nothing brings out" if lead_of else "no lead"
                yield self._at(
                    test, "KB509", f"has '{fields['name']}' done at leads, yet it reads {reads}",
                    f"Write as `lead` one of: {', '.join(leads) or 'none is concluded'}",
                )  # fmt: skip

    def _tests(self) -> Iterator[Trouble]:
        rigs = {rig.text("name"): rig for rig in self.deduction.of("rig")}
        for test in self.deduction.of("test"):
            fields = dict(test.fields)
            openings = set(self.openings.get(str(fields["behind"]), ()))
            action = self.knowledge.actions.get(str(fields["action"]))
            points = [str(fields[word]) for word in ("point", "on") if fields.get(word)]
            if action is not None and action.hands == "never":
                points = []
            rig = rigs.get(str(fields["rig"]))
            if rig is not None and self._by_hand(rig):
                points.append(rig.text("on"))
            for name in points:
                if name in self.shown and not self.shown[name] & (openings | {""}):
                    yield self._at(
                        test, "KB509",
                        f"has '{fields['name']}' done at {name} with nothing opened that shows it",
                        f"Write the opening as `behind`: {', '.join(sorted(self.shown[name]))}",
                    )
                    break

    def _by_hand(self, rig: Fact) -> bool:
        word = self.knowledge.doings.get(rig.text("does"))
        return word is None or word.hands

    def _limiters(self) -> Iterator[Trouble]:
        for limiter in self.deduction.of("limiter"):
            arrangement = self.knowledge.arrangements.get(limiter.text("name"))
            if arrangement is None or arrangement.energy != "mains" or arrangement.closed_only:
                yield self._at(
                    limiter, "KB510",
                    f"calls '{limiter.text('name')}' limited mains, which it is not",
                    "Leave the limiter to the shipped rules",
                )

    def _proofs(self) -> Iterator[Trouble]:
        for proof in self.deduction.of("proof"):
            arrangement = self.knowledge.arrangements.get(proof.text("supply"))
            if arrangement is None or (arrangement.closed_only and proof["closed"] is not True):
                yield self._at(
                    proof, "KB510",
                    f"proves '{proof.text('name')}' on '{proof.text('supply')}', which is no "
                    "supply for it",
                    "Name a supply of the bench, and a closed unit where it is for closed ones",
                )

    def _names(self) -> Iterator[Trouble]:
        for kind in ("rig", "lead", "proof"):
            first: dict[str, Fact] = {}
            for fact in self.deduction.of(kind):
                other = first.setdefault(fact.text("name"), fact)
                if _bare(other) != _bare(fact):
                    yield self._at(
                        fact, "KB511",
                        f"gives the name '{fact.text('name')}' to another {kind} than one before",
                        "Give it a name of its own",
                    )


def _bare(fact: Fact) -> tuple[object, ...]:
    return (fact.fields, tuple(sorted((key, str(text)) for key, text in fact.detail.items())))
