"""Does every path through the page tell what the chart document tells?

Each path from the root is walked in the page and in the document side by side; odds are recomputed
along it from priors and rows of the model, in plain Python.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import pytest

from render.wording.bands import outcome_words, quantity
from render.wording.odds import percent
from tests.page.charts import SOURCES, documents, html
from tests.page.reading import Screen, screens_of, spoken, tree_of

NAMES = tuple(SOURCES)


@cache
def screens(name: str) -> Mapping[str, Screen]:
    """The screens of a page, read back."""
    return screens_of(tree_of(html(name)))


@dataclass(frozen=True)
class Path:
    """A way through the chart: its nodes, and for each fault the odds of it and of coming so."""

    nodes: tuple[str, ...]
    weights: Mapping[str, float]
    minutes: float = 0.0


@dataclass
class Told:
    """The two documents by name."""

    model: dict[str, Any]
    chart: dict[str, Any]
    by_id: dict[str, dict[str, Any]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for kind in ("tests", "remedies", "cautions", "proofs"):
            self.by_id[kind] = {item["id"]: item for item in self.model[kind]}

    def paths(self) -> Iterator[Path]:
        """Every path to a verdict or a recheck."""
        priors = {fault["id"]: fault["prior"] for fault in self.model["faults"]}
        stack = [Path((self.chart["root"],), priors)]
        while stack:
            path = stack.pop()
            node = self.chart["nodes"][path.nodes[-1]]
            if node["kind"] in ("verdict", "recheck"):
                yield path
            elif node["kind"] == "setup":
                nodes = (*path.nodes, node["next"])
                stack.append(Path(nodes, path.weights, path.minutes + node["minutes"]))
            else:
                stack.extend(self.branches(path, node))

    def branches(self, path: Path, node: dict[str, Any]) -> Iterator[Path]:
        """The path longer by each answer."""
        rows = self.model["likelihood"][node["test"]]
        spent = path.minutes + self.by_id["tests"][node["test"]]["minutes"]
        for outcome, to in node["branches"].items():
            odds = {f: p * rows[f].get(outcome, 0.0) for f, p in path.weights.items()}
            yield Path((*path.nodes, to), odds, spent)


@cache
def told(name: str) -> Told:
    """The documents of a page."""
    return Told(*documents(name))


@cache
def paths(name: str) -> tuple[Path, ...]:
    """All paths of a page's chart."""
    return tuple(told(name).paths())


@pytest.mark.parametrize("name", NAMES)
def test_every_step_of_every_path_is_a_screen_of_its_kind(name: str) -> None:
    nodes = told(name).chart["nodes"]
    walked = {node for path in paths(name) for node in path.nodes}
    assert walked == set(screens(name)) == set(nodes)
    assert {n: s.kind for n, s in screens(name).items()} == {n: nodes[n]["kind"] for n in nodes}


@pytest.mark.parametrize("name", NAMES)
def test_every_step_leads_where_the_document_leads(name: str) -> None:
    for node, screen in screens(name).items():
        document = told(name).chart["nodes"][node]
        assert screen.next == document.get("next", "")
        led = {answer.outcome: answer.to for answer in screen.answers}
        assert led == document.get("branches", {})


@pytest.mark.parametrize("name", NAMES)
def test_every_step_bears_its_cautions_in_full(name: str) -> None:
    cautions = told(name).by_id["cautions"]
    for node, screen in screens(name).items():
        wanted = told(name).chart["nodes"][node].get("cautions", ())
        assert set(screen.cautions) == set(wanted)
        for caution, words in screen.cautions.items():
            assert words.startswith(cautions[caution]["signal"])
            assert spoken(cautions[caution]["says"]) in words


@pytest.mark.parametrize("name", NAMES)
def test_every_store_to_be_made_safe_stands_at_its_step(name: str) -> None:
    for node, screen in screens(name).items():
        wanted = told(name).chart["nodes"][node].get("make_safe") or ()
        limits = tuple(
            (spoken(p["point"]), spoken("below " + quantity(p["below"], p["unit"]))) for p in wanted
        )
        assert screen.points == limits


@pytest.mark.parametrize("name", NAMES)
def test_minutes_along_every_path_are_the_documents(name: str) -> None:
    page = screens(name)
    for path in paths(name):
        assert sum(page[node].minutes for node in path.nodes) == pytest.approx(path.minutes)


