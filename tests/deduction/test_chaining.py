"""durable-rules, as it is used here, concludes exactly what the plain chainer of `oracle` does.

Known quirks of durable-rules 2.0.28 that this guards against, each met while building: a pattern
with a choice loses its joins; one message entering more than 64 joins fails; `1e-05` breaks its
reader; a message that meets two conditions of a rule is taken for one; a fact under negation that
is told late does not stop a rule; what an action raises is swallowed.
"""

import itertools
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.deduce.chaining import Chainer, compile_rules
from engine.deduce.facts import Fact, fact
from engine.deduce.grounding import concluded_kinds, ground
from engine.deduce.ruleset import Ruleset
from kb.language.schema import Rule
from kb.trouble import Place, TroubleError
from tests.deduction.oracle import follows, meets

GIVEN, NEW, FIELDS = ("a", "b", "c"), ("d", "e"), ("x", "y", "id")
VARIABLES = ("$p", "$q", "$r")
# Equal-looking values of different sorts, odd texts, and numbers that JSON writes in odd ways.
VALUES = st.sampled_from(
    [2, 2.5, 1e-05, 1e22, -3, "2", "2.0", "2.5", True, "True", "", "é Ω", 'a "b"\\', "$oops", "= 1"]
)
CONSTANTS = VALUES.filter(lambda value: not isinstance(value, str) or value[:1] not in "$=")
LIMITS = st.sampled_from([0, 2, 2.5, 1e-05])


def rule(name, when, then, unless=()):
    """A rule of no particular trade."""
    return Rule(
        id=name, says="A rule.", step="suppose", source="made up",
        when=tuple(when), then=tuple(then), unless=tuple(unless),
    )  # fmt: skip


@st.composite
def facts(draw):
    kinds = st.sampled_from((*GIVEN, *NEW))
    fields = st.dictionaries(st.sampled_from(FIELDS), VALUES, max_size=3)
    return [fact(draw(kinds), **draw(fields)) for _ in range(draw(st.integers(0, 12)))]


@st.composite
def conditions(draw, kinds, bound):
    """A clause over some kind; `bound` are the variables that stand before it."""
    names = draw(st.lists(st.sampled_from(FIELDS), unique=True, max_size=3))
    fields = {}
    for name in names:
        fresh = st.sampled_from(VARIABLES)
        comparisons = [
            st.lists(CONSTANTS, min_size=1, max_size=3).map(lambda choices: {"any": choices}),
            CONSTANTS.map(lambda value: {"not": value}),
            LIMITS.map(lambda limit: {"above": limit}),
            LIMITS.map(lambda limit: {"below": limit}),
        ]
        if bound:
            comparisons.append(st.sampled_from(sorted(bound)).map(lambda var: {"not": var}))
        fields[name] = draw(st.one_of(CONSTANTS, fresh, fresh, *comparisons))
    return {draw(st.sampled_from(kinds)): fields}


def variables(clauses):
    return {
        wanted
        for clause in clauses
        for fields in clause.values()
        for wanted in fields.values()
        if isinstance(wanted, str) and wanted in VARIABLES
    }


@st.composite
def rules(draw):
    found = []
    for number in range(draw(st.integers(1, 4))):
        when = []
        for _ in range(draw(st.integers(1, 4))):
            when.append(draw(conditions((*GIVEN, *NEW), variables(when))))
        unless = [
            draw(conditions(GIVEN, variables(when))) for _ in range(draw(st.integers(0, 2)))
        ]
        told = [CONSTANTS]
        if variables(when):
            told.append(st.sampled_from(sorted(variables(when))))
        templates = st.dictionaries(st.sampled_from(FIELDS), st.one_of(*told), max_size=2)
        news = st.builds(lambda kind, told: {kind: told}, st.sampled_from(NEW), templates)
        then = draw(st.lists(news, min_size=1, max_size=2))
        found.append(rule(f"r{number}", when, then, unless))
    return found


def sorts(found):
    """Facts with the sort of each value, since Python takes 2 and 2.0 for one, and so do rules."""
    return {(f.kind, tuple((n, type(v) is bool, v) for n, v in f.fields)) for f in found}


