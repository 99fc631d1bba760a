"""What each sampled design reads at a test under one fault, as the audit knows it.

Nothing here is shared with `engine.evidence` but the theory written there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from engine.audit.densities import (
    CHIP_OHMS,
    CHIP_PATH,
    CHIP_SPREAD,
    NARROWEST,
    SURPRISE,
    Band,
    Kernel,
    Scale,
    meter_of,
    over_of,
    spread_of,
)
from engine.audit.following import Reference, follow

# The figures of `engine.evidence.witness` and `table` stated anew.
CIRCUIT, UNLISTED_WORD, UNLISTED_SPREAD = 0.8, 0.5, 0.25
WATCHED, UNSEEN = 0.5, 0.1


@dataclass(frozen=True, slots=True)
class Column:
    """One design at one test under one fault: the circuit's share, its readings as weighed kernels
    (none: a blind guess), and the odds of each true outcome."""

    word: float
    kernels: tuple[tuple[float, Kernel], ...]
    odds: dict[str, float] = field(default_factory=dict)

    def mass(self, scale: Scale, low: float, high: float) -> float:
        """Odds of a reading in [low, high), base unit."""
        total = sum(weight for weight, _ in self.kernels)
        if not total:
            return scale.blind(low, high)
        return sum(weight * one.mass(low, high) for weight, one in self.kernels) / total

    def height(self, value: float) -> float:
        """Density at a reading over that of a blind guess."""
        total = sum(weight for weight, _ in self.kernels)
        return sum(w * one.height(value) for w, one in self.kernels) / total if total else 1.0


@dataclass(frozen=True, slots=True)
class BandWord:
    """What a band holds under one fault: how well each design foresaw the number read there, times
    the band's blind odds, with their mean over sampled designs, and their mean mass in the band."""

    by_design: list[float]
    mean: float
    mass: float


def kernels_of(
    scale: Scale,
    values: Sequence[float | None],
    weights: Sequence[float],
    by: Reference | None = None,
) -> list[Kernel | None]:
    """A kernel for each reading, None for each that is missing; `weights` as designs were drawn,
    `by` what readings follow."""
    inside = [
        (scale.place(value), weight)
        for value, weight in zip(values, weights, strict=True)
        if value is not None and not _is_open(scale, value) and over_of(scale, value) < 1.0
    ]
    least = max(NARROWEST, spread_of([at for at, _ in inside], [w for _, w in inside]))
    places_there = [(None, least, False)] * len(values) if by is None else follow(
        scale, values, by, weights
    )  # fmt: skip
    return [
        None if value is None else _kernel(scale, value, *one)
        for value, one in zip(values, places_there, strict=True)
    ]


def _kernel(
    scale: Scale, value: float, place: float | None, spread: float, is_good: bool
) -> Kernel:
    if _is_open(scale, value):
        return Kernel(scale, scale.place(CHIP_OHMS), CHIP_SPREAD, 1.0 - CHIP_PATH)
    number = value if math.isfinite(value) else scale.low
    return Kernel(
        scale, scale.place(number) if place is None else place,
        math.hypot(meter_of(scale, number), spread), over_of(scale, value), is_good,
    )  # fmt: skip


def _is_open(scale: Scale, value: float) -> bool:
    """A path that a circuit shows as over range, a chip's pins perhaps not."""
    return scale.ends and math.isinf(value)


def columns_of(kernels: Sequence[Kernel | None], weights: Sequence[float]) -> list[Column]:
    """Each sampled design's column, the unlisted one last: who was not simulated reads like the
    others by their weights, and that one like all of them, more widely spread."""
    family = tuple(
        (weight, kernel)
        for weight, kernel in zip(weights, kernels, strict=False)
        if kernel is not None and weight > 0.0
    )
    wide = tuple((weight, kernel.widened(UNLISTED_SPREAD)) for weight, kernel in family)
    word = CIRCUIT if family else 0.0
    columns = [
        Column(word, ((1.0, kernel),) if kernel is not None else family) for kernel in kernels
    ]
    columns.append(Column(min(word, UNLISTED_WORD), wide))
    return columns


def ratio_of(scale: Scale, column: Column, band: Band, span: tuple[float, float]) -> float:
    """How much better than a blind guess a design foresaw what was read in a band."""
    if span[0] == span[1]:
        return column.height(span[0])
    least, most = max(span[0], band.low), min(span[1], band.high)
    return column.mass(scale, least, most) / scale.blind(least, most)


def strangeness(scale: Scale, band: Band, rule: Mapping[str, float]) -> float:
    """What a band gains of the odds that no design explains a reading: they go to the bands that
    the rules let a fault show, not to all numbers alike."""
    return SURPRISE * (rule[band.outcome] - scale.blind(band.low, band.high))


def watched_columns(
    names: Sequence[str],
    sights: Sequence[str | None],
    designs: Sequence[float],
    rule: Mapping[str, float],
) -> list[Column]:
    """Columns of a test that is only watched: what each design shows, by `names` of outcomes."""
    even = UNSEEN / len(names)
    total = sum(weight for weight, one in zip(designs, sights, strict=True) if one) + UNSEEN
    family = {
        name: (sum(w for w, o in zip(designs, sights, strict=True) if o == name) + even) / total
        for name in names
    }
    is_simulated = any(sights)
    columns = []
    for one, word in [*((one, WATCHED) for one in sights), (None, min(WATCHED, UNLISTED_WORD))]:
        own = family if one is None else {
            name: ((name == one) + even) / (1.0 + UNSEEN) for name in names
        }  # fmt: skip
        share = word if is_simulated else 0.0
        columns.append(
            Column(share, (), {n: (1.0 - share) * rule[n] + share * own[n] for n in names})
        )
    return columns


def told_odds(
    odds: Mapping[str, float],
    counts: Sequence[Mapping[str, float]],
    usual: Sequence[Mapping[str, float]],
    misread: Mapping[tuple[str, str], float],
) -> float:
    """Odds of all answers to a test: true outcomes by their `odds`, each answer by what it counts
    as, and as misread no likelier than its number is `usual`."""
    return sum(
        p * math.prod(
            sum(
                share * misread[true, name] * (1.0 if name == true else rare[name])
                for name, share in count.items()
            )
            for count, rare in zip(counts, usual, strict=True)
        )
        for true, p in odds.items()
    )  # fmt: skip