@pytest.mark.parametrize("name", NAMES)
def test_minutes_to_be_expected_at_the_root_are_the_documents(name: str) -> None:
    chart = told(name).chart
    root = screens(name)[chart["root"]]
    assert root.minutes + root.ahead == pytest.approx(chart["expected_minutes"], abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_odds_of_every_answer_on_every_path_follow_from_the_model(name: str) -> None:
    seen = set()
    for path in paths(name):
        for place, node in enumerate(path.nodes[:-1]):
            if screens(name)[node].kind != "test" or path.nodes[: place + 1] in seen:
                continue
            seen.add(path.nodes[: place + 1])
            _answers_are_right(name, path.nodes[: place + 1])


def _answers_are_right(name: str, nodes: tuple[str, ...]) -> None:
    weights = next(p for p in _prefixes(name) if p.nodes == nodes).weights
    rows = told(name).model["likelihood"][told(name).chart["nodes"][nodes[-1]]["test"]]
    reach = sum(weights.values())
    for answer in screens(name)[nodes[-1]].answers:
        odds = sum(p * rows[f].get(answer.outcome, 0.0) for f, p in weights.items()) / reach
        assert answer.odds == pytest.approx(odds, abs=1e-9)
        if odds > 1e-12:
            assert spoken(percent(odds)) in answer.words


@cache
def _prefixes(name: str) -> tuple[Path, ...]:
    """Every beginning of every path, with its weights."""
    story = told(name)
    priors = {fault["id"]: fault["prior"] for fault in story.model["faults"]}
    stack, found = [Path((story.chart["root"],), priors)], []
    while stack:
        path = stack.pop()
        found.append(path)
        node = story.chart["nodes"][path.nodes[-1]]
        if node["kind"] == "setup":
            stack.append(Path((*path.nodes, node["next"]), path.weights))
        elif node["kind"] == "test":
            stack.extend(p for p in story.branches(path, node) if sum(p.weights.values()) > 0)
    return tuple(found)


@pytest.mark.parametrize("name", NAMES)
def test_odds_of_the_answers_multiply_to_the_reach_of_each_verdict(name: str) -> None:
    page, came = screens(name), dict.fromkeys(told(name).chart["nodes"], 0.0)
    stack = [(told(name).chart["root"], 1.0)]
    while stack:
        node, odds = stack.pop()
        came[node] += odds
        screen = page[node]
        if screen.next:
            stack.append((screen.next, odds))
        stack.extend((answer.to, odds * answer.odds) for answer in screen.answers)
    for node, document in told(name).chart["nodes"].items():
        if document["kind"] == "verdict":
            assert came[node] == pytest.approx(document["reach"], abs=1e-9)
            assert page[node].reach == pytest.approx(document["reach"], abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_every_reading_band_stands_on_its_answer(name: str) -> None:
    for node, screen in screens(name).items():
        if screen.kind != "test":
            continue
        test = told(name).by_id["tests"][told(name).chart["nodes"][node]["test"]]
        outcomes = {outcome["id"]: outcome for outcome in test["outcomes"]}
        for answer in screen.answers:
            said = spoken(outcome_words(outcomes[answer.outcome])).replace(":", "")
            assert said in answer.words.replace(":", "")


@pytest.mark.parametrize("name", NAMES)
def test_every_verdict_names_remedy_faults_and_odds(name: str) -> None:
    for node, screen in screens(name).items():
        document = told(name).chart["nodes"][node]
        if document["kind"] != "verdict":
            continue
        remedy = told(name).by_id["remedies"][document["remedy"]]
        assert spoken(remedy["says"].rstrip(". ")) in screen.words
        assert spoken(str(remedy.get("how") or "")) in screen.words
        assert screen.faults == {fault["id"]: fault["p"] for fault in document["faults"]}
        cured = sum(f["p"] for f in document["faults"] if f["id"] in remedy["cures"])
        assert screen.sure == pytest.approx(cured)
        assert f"{spoken(percent(cured))} sure" in screen.words


@pytest.mark.parametrize("name", NAMES)
def test_every_verdict_ends_in_its_proofs_with_their_cautions(name: str) -> None:
    story = told(name)
    for node, screen in screens(name).items():
        document = story.chart["nodes"][node]
        if document["kind"] != "verdict":
            continue
        wanted = story.by_id["remedies"][document["remedy"]]["proofs"]
        cautions = {p: set(story.by_id["proofs"][p].get("cautions") or ()) for p in wanted}
        assert {p: set(words) for p, words in screen.proofs.items()} == cautions
        for proof in wanted:
            assert spoken(story.by_id["proofs"][proof]["says"].rstrip(". ")) in screen.words
            assert spoken(story.by_id["proofs"][proof]["limit"]) in screen.words


def test_checks_and_verdicts_bear_the_numbers_of_the_wall_chart() -> None:
    from render.wording.scriptwriter import write_script

    model, chart = documents("lantern")
    script = write_script(model, chart)
    labels = defaultdict(set)
    for node, screen in screens("lantern").items():
        number = script.numbers.get(script.merged.get(node, node))
        if number:
            labels[number].add(screen.words)
    assert all(any(number in words for words in said) for number, said in labels.items())
    assert len(labels) == len(set(script.numbers.values()))
