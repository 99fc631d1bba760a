"""Does the planner find the optimum of published problems?

Each case is a model whose optimal plan is known from elsewhere; costs are test minutes alone
(remedies are free and a wrong verdict is ruinous).
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

import pytest

from engine.model.plan import Ask, Plan, Verdict
from engine.model.records import Model
from engine.planner import plan
from tests.models import probe_chain, simple_test, subset_tests, tiny_model


def total_cost(model: Model, weights: Sequence[float]) -> float:
    """Expected minutes in the units of the published weights."""
    return plan(model).proof.expected_cost * sum(weights)


def depths(made: Plan) -> dict[str, int]:
    """Tests done before each fault's verdict, for plans without split outcomes."""
    found: dict[str, int] = {}

    def walk(name: str, depth: int) -> None:
        node = made.nodes[name]
        if isinstance(node, Ask):
            for child in node.branches.values():
                walk(child, depth + 1)
        elif isinstance(node, Verdict):
            found.update({fault: depth for fault, _ in node.weights})

    walk(made.root, 0)
    return found


# D. A. Huffman, "A method for the construction of minimum-redundancy codes", Proc. IRE 40 (1952);
# the weights are the worked example of Cormen, Leiserson, Rivest and Stein, chapter on greedy
# algorithms: 224 in all, code lengths 1 3 3 3 4 4. When every subset is a test, the plan is a
# prefix code.
HUFFMAN = {"a": 45, "b": 13, "c": 12, "d": 16, "e": 9, "f": 5}


def every_subset(weights: Mapping[str, float]) -> Model:
    names = sorted(weights)
    first, rest = names[0], names[1:]
    subsets = [
        frozenset({first, *others})
        for size in range(len(rest))
        for others in itertools.combinations(rest, size)
    ]
    return subset_tests(dict(weights), subsets)


def test_every_subset_a_test_gives_the_huffman_code() -> None:
    model = every_subset(HUFFMAN)
    assert total_cost(model, list(HUFFMAN.values())) == pytest.approx(224)


def test_huffman_code_lengths() -> None:
    found = depths(plan(every_subset(HUFFMAN)))
    assert [found[name] for name in "abcdef"] == [1, 3, 3, 3, 4, 4]


# T. C. Hu and A. C. Tucker, SIAM J. Appl. Math. 21 (1971), and A. M. Garsia and M. L. Wachs, SIAM
# J. Comput. 6 (1977), for the method; totals computed by dynamic programming over intervals. The
# letter weights (space, A to Z; from memory) are those of Knuth, The Art of Computer Programming,
# vol. 3, section 6.2.2: 4200.
LETTERS = (
    186, 64, 13, 22, 32, 103, 21, 15, 47, 57, 1, 5, 32, 20, 57, 63, 15, 1, 48, 51, 80, 23, 8, 18,
    1, 16, 1,
)  # fmt: skip


@pytest.mark.parametrize(
    ("weights", "total"),
    [((30, 5, 10, 25, 5, 25), 245), ((8, 7, 1, 9, 2, 3, 6, 4), 117), (LETTERS, 4200)],
)
def test_stage_chain_is_an_alphabetic_tree(weights: tuple[int, ...], total: int) -> None:
    assert total_cost(probe_chain(weights), weights) == pytest.approx(total)


@pytest.mark.parametrize(
    ("weights", "first", "lengths"),
    [
        ((30, 5, 10, 25, 5, 25), 3, [2, 3, 3, 2, 3, 3]),
        ((8, 7, 1, 9, 2, 3, 6, 4), 3, [2, 3, 3, 3, 4, 4, 3, 3]),
    ],
)
def test_where_the_first_probe_goes(
    weights: tuple[int, ...], first: int, lengths: list[int]
) -> None:
    made = plan(probe_chain(weights))
    root = made.nodes[made.root]
    assert isinstance(root, Ask)
    assert root.test == f"t{first - 1}"
    assert [depths(made)[f"s{i}"] for i in range(len(weights))] == lengths


