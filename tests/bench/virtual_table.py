"""What came of the walks on the virtual bench: the table, its intervals, and every miss.

A share over faults alike counts each fault once however many units and persons tried it; by prior,
each counts as its odds. Intervals are Wilson's at 95 % (J. Am. Stat. Assoc. 22, 1927, 209) with
the effective number of tries of unequal weights, (sum w)^2 / sum w^2 (L. Kish, Survey Sampling,
1965).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from engine.studies.contest import wilson

GOALS = {0.0: 0.97, 0.03: 0.93}


@dataclass(frozen=True, slots=True)
class Asked:
    """One question of a walk: what was told, what was true, and whether the person was mistaken."""

    test: str
    told: str
    truth: str
    mistaken: bool

    def __str__(self) -> str:
        slip = f" (misread, was {self.truth})" if self.mistaken else ""
        return f"{self.test} {self.told}{slip}"


@dataclass(frozen=True, slots=True)
class Rival:
    """How another way of working ended on the same unit: its first verdict and minutes to it."""

    way: str
    remedy: str
    right: bool
    minutes: float
    asked: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Try:
    """One walk: what was wrong, what was concluded first, how sure, what was asked and told.

    `left` is the odds that the walk still gave the true fault. `repairs` are those made until one
    cured, 0 where none did; `all_minutes` are those to the last verdict, wrong repairs and their
    proofs counted, the last repair not. `written`: the same answers in a file end alike.
    `rivals` are the other ways of working on the same unit.
    """

    topology: str
    volts: str
    mistakes: float
    person: str
    unit: int
    fault: str
    prior: float
    remedy: str
    right: bool
    confidence: float
    minutes: float
    believed: str
    left: float
    asked: tuple[Asked, ...]
    repairs: int
    all_minutes: float
    written: bool
    rivals: tuple[Rival, ...] = ()

    @property
    def says(self) -> str:
        """A miss in one line."""
        return (
            f"missed {self.topology} {self.volts} V {self.fault} ({self.mistakes:.0%}, "
            f"{self.person}): {self.remedy} at {self.confidence:.2f}, most likely {self.believed}, "
            f"the true fault left at {self.left:.3f}, {self.minutes:.0f} min, after "
            + "; ".join(map(str, self.asked))
        )


def share(part: Sequence[Try], weigh: Callable[[Try], float]) -> tuple[float, float, float]:
    """The weighted share of right walks, with the ends of its 95 % interval."""
    weights = [weigh(one) for one in part]
    total = sum(weights)
    right = sum(w for w, one in zip(weights, part, strict=True) if one.right) / total
    effective = round(total**2 / sum(w * w for w in weights))
    return right, *wilson(round(right * effective), effective)


def summary(found: Sequence[Try], say: Callable[[str], None]) -> None:
    """The table, and what each missed fault was taken for."""
    say(
        f"{'':37}{'walks':>6} {'right':>7} {'95 %':>13} {'by prior':>9} {'95 %':>13}"
        f" {'goal':>5} {'minutes':>8} {'in the end':>11} {'minutes':>8}"
    )
    for mistakes in sorted({one.mistakes for one in found}):
        level = [one for one in found if one.mistakes == mistakes]
        for key in sorted({(one.topology, one.volts) for one in level}):
            part = [one for one in level if (one.topology, one.volts) == key]
            _line(f"{key[0]} {key[1]} V, {mistakes:.0%} misread", part, say)
        for topology in sorted({one.topology for one in level}):
            part = [one for one in level if one.topology == topology]
            _line(f"{topology}, {mistakes:.0%} misread", part, say)
        _line(f"all, {mistakes:.0%} misread", level, say)
    _confusion(found, say)
    for one in found:
        if not one.written:
            say(f"{one.topology} {one.volts} V {one.fault}, {one.person}: a file ends otherwise")


def _confusion(found: Iterable[Try], say: Callable[[str], None]) -> None:
    taken = Counter(
        (one.topology, one.volts, one.mistakes, one.fault, one.remedy)
        for one in found
        if not one.right
    )
    for (topology, volts, mistakes, fault, remedy), times in sorted(taken.items()):
        say(f"{topology} {volts} V {mistakes:.0%}: {fault} taken to {remedy}, {times} times")


def _line(name: str, part: Sequence[Try], say: Callable[[str], None]) -> None:
    tries = Counter((one.topology, one.volts, one.fault) for one in part)
    even, low, high = share(part, lambda one: 1.0 / tries[one.topology, one.volts, one.fault])
    weighed, least, most = share(
        part, lambda one: one.prior / tries[one.topology, one.volts, one.fault]
    )
    minutes = sum(one.minutes for one in part) / len(part)
    cured = sum(one.repairs > 0 for one in part) / len(part)
    whole = sum(one.all_minutes for one in part) / len(part)
    say(
        f"{name:37}{len(part):6d} {even:7.1%} {low:6.1%}-{high:6.1%} {weighed:9.1%}"
        f" {least:6.1%}-{most:6.1%} {GOALS.get(part[0].mistakes, 0.0):5.0%} {minutes:8.1f}"
        f" {cured:11.1%} {whole:8.1f}"
    )
