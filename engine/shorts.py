"""A short found cold is not energised: which tests an answer bars."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from engine.model import Model


def barred(model: Model, answers: Mapping[str, Iterable[str]]) -> frozenset[str]:
    """placeholder until merge"""
    return frozenset()
