"""What a sum is: parameters with units, a formula, entries worked out, a rating rule, a source."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from kb.language.nearest import alike
from kb.quantities import FARAD, Quantity, Tolerance, read_as, read_quantity, show
from kb.trouble import Place, Trouble, TroubleError

TEXT, COUNT, ANY_UNIT = "text", "count", "any unit"
"""Kinds of parameter that have no unit of their own; all others name a unit of `kb.quantities`."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number or text a sum takes. Without a default it must be given, unless `optional`.

    `unit` is a unit of `kb.quantities`, or TEXT, COUNT or ANY_UNIT. `above` excludes itself,
    `most` does not. `tolerance` is taken where the text states none.
    """

    name: str
    unit: str
    says: str
    default: str = ""
    optional: bool = False
    above: float | None = 0.0
    most: float | None = None
    choices: tuple[str, ...] = ()
    tolerance: Tolerance | None = None

    @property
    def is_required(self) -> bool:
        """Whether the sum cannot be worked without it."""
        return not self.default and not self.optional


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a sum: what it is, as text with its unit, and the bare number if it has one."""

    name: str
    text: str
    value: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Sum:
    """A sum worked out: what went in, by which formula, what came out, how to rate the part."""

    name: str
    says: str
    formula: str
    inputs: tuple[Entry, ...]
    results: tuple[Entry, ...]
    rating: str
    source: str

    def result(self, name: str) -> Entry:
        """The result of that name; KeyError if there is none."""
        for entry in self.results:
            if entry.name == name:
                return entry
        raise KeyError(name)


@dataclass(frozen=True, slots=True)
class Inputs:
    """The parameters of one call, read and checked."""

    quantities: Mapping[str, Quantity]
    texts: Mapping[str, str]

    def __getitem__(self, name: str) -> float:
        """The value of a parameter in its base unit."""
        return self.quantities[name].value

    def __contains__(self, name: str) -> bool:
        return name in self.quantities or name in self.texts


@dataclass(frozen=True, slots=True)
class Calculation:
    """A sum that can be worked: its parameters and the function that works the entries out."""

    name: str
    says: str
    formula: str
    parameters: tuple[Parameter, ...]
    rating: str
    source: str
    worked: Callable[[Inputs], Sequence[Entry]]


def entry(name: str, value: float, unit: str, note: str = "") -> Entry:
    """A line with a number in its base unit, shown in SI style, with a note behind it."""
    return Entry(name, show(value, unit) + (f" {note}" if note else ""), value, unit)


def work(calculations: Sequence[Calculation], name: str, texts: Mapping[str, str]) -> Sum:
    """See `engine.calc.calculate`."""
    for calculation in calculations:
        if calculation.name == name:
            break
    else:
        names = [calculation.name for calculation in calculations]
        raise TroubleError(
            Trouble("CA1", Place("calc"), f"There is no sum “{name}”", _suggestion(name, names))
        )
    inputs = _read(calculation, texts)
    try:
        results = tuple(calculation.worked(inputs))
    except ArithmeticError:  # each within its bounds, together nothing that can be reckoned with
        what, mend = "these values together describe no circuit", "Look at their prefixes"
        raise TroubleError(
            Trouble("CA5", Place(f"calc {name}"), _sentence(what), mend)
        ) from None
    except ValueError as error:
        what, _, mend = str(error).partition(": ")
        raise TroubleError(
            Trouble("CA5", Place(f"calc {name}"), _sentence(what), _sentence(mend))
        ) from None
    return Sum(
        calculation.name,
        calculation.says,
        calculation.formula,
        _inputs(calculation, inputs),
        results,
        calculation.rating,
        calculation.source,
    )


