"""Failure-mode shares against the table they came from.

Source: MIL-HDBK-338B (1 October 1998), failure-mode table of the section on failure modes, effects
and criticality analysis, which reprints FMD-91. The capacitor rows were seen again in a 2004 sheet
that prints the same table; all other rows are from memory and to be checked against the handbook.
"""

import re

import pytest

from kb.language import loader

HANDBOOK = {
    "capacitor Al electrolytic": {"short": 0.53, "open": 0.35, "leak": 0.10, "value": 0.02},
    "capacitor ceramic": {"short": 0.49, "value": 0.29, "open": 0.22},
    "capacitor plastic film": {"open": 0.42, "short": 0.40, "value": 0.18},
    "resistor fixed": {"open": 0.84, "value": 0.11, "short": 0.05},
    "resistor film": {"open": 0.59, "value": 0.36, "short": 0.05},
    "resistor wirewound": {"open": 0.65, "value": 0.26, "short": 0.09},
    "thermistor": {"open": 0.63, "value": 0.22, "short": 0.15},
    "diode general": {"short": 0.49, "open": 0.36, "value": 0.15},
    "rectifier": {"short": 0.51, "open": 0.29, "value": 0.20},
    "zener regulator": {"open": 0.45, "value": 0.35, "short": 0.20},
    "thyristor": {"off": 0.45, "short": 0.40, "open": 0.10, "on": 0.05},
    "FET": {"short": 0.51, "output low": 0.22, "value": 0.17, "open": 0.05, "output high": 0.05},
    "linear IC": {"improper": 0.77, "none": 0.23},
    "LED": {"open": 0.70, "short": 0.30},
    "optical sensor": {"short": 0.50, "open": 0.50},
    "coil": {"short": 0.42, "open": 0.42, "value": 0.16},
    "connection": {"open": 0.61, "intermittent": 0.23, "short": 0.16},
}
# How the shop's words for modes stand for the handbook's.
MEANS = {"drifted": "value", "turns": "short", "loose": "intermittent", "leaky": "leak"}
CITED = re.compile(
    r"MIL-HDBK-338B failure-mode table, (?P<row>[A-Za-z -]+?)"
    r"(?: \((?P<mode>[\w ]+)\))?(?: (?P<printed>\.\d+), scaled to the (?P<left>[\d.]+) left)?"
    r"(?P<part>: \w+ (?P<whole>\.\d+), of which .+)?"
)


def cited():
    """Every mode that cites the handbook: part kind, mode, share, and the citation taken apart."""
    for kind in loader.read().parts.values():
        for name, mode in kind.modes.items():
            if "338B" in mode.source:
                yield kind.kind, name, mode.share, mode.source


CASES = list(cited())


@pytest.mark.parametrize(
    ("mode", "share", "source"), [case[1:] for case in CASES], ids=[" ".join(c[:2]) for c in CASES]
)
def test_a_cited_share_is_the_handbooks(mode, share, source):
    found = CITED.fullmatch(source)
    assert found, source
    row = HANDBOOK[found["row"]]
    printed = row[found["mode"] or MEANS.get(mode, mode)]
    if found["part"]:
        assert float(found["whole"]) == printed
        assert share < printed
        return
    if found["printed"]:
        assert float(found["printed"]) == printed
    assert share == pytest.approx(printed * float(found["left"] or 1), abs=0.01)


def test_what_is_left_of_a_scaled_row_is_what_other_modes_take():
    """A row is scaled to what the modes set before it leave."""
    for kind in loader.read().parts.values():
        left = {
            float(found["left"])
            for mode in kind.modes.values()
            if (found := CITED.fullmatch(mode.source)) and found["left"]
        }
        if left:
            own = sum(mode.share for mode in kind.modes.values() if "338B" not in mode.source)
            assert [*left] == [pytest.approx(1 - own)]


def test_the_handbook_is_cited_at_all():
    assert len(CASES) > 25
