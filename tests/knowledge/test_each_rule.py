"""No rule is idle: deleting any one changes some model.

Derivations are left out of the comparison, since they would change with any rule that fires.
"""

import dataclasses

import pytest

from tests.knowledge import absence


@pytest.mark.parametrize("rule", list(absence.knowledge().rules))
def test_without_it_some_model_is_another(rule):
    assert absence.matters(rule) is not None


def test_the_comparison_can_tell_that_nothing_changed(monkeypatch):
    """A copy of a rule under another name changes nothing of a unit it fires in, and nor does its
    absence."""
    known = absence.knowledge()
    twin = known.rules["dark-when-unfed"].model_copy(update={"id": "twin"})
    rules = {**known.rules, "twin": twin}
    more = dataclasses.replace(known, rules=rules)
    monkeypatch.setattr(absence, "knowledge", lambda: more)
    absence.forget()
    try:
        unit = absence.BENCHES[:1]
        assert all("twin" in absence.explored(place).firings for place in unit)
        assert absence.matters("twin", unit) is None
    finally:
        absence.forget()


@pytest.mark.parametrize("step", ["survey", "offer", "suppose", "conclude"])
def test_what_follows_without_a_rule_is_what_a_chainer_without_it_finds(step):
    """Of the run in which most was fired, for a few of the rules that fired in it."""
    absence.documented(absence.BENCHES[0], "trips-protection", "part")
    runs = [
        (recording, given, record)
        for recording in absence.recordings(step)
        for given, record in recording.records.items()
    ]
    recording, given, record = max(runs, key=lambda run: len(run[2].firings))
    fired = sorted(record.findings.firings)
    for rule in fired[:: max(1, len(fired) // 3)]:
        real, replayed = recording.lacking(rule).run(given), record.without(rule)
        assert set(replayed.facts) == set(real.facts)
        assert replayed.firings == real.firings
        assert rule not in replayed.firings
        assert all(set(why.facts) <= set(real.facts) for why in replayed.causes.values())


def test_no_rule_that_fires_is_held_for_one_that_can_not():
    """On a unit and a bench, what fires is among what is said to be able to; the rest is less."""
    place = absence.BENCHES[0]
    rules = absence.knowledge().rules
    able = {rule for rule in rules if absence.may_fire(rule, place)}
    assert absence.explored(place).firings | absence.concluded(place, "cycles").firings <= able
    assert able < rules.keys()
