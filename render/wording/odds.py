"""Odds and shares as people say them: the one writer of percentages."""

from __future__ import annotations

_LEAST, _SURE = 0.005, 1 - 1e-9


def percent(odds: float) -> str:
    """Odds in whole percent: `61 %`, `<1 %`, `>99 %`; `0 %` only for what can't be."""
    if odds <= 0:
        return "0 %"
    if odds < _LEAST:
        return "<1 %"
    if 1 - _LEAST <= odds < _SURE:
        return ">99 %"
    return f"{odds * 100:.0f} %"


def share(of_all: float) -> str:
    """A share of many that were counted, with one decimal: `12.3 %`."""
    return f"{100 * of_all:.1f} %"
