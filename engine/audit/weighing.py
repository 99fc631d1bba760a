"""The factors of a walk's readings, recomputed from the readings file as it lies in `kb/readings`.

It takes the readings document, the model document and the text of a reading, and of this very unit
what the walk says it was weighed with: markings and a good unit's readings. Where a test was done
again its earlier readings count, too: only the first is recomputed. O(faults x samples) a step.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from engine.audit.bench import Bench, Document
from engine.audit.breach import Breach, near
from engine.audit.densities import PREFIX, Band, Law, Scale, bands_of, law_of, scale_of

# The figures of `engine.evidence` stated anew: `witness`, `make` and `scale` there say where from.
CIRCUIT, WATCHED, UNSEEN = 0.8, 0.5, 0.1
EDGE, NEAR, SAME, FAR = 0.02, 0.05, 0.05, 1e-3
# Those of `engine.circuit.dictionary.narrow`.
KERNEL, ENOUGH, ENOUGH_SHARE, MISMATCH, NEGLIGIBLE = 0.12, 6.0, 1 / 8, -8.0, 0.02
SOUND = "no-fault"
_NUMBER = re.compile(r"([−-]?[0-9][0-9.,]*(?:e[+-]?[0-9]+)?)\s*([pnµmkMG]?)(V|A|Ω|F|H|Hz|W)")
_WEIGHED = ("test", "known")

Shown = tuple[str | None, float | None]


def reading_breaches(
    bench: Bench, walk: Document, readings: Document, beyond: Sequence[Document] = ()
) -> Iterator[Breach]:
    """AU407 for every step whose factors are not those of the readings document.

    `beyond` are the cells that the circuit's data says it can't speak for: `faults` and `tests`.
    """
    circuit = walk.get("circuit")
    if circuit is None:
        return
    if dict(circuit["key"]) != dict(readings["key"]):
        yield Breach("AU407", "", "the walk was weighed by other readings than these")
        return
    weighing = Weighing(bench, readings, circuit, beyond)
    tests = set[str]()
    for number, step in enumerate(walk["steps"], start=1):
        if step["kind"] not in _WEIGHED or step["test"] in tests:
            continue
        tests.add(step["test"])
        claim, factors = step.get("factors"), weighing.factors(step)
        if (claim is None) != (factors is None):
            what = "no factors, though" if claim is None else "factors, though no"
            yield Breach("AU407", str(number), f"{what} readings speak of this answer")
        for fault, factor in (factors or {}).items():
            if claim is not None and not near(float(claim.get(fault, 0.0)), factor):
                what = f"says {claim.get(fault)} of {fault!r}, the readings say {factor:.6g}"
                yield Breach("AU407", str(number), what)


@dataclass(frozen=True, slots=True)
class Weighing:
    """What a walk's readings are weighed by: a readings document, and what is known of the unit.

    `circuit` is the walk document's `circuit`: `markings` and `good`, in base units.
    """

    bench: Bench
    readings: Document
    circuit: Document
    beyond: Sequence[Document] = ()
    _laws: dict[tuple[str, str], Law] = field(default_factory=dict, compare=False, repr=False)

    def factors(self, step: Document) -> dict[str, float] | None:
        """What the step's answer says of each fault, the largest 1; None where rows alone speak."""
        test = self.bench.tests[step["test"]]
        bands = bands_of(test)
        if not bands:
            return self._watch_factors(test, step)
        span = _read(str(step.get("reading") or ""))
        speaks = any(self._law(test, fault).is_simulated for fault in self.bench.faults)
        if span is None or not speaks:
            return None
        low, high = span
        if all(
            edge >= 0.0 for band in bands for edge in (band.low, band.high) if math.isfinite(edge)
        ):
            low, high = max(low, 0.0), max(high, 0.0)
        odds = {
            fault: self._reading_odds(test, fault, bands, low, high) for fault in self.bench.faults
        }
        return _largest_one(odds)

    def _reading_odds(
        self, test: Document, fault: str, bands: Sequence[Band], low: float, high: float
    ) -> float:
        law, misread = self._law(test, fault), test.get("misread", {})
        word = CIRCUIT if law.is_simulated else 0.0
        rule = self._rule(test, fault)
        true = {b.outcome: (1 - word) * rule[b.outcome] + (
            word * law.mass(b.low, b.high) if word else 0.0) for b in bands}  # fmt: skip
        total = 0.0
        for band, share, blind in _shares(law, bands, low, high):
            name, mass = band.outcome, law.mass(band.low, band.high)
            right = 1.0 - sum(misread.get(name, {}).values())
            part = (1 - word) * rule[name] / mass if mass > 0.0 else 0.0
            total += right * share * (word + part)
            total += blind * sum(
                odds * misread.get(other, {}).get(name, 0.0)
                for other, odds in true.items()
                if other != name
            )
        return total

    def _rule(self, test: Document, fault: str) -> dict[str, float]:
        at = self.bench.faults.index(fault)
        return {name: float(odds[at]) for name, odds in self.bench.odds[test["id"]].items()}

    def _watch_factors(self, test: Document, step: Document) -> dict[str, float] | None:
        shares = step.get("shares") or {step["answer"]: 1.0}
        weights = {fault: self._outcome_weights(test, fault) for fault in self.bench.faults}
        if not any(weights.values()):
            return None
        misread, factors = test.get("misread", {}), {}
        for fault in self.bench.faults:
            odds = self._rule(test, fault)
            total = sum(weights[fault].values()) + UNSEEN
            if weights[fault]:
                odds = {
                    name: (1 - WATCHED) * p
                    + WATCHED * (weights[fault].get(name, 0.0) + UNSEEN / len(odds)) / total
                    for name, p in odds.items()
                }
            factors[fault] = sum(
                float(share) * p * (
                    1.0 - sum(misread.get(report, {}).values()) if true == report
                    else misread.get(true, {}).get(report, 0.0)
                )
                for report, share in shares.items() for true, p in odds.items()
            )  # fmt: skip
        return _largest_one(factors)

    def _outcome_weights(self, test: Document, fault: str) -> dict[str, float]:
        row = self._row(test["id"], fault)
        if row is None or len(row) < 2:
            return {}
        names, weights = {o["id"] for o in test["outcomes"]}, dict[str, float]()
        for (outcome, _), weight in zip(row, self._weights(), strict=False):
            if outcome is not None and outcome in names and weight > 0.0:
                weights[outcome] = weights.get(outcome, 0.0) + weight
        return weights

    def _row(self, test: str, fault: str) -> list[Shown] | None:
        """Nominal and siblings of a cell; None where nothing was simulated or it is argued."""
        is_argued = any(
            re.fullmatch(one["faults"], fault) and re.fullmatch(one["tests"] or ".*", test)
            for one in self.beyond
        )
        return None if is_argued else self._file_row(test, fault)

    def _file_row(self, test: str, fault: str) -> list[Shown] | None:
        table = self.readings["tests"].get(test)
        if table is None or fault not in self.readings["faults"]:
            return None
        number = table["rows"][self.readings["faults"].index(fault)]
        row = [] if number is None else self.readings["readings"][number]
        return [_sample(one) for one in row] or None

    def _law(self, test: Document, fault: str) -> Law:
        key = (test["id"], fault)
        if key not in self._laws:
            self._laws[key] = self._law_of_cell(test, fault)
        return self._laws[key]

    def _law_of_cell(self, test: Document, fault: str) -> Law:
        scale = scale_of(test, self.bench.arrangements[test["supply"]])
        row = self._row(test["id"], fault)
        if row is None:
            return Law(scale)
        numbers = [None if outcome is not None else value for outcome, value in row]
        samples = zip(
            self._shift(test["id"], numbers), self._weights(), self._prior_weights(), strict=False
        )
        return law_of(scale, [(v, now, before) for v, now, before in samples if v is not None])

    def _prior_weights(self) -> list[float]:
        """The units' own weights, the nominal one's first."""
        weights = [float(unit["weight"]) for unit in self.readings["units"]]
        return [self._nominal(weights), *weights]

    def _weights(self) -> list[float]:
        """As `_prior_weights`, by what is known of this unit."""
        weights = [float(unit["weight"]) for unit in self.readings["units"]]
        marks = self.circuit.get("markings", {})
        if marks:
            weights = marked_weights(self.readings["units"], marks)
        good = {
            test: value for test, value in self.circuit.get("good", {}).items()
            if self._file_row(test, SOUND) is not None
        }  # fmt: skip
        for test, value in good.items():
            for number, (_, reading) in enumerate(
                (self._file_row(test, SOUND) or [])[1 : len(weights) + 1]
            ):
                if reading is not None:
                    weights[number] *= FAR + _near(reading, value)
        if good:
            weights = [weight / sum(weights) for weight in weights]
        return [self._nominal(weights), *weights]

    def _nominal(self, weights: Sequence[float]) -> float:
        if not weights:
            return 1.0
        listed = [u["values"] == self.readings["listed"] for u in self.readings["units"]]
        alike = [weight for weight, is_it in zip(weights, listed, strict=True) if is_it]
        return sum(alike) / len(weights) if alike else 1.0 / len(weights)

    def _shift(self, test: str, numbers: Sequence[float | None]) -> list[float | None]:
        """Readings like the sound unit's are what the good unit reads."""
        good, sound = self.circuit.get("good", {}).get(test), self._file_row(test, SOUND)
        if good is None or sound is None:
            return list(numbers)
        whole = [None if outcome is not None else value for outcome, value in sound]
        return [
            float(good)
            if v is not None and s is not None and math.isfinite(v) and abs(v - s) <= SAME * abs(s)
            else v
            for v, s in zip(numbers, whole, strict=False)
        ]


