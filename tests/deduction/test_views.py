"""Do the views read what the knowledge says that facts hold, and nothing that is not there?"""

from __future__ import annotations

import ast
from dataclasses import MISSING
from pathlib import Path

import pytest

from engine.deduce import anatomy, offers
from engine.deduce.composition import Bench, compose
from engine.deduce.deduction import Reasoner
from engine.deduce.facts import FieldError, fact, readings
from kb.language.loader import as_shipped, read
from tests.knowledge.shop import CORD_LAMP, folder

ENGINE = Path(__file__).parents[2] / "engine"
VIEWS = (*anatomy.VIEWS, *offers.VIEWS)
SORTS = {"str": "text", "float": "number", "bool": "truth"}


def sort_in_words(kind, name):
    """What the entry of a kind says of a field."""
    return "number" if name in kind.numbers else "truth" if name in kind.truths else "text"


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: view.kind)
def test_each_attribute_is_a_field_of_that_sort(view):
    kind = as_shipped().facts[view.kind]
    for reading in readings(view):
        assert reading.field in kind.fields
        assert SORTS[reading.sort.removesuffix(" | None")] == sort_in_words(kind, reading.field)
        assert reading.may_lack == (reading.field in kind.optional)


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: view.kind)
def test_nothing_lacking_is_read_as_a_number(view):
    """What stands for a lacking field is None or the empty text."""
    assert {r.otherwise for r in readings(view)} <= {MISSING, None, ""}
    assert all(r.otherwise in (MISSING, None) for r in readings(view) if "float" in r.sort)


def test_each_kind_has_one_view_and_each_view_is_listed():
    assert len({view.kind for view in VIEWS}) == len(VIEWS)
    for module in (anatomy, offers):
        tree = ast.parse(Path(module.__file__).read_text(encoding="utf-8"))
        classes = {
            node.name for node in tree.body
            if isinstance(node, ast.ClassDef) and [ast.unparse(b) for b in node.bases] == ["View"]
        }
        assert classes == {view.__name__ for view in module.VIEWS}


def test_each_view_is_read_somewhere():
    """A view that nobody lists would stand for a kind that Python does not take."""
    readers = [p for folder in ("deduce", "assembly") for p in (ENGINE / folder).glob("*.py")]
    text = "\n".join(path.read_text(encoding="utf-8") for path in readers)
    assert [v.__name__ for v in anatomy.VIEWS if f"anatomy.{v.__name__}" not in text] == []
    assert [v.__name__ for v in offers.VIEWS if f"offers.{v.__name__}" not in text] == []


def test_a_fact_that_lacks_a_field_is_no_view():
    with pytest.raises(FieldError, match="without its field 'odds'") as caught:
        offers.Slip.of(fact("slips", test="ohms"))
    assert caught.value.field == "odds"


@pytest.mark.parametrize("odds", ["0.1", True, float("nan")])
def test_a_number_that_is_none_is_no_view(odds):
    with pytest.raises(FieldError, match="whose 'odds' is no number"):
        offers.Slip.of(fact("slips", test="ohms", odds=odds))


def test_a_truth_that_is_none_is_no_view():
    proof = {"name": "p", "says": "p", "supply": "s", "limit": "l", "minutes": 1, "rank": 1}
    assert offers.Proof.of(fact("proof", **proof, closed=False)).closed is False
    with pytest.raises(FieldError, match="neither true nor false: 1"):
        offers.Proof.of(fact("proof", **proof, closed=1))


@pytest.mark.parametrize("lacking", ["outcome", "says", "for"])
def test_an_answer_that_lacks_a_word_is_none(lacking):
    words = {reading.field: "t" for reading in readings(offers.Test) if not reading.may_lack}
    answer = {"outcome": "low", "says": "low", "for": ["zero"], "below": 2}
    own = fact("test", **{**words, "minutes": 1})
    own.detail["answers"] = [answer]
    assert offers.Test.of(own).answers == (offers.Answer("low", "low", ("zero",), 2.0),)
    own.detail["answers"] = [{name: word for name, word in answer.items() if name != lacking}]
    with pytest.raises(FieldError, match=f"an answer that has no '{lacking}'"):
        offers.Test.of(own)


# ---- what a topology leaves out ----


def composed(topology, knowledge=None):
    """The facts of a unit on the usual bench."""
    knowledge = knowledge or as_shipped()
    return compose(knowledge, knowledge.topologies[topology], Bench(230, 50))


@pytest.mark.parametrize("topology", sorted(as_shipped().topologies))
def test_a_composed_unit_gives_each_kind_all_that_it_always_has(topology):
    """And of the sort that the entry says: texts, numbers, truths."""
    sorts = {str: "text", float: "number", int: "number", bool: "truth"}
    for item in composed(topology):
        kind = as_shipped().facts[item.kind]
        own = dict(item.fields)
        assert set(kind.needs) <= set(own) <= set(kind.fields), item
        assert {n: sorts[type(v)] for n, v in own.items()} == {
            name: sort_in_words(kind, name) for name in own
        }


def offered(folder_of_ones_own, value):
    """The string of the cord lamp with that value, and the tests that it is offered."""
    text = CORD_LAMP.replace("value: 36 V, ", value)
    knowledge = read((folder(folder_of_ones_own, lamp=text),))
    _, offer = Reasoner(knowledge).survey("cord-lamp", Bench(230, 50))
    string = next(part for part in offer.all(anatomy.Part) if part.name == "LED")
    return string, {test.name for test in offer.all(offers.Test) if test.on == "LED"}


def test_what_nobody_marked_is_left_out_and_meets_no_condition(tmp_path):
    """A string of unknown volts is not one of small packages: a battery would not light it."""
    marked, tests = offered(tmp_path / "marked", "value: 6 V, ")
    assert (marked.value, marked.marking) == (6.0, "6 V")
    assert "each-package-LED" in tests
    unmarked, tests = offered(tmp_path / "unmarked", "")
    assert (unmarked.value, unmarked.marking, unmarked.volts) == (None, None, None)
    assert "each-package-LED" not in tests
