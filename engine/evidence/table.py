"""One test over faults and sampled designs: what each design's unit reads there under each fault.

Arrays run over faults (F), designs (N) and outcomes (O). The designs are the nominal unit, the
sampled ones in the dictionary's order, and last one that stands for every design that was not
sampled (`UNLISTED`): it reads like any of the others, several times as widely spread, and beside
it the rules count for half. So a unit unlike all that were sampled is not forced into one of them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from engine.evidence.density import (
    CHIP_PATH,
    CHIP_PATH_OHMS,
    CHIP_PATH_SPREAD,
    NARROWEST,
    OVER_SHARE,
    SURPRISE,
    over_odds,
    spread_of,
    student,
)
from engine.evidence.density import student_below as below
from engine.evidence.following import Reference, follow, padded
from engine.evidence.scale import Floats, Scale
from engine.model.records import Test
from engine.readings.bands import Band

UNLISTED = 0.15
"""Odds, before anything was read, that a unit's design is none like those sampled. Our choice."""
UNLISTED_IF_FAR = 0.5
"""The same once a part is marked as in none of them. Our choice."""
UNLISTED_WORD = 0.5
"""The circuit's share for such a design, beside the rules'. Our choice."""
UNLISTED_SPREAD = 0.25
"""How much wider such a design spreads, on the scale of ratios: some 25 % about each sampled
reading. Our choice."""
UNLISTED_OTHERWISE = 0.3
"""How far such a design shows, under a fault, what the test shows under any other: another circuit
may light, or stay dark, with a fault that these do not. Our choice."""
LOAN = 0.3
"""Mass of a band, beside what a fault's own readings hold of it, whose shape within the band is
borrowed from those of all faults. Our choice."""


@dataclass(frozen=True, slots=True)
class Table:
    """A test's readings by fault and design.

    `word` [F, N]: the share the circuit has; `rules` [F, O]: the rules' odds of each outcome;
    `odds` [F, N, O]: odds of each true outcome, the two words mixed; `kernels` None for a test that
    is only watched.
    """

    word: Floats
    rules: Floats
    odds: Floats
    kernels: Kernels | None = None