# Half-split doctrine: n equal stages need n ceil(log2 n) - 2^ceil(log2 n) + n probes in all.
@pytest.mark.parametrize(
    ("stages", "probes"), [(5, 12), (6, 16), (7, 20), (8, 24), (10, 34), (16, 64)]
)
def test_equal_stages_are_split_in_half(stages: int, probes: int) -> None:
    assert total_cost(probe_chain([1.0] * stages), [1.0] * stages) == pytest.approx(probes)


# J. B. Kadane and H. A. Simon (1977); D. Heckerman, J. S. Breese and K. Rommelse, "Decision-
# theoretic troubleshooting", CACM 38(3), 1995: with one fault and a decisive check for each part,
# checking in descending order of p/c is best. Totals by brute force over all orders.
CHECKS = [
    ((0.45, 0.25, 0.20, 0.10), (12, 4, 2, 5), 12.30, ["CBAD"]),
    ((0.40, 0.30, 0.20, 0.10), (8, 3, 5, 1), 9.50, ["BDAC", "DBAC"]),
]


def decisive_checks(odds: Sequence[float], minutes: Sequence[float]) -> Model:
    """One check for each part, and a very rare cause that none of them shows.

    The rare one makes a wrong guess cost more than any check, so that each part is checked before
    it is named, as in the published problem.
    """
    priors = dict(zip("ABCD", odds, strict=True)) | {"rare": 1e-7}
    tests = [simple_test(f"check-{n}", m) for n, m in zip("ABCD", minutes, strict=True)]
    likelihood = {
        f"check-{name}": {f: "bad" if f == name else "good" for f in priors} for name in "ABCD"
    }
    return tiny_model(priors, tests, likelihood, wrong_verdict_minutes=5e8)


def checking_order(made: Plan) -> str:
    order = ""
    name = made.root
    while isinstance(node := made.nodes[name], Ask):
        order += node.test[-1]
        name = node.branches["good"]
    return order


@pytest.mark.parametrize(("odds", "minutes", "cost", "orders"), CHECKS)
def test_checks_go_by_odds_over_minutes(
    odds: tuple[float, ...], minutes: tuple[float, ...], cost: float, orders: list[str]
) -> None:
    made = plan(decisive_checks(odds, minutes))
    assert made.proof.expected_cost == pytest.approx(cost, abs=1e-4)
    assert checking_order(made) in orders


@pytest.mark.parametrize(("odds", "minutes", "cost", "orders"), CHECKS)
def test_published_order_is_the_best_of_all_orders(
    odds: tuple[float, ...], minutes: tuple[float, ...], cost: float, orders: list[str]
) -> None:
    def of(order: Sequence[int]) -> float:
        return sum(minutes[k] * sum(odds[j] for j in order[i:]) for i, k in enumerate(order))

    best = min(itertools.permutations(range(4)), key=of)
    assert of(best) == pytest.approx(cost)


# A test-sequencing example (matrix from memory; optimum by dynamic programming): unit costs, five
# system states, five binary tests, 2.12 tests on average; t2 first, after it fails t1, after it
# passes t4 and, if that fails, t1.
SIGNATURES = {"s0": "", "s1": "25", "s2": "34", "s3": "145", "s4": "12"}
STATE_ODDS = {"s0": 0.70, "s1": 0.01, "s2": 0.02, "s3": 0.10, "s4": 0.17}


def sequencing_example() -> Model:
    tests = [simple_test(f"t{i}") for i in range(1, 6)]
    rows = {
        t.id: {s: "bad" if t.id[1] in failing else "good" for s, failing in SIGNATURES.items()}
        for t in tests
    }
    return tiny_model(STATE_ODDS, tests, rows)


def test_sequencing_example_takes_2_12_tests() -> None:
    assert plan(sequencing_example()).proof.expected_cost == pytest.approx(2.12)


def test_sequencing_example_order() -> None:
    made = plan(sequencing_example())
    root = made.nodes[made.root]
    assert isinstance(root, Ask)
    failed, passed = made.nodes[root.branches["bad"]], made.nodes[root.branches["good"]]
    assert isinstance(failed, Ask)
    assert isinstance(passed, Ask)
    assert (root.test, failed.test, passed.test) == ("t2", "t1", "t4")