def marked_weights(units: Sequence[Document], marks: Mapping[str, float]) -> list[float]:
    """The units' weights by markings: near values on a scale of ratios, tempered until enough units
    count, a unit without a marked part only where too few have it."""
    prior = [float(unit["weight"]) for unit in units]
    logs, same = [], []
    for unit in units:
        values = unit["values"]
        lacks = sum(part in unit["absent"] for part in marks)
        near_by = sum(
            (math.log(values[part] / value) / KERNEL) ** 2
            for part, value in marks.items()
            if part in values
        )
        logs.append(MISMATCH * lacks - near_by / 2)
        same.append(not lacks)
    enough = min(ENOUGH, ENOUGH_SHARE * len(units))
    exact = [weight if is_same else 0.0 for weight, is_same in zip(prior, same, strict=True)]
    prior = exact if _count(exact) >= enough else prior
    top = max(log for log, weight in zip(logs, prior, strict=True) if weight)

    def heated(heat: float) -> list[float]:
        return [w and w * math.exp(heat * (log - top)) for w, log in zip(prior, logs, strict=True)]

    low, high = 0.0, 1.0
    if _count(heated(1.0)) >= enough:
        low = 1.0
    for _ in range(0 if low else 30):
        middle = (low + high) / 2
        low, high = (middle, high) if _count(heated(middle)) >= enough else (low, middle)
    weights = heated(low)
    weights = [weight if weight >= NEGLIGIBLE * max(weights) else 0.0 for weight in weights]
    return [weight / sum(weights) for weight in weights]


