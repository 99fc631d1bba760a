"""A sum worked in the open: inputs, formula, results, rating rule and source."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import TypeVar

from kb.quantities import Quantity, read_quantity
from kb.trouble import Place, Trouble, TroubleError

_Result = TypeVar("_Result")
Pairs = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Worksheet:
    """One calculation as it is shown; every value is text with its unit."""

    title: str
    inputs: Pairs
    formula: str
    results: Pairs
    rule: str
    source: str


def show(sheet: Worksheet, as_json: bool) -> None:
    """Print the sheet, or its JSON."""
    if as_json:
        plain = asdict(sheet)
        plain["inputs"], plain["results"] = dict(sheet.inputs), dict(sheet.results)
        print(json.dumps(plain, ensure_ascii=False, indent=1))
        return
    print(sheet.title)
    width = max(len(name) for name, _ in (*sheet.inputs, *sheet.results, ("formula", "")))
    for name, value in sheet.inputs:
        print(f"  {name:<{width}}  {value}")
    if sheet.formula:
        print(f"  {'formula':<{width}}  {sheet.formula}")
    for name, value in sheet.results:
        print(f"  {name:<{width}}  {value}")
    for name, text in (("rule", sheet.rule), ("source", sheet.source)):
        if text:
            print(f"  {name:<{width}}  {text}")


def quantity(text: str, unit: str, name: str) -> Quantity:
    """A quantity as typed, in the base unit wanted; a TroubleError for another unit or nonsense."""
    try:
        read = read_quantity(text, unit)
    except ValueError as wrong:
        raise refusal(name, wrong) from wrong
    if read.unit != unit:
        raise refusal(name, ValueError(f"“{text}” is in {read.unit}, and {unit} is wanted"))
    return read


def worked(name: str, sum_: Callable[[], _Result]) -> _Result:
    """The result of a sum; numbers that describe no circuit become a TroubleError."""
    try:
        return sum_()
    except ValueError as wrong:
        raise refusal(name, wrong) from wrong


def refusal(name: str, wrong: ValueError) -> TroubleError:
    """A sum refused, in the sentence of the engine."""
    what, _, mend = str(wrong).partition(": ")
    mend = (
        mend[:1].upper() + mend[1:]
        or f"Look at nextprobe calc {name.split()[0]} --help for what it takes"
    )
    return TroubleError(Trouble("CL301", Place(f"calc {name}"), what, mend))
