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

