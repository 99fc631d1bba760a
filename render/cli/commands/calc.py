"""`nextprobe calc`: the small sums of the bench, worked in the open."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from render.cli import completion, streams
from render.cli.options import Json, Mains

if TYPE_CHECKING:
    from engine.calc import Calculation, Sum

_WIDEST = 92


def calc(
    name: Annotated[
        str | None,
        typer.Argument(
            metavar="SUM",
            help="Which sum; without one, all are listed.",
            autocompletion=completion.sums,
        ),
    ] = None,
    given: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="VALUE",
            help="What goes in, in the order the list shows, or by name: resistor=4k7.",
        ),
    ] = None,
    mains: Annotated[
        Mains | None,
        typer.Option(help="Mains of the sum, where it has one.", envvar="NEXTPROBE_MAINS"),
    ] = None,
    as_json: Json = False,
) -> None:
    """Small sums of the bench, with formula, inputs, results, rating rule and source.

    Example: nextprobe calc discharge 10µF 325V resistor=10k limit=34V

    Example: nextprobe calc zener-rail "470k 5%" --mains 120/60

    Example: nextprobe calc resistor-code yellow violet red gold
    """
    from dataclasses import asdict

    from engine.calc import calculate, calculations

    if name is None:
        _list(calculations(), as_json)
        return
    calculation = next((c for c in calculations() if c.name == name), None)
    values = _by_name(calculation, given or [], mains) if calculation else {}
    total = calculate(name, **values)
    if as_json:
        streams.print_json(asdict(total))
    else:
        _show(total)


def _by_name(calculation: Calculation, texts: Sequence[str], mains: Mains | None) -> dict[str, str]:
    """Values by parameter: named ones as named, the rest in order, those that are needed first."""
    parameters = calculation.parameters
    required_names = [p.name for p in parameters if not p.default and not p.optional]
    order = required_names + [p.name for p in parameters if p.name not in required_names]
    values: dict[str, str] = {}
    loose: list[str] = []
    for word in texts:
        key, equals, value = word.partition("=")
        if equals:
            values[key] = value
        else:
            loose.append(word)
    free = [name for name in order if name not in values]
    if len(free) == 1 or order == ["marking"]:
        # Colours are several words of one marking.
        loose = [" ".join(loose)] if loose else []
    values |= dict(zip(free, loose, strict=False))
    for extra in loose[len(free) :]:
        values[extra] = ""
    if mains is not None:
        volts, hertz = mains.split("/")
        names = {p.name for p in parameters}
        usual = {"mains": f"{volts} V ±10 %", "hertz": f"{hertz} Hz"}
        values = {k: v for k, v in usual.items() if k in names} | values
    return values


def _list(calculations: Sequence[Calculation], as_json: bool) -> None:

    if as_json:
        streams.print_json([{"name": c.name, "says": c.says} for c in calculations])
        return
    for calculation in calculations:
        print(f"{calculation.name}: {calculation.says}.")
        required_names = [p for p in calculation.parameters if not p.default and not p.optional]
        rest = [p for p in calculation.parameters if p not in required_names]
        words = [p.name.upper() for p in required_names]
        words += [f"[{p.name}={p.default or '…'}]" for p in rest]
        print(f"    nextprobe calc {calculation.name} {' '.join(words)}")


def _show(total: Sum) -> None:
    lines = [(entry.name, entry.text) for entry in total.inputs]
    lines.append(("formula", total.formula))
    lines += [(entry.name, entry.text) for entry in total.results]
    lines += [("rule", total.rating), ("source", total.source)]
    width = max(len(label) for label, _ in lines)
    print(f"{total.says}.")
    for label, text in lines:
        beside = textwrap.wrap(text, max(40, _WIDEST - width - 4))
        for number, line in enumerate(beside):
            print(f"  {label if number == 0 else '':<{width}}  {line}")