@dataclass(frozen=True, slots=True)
class Kernels:
    """Where each design's reading stands on a test's scale.

    `centres`, `widths`, `wide` (those about the unlisted design's), `over` (odds of over range) and
    `stands` (a reading was simulated; else the background speaks) are [F, N] without the unlisted
    design; `prior` [N] the designs' weights by what is known of the unit and `draws` before that.
    `pool` [F] weighs the faults that were simulated, by their priors, `faults` [F] all of them;
    `masses` [F, O] is what each holds of each band, over the sampled designs; `rules` [F, O] the
    rules' odds, those of faults that were not simulated as `on_designs`.
    """

    scale: Scale
    bands: tuple[Band, ...]
    centres: Floats
    widths: Floats
    wide: Floats
    over: Floats
    stands: Floats
    prior: Floats
    draws: Floats
    pool: Floats
    faults: Floats
    masses: Floats
    rules: Floats

    def heights(self, value: float) -> Floats:
        """[F, N + 1] densities at a reading as shares of the background's; inf is over range."""
        return self._columns(self._at(value, self.widths), self._at(value, self.wide), 1.0)

    def inside(self, low: float, high: float) -> Floats:
        """[F, N + 1] odds of a reading in [low, high)."""
        own, wide = (self._between(low, high, w) for w in (self.widths, self.wide))
        return self._columns(own, wide, blind_of(self.scale, low, high))

    def means(self, columns: Floats) -> Floats:
        """[F] the mean over sampled designs, by their weights before anything was known."""
        mean: Floats = columns[:, :-1] @ self.draws
        return mean

    def shapes(self, ratio: Floats, blind: float, at: int) -> Floats:
        """[F] density within a band over that of a blind guess, as each fault's own readings have
        it, where they hold something of the band; all faults' where they do not."""
        means, masses = self.means(ratio) * blind, self.masses[:, at]
        every = self.usual(ratio, blind, at)
        own = (means + LOAN * every) / (masses + LOAN)
        shape: Floats = np.where(self.pool > 0.0, own, every)
        return shape

    def within(self, ratio: Floats, blind: float, at: int) -> Floats:
        """Densities with what no design explains kept to the bands that the fault may show."""
        if not blind > 0.0:
            return ratio
        return ratio + SURPRISE * (self.rules[:, at] / blind - 1.0)[:, None]

    def usual(self, ratio: Floats, blind: float, at: int) -> float:
        """Density within a band over that of a blind guess, as all faults' readings have it."""
        mass = float(self.pool @ self.masses[:, at])
        return float(self.pool @ self.means(ratio)) * blind / mass if mass > 0.0 else 0.0

    def unlike(self, columns: Floats) -> Floats:
        """[F, N + 1] with the unlisted design's column mixed with what other faults show."""
        return unlike(columns, self.faults, self.draws)

    def _columns(self, own: Floats, wide: Floats, blind: float) -> Floats:
        """Each design's own column, that of a design not simulated here as the others' mean, and
        that of the unlisted one, all the others' and wider; the background where none was."""
        shares = self.stands * self.prior
        total = shares.sum(axis=1)
        means = [
            np.divide((one * shares).sum(axis=1), total, out=np.full(len(total), blind),
                      where=total > 0.0)
            for one in (own, wide)
        ]  # fmt: skip
        columns: Floats = np.column_stack(
            [np.where(self.stands > 0.0, own, means[0][:, None]), means[1]]
        )
        return columns

    def _at(self, value: float, widths: Floats) -> Floats:
        scale = self.scale
        if value == math.inf:
            height = self.over / (OVER_SHARE if scale.ranges else 1.0)
        else:
            away = (scale.at(value) - self.centres) / widths
            numbers = (1.0 - OVER_SHARE if scale.ranges else 1.0) / scale.span
            height = (1.0 - self.over) * student(away) / widths / numbers
        heights: Floats = (1.0 - SURPRISE) * height + SURPRISE
        return heights

    def _between(self, low: float, high: float, widths: Floats) -> Floats:
        scale = self.scale
        start = -math.inf if low <= scale.low else scale.at(low)
        end = math.inf if high >= scale.high else scale.at(high)
        numbers = below((end - self.centres) / widths) - below((start - self.centres) / widths)
        mass = (1.0 - self.over) * numbers + (self.over if high == math.inf else 0.0)
        masses: Floats = (1.0 - SURPRISE) * mass + SURPRISE * blind_of(scale, low, high)
        return masses


_LEAST = 1e-12
"""Of the algorithm: a fault of no prior still shows how the test reads."""


def blind_of(scale: Scale, low: float, high: float) -> float:
    """The background's odds of [low, high)."""
    part = max(0.0, scale.at(high) - scale.at(low)) / scale.span
    if not scale.ranges:
        return part
    return (1.0 - OVER_SHARE) * part + (OVER_SHARE if high == math.inf else 0.0)


def unlike(columns: Floats, faults: Floats, draws: Floats) -> Floats:
    """Columns [F, N + 1, ...] with the last design's mixed with the mean over all faults and
    sampled designs, by `faults` [F] and `draws` [N] (both sum to 1)."""
    every = np.einsum("f,n,fn...->...", faults, draws, columns[:, :-1])
    mixture = columns.copy()
    mixture[:, -1] = (1.0 - UNLISTED_OTHERWISE) * columns[:, -1] + UNLISTED_OTHERWISE * every
    return mixture