@given(rules(), facts())
@settings(max_examples=200)
def test_whole_rules_conclude_what_the_plain_chainer_does(some, known):
    assert sorts(compile_rules(some, {}).run(known).facts) == sorts(follows(some, known))


@given(rules(), facts(), st.sets(st.sampled_from(GIVEN)))
@settings(max_examples=200)
def test_rules_joined_with_what_stands_conclude_the_same(some, known, moving):
    """Whatever is held for standing and whatever for moving."""
    moving = concluded_kinds(some) | moving
    standing = [f for f in known if f.kind not in moving]
    chainer = Chainer(ground(some, standing, moving), {}, standing)
    moved = [f for f in known if f.kind in moving]
    for some_moved in (moved, moved[::2], moved):  # a later run must not see an earlier one
        found = chainer.run(some_moved)
        assert sorts(found.facts) == sorts(follows(some, [*standing, *some_moved]))


@given(rules(), facts())
@settings(max_examples=80)
def test_every_cause_is_a_reason(some, known):
    """The facts it names meet the rule's conditions and were known before."""
    found = compile_rules(some, {}).run(known)
    order = {f: number for number, f in enumerate(found.facts)}
    by_name = {r.id: r for r in some}
    for conclusion, cause in found.causes.items():
        values = {}
        for clause, reason in zip(by_name[cause.rule].when, cause.facts, strict=True):
            ((kind, fields),) = clause.items()
            assert reason.kind == kind
            values = meets(dict(reason.fields), fields, values)
            assert values is not None
            assert order[reason] < order[conclusion]


def test_the_same_rules_are_compiled_once():
    """durable-rules gives no compiled rules back: a server would grow with each set of them."""
    pattern = [{"c_0": {"$and": [{"fact": "a"}, {"x": 1}]}}]
    one, same, other = (Ruleset({name: pattern}) for name in ("r", "r", "another"))
    assert one._handle == same._handle
    assert one._handle != other._handle


def test_threads_that_share_rules_keep_their_own_conclusions():
    """A page deduces for one bench while another's is under way; rulesets are shared."""
    rules = [rule(f"r{n}", [{"a": {"x": "$p"}}], [{"d": {"x": "$p", "y": n}}]) for n in range(5)]

    def concluded(value):
        found = compile_rules(rules, {}).run([fact("a", x=value)])
        return {(f.kind, dict(f.fields)["x"]) for f in found.facts if f.kind == "d"}

    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    try:
        with ThreadPoolExecutor(8) as pool:
            for value, found in enumerate(pool.map(concluded, range(60))):
                assert found == {("d", value)}
    finally:
        sys.setswitchinterval(before)


def test_a_fact_may_meet_two_conditions_of_one_rule():
    both = rule("both", [{"a": {"x": "$p"}}, {"a": {"y": "$q"}}], [{"d": {"x": "$p", "y": "$q"}}])
    found = compile_rules([both], {}).run([fact("a", x="1", y="2"), fact("a", x="3", y="4")])
    assert {(f["x"], f["y"]) for f in found.of("d")} == set(itertools.product("13", "24"))


def test_a_kind_of_fact_may_be_used_by_hundreds_of_conditions():
    many = [rule(f"r{n}", [{"a": {"x": "$p"}}], [{"d": {"x": n}}]) for n in range(300)]
    assert len(list(compile_rules(many, {}).run([fact("a", x="1")]).of("d"))) == 300


def test_hundreds_of_facts_may_meet_one_condition():
    pairs = rule("pairs", [{"a": {"x": "$p"}}, {"b": {"x": "$p"}}], [{"d": {"x": "$p"}}])
    known = [fact(kind, x=n) for kind in "ab" for n in range(400)]
    assert len(list(compile_rules([pairs], {}).run(known).of("d"))) == 400


def test_a_long_chain_is_followed_to_its_end():
    on = rule("on", [{"d": {"x": "$p"}}, {"a": {"x": "$p", "y": "$q"}}], [{"d": {"x": "$q"}}])
    known = [fact("a", x=n, y=n + 1) for n in range(300)]
    found = compile_rules([on], {}).run([*known, fact("d", x=0)])
    assert len(list(found.of("d"))) == 301
    assert sum(1 for _ in found.chain(fact("d", x=300))) == 601