def _count(weights: Sequence[float]) -> float:
    """How many equal units weights amount to."""
    squares = sum(weight * weight for weight in weights)
    return sum(weights) ** 2 / squares if squares else 0.0


def _read(text: str) -> tuple[float, float] | None:
    """The numbers a walk has written down: one, or the ends of a range; infinite over range."""
    if text == "over range":
        return math.inf, math.inf
    numbers = [
        float(number.replace("−", "-").replace(",", "")) * PREFIX[prefix]
        for number, prefix, _ in _NUMBER.findall(text)
    ]
    if len(numbers) == 2:
        return numbers[0], numbers[1]
    if len(numbers) != 1:
        return None
    if re.match(r"\s*(>|≥|over|above|at least)", text):
        return numbers[0], math.inf
    if re.match(r"\s*(<|≤|under|below|at most)", text):
        return -math.inf, numbers[0]
    return numbers[0], numbers[0]


def _shares(
    law: Law, bands: Sequence[Band], low: float, high: float
) -> Iterator[tuple[Band, float, float]]:
    """Bands that a reading touches, with the cell's and the background's share of it."""
    for band in bands:
        blind = law.scale.blind(band.low, band.high)
        per = 1.0 / blind if blind > 0.0 else 0.0
        if low == high == math.inf:
            if band.high == math.inf:
                yield band, law.height(math.inf), per
        elif low == high:
            inside = _past(law.scale, low, band.low) - _past(law.scale, low, band.high)
            if inside > 1e-6:
                yield band, inside * law.height(low), inside * per
        else:
            least, most = max(low, band.low), min(high, band.high)
            if least < most:
                yield band, law.mass(least, most), law.scale.blind(least, most) * per


def _past(scale: Scale, value: float, cut: float) -> float:
    """How far a reading counts as beyond a cut: a logistic step."""
    if cut <= scale.low:
        return 1.0
    if cut == math.inf:
        return 0.0
    return 0.5 * (1.0 + math.tanh((scale.place(value) - scale.place(cut)) / (2.0 * EDGE)))


def _near(one: float, other: float) -> float:
    if one <= 0.0 or other <= 0.0 or not math.isfinite(one) or not math.isfinite(other):
        return 1.0 if one == other else math.exp(-0.5 * (min(abs(one - other), 1.0) / 0.2) ** 2)
    return math.exp(-0.5 * (math.log(one / other) / NEAR) ** 2)


def _sample(plain: Any) -> Shown:
    if isinstance(plain, list):
        return str(plain[0]), _sample(plain[1])[1]
    if plain == "OL":
        return None, math.inf
    if plain is None or isinstance(plain, str):
        return plain, None
    return None, float(plain)


def _largest_one(odds: Mapping[str, float]) -> dict[str, float] | None:
    most = max(odds.values(), default=0.0)
    return {fault: p / most for fault, p in odds.items()} if most > 0.0 else None