def meter_table(
    test: Test,
    on: Scale,
    parts: Sequence[Band],
    rules: Floats,
    rows: Sequence[Sequence[float | None] | None],
    prior: Floats,
    draws: Floats,
    faults: Floats,
    word: float,
    reference: Reference | None = None,
) -> Table:
    """The table of a test that is read off a meter.

    `rows` are the readings of each fault by design (base unit, inf over range), None where the
    circuit has no word for the fault; `prior` the designs' weights by what is known of the unit,
    `drawn` those before, which the kernels are as wide as: fewer designs left know no more of the
    unit than many; `faults` the priors of the faults; `word` is the circuit's share where it has
    one; with a `reference` readings follow what is known of the unit.
    """
    count = len(prior)
    keys = [() if row is None else tuple(row[:count]) for row in rows]
    first = {key: at for at, key in enumerate(dict.fromkeys(keys))}
    values = np.full((len(first), count), np.nan)
    for row, at in first.items():
        values[at, : len(row)] = [math.nan if value is None else value for value in row]
    stands = np.isfinite(values) | np.isinf(values)
    over = np.array([[over_odds(on, v) if s else 0.0 for v, s in zip(*pair, strict=True)]
                     for pair in zip(values, stands, strict=True)])  # fmt: skip
    finite = np.clip(np.where(np.isfinite(values), values, on.low), on.low, on.high)
    centres = np.arcsinh(finite / on.bend)
    meter = on.widths(finite)
    is_open = np.isinf(values) & on.ranges
    over = np.where(is_open, 1.0 - CHIP_PATH, over)
    centres = np.where(is_open, on.at(CHIP_PATH_OHMS), centres)
    spreads = np.array([
        max(NARROWEST, spread_of(c[k], draws[k])) if k.any() else 1.0
        for c, k in zip(centres, stands & ~is_open & (over < 1.0), strict=True)
    ])  # fmt: skip
    spreads = np.repeat(spreads[:, None], count, axis=1)
    wide = np.full_like(spreads, UNLISTED_SPREAD)
    if reference is not None:
        for row, at in first.items():
            if stands[at].any():
                places, own, same = follow(on, padded(row, count), reference, draws)
                centres[at] = np.where(np.isfinite(places), places, centres[at])
                spreads[at], wide[at] = own, np.where(same, 0.0, UNLISTED_SPREAD)
    widths = np.where(is_open, CHIP_PATH_SPREAD, np.hypot(meter, spreads))
    of_fault = np.array([first[key] for key in keys])  # faults that read alike share a row so far
    widths, wide = widths[of_fault], wide[of_fault]
    centres, over, stands = centres[of_fault], over[of_fault], stands[of_fault]
    is_simulated = stands.any(axis=1)
    pool = np.where(is_simulated, np.maximum(faults, _LEAST), 0.0)
    pool = pool / pool.sum()
    priors = shares_of(faults)
    family = Kernels(
        on, tuple(parts), centres, widths, np.hypot(widths, wide), over,
        stands.astype(np.float64), prior, draws, pool,
        priors, np.zeros_like(rules), rules,
    )  # fmt: skip
    by_band = np.stack([family.inside(b.low, b.high) for b in parts], axis=2)
    ids = [outcome.id for outcome in test.outcomes]
    masses = np.zeros((*by_band.shape[:2], len(ids)))
    for number, band in enumerate(parts):
        at = ids.index(band.outcome)
        blind = blind_of(on, band.low, band.high)
        masses[:, :, at] = by_band[:, :, number] + SURPRISE * (rules[:, at] - blind)[:, None]
    words = _words(np.tile(is_simulated[:, None], (1, count)), word)
    whole = np.einsum("n,fno->fo", draws, masses[:, :-1])
    own = np.where(is_simulated[:, None], rules, rules @ on_designs(rules, whole, pool))
    odds = (1.0 - words)[:, :, None] * own[:, None, :] + words[:, :, None] * masses
    family = replace(family, masses=whole, rules=own)
    return Table(words, rules, unlike(odds, priors, draws), family)


