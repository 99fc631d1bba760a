"""The least expected cost by enumerating every plan, straight from the objective's words.

It shares nothing with the planner but the model's records; it is slow and meant to be read.
"""

from __future__ import annotations

from engine.model import Model, Test

State = tuple[frozenset[str], str, str]


def best_cost(model: Model, withdrawn: frozenset[str] = frozenset()) -> float:
    """Least E[test and set-up minutes] + E[remedy] + wrong-verdict minutes x P(not cured)."""
    weights = {f.id: f.prior for f in model.faults if f.prior > 0}
    state = (frozenset(model.start.opened), model.start.supply, model.start.rig)
    left = tuple(t for t in model.tests if t.id not in withdrawn)
    return _best(model, weights, state, left, {})


def _best(
    model: Model,
    weights: dict[str, float],
    state: State,
    left: tuple[Test, ...],
    seen: dict[object, float],
) -> float:
    key = (tuple(sorted(weights.items())), state, tuple(t.id for t in left))
    if key not in seen:
        choices = [_test_cost(model, weights, state, left, t, seen) for t in left]
        seen[key] = min([_stop(model, weights), *choices])
    return seen[key]


def _stop(model: Model, weights: dict[str, float]) -> float:
    return min(
        sum(
            w * (r.minutes + (0.0 if f in r.cures else model.wrong_verdict_minutes))
            for f, w in weights.items()
        )
        for r in model.remedies
    )


def _test_cost(
    model: Model,
    weights: dict[str, float],
    state: State,
    left: tuple[Test, ...],
    test: Test,
    seen: dict[object, float],
) -> float:
    opened = state[0]
    if model.arrangement(test.supply).closed_only and (opened or test.opened):
        return float("inf")
    after = (opened | _with_prior(model, test.opened), test.supply, test.rig)
    rest = tuple(t for t in left if t is not test)
    cost = sum(weights.values()) * (test.minutes + set_up(model, state, after))
    splits = []
    for outcome in test.outcomes:
        below = {
            f: w * model.row(test.id, f).get(outcome.id, 0.0)
            for f, w in weights.items()
            if model.row(test.id, f).get(outcome.id, 0.0) > 0
        }
        if below:
            splits.append((below, _safe(model, rest) if outcome.short else rest))
    if len(splits) == 1:
        return float("inf")
    return cost + sum(_best(model, below, after, open_to, seen) for below, open_to in splits)


def _safe(model: Model, tests: tuple[Test, ...]) -> tuple[Test, ...]:
    """The tests that may still be done to a unit in which a short was found."""
    return tuple(t for t in tests if model.arrangement(t.supply).energy in ("none", "elv"))


def _with_prior(model: Model, wanted: tuple[str, ...]) -> frozenset[str]:
    found = set(wanted)
    for name in wanted:
        found |= _with_prior(model, model.opening(name).after)
    return frozenset(found)


def set_up(model: Model, before: State, after: State) -> float:
    """The set-up rule of the design, word by word."""
    (opened, supply, rig), (opened_after, supply_after, rig_after) = before, after
    dead = next(a.id for a in model.supply.arrangements if a.energy == "none")
    table = model.supply.minutes
    rig_minutes = model.rig(rig_after).minutes if rig_after != rig else 0.0
    hands = rig_after != rig and (model.rig(rig).hands_on or model.rig(rig_after).hands_on)
    opening = [o.minutes for o in model.openings if o.id in opened_after - opened]
    if opening or hands:
        return table[supply][dead] + sum(opening) + rig_minutes + table[dead][supply_after]
    return table[supply][supply_after] + rig_minutes
