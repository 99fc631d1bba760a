"""The cells of a readings document: what the sampled designs show at a test under a fault."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from engine.audit.bench import Document

Shown = tuple[str | None, float | None]
"""An outcome, or a number in its base unit."""


@dataclass(frozen=True, slots=True)
class Cells:
    """A readings document, and the cells `beyond` what its circuit can speak for."""

    readings: Document
    beyond: Sequence[Document] = ()

    def row(self, test: str, fault: str) -> list[Shown] | None:
        """Nominal and siblings of a cell; None where nothing was simulated or it is argued."""
        is_argued = any(
            re.fullmatch(one["faults"], fault) and re.fullmatch(one["tests"] or ".*", test)
            for one in self.beyond
        )
        return None if is_argued else self.file_row(test, fault)

    def file_row(self, test: str, fault: str) -> list[Shown] | None:
        """The same, argued or not."""
        table = self.readings["tests"].get(test)
        if table is None or fault not in self.readings["faults"]:
            return None
        number = table["rows"][self.readings["faults"].index(fault)]
        row = [] if number is None else self.readings["readings"][number]
        return [_sample(one) for one in row] or None

    def is_simulated(self, test: str, faults: Iterable[str]) -> bool:
        """Whether any of the faults was simulated at the test."""
        return any(self.row(test, fault) is not None for fault in faults)


def _sample(plain: Any) -> Shown:
    if isinstance(plain, list):
        return str(plain[0]), _sample(plain[1])[1]
    if plain == "OL":
        return None, math.inf
    if plain is None or isinstance(plain, str):
        return plain, None
    return None, float(plain)