def _read(calculation: Calculation, call: Mapping[str, str]) -> Inputs:
    """All parameters read; every trouble is collected before one is raised."""
    troubles: list[Trouble] = []
    names = [parameter.name for parameter in calculation.parameters]
    place = f"calc {calculation.name}"
    for name in call:
        if name not in names:
            what = f"“{name}” is not something this sum takes"
            troubles.append(Trouble("CA2", Place(place), what, _suggestion(name, names)))
    quantities: dict[str, Quantity] = {}
    texts: dict[str, str] = {}
    for parameter in calculation.parameters:
        text = call.get(parameter.name) or parameter.default
        at = Place(f"{place} {parameter.name}")
        if not text:
            if parameter.is_required:
                mend = f"Give {parameter.says}"
                troubles.append(Trouble("CA3", at, f"{parameter.name} is missing", mend))
            continue
        try:
            if parameter.unit == TEXT:
                texts[parameter.name] = _choice(parameter, text)
            else:
                quantities[parameter.name] = _quantity(parameter, text)
        except ValueError as error:
            what, _, mend = str(error).partition(": ")
            troubles.append(Trouble("CA4", at, what, _sentence(mend)))
    if troubles:
        raise TroubleError(troubles)
    return Inputs(MappingProxyType(quantities), MappingProxyType(texts))


def _choice(parameter: Parameter, text: str) -> str:
    if not parameter.choices:
        return text
    for choice in parameter.choices:
        if choice.casefold() == text.strip().casefold():
            return choice
    raise ValueError(f"“{text}” is none of the choices: take {', '.join(parameter.choices)}")


_MOST_DIGITS = 9
"""Of a count: nobody counts beyond."""


def _quantity(parameter: Parameter, text: str) -> Quantity:
    """The parameter's value; ValueError `what: mend` where it can't be used."""
    if parameter.unit == COUNT:
        if not text.strip().isdecimal() or len(text.strip()) > _MOST_DIGITS:
            raise ValueError(f"“{text}” is not a whole number: write one such as 2")
        quantity = Quantity(float(int(text)), COUNT)
    elif parameter.unit == ANY_UNIT:
        quantity = read_quantity(text, "Ω")
    else:
        quantity = read_as(text, parameter.unit)
    if parameter.above is not None and quantity.value <= parameter.above:
        least = _limit(parameter.above, quantity.unit)
        raise ValueError(f"“{text}” is too small: it must be above {least}")
    if parameter.most is not None and quantity.value > parameter.most:
        most = _limit(parameter.most, quantity.unit)
        bare = f", and {text} µF may be meant" if _bare_farads(text, quantity) else ""
        raise ValueError(f"“{text}” is too large: at most {most} makes sense here{bare}")
    return Quantity(quantity.value, quantity.unit, quantity.tolerance or parameter.tolerance)


def _limit(number: float, unit: str) -> str:
    return f"{number:g}" if unit in (COUNT, TEXT) or number == 0 else show(number, unit)


def _bare_farads(text: str, quantity: Quantity) -> bool:
    return quantity.unit == FARAD and text.strip().replace(",", ".").replace(".", "", 1).isdigit()


def _inputs(calculation: Calculation, inputs: Inputs) -> tuple[Entry, ...]:
    lines = []
    for parameter in calculation.parameters:
        if parameter.name in inputs.texts:
            lines.append(Entry(parameter.name, inputs.texts[parameter.name]))
        elif parameter.name in inputs.quantities:
            quantity = inputs.quantities[parameter.name]
            unit = "" if quantity.unit == COUNT else quantity.unit
            text = (
                f"{quantity.value:g}"
                if quantity.unit == COUNT
                else f"{quantity}{_spread(quantity)}"
            )
            lines.append(Entry(parameter.name, text, quantity.value, unit))
    return tuple(lines)


def _spread(quantity: Quantity) -> str:
    if quantity.tolerance is None:
        return ""
    minus, plus = quantity.tolerance.minus * 100, quantity.tolerance.plus * 100
    return f" ±{plus:g} %" if minus == plus else f" −{minus:g}/+{plus:g} %"


def _suggestion(name: str, names: Sequence[str]) -> str:
    close = alike(name, names, 1)
    return f"Perhaps you mean “{close[0]}”" if close else f"Take one of {', '.join(names)}"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