def test_a_rule_that_only_forbids_fires_beside_what_stands():
    some = [rule("no-b", [{"a": {"x": "$p"}}], [{"d": {"x": "$p"}}], unless=[{"b": {"x": "$p"}}])]
    chainer = Chainer(ground(some, [fact("a", x="1")], frozenset("bd")), {}, [fact("a", x="1")])
    assert list(chainer.run([]).of("d")) == [fact("d", x="1")]
    assert list(chainer.run([fact("b", x="1")]).of("d")) == []


def test_runs_that_differ_in_what_no_rule_hears_keep_their_own_facts():
    """One of them is concluded in the one run and there from the beginning in the other."""
    some = [rule("b-d", [{"b": {"x": "$p"}}], [{"d": {"x": "$p"}}, {"e": {"x": "$p"}}])]
    standing = [fact("a", x="1")]
    chainer = Chainer(ground(some, standing, frozenset("bcde")), {}, standing)
    b, c, d, e = (fact(kind, x="2") for kind in "bcde")
    assert chainer.run([b]).facts == (*standing, b, d, e)
    beside = chainer.run([c, d, b])
    assert beside.facts == (*standing, c, d, b, e)
    assert list(beside.causes) == [e]
    assert list(chainer.run([b]).causes) == [d, e]


@pytest.mark.parametrize(
    ("then", "words"),
    [
        ({"x": "= $p / 0"}, "can't be worked out"),
        ({"x": "= sqrt($p - 9)"}, "can't be worked out"),
        ({"x": "= $p +"}, "is not an expression"),
        ({"x": "{nobody}"}, "nobody"),
        ({"x": "{p:d}"}, "format code"),
        ({"x": "$nobody"}, "nobody"),
        ({"x": "= __import__('os')"}, "may use only"),
    ],
)
def test_a_rule_that_fails_is_named_with_its_place(then, words):
    wrong = rule("wrong", [{"a": {"x": "$p"}}], [{"d": then}])
    with pytest.raises(TroubleError) as raised:
        compile_rules([wrong], {"wrong": Place("shop.yaml", 7, 3)}).run([fact("a", x=4)])
    (trouble,) = raised.value.troubles
    assert str(trouble).startswith("shop.yaml:7:3 KB301 Rule 'wrong' could not conclude its 'd'")
    assert words in trouble.what


def test_a_rule_of_fifteen_conditions_works():
    long = rule("long", [{"a": {"x": n, "y": "$p"}} for n in range(15)], [{"d": {"x": "$p"}}])
    known = [fact("a", x=n, y="same") for n in range(15)]
    assert list(compile_rules([long], {}).run(known).of("d")) == [fact("d", x="same")]


def test_a_rule_of_too_many_conditions_is_refused():
    """durable-rules would write past its memory."""
    long = rule("long", [{"a": {"x": n}} for n in range(16)], [{"d": {"x": "yes"}}])
    with pytest.raises(TroubleError, match="rule 'long' can't be used: it has more than 15"):
        compile_rules([long], {})


def test_not_of_a_variable_that_nothing_binds_is_refused():
    loose = rule("loose", [{"a": {"x": {"not": "$p"}}}], [{"d": {"x": "yes"}}])
    with pytest.raises(TroubleError, match="before anything binds"):
        compile_rules([loose], {})


def test_a_chainer_works_on_after_a_rule_has_failed():
    some = [rule("wrong", [{"a": {"x": "$p"}}], [{"d": {"x": "= 1 / $p"}}])]
    chainer = compile_rules(some, {})
    with pytest.raises(TroubleError):
        chainer.run([fact("a", x=0)])
    assert list(chainer.run([fact("a", x=2)]).of("d")) == [fact("d", x=0.5)]


def test_equal_facts_are_one_and_keep_the_first_cause():
    some = [rule(n, [{"a": {"x": "$p"}}], [{"d": {"x": "same"}}]) for n in ("first", "second")]
    found = compile_rules(some, {}).run([fact("a", x="1"), fact("a", x="1")])
    assert len(found.facts) == 2
    assert isinstance(found.causes[Fact("d", (("x", "same"),))].rule, str)
