"""Is it worth going on? What the rest of a walk takes, from here, by its plan, and the sum of it.

The plan is followed from where the walk stands, each answer by its odds, down to its verdicts:
minutes until one stage is all but sure, until the verdict, of mending and of proving; how often
that mends the unit; what the parts cost. With what the unit is worth, the sum is

    saved x unit - parts - (find + mend + prove) x minute,

and going on pays where it is above nothing. Without it nothing is advised: what a lamp is worth to
its owner is not ours to suppose. A minute that nobody priced costs nothing, as where neighbours
mend for one another. O(nodes of the plan x faults).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field

from engine.assembly.mixture import CONNECTOR
from engine.model import setup
from engine.model.plan import Ask, State, Verdict
from engine.model.records import Model, Remedy
from engine.walk.goingon import GIVEN_UP
from engine.walk.job import suspicion
from engine.walk.state import Walk

SURE_OF_STAGE = 0.95
"""From which odds of one stage its verdict stands. Our choice: a board is swapped on that."""
_NEGLIGIBLE = 1e-6
"""Odds of a way that change no minute that is shown."""


@dataclass(frozen=True, slots=True)
class Prices:
    """What things are worth, in one money; None for what nobody said. `parts` by their names,
    `any_part` each that is not named."""

    unit: float | None = None
    minute: float | None = None
    parts: Mapping[str, float] = field(default_factory=dict)
    any_part: float | None = None
    currency: str = ""

    def of_part(self, name: str) -> float:
        """A part's price; nothing for one that nobody priced."""
        return self.parts.get(name, self.any_part or 0.0)


@dataclass(frozen=True, slots=True)
class Prospect:
    """Expected minutes from here: `to_stage` until one stage is all but sure, `to_part` until the
    verdict, `mending`, `proving`; `saved` the odds that the unit is mended, `parts` what they cost
    on average. `is_open`: some ways lead to a unit that is not known yet, and end there."""

    to_stage: float
    to_part: float
    mending: float
    proving: float
    saved: float
    parts: float
    is_open: bool

    @property
    def minutes(self) -> float:
        """To a repair that is proven."""
        return self.to_part + self.mending + self.proving

    def gain(self, prices: Prices) -> float | None:
        """What going on leaves above stopping here; None where nobody said what the unit is worth,
        or nobody knows yet what it is."""
        if prices.unit is None or self.is_open:
            return None
        bench = self.minutes * (prices.minute or 0.0)
        return self.saved * prices.unit - self.parts - bench

    def most_minutes(self, prices: Prices) -> float | None:
        """How long finding it may take from here before going on no longer pays; None where minutes
        or unit have no price."""
        gain = self.gain(prices)
        if gain is None or not prices.minute:
            return None
        return max(0.0, self.to_part + gain / prices.minute)


def of_walk(walk: Walk, prices: Prices = Prices()) -> Prospect:
    """What the rest of a walk takes."""
    tally = _Tally(walk.outlook, {r.id: r for r in walk.model.remedies}, walk, prices)
    belief = {fault: odds for fault, odds in suspicion(walk).items() if odds > 0}
    whole = sum(belief.values())
    weights = {fault: odds / whole for fault, odds in belief.items()}
    bench = walk.dead_bench if walk.unsettled else walk.bench
    tally.follow(walk.node, weights, bench, 0.0, is_told=False)
    return tally.prospect()


class _Tally:
    """Sums over the ways of a plan, each by its odds."""

    def __init__(
        self, model: Model, remedies: Mapping[str, Remedy], walk: Walk, prices: Prices
    ) -> None:
        self.model, self.remedies, self.prices = model, remedies, prices
        self.nodes = walk.plan.nodes
        self.faults = {fault.id: fault for fault in walk.model.faults}
        self.proofs = {proof.id: proof.minutes for proof in walk.model.proofs}
        self.sums: defaultdict[str, float] = defaultdict(float)
        self.is_open = False

    def prospect(self) -> Prospect:
        sums = self.sums
        return Prospect(
            sums["stage"], sums["part"], sums["mending"], sums["proving"],
            min(1.0, sums["saved"]), sums["parts"], self.is_open,
        )  # fmt: skip

    def follow(
        self, name: str, weights: Mapping[str, float], bench: State, clock: float, is_told: bool
    ) -> None:
        """Go on at a node that is come to with these joint odds, after so many minutes."""
        node, odds = self.nodes[name], sum(weights.values())
        if not is_told and self._is_told(weights, odds):
            self.sums["stage"] += odds * clock
            is_told = True
        if not isinstance(node, Ask):
            self.sums["part"] += odds * clock
            self.sums["stage"] += 0.0 if is_told else odds * clock
            if isinstance(node, Verdict):
                self._end(self.remedies[node.remedy], weights, odds)
            return
        test = self.model.test(node.test)
        clock += test.minutes + setup.minutes(self.model, bench, node.state)
        rows = [(fault, w, self.model.row(test.id, fault)) for fault, w in weights.items()]
        for outcome, child in node.branches.items():
            joint = {f: w * row.get(outcome, 0.0) for f, w, row in rows if row.get(outcome)}
            if sum(joint.values()) > _NEGLIGIBLE:
                self.follow(child, joint, node.state, clock, is_told)

    def _is_told(self, weights: Mapping[str, float], odds: float) -> bool:
        stages: defaultdict[str, float] = defaultdict(float)
        for fault, weight in weights.items():
            stages[self.faults[fault].stage] += weight
        return max(stages.values()) >= SURE_OF_STAGE * odds

    def _end(self, remedy: Remedy, weights: Mapping[str, float], odds: float) -> None:
        if remedy.kind == CONNECTOR:
            self.is_open = True
            return
        if remedy.kind in GIVEN_UP:
            return
        cures = [(fault, weights[fault]) for fault in remedy.cures if fault in weights]
        self.sums["mending"] += odds * remedy.minutes
        self.sums["proving"] += odds * sum(self.proofs.get(name, 0.0) for name in remedy.proofs)
        self.sums["saved"] += sum(weight for _, weight in cures)
        self.sums["parts"] += sum(weight * self._price(fault) for fault, weight in cures)

    def _price(self, fault: str) -> float:
        names = dict.fromkeys(part.part for part in self.faults[fault].parts)
        return sum(self.prices.of_part(name) for name in names)
