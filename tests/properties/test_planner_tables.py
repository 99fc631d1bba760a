"""What the planner reckons before it searches, on tables small enough to be worked by hand.

The search is held to the optimum elsewhere (`test_planner`): that sees a bound that is too high,
and not one that is too low to be of use. Each table here is worked beside its test.
"""

from __future__ import annotations

import numpy as np
import pytest

from engine.model.records import Requirement
from engine.planner import ALL, Bound, accesses, requirements, tables, tolls
from engine.planner.tree import CUTS, _closed_by
from tests.models import simple_test, stage_chain

A, B = 1, 2


def test_every_bound_is_among_all_of_them() -> None:
    assert [bound for bound in Bound if bound not in ALL] == []


# ---- openings ----


def test_sets_of_openings_grow_in_the_order_they_allow() -> None:
    """The cover (B) lies behind the cap (A): nothing, the cap, both; never the cover alone."""
    assert accesses.access_sets(0, [A, A | B], [0, A]) == [0, A, A | B]


def test_openings_side_by_side_are_made_in_either_order() -> None:
    assert accesses.access_sets(0, [A, B], [0, 0]) == [0, A, B, A | B]


def test_an_opening_that_no_test_needs_is_not_made() -> None:
    assert accesses.access_sets(0, [A], [0, 0]) == [0, A]


def test_so_many_sets_of_openings_are_of_no_use() -> None:
    """Seven side by side make 128 sets."""
    assert accesses.access_sets(0, [1 << i for i in range(7)], [0] * 7) == []
    assert len(accesses.access_sets(0, [1 << i for i in range(6)], [0] * 6)) == 64


def test_one_more_opening_leads_to_the_set_that_has_it() -> None:
    """From nothing the cap; from the cap the cover; made ones lead nowhere."""
    assert accesses.beyond([0, A, A | B], 2).tolist() == [[1, -1], [-1, 2], [-1, -1]]


def test_what_is_told_apart_grows_with_the_openings() -> None:
    """The first test parts the first class from the others and needs nothing; the second, behind
    the cap, parts the second from the third."""
    alike = np.array([[0, 1, 1], [0, 0, 1]], dtype=np.int32)
    shut, opened = accesses.cells([0, A], [0, A], alike).tolist()
    assert shut[0] != shut[1] == shut[2]
    assert len(set(opened)) == 3


def test_where_no_test_is_within_reach_nothing_is_told_apart() -> None:
    alike = np.array([[0, 1]], dtype=np.int32)
    assert accesses.cells([0, A], [A], alike).tolist()[0] == [0, 0]


# ---- rows and regrets ----


def test_a_class_is_split_where_it_shows_more_than_one_answer() -> None:
    table = np.array([[1.0, 0.0, 0.3], [0.0, 1.0, 0.7]])
    assert tables.splits(table).tolist() == [False, False, True]
    assert tables.shown_kinds(table, tables.splits(table)).tolist() == [0, 1, tables.MIXED]


def test_classes_are_alike_where_a_test_shows_the_same_of_them() -> None:
    """Two tests: one parts the first class off, the other, with split rows, the second."""
    sure = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 1.0]])
    torn = np.array([[0.5, 1.0, 0.5], [0.5, 0.0, 0.5]])
    alike, sets = tables.alike_sets([sure, torn], 3, 1)
    members = [[int(sets[row, 0]) for row in test] for test in alike[:2]]
    assert members == [[0b001, 0b110, 0b110], [0b101, 0b010, 0b101]]


def test_members_are_packed_lowest_bit_first() -> None:
    members = np.zeros((1, 66), dtype=bool)
    members[0, [0, 3, 65]] = True
    assert tables.bits(members, 2).tolist() == [[0b1001, 0b10]]


def test_two_classes_lose_the_least_under_one_remedy() -> None:
    """Remedies lose 0 and 5, or 4 and 0: either together loses 4 at least, a class by itself 0."""
    regret = np.array([[0.0, 5.0], [4.0, 0.0]])
    assert tables.confusion(regret).tolist() == [[0.0, 4.0], [4.0, 0.0]]


def test_odds_that_two_kinds_show_different_answers() -> None:
    """Sure against sure the other way: 1; sure against even: a half; alike and sure: 0."""
    table = np.array([[1.0, 0.0, 0.5, 1.0], [0.0, 1.0, 0.5, 0.0]])
    kind = np.array([0, 1, 2, 0], dtype=np.uint16)
    assert tables.apart(table, kind).tolist() == [[0, 1, 0.5], [1, 0, 0.5], [0.5, 0.5, 0.5]]


def test_remedies_cluster_where_a_class_loses_little_by_either() -> None:
    """Two classes that lose 1 by each other's remedy and 10 by any other: together at 15 per cent
    of 10 and apart at none; a level that clusters as many as one before is left out."""
    regret = np.array([[0.0, 1.0, 10.0], [1.0, 0.0, 10.0], [10.0, 10.0, 0.0]])
    cluster, outside = tables.clusters(regret)
    assert [len(set(row)) for row in cluster.tolist()] == [3, 2]
    assert cluster[1][0] == cluster[1][1] != cluster[1][2]
    assert outside.tolist() == [[1.0, 1.0, 10.0], [10.0, 10.0, 10.0]]