def on_designs(rules: Floats, masses: Floats, pool: Floats) -> Floats:
    """[O, O] what the sampled designs show where the rules name an outcome, over the faults that
    were simulated, by `pool`; rows sum to 1.

    A band is cut for one make, and where makers differ sound units of others lie beyond it. A fault
    that was not simulated is sound there no more narrowly than those that were: by its rule alone
    it would gain from each reading that happens to lie in the band.
    """
    weights = rules.T @ (pool[:, None] * masses)
    total = weights.sum(axis=1, keepdims=True)
    shows: Floats = np.where(
        total > _LEAST, weights / np.maximum(total, _LEAST), np.eye(len(weights))
    )
    return shows


def shares_of(faults: Floats) -> Floats:
    """Priors made to sum to 1, none of them 0."""
    weights = np.maximum(faults, _LEAST)
    shares: Floats = weights / weights.sum()
    return shares


def watch_table(
    test: Test,
    rules: Floats,
    rows: Sequence[Sequence[str | None] | None],
    prior: Floats,
    draws: Floats,
    faults: Floats,
    word: float,
    unseen: float,
) -> Table:
    """The table of a test that is only watched: outcomes by fault and design, as `measured`.

    A design whose unit was not simulated here shows as the others do; `unseen` is the weight,
    beside the designs' 1, of outcomes that none of them showed.
    """
    ids = [outcome.id for outcome in test.outcomes]
    count = len(prior)
    sights = np.zeros((len(rows), count, len(ids)))
    for at, row in enumerate(rows):
        for number, outcome in enumerate((row or ())[:count]):
            if outcome in ids:
                sights[at, number, ids.index(outcome)] = 1.0
    stands = sights.sum(axis=2) > 0.0
    even = np.full(len(ids), 1.0 / len(ids))
    family = np.einsum("n,fno->fo", prior, sights)
    total = family.sum(axis=1)[:, None]
    family = np.divide(family + unseen * even, total + unseen, out=np.tile(even, (len(rows), 1)),
                       where=total > 0.0)  # fmt: skip
    own = (sights + unseen * even) / (1.0 + unseen)
    columns = np.where(stands[:, :, None], own, family[:, None, :])
    columns = np.concatenate([columns, family[:, None, :]], axis=1)
    is_simulated = np.tile(stands.any(axis=1)[:, None], (1, count))
    words = _words(is_simulated, word)
    odds = (1.0 - words)[:, :, None] * rules[:, None, :] + words[:, :, None] * columns
    return Table(words, rules, unlike(odds, shares_of(faults), draws) if words.any() else odds)


def silent(rules: Floats, count: int) -> Table:
    """The table of a test of which the rules alone speak; `count` designs."""
    odds = np.repeat(rules[:, None, :], count + 1, axis=1)
    return Table(np.zeros((len(rules), count + 1)), rules, odds)


def _words(stands: Floats, word: float) -> Floats:
    """[F, N + 1] the circuit's share: none where nothing was simulated."""
    own = word * stands
    unlisted = min(word, UNLISTED_WORD) * stands.any(axis=1)
    words: Floats = np.column_stack([own, unlisted])
    return words


def rule_rows(test: Test, rows: Sequence[Mapping[str, float]]) -> Floats:
    """[F, O] the rules' odds; `rows` of the faults in their order."""
    return np.array([[row.get(o.id, 0.0) for o in test.outcomes] for row in rows])


def first_rows(table: Table, many: int) -> Table:
    """The table of the first faults alone."""
    if len(table.rules) == many:
        return table
    kernels = table.kernels
    if kernels is not None:
        own = {name: getattr(kernels, name)[:many] for name in _BY_FAULT}
        kernels = replace(kernels, **own)
    return Table(table.word[:many], table.rules[:many], table.odds[:many], kernels)


_BY_FAULT = (
    "centres", "widths", "wide", "over", "stands", "pool", "faults", "masses", "rules",
)  # fmt: skip
