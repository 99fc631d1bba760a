"""What a walk's readings say, recomputed from the readings file as it lies in `kb/readings`.

It takes the readings document, the model document and the answers of a walk in their order, and of
this very unit what the walk says it was weighed with: markings and a good unit's readings, and from
the step on that tells it, how the unit is built. The law is `engine.evidence.joint`'s, one number
after another. O(faults x designs x outcomes) for a test, O(faults x designs x tests) for a step.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from engine.audit.bench import Bench, Document, misreads
from engine.audit.cells import Cells
from engine.audit.columns import (
    BandWord,
    Column,
    columns_of,
    kernels_of,
    ratio_of,
    strangeness,
    told_odds,
    watched_columns,
)
from engine.audit.densities import Band, Scale, bands_of, scale_of
from engine.audit.following import Reference, reference
from engine.audit.kept import Kept
from engine.audit.spans import answers_key, read, span_of, touched_by
from engine.audit.unitweights import largest_one, log_sum, prior_weights, shares, unit_weights

# The figures of `engine.evidence` stated anew: `witness`, `table`, `joint` and `make` there say
# where from.
COUNTS = 0.01
OTHERWISE, LOAN = 0.3, 0.3
SOUND = "no-fault"


@dataclass(frozen=True, slots=True)
class Weighing:
    """What a walk's readings are weighed by: a readings document, and what is known of the unit.

    `circuit` is the walk document's `circuit`: `markings` and `good`, in base units, and as steps
    told it, `absent` (part: gone or not) and `kinds`.
    """

    bench: Bench
    readings: Document
    circuit: Document
    beyond: Sequence[Document] = ()
    _once: Kept = field(default_factory=Kept, compare=False, repr=False)

    def factors(
        self, step: Document, before: Sequence[Document] = ()
    ) -> dict[str, float] | None:
        """What the step's answer says of each fault after the steps `before`, the largest 1.

        None where rows alone speak.
        """
        same = [one for one in before if one["test"] == step["test"]]
        if not same and not self._speaks(step):
            return None
        others = self.logs([one for one in before if one["test"] != step["test"]])
        now, old = self._cube([*same, step]), self._cube(same) if same else None
        odds: dict[str, float] = {}
        for at, (fault, logs) in enumerate(zip(self.bench.faults, others, strict=True)):
            most = max(logs)
            shares = [math.exp(log - most) for log in logs]
            after = sum(share * p for share, p in zip(shares, now[at], strict=True))
            base = sum(shares) if old is None else sum(
                share * p for share, p in zip(shares, old[at], strict=True)
            )  # fmt: skip
            odds[fault] = after / base if base > 0.0 else 0.0
        return largest_one(odds)

    def build(
        self, step: Document, before: Sequence[Document]
    ) -> tuple[Weighing, dict[str, float] | None]:
        """What weighs from the step on, which says that the unit lacks a part, has it, or has one
        of a kind; and what that says of each fault after the steps `before`, the largest 1."""
        part, kind = str(step["part"]), step["kind"]
        absent, kinds = dict(self.circuit.get("absent", {})), dict(self.circuit.get("kinds", {}))
        if kind == "of-kind":
            kinds[part] = str(step["part_kind"])
        else:
            absent[part] = kind == "not-fitted"
        circuit = {**self.circuit, "absent": absent, "kinds": kinds}
        after = Weighing(self.bench, self.readings, circuit, self.beyond)
        odds, parts = {}, self.bench.parts
        pairs = zip(after.logs(before), self.logs(before), strict=True)
        for fault, (new, old) in zip(self.bench.faults, pairs, strict=True):
            is_lost = kind == "not-fitted" and part in parts[fault]
            odds[fault] = -math.inf if is_lost else log_sum(new) - log_sum(old)
        most = max(odds.values())
        return after, {fault: math.exp(log - most) for fault, log in odds.items()}

    def logs(self, steps: Sequence[Document]) -> list[list[float]]:
        """By fault, and there by manner and design in turn, the log of the weight of both times the
        odds of all these answers."""
        by_test: dict[str, list[Document]] = {}
        for one in steps:
            by_test.setdefault(one["test"], []).append(one)
        cubes = [self._log_cube(answers) for answers in by_test.values()]
        by_fault = zip(self._once(("start",), self._start), *cubes, strict=True)
        return [[sum(logs) for logs in zip(*rows, strict=True)] for rows in by_fault]

    def _start(self) -> list[list[float]]:
        """The logs before any answer."""
        weights = [math.log(max(weight, 1e-300)) for weight in self._weights()]
        return [
            [math.log(share) + weight for share, _ in self._ways(fault) for weight in weights]
            for fault in self.bench.faults
        ]

    def _speaks(self, step: Document) -> bool:
        test = self.bench.tests[step["test"]]
        if any(test["id"] in manner["shows"] for manner in self._manners()):
            return True
        if self._bands(test) and read(str(step.get("reading") or "")) is None:
            return False
        return self._is_simulated(test)

    def _is_simulated(self, test: Document) -> bool:
        """Whether the circuit has a word for the test under any fault."""
        return self._once(("simulated", test["id"]), lambda: any(
            any(c.word for c in self._columns(test, f)) for f in self.bench.faults
        ))  # fmt: skip

    def _cube(self, steps: Sequence[Document]) -> list[list[float]]:
        """Odds of these answers to one test, by fault, and there by manner and design in turn."""
        test, faults = self.bench.tests[steps[0]["test"]], self.bench.faults
        return self._once(("cube", answers_key(steps)), lambda: [
            [odds for own in self._by_way(test, f, steps) for odds in own] for f in faults
        ])  # fmt: skip

    def _log_cube(self, steps: Sequence[Document]) -> list[list[float]]:
        return self._once(("logs", answers_key(steps)), lambda: [
            [math.log(max(odds, 1e-300)) for odds in row] for row in self._cube(steps)
        ])  # fmt: skip

    @property
    def _cells(self) -> Cells:
        return Cells(self.readings, self.beyond)

    @property
    def designs(self) -> int:
        """How many designs there are, the unlisted one among them."""
        return len(self._weights())

    def _manners(self) -> Sequence[Document]:
        manners: Sequence[Document] = self.bench.document.get("manners", ())
        return manners

    def _ways(self, fault: str) -> list[tuple[float, Document | None]]:
        """The manners of a fault with their odds, or that it has none."""
        own = [one for one in self._manners() if one["fault"] == fault]
        return [(float(one["odds"]), one) for one in own] or [(1.0, None)]

    def _by_way(
        self, test: Document, fault: str, steps: Sequence[Document]
    ) -> Iterator[list[float]]:
        """The answers' odds in each manner; those that don't show at the test are alike."""
        ways = [way if way and test["id"] in way["shows"] else None for _, way in self._ways(fault)]
        alike = self._answers(test, fault, None, steps) if None in ways else []
        for way in ways:
            yield alike if way is None else self._answers(test, fault, way, steps)

    def _answers(
        self, test: Document, fault: str, way: Document | None, steps: Sequence[Document]
    ) -> list[float]:
        columns, names = self._columns(test, fault, way), [o["id"] for o in test["outcomes"]]
        rule, bands = self._rule(test, fault, way), self._bands(test)
        misread = self._once(("misread", test["id"]), lambda: misreads(test))
        spans = [span_of(bands, str(one.get("reading") or "")) for one in steps]
        words = bool(bands) and all(span is None for span in spans)
        odds = [dict(rule) if words else dict(column.odds) for column in columns]
        counts = [
            {name: float((one.get("shares") or {one["answer"]: 1.0}).get(name, 0.0))
             for name in names} for one in steps
        ]  # fmt: skip
        deepest, seldom = dict.fromkeys(names, COUNTS), [dict.fromkeys(names, 1.0) for _ in steps]
        for number, span in enumerate(spans):
            if span is None or not self._is_simulated(test):
                continue
            scale = self._scale(test)
            touching = self._touching(test, span)
            whole = sum(share for _, share in touching)
            if whole <= 0.0:
                continue
            counts[number] = {
                name: sum(share for band, share in touching if band.outcome == name) / whole
                for name in names
            }
            for band, share in touching:
                if share / whole > deepest[band.outcome]:
                    deepest[band.outcome] = share / whole
                    for rare in seldom:
                        rare[band.outcome] = 1.0
                    seldom[number][band.outcome] = min(1.0, self._usual(test, band, span))
                    for now, one in zip(
                        odds, self._standing(test, fault, way, scale, band, span), strict=True
                    ):
                        now[band.outcome] = one
        return [told_odds(now, counts, seldom, misread) for now in odds]

    def _standing(
        self, test: Document, fault: str, way: Document | None, scale: Scale, band: Band,
        span: tuple[float, float],
    ) -> list[float]:  # fmt: skip
        """An outcome's odds times how much better than a blind guess the number fits, by design;
        the unlisted one shows in part what it shows under any fault."""
        odds = self._odds_of_number(test, fault, way, scale, band, span)
        every = self._once(("every", test["id"], band.outcome, *span), lambda: self._over_all(
            lambda one: self._odds_of_number(test, one, None, scale, band, span)
        ))  # fmt: skip
        odds[-1] = (1.0 - OTHERWISE) * odds[-1] + OTHERWISE * every
        return odds

    def _odds_of_number(
        self, test: Document, fault: str, way: Document | None, scale: Scale, band: Band,
        span: tuple[float, float],
    ) -> list[float]:  # fmt: skip
        columns, rule = self._plain_columns(test, fault), self._rule_on_designs(test, fault, way)
        word = self._band_word(test, fault, band, span, way)
        share = rule[band.outcome] * self._shape(test, fault, band, span, way)
        return [
            column.word * one + (1.0 - column.word) * share
            for column, one in zip(columns, word.by_design, strict=True)
        ]

    def _over_all(self, odds: Callable[[str], Sequence[float]]) -> float:
        """The mean over all faults and sampled designs of what `odds` says by design."""
        draws = self._prior_weights()
        priors = [max(float(prior), 1e-12) for prior in self.bench.prior.tolist()]
        total = sum(
            prior * weight * one
            for fault, prior in zip(self.bench.faults, priors, strict=True)
            for weight, one in zip(draws, odds(fault), strict=False)
        )
        return total / sum(priors)

    def _shape(
        self, test: Document, fault: str, band: Band, span: tuple[float, float],
        way: Document | None,
    ) -> float:  # fmt: skip
        """Density within a band by a fault's own readings there, over that of a blind guess of the
        whole scale; by those of all faults where it has few."""
        every = self._usual(test, band, span)
        if not self._plain_columns(test, fault)[0].word:
            return every
        own = self._band_word(test, fault, band, span, way)
        return (own.mean + LOAN * every) / (own.mass + LOAN)

    def _usual(self, test: Document, band: Band, span: tuple[float, float]) -> float:
        """The same by the readings of all faults: how usual a number is in a band."""

        def over_all_faults() -> float:
            ratio, mass = 0.0, 0.0
            for one, prior in zip(self.bench.faults, self.bench.prior.tolist(), strict=True):
                if self._plain_columns(test, one)[0].word:
                    own = self._band_word(test, one, band, span)
                    ratio, mass = ratio + prior * own.mean, mass + prior * own.mass
            return ratio / mass if mass > 0.0 else 0.0

        return self._once(("shape", test["id"], band.outcome, *span), over_all_faults)

    def _band_word(
        self, test: Document, fault: str, band: Band, span: tuple[float, float],
        way: Document | None = None,
    ) -> BandWord:  # fmt: skip
        """How well a fault's units foresaw what was read in a band, and their mass in it."""

        def word() -> BandWord:
            scale, draws = self._scale(test), self._prior_weights()
            columns, blind = self._plain_columns(test, fault), scale.blind(band.low, band.high)
            extra = strangeness(scale, band, self._rule(test, fault, way))
            ratios = [ratio_of(scale, column, band, span) * blind + extra for column in columns]
            masses = [column.mass(scale, band.low, band.high) + extra for column in columns]
            return BandWord(
                ratios,
                sum(w * one for w, one in zip(draws, ratios, strict=False)),
                sum(w * one for w, one in zip(draws, masses, strict=False)),
            )

        key = ("word", test["id"], fault, way["id"] if way else "", band.outcome, *span)
        return self._once(key, word)

    def _columns(
        self, test: Document, fault: str, way: Document | None = None
    ) -> list[Column]:
        """What each design shows at a test under a fault, the unlisted one last: that one shows in
        part what the test shows under any fault."""

        def columns() -> list[Column]:
            *listed, last = self._plain_columns(test, fault, way)
            if not any(self._plain_columns(test, one)[0].word for one in self.bench.faults):
                return [*listed, last]
            odds = {}
            for name, own in last.odds.items():
                every = self._shown_anywhere(test, name)
                odds[name] = (1.0 - OTHERWISE) * own + OTHERWISE * every
            return [*listed, replace(last, odds=odds)]

        return self._once(("columns", test["id"], fault, way["id"] if way else ""), columns)

    def _shown_anywhere(self, test: Document, outcome: str) -> float:
        return self._once(("shown", test["id"], outcome), lambda: self._over_all(
            lambda fault: [column.odds[outcome] for column in self._plain_columns(test, fault)]
        ))  # fmt: skip

    def _plain_columns(
        self, test: Document, fault: str, way: Document | None = None
    ) -> list[Column]:
        make = self._measured if self._bands(test) else self._watched
        key = ("plain", test["id"], fault, way["id"] if way else "")
        return self._once(key, lambda: make(test, fault, way))

    def _measured(self, test: Document, fault: str, way: Document | None) -> list[Column]:
        scale, bands = self._scale(test), self._bands(test)
        rule = self._rule_on_designs(test, fault, way)
        return [
            replace(column, odds={
                band.outcome: (1.0 - column.word) * rule[band.outcome]
                + column.word
                * (column.mass(scale, band.low, band.high) + strangeness(scale, band, rule))
                for band in bands
            })
            for column in self._kernel_columns(test, fault)
        ]  # fmt: skip

    def _kernel_columns(self, test: Document, fault: str) -> list[Column]:
        """Where each design's reading stands, the unlisted one's last; no odds yet."""
        return self._once(("kernels", test["id"], fault), lambda: self._kernels(test, fault))

    def _kernels(self, test: Document, fault: str) -> list[Column]:
        scale = self._scale(test)
        row, draws = self._cells.row(test["id"], fault), self._prior_weights()
        values: list[float | None] = [None] * len(draws)
        if row is not None:
            numbers = [None if outcome is not None else value for outcome, value in row]
            values[: len(numbers)] = numbers[: len(draws)]
        by = self._once(("by", test["id"]), lambda: self._reference(test["id"], scale))
        kernels = kernels_of(scale, values, draws, by)
        return list(columns_of(kernels, self._weights()))

    def _watched(self, test: Document, fault: str, way: Document | None) -> list[Column]:
        names, row = [o["id"] for o in test["outcomes"]], self._cells.row(test["id"], fault)
        designs, rule = shares(self._weights()[:-1]), self._rule(test, fault, way)
        sights: list[str | None] = [None] * len(designs)
        if row is not None and len(row) > 1:
            outcomes = [outcome if outcome in names else None for outcome, _ in row][: len(designs)]
            sights[: len(outcomes)] = outcomes
        return watched_columns(names, sights, designs, rule)

    def _rule(self, test: Document, fault: str, way: Document | None = None) -> dict[str, float]:
        """The rules' odds in one manner, or over all; where a good unit was read, what a sound one
        shows stands where that one reads."""
        odds = self._plain_rule(test, fault)
        if way is not None and test["id"] in way["shows"]:
            odds = {name: float(way["shows"][test["id"]].get(name, 0.0)) for name in odds}
        good = self.circuit.get("good", {}).get(test["id"])
        faults = self.bench.faults
        if good is None or SOUND not in faults or not self._cells.is_simulated(test["id"], faults):
            return odds
        sound = self._plain_rule(test, SOUND)
        due = next(o["id"] for o in test["outcomes"] if sound[o["id"]] == max(sound.values()))
        there = next(b.outcome for b in self._bands(test) if b.low <= good < b.high)
        if there == due:
            return odds
        return {**odds, there: odds[there] + odds[due], due: 0.0}

    def _rule_on_designs(
        self, test: Document, fault: str, way: Document | None
    ) -> dict[str, float]:
        """The rules' odds; of a fault that was not simulated as the sampled designs show them where
        the rules say the same of faults that were."""
        rule = self._rule(test, fault, way)
        if any(column.word for column in self._kernel_columns(test, fault)):
            return rule
        odds = self._on_designs(test)
        return {name: sum(p * odds[one][name] for one, p in rule.items()) for name in rule}

    def _on_designs(self, test: Document) -> dict[str, dict[str, float]]:
        """By outcome that the rules name, the odds of each that the sampled designs show."""
        return self._once(("on designs", test["id"]), lambda: self._shown_on_designs(test))

    def _shown_on_designs(self, test: Document) -> dict[str, dict[str, float]]:
        scale, bands = self._scale(test), self._bands(test)
        names, draws = [o["id"] for o in test["outcomes"]], self._prior_weights()
        sums = {name: dict.fromkeys(names, 0.0) for name in names}
        for fault, prior in zip(self.bench.faults, self.bench.prior.tolist(), strict=True):
            rule, columns = self._rule(test, fault), self._kernel_columns(test, fault)
            if not any(column.word for column in columns):
                continue
            for band in bands:
                mass = sum(
                    w * (one.mass(scale, band.low, band.high) + strangeness(scale, band, rule))
                    for w, one in zip(draws, columns, strict=False)
                )
                for name in names:
                    sums[name][band.outcome] += prior * rule[name] * mass
        return {
            name: {other: p / sum(row.values()) for other, p in row.items()}
            if sum(row.values()) > 1e-12 else {other: float(other == name) for other in names}
            for name, row in sums.items()
        }  # fmt: skip

    def _plain_rule(self, test: Document, fault: str) -> dict[str, float]:
        at = self._once(("order",), lambda: {f: n for n, f in enumerate(self.bench.faults)})[fault]
        return {name: float(odds[at]) for name, odds in self.bench.odds[test["id"]].items()}

    def _bands(self, test: Document) -> list[Band]:
        return self._once(("bands", test["id"]), lambda: bands_of(test))

    def _scale(self, test: Document) -> Scale:
        supply = self.bench.arrangements[test["supply"]]
        return self._once(("scale", test["id"]), lambda: scale_of(test, supply))

    def _touching(self, test: Document, span: tuple[float, float]) -> list[tuple[Band, float]]:
        place = (self._scale(test), self._bands(test))
        return self._once(("touching", test["id"], *span), lambda: [*touched_by(*place, *span)])

    def _prior_weights(self) -> list[float]:
        return self._once(("draws",), lambda: prior_weights(self.readings))

    def _weights(self) -> list[float]:
        """By what is known of this unit, the unlisted design last."""
        known = self.readings, self.circuit, self._cells
        return self._once(("weights",), lambda: unit_weights(*known))

    def _reference(self, test: str, scale: Scale) -> Reference | None:
        """What this test's readings follow: the good unit's, else a marking."""
        row, draws = self._cells.file_row(test, SOUND), self._prior_weights()
        if row is None:
            return None
        numbers = [None if outcome is not None else value for outcome, value in row]
        sound = [*numbers[: len(draws)], *[None] * (len(draws) - len(numbers))]
        good = self.circuit.get("good", {}).get(test)
        listed, units = self.readings["listed"], self.readings["units"]
        markings = {
            part: (value, [listed[part], *(unit["values"].get(part) for unit in units)])
            for part, value in self.circuit.get("markings", {}).items()
            if part in listed
        }
        return reference(scale, sound, good, markings, draws)