def test_the_pair_bound_is_left_out_of_very_large_models() -> None:
    """Squares of the kinds of all tests, 2 and 3 kinds: 13; and classes by their number."""
    kind = np.array([[0, 1], [0, 2]], dtype=np.uint16)
    assert tables.few_pairs(kind, 2)
    assert not tables.few_pairs(kind, tables.MOST_PAIRED + 1)
    wide = np.array([[0, 2_000]], dtype=np.uint16)
    assert not tables.few_pairs(wide, 2)


# ---- what must have been shown ----

BY = {"look": ("good",), "feel": ("fine", "warm")}
SOFT, STRICT = Requirement("R1", BY, "R1"), Requirement("R2", {"weigh": ("light",)}, "R2", True)


def register(*left: str, answers: tuple[tuple[str, str], ...] = ()) -> requirements.Register:
    return requirements.Register.of(((SOFT, STRICT), (SOFT,)), left, answers)


def test_what_a_test_left_could_meet_is_open_once() -> None:
    assert register("feel", "weigh").open == (SOFT, STRICT)
    assert register("feel", "weigh").lost == ()


def test_what_was_met_bars_nothing() -> None:
    assert register("weigh", answers=(("look", "good"),)).open == (STRICT,)


def test_what_no_test_left_can_meet_is_waived_unless_it_is_strict_or_was_missed() -> None:
    """Nobody ever looked or felt: waived. Felt and found otherwise: lost. Strict: lost anyway."""
    assert register().lost == (STRICT,)
    assert register(answers=(("feel", "hot"),)).lost == (SOFT, STRICT)
    assert register().is_barred([STRICT])
    assert not register().is_barred([SOFT])


def test_bits_go_by_what_is_open_and_are_set_by_its_answers() -> None:
    here = register("look", "feel", "weigh")
    assert here.bits([SOFT]) == 1
    assert here.bits([STRICT]) == 2
    assert here.bits([SOFT, STRICT, SOFT]) == 3
    assert here.bits_of("feel", "warm") == 1
    assert here.bits_of("weigh", "light") == 2
    assert here.bits_of("weigh", "heavy") == here.bits_of("other", "good") == 0
    assert here.meets(simple_test("look"))
    assert not here.meets(simple_test("look", outcomes=("so", "so-la")))


def test_a_class_is_due_what_it_would_lose_most_by_forgoing() -> None:
    """Three remedies for one class: free of charge with both asked for, 2 with the second, 7 with
    none. Without the first it loses 2, without the second 7."""
    due = requirements.due(np.array([[0.0], [2.0], [7.0]]), [0b11, 0b10, 0])
    assert due.first.tolist() == [0, 2]
    assert due.bit.tolist()[:2] == [1, 0]
    assert due.forfeit.tolist()[:2] == [7.0, 2.0]


def test_a_class_is_due_nothing_that_costs_nothing_to_forgo() -> None:
    due = requirements.due(np.array([[0.0], [0.0]]), [0b1, 0])
    assert due.first.tolist() == [0, 0]


def test_a_remedy_is_worth_its_bits_where_it_is_cheaper_than_a_free_one() -> None:
    """The free one costs 5 and 5; the one with bit 1 costs 3 and 9: worth it for the first."""
    assert requirements.remedy_bits(np.array([[5.0, 5.0], [3.0, 9.0]]), [0, 0b10]) == [0b10, 0]


# ---- set-up minutes ----


def test_tolls_of_the_borders_crossed_sum_to_no_more_than_the_change() -> None:
    """Two places but the start, of one rig: 4 and 6 minutes off, 1 from one to the other. Four are
    paid for the rig, then nothing for the first and one more for the second."""
    places = [("dead", "none"), ("bench", "fed"), ("mains", "fed")]
    change = np.array([[0.0, 4.0, 6.0], [4.0, 0.0, 1.0], [6.0, 1.0, 0.0]])
    minutes, behind = tolls.tolls(places, change)
    assert minutes == [4.0, 1.0]
    assert behind.tolist() == [[0, 1, 1], [0, 0, 1], [0, 0, 0]]


def test_a_change_of_a_rig_by_hand_goes_through_the_dead_bench() -> None:
    """On limited mains throughout (1 min each way off `dead`): fitting `fed` takes 2 and hands;
    `covered` 0.5 and none."""
    model = stage_chain(0)
    places = [("limited", "none"), ("limited", "fed"), ("limited", "covered"), ("bench", "none")]
    direct, hands_in = tolls.changes(model, places)
    assert direct[0].tolist() == [0.0, 1.5 + 1.0 + 2.0, 0.5, 2.0]
    assert hands_in[0].tolist() == [2.5, 4.5, 3.0, 2.0]
    assert direct[1][2] == 1.5 + 1.0 + 0.5
    assert direct[1][1] == 0.0


# ---- how the proof is told ----


@pytest.mark.parametrize(("few", "is_named"), [(1, True), (0, False)])
def test_a_bound_that_told_once_in_a_hundred_is_named(few: int, is_named: bool) -> None:
    words = _closed_by((100 - few, few, *[0] * (len(CUTS) - 2)))
    assert (CUTS[1] in words) is is_named
    assert CUTS[0][1:] in words


def test_a_bound_that_told_less_than_once_in_a_hundred_is_left_out() -> None:
    assert CUTS[1] not in _closed_by((199, 1, *[0] * (len(CUTS) - 2)))


def test_what_no_bound_closed_was_best_at_once() -> None:
    assert _closed_by((0,) * len(CUTS)) == "Stopping at once is best."
