"""Does belief agree with worked examples and with another program's exact inference?"""

from __future__ import annotations

import json
import random
from pathlib import Path

import numpy as np
import pytest
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork

from engine.model.file import read_model
from engine.model.records import Model
from engine.readings.belief import entropy, information, outcome_odds, posterior, prepare, revise

LANTERN = Path(__file__).parents[1] / "safety" / "gate-lantern.model.json"


def model_of(priors: list[float], rows: dict[str, list[float]], misread: float = 0.0) -> Model:
    """Two-outcome tests: `rows[test][n]` is the odds of `bad` under fault n."""
    plain = json.loads(LANTERN.read_text())
    names = [f"f{n}" for n in range(len(priors))]
    fault, remedy, test = plain["faults"][0], plain["remedies"][-1], plain["tests"][2]
    plain["faults"] = [
        {**fault, "id": name, "prior": prior} for name, prior in zip(names, priors, strict=True)
    ]
    plain["remedies"] = [{**remedy, "cures": names}]
    outcomes = [{**test["outcomes"][0], "id": word} for word in ("bad", "good")]
    mistaken = {"bad": {"good": misread}, "good": {"bad": misread}}
    plain["tests"] = [{**test, "id": t, "outcomes": outcomes, "misread": mistaken} for t in rows]
    plain["likelihood"] = {
        t: {n: {"bad": p, "good": 1 - p} for n, p in zip(names, row, strict=True)}
        for t, row in rows.items()
    }
    return read_model(json.dumps(plain), "worked example")


def test_one_reading_right_19_times_of_20() -> None:
    """Prior 0.10, 95 % right both ways: bad 0.6786, good 0.00581 (Bayes' rule, by hand:
    0.095 / 0.14 and 0.005 / 0.86)."""
    tables = prepare(model_of([0.1, 0.9], {"t": [1.0, 0.0]}, misread=0.05))
    bad, good = (float(posterior(tables, [("t", told)])[0]) for told in ("bad", "good"))
    assert (round(bad, 4), round(good, 5)) == (0.6786, 0.00581)


def test_two_readings() -> None:
    """.4 .3 .2 .1 x .98 .98 .02 .02, then x .95 .05 .95 .05 (reckoned by hand)."""
    rows = {"s": [0.98, 0.98, 0.02, 0.02], "t": [0.95, 0.05, 0.95, 0.05]}
    tables = prepare(model_of([0.4, 0.3, 0.2, 0.1], rows))
    first = posterior(tables, [("s", "bad")])
    assert first.round(5).tolist() == [0.56647, 0.42486, 0.00578, 0.00289]
    second = revise(tables, first, "t", "bad")
    assert second.round(5).tolist() == [0.95243, 0.03760, 0.00972, 0.00026]
    assert outcome_odds(tables, tables.prior, "s")["bad"] == pytest.approx(0.692, abs=1e-12)


def test_entropy_probe_in_a_chain_of_four_stages() -> None:
    """Four equal stages, output bad: 2 bits; a probe after stage 2 leaves 1, after 1 or 3 1.1887.

    Method of de Kleer and Williams, Artificial Intelligence 32 (1987); figures by hand:
    3/4 log2 3 = 1.1887.
    """
    rows = {f"after-{k}": [1.0 if n < k else 0.0 for n in range(4)] for k in (1, 2, 3)}
    tables = prepare(model_of([0.25] * 4, rows))
    assert entropy(tables.prior) == pytest.approx(2.0)
    left = [2.0 - information(tables, tables.prior, f"after-{k}") for k in (1, 2, 3)]
    assert [round(bits, 4) for bits in left] == [1.1887, 1.0, 1.1887]


def _network(model: Model) -> DiscreteBayesianNetwork:
    """Fault -> true outcome -> told outcome for each test, as tables of the general library."""
    network = DiscreteBayesianNetwork()
    faults = [fault.id for fault in model.faults]
    network.add_node("fault")
    network.add_cpds(TabularCPD("fault", len(faults), [[f.prior] for f in model.faults]))
    for test in model.tests:
        outcomes = [outcome.id for outcome in test.outcomes]
        true, told, size = f"true {test.id}", f"told {test.id}", len(test.outcomes)
        network.add_edges_from([("fault", true), (true, told)])
        shows = [[model.row(test.id, f).get(o, 0.0) for f in faults] for o in outcomes]
        network.add_cpds(TabularCPD(true, size, shows, ["fault"], [len(faults)]))
        confused = np.zeros((size, size))
        for at, outcome in enumerate(outcomes):
            for other, share in test.misread.get(outcome, {}).items():
                confused[outcomes.index(other), at] = share
            confused[at, at] = 1.0 - confused[:, at].sum()
        network.add_cpds(TabularCPD(told, size, confused, [true], [size]))
    network.check_model()
    return network


@pytest.mark.parametrize("seed", range(6))
def test_posterior_equals_variable_elimination(seed: int) -> None:
    """Against pgmpy's exact inference on the same model with fault, true and told variables."""
    chance = random.Random(seed)
    shares = [chance.random() for _ in range(12)]
    priors = [share / sum(shares) for share in shares]
    kinds = (0.0, 1.0, 0.5, chance.random())
    rows = {f"t{n}": [chance.choice(kinds) for _ in priors] for n in range(5)}
    model = model_of(priors, rows, misread=0.04)
    findings = [(test, chance.choice(("bad", "good"))) for test in rows]
    evidence = {f"told {test}": int(told == "good") for test, told in findings}
    exact = VariableElimination(_network(model)).query(["fault"], evidence, show_progress=False)
    ours = posterior(prepare(model), findings)
    assert np.abs(ours - exact.values).max() < 1e-12


def test_posterior_of_the_lantern_equals_variable_elimination() -> None:
    """The same on a model with three outcomes and misreads of one sort only."""
    model = read_model(LANTERN.read_text(), "lantern")
    findings = [("probe-leds", "one-dark"), ("rail-volts", "low")]
    evidence = {"told probe-leds": 1, "told rail-volts": 0}
    exact = VariableElimination(_network(model)).query(["fault"], evidence, show_progress=False)
    ours = posterior(prepare(model), findings)
    assert np.abs(ours - exact.values).max() < 1e-12
