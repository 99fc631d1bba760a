"""Values read off the unit at hand, held against what its topology lists.

| code | trouble |
|---|---|
| EV101 | no part of that name has a value |
| EV102 | no pair of part and value, or a value of the wrong kind |
| EV103 | a value so far from the listed one that it was read wrong |
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from kb.language.knowledge import Knowledge
from kb.quantities import Quantity, read_as, read_quantity, show
from kb.trouble import Place, Trouble, TroubleError

FAR = 30.0
"""Makers' values for one part lie up to twenty times apart (the dropper of a usual comparator
against that of a micropower one); farther off is a band or a suffix misread. Our choice."""


def assignments(texts: Iterable[str]) -> dict[str, str]:
    """`R2=220k` and the like as a mapping. TroubleError EV102 for a text of another shape."""
    values = {}
    for text in texts:
        part, equals, value = text.partition("=")
        if not equals or not part.strip() or not value.strip():
            raise _trouble("EV102", f"“{text}” gives no part a value", "Write it such as R2=220k")
        values[part.strip()] = value.strip()
    return values


def listed_values(knowledge: Knowledge, topology: str, volts: float) -> dict[str, Quantity]:
    """The values that a topology lists at one mains, by part; empty for an unknown topology."""
    if topology not in knowledge.topologies:
        return {}
    values = {}
    for stage in knowledge.topologies[topology].stages.values():
        for name, part in stage.parts.items():
            text = part.when_mains.get(f"{volts:g}", part.value)
            if text:
                values[name] = read_quantity(text)
    return values


def read(texts: Mapping[str, str], usual: Mapping[str, Quantity]) -> dict[str, Quantity]:
    """Markings as quantities; `usual` are the listed ones. TroubleError EV101, EV102, EV103."""
    return {part: _read(part, text, usual) for part, text in texts.items()}


def _read(part: str, text: str, usuals: Mapping[str, Quantity]) -> Quantity:
    if part not in usuals:
        names = ", ".join(sorted(usuals))
        raise _trouble(
            "EV101", f"This unit has no part {part} with a value",
            f"Give one of {names}" if names else "Leave the value out",
        )  # fmt: skip
    usual = usuals[part]
    example = f"Write it such as {part}={show(usual.value, usual.unit).replace(' ', '')}"
    try:
        quantity = read_as(text, usual.unit)
    except ValueError as error:
        raise _trouble("EV102", str(error), example) from None
    if quantity.value <= 0:
        raise _trouble("EV102", f"“{text}” is no value of a part", example)
    if not usual.value / FAR < quantity.value < usual.value * FAR:
        raise _trouble(
            "EV103",
            f"{part} is listed as {show(usual.value, usual.unit)}, and "
            f"{show(quantity.value, quantity.unit)} is thirty times off or more",
            "Read the marking again: the number of zeros, the unit, the decimal point",
        )
    return quantity


def _trouble(code: str, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code, Place("what is known of the unit"), what, mend))
