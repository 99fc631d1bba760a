"""`nextprobe calc`: the small sums of the bench, worked in the open."""

from __future__ import annotations

from typing import Annotated

import typer

from render.cli.options import Json, Mains, MainsOption

app = typer.Typer(
    help="Small sums of the bench: formula, inputs, result, rating rule and source.",
    no_args_is_help=True,
    rich_markup_mode="rich",
)

_PRACTICE = "common practice"


@app.command("led")
def led(
    dies: Annotated[int, typer.Option(min=1, max=12, help="White dies in the package.")] = 2,
    battery: Annotated[str, typer.Option(help="Source voltage.")] = "9V",
    current: Annotated[str, typer.Option(help="Current wanted.")] = "10mA",
    as_json: Json = False,
) -> None:
    """Series resistor for lighting one LED package from a battery.

    Example: nextprobe calc led --dies 2 --battery 9V
    """
    from engine.electrics import ledcheck, preferred
    from kb.quantities import AMPERE, OHM, VOLT, WATT
    from kb.quantities import show as shown
    from render.cli import worksheet as sheets

    volts = sheets.quantity(battery, VOLT, "led --battery").value
    wanted = sheets.quantity(current, AMPERE, "led --current").value
    ohms = sheets.worked("led", lambda: ledcheck.resistor_for(volts, dies, wanted))
    taken = preferred.at_least(ohms)
    lit = ledcheck.led_check(volts, taken, dies)
    # A fresh 9 V battery stands near 9.6 V, a white die drops 2.8 V at least: the worst of both.
    worst = ledcheck.led_check(volts * 9.6 / 9, taken, dies, die_volts=2.8)
    sheets.show(
        sheets.Worksheet(
            title=f"Lighting a package of {dies} from {shown(volts, VOLT)}",
            inputs=(
                ("source", shown(volts, VOLT)),
                ("dies", f"{dies} of 3 V"),
                ("current", shown(wanted, AMPERE)),
            ),
            formula="R = (Vb - n Vf)/I",
            results=(
                ("resistor", f"{shown(ohms, OHM)}, take {shown(taken, OHM)}"),
                ("lights at", shown(lit.amperes, AMPERE)),
                ("at most", f"{shown(worst.amperes, AMPERE)} (fresh battery, dies of 2.8 V)"),
                (
                    "shorted",
                    f"{shown(worst.short_amperes, AMPERE)}, {shown(worst.short_watts, WATT)}",
                ),
            ),
            rule="The resistor must bear the heat with the leads shorted; try it on a known LED "
            "first.",
            source=_PRACTICE,
        ),
        as_json,
    )


@app.command("discharge")
def discharge(
    capacitor: Annotated[str, typer.Argument(help="Capacitance, such as 10µF.")],
    volts: Annotated[str, typer.Argument(help="Voltage it is charged to, such as 325V.")],
    resistor: Annotated[str, typer.Option(help="Bleed resistor.")] = "10k",
    to: Annotated[str, typer.Option(help="Voltage to get below.")] = "34V",
    within: Annotated[str | None, typer.Option(help="Time allowed, such as 5s.")] = None,
    as_json: Json = False,
) -> None:
    """How long a capacitor takes to bleed, its energy, and what the resistor must bear.

    Example: nextprobe calc discharge 10µF 325V --resistor 10k --to 34V
    """
    from engine.electrics import discharge as bleed
    from kb.quantities import FARAD, JOULE, OHM, SECOND, VOLT, WATT
    from kb.quantities import show as shown
    from render.cli import worksheet as sheets

    farads = sheets.quantity(capacitor, FARAD, "discharge CAPACITOR").value
    start = sheets.quantity(volts, VOLT, "discharge VOLTS").value
    ohms = sheets.quantity(resistor, OHM, "discharge --resistor").value
    limit = sheets.quantity(to, VOLT, "discharge --to").value
    joules = bleed.energy(farads, start)
    seconds = sheets.worked("discharge", lambda: bleed.seconds_to(ohms, farads, start, limit))
    watts = sheets.worked("discharge", lambda: bleed.peak_watts(ohms, start))
    results = [
        (
            "energy",
            shown(joules, JOULE)
            + (", a hazard by itself" if bleed.hazardous(start, joules) else ""),
        ),
        ("time", shown(seconds, SECOND)),
        ("first heat", shown(watts, WATT)),
    ]
    if within is not None:
        allowed = sheets.quantity(within, SECOND, "discharge --within").value
        most = sheets.worked("discharge", lambda: bleed.largest_ohms(farads, start, limit, allowed))
        results.append((f"in {shown(allowed, SECOND)}", f"at most {shown(most, OHM)}"))
    sheets.show(
        sheets.Worksheet(
            title=f"Bleeding {shown(farads, FARAD)} from {shown(start, VOLT)}",
            inputs=(("resistor", shown(ohms, OHM)), ("down to", shown(limit, VOLT))),
            formula="t = R C ln(V0/V), E = C V0²/2, P = V0²/R",
            results=tuple(results),
            rule="Clip it on, never a screwdriver; 5 to 10 W, rated for the voltage. Measure, and "
            "again before touching: a wet capacitor creeps back.",
            source="34 V: IEC 60335-1 cl. 22.5; hazard by energy: NFPA 70E art. 360, from memory; "
            f"resistor: {_PRACTICE}",
        ),
        as_json,
    )


@app.command("lamp")
def lamp(
    unit: Annotated[str, typer.Argument(help="What the unit takes, such as 9W.")],
    mains: MainsOption = Mains.EUROPE,
    as_json: Json = False,
) -> None:
    """Which filament lamp to put in series with a unit, and what flows if the unit is shorted.

    Example: nextprobe calc lamp 9W --mains 120/60
    """
    from engine.electrics import limiter
    from kb.quantities import AMPERE, OHM, VOLT, WATT
    from kb.quantities import show as shown
    from render.cli import worksheet as sheets

    watts = sheets.quantity(unit, WATT, "lamp UNIT").value
    volts = float(mains.split("/")[0])
    least, most = sheets.worked("lamp", lambda: limiter.lamp_for(watts))
    results = []
    for rating in dict.fromkeys((least, most)):
        series = limiter.series_lamp(volts, rating)
        results.append(
            (
                f"{rating:g} W lamp",
                f"shorted unit: {shown(series.short_amperes, AMPERE)}; hot "
                f"{shown(series.hot_ohms, OHM)}",
            )
        )
    sheets.show(
        sheets.Worksheet(
            title=f"Series lamp for a unit of {shown(watts, WATT)}",
            inputs=(("mains", shown(volts, VOLT)),),
            formula="R = V²/P, I = P/V",
            results=tuple(results),
            rule="Filament or halogen only. The lamp limits damage, not shock. Stays bright: "
            "short; flash then dim: charged; dark: open, or a small load.",
            source=_PRACTICE,
        ),
        as_json,
    )


@app.command("rail")
def rail(
    dropper: Annotated[str, typer.Argument(help="Dropper resistor, such as 470k 5%.")],
    zener: Annotated[str, typer.Argument(help="Rail voltage, such as 5V1.")],
    mains: MainsOption = Mains.EUROPE,
    as_json: Json = False,
) -> None:
    """What a dropper resistor feeds into a zener rail from an unfiltered bridge.

    Example: nextprobe calc rail "470k 5%" 5V1
    """
    from engine.electrics import dropper as droppers
    from kb.quantities import AMPERE, OHM, VOLT, WATT
    from kb.quantities import show as shown
    from render.cli import worksheet as sheets

    ohms = sheets.quantity(dropper, OHM, "rail DROPPER")
    hold = sheets.quantity(zener, VOLT, "rail ZENER")
    volts = float(mains.split("/")[0])

    def feed(mains_volts: float, resistance: float) -> droppers.Feed:
        return sheets.worked(
            "rail", lambda: droppers.resistor_feed(mains_volts, resistance, hold.value, 0.7)
        )

    middle = feed(volts, ohms.value)
    low, high = feed(volts * 0.9, ohms.high), feed(volts * 1.1, ohms.low)
    sheets.show(
        sheets.Worksheet(
            title=f"Rail of {hold} from {ohms} on {shown(volts, VOLT)}",
            inputs=(("mains", f"{shown(volts, VOLT)} ±10 %"), ("dropper", shown(ohms.value, OHM))),
            formula="I = (2 Vp/π - Vz)/R, two diodes of 0.7 V off Vp",
            results=(
                (
                    "feeds",
                    f"{shown(middle.amperes, AMPERE)} ({shown(low.amperes, AMPERE)} to "
                    f"{shown(high.amperes, AMPERE)})",
                ),
                (
                    "over it",
                    f"{shown(middle.drop_volts, VOLT)} mean, "
                    f"{shown(high.peak_drop_volts, VOLT)} at the highest peak",
                ),
                ("heat", f"{shown(middle.watts, WATT)}, at most {shown(high.watts, WATT)}"),
            ),
            rule="Twice the heat and the whole peak: use two in series or a high-voltage type.",
            source="mains ±10 %: IEC 60038, from memory; formula from the rectified mean",
        ),
        as_json,
    )


@app.command("capdrop")
def capdrop(
    capacitor: Annotated[str, typer.Argument(help="Series film capacitor, such as 1µF.")],
    load: Annotated[str, typer.Argument(help="Voltage of the string or rail, such as 150V.")],
    mains: MainsOption = Mains.EUROPE,
    as_json: Json = False,
) -> None:
    """Current that a capacitive dropper pushes into a string.

    Example: nextprobe calc capdrop 1µF 150V
    """
    from engine.electrics import dropper as droppers
    from kb.quantities import AMPERE, FARAD, VOLT
    from kb.quantities import show as shown
    from render.cli import worksheet as sheets

    farads = sheets.quantity(capacitor, FARAD, "capdrop CAPACITOR")
    string = sheets.quantity(load, VOLT, "capdrop LOAD").value
    volts, hertz = (float(part) for part in mains.split("/"))
    middle = droppers.capacitive_current(farads.value, volts, hertz, string)
    worn = droppers.capacitive_current(farads.value * 0.8, volts, hertz, string)
    sheets.show(
        sheets.Worksheet(
            title=f"Capacitive dropper {farads} into {shown(string, VOLT)}",
            inputs=(("mains", f"{shown(volts, VOLT)} {hertz:g} Hz"),),
            formula="I = 4 f C (Vp - Vs)",
            results=(
                ("current", shown(middle, AMPERE)),
                ("20 % worn", shown(worn, AMPERE)),
            ),
            rule="Replace by the same class (X2) only, same or higher voltage; its bleed "
            "resistor must be whole.",
            source="charge per half cycle, see engine.electrics.dropper; ageing: makers' texts",
        ),
        as_json,
    )


@app.command("ripple")
def ripple(
    capacitor: Annotated[str, typer.Argument(help="Bulk capacitor, such as 10µF.")],
    current: Annotated[str, typer.Argument(help="Load current, such as 40mA.")],
    mains: MainsOption = Mains.EUROPE,
    as_json: Json = False,
) -> None:
    """Ripple on a bulk capacitor behind a bridge on the mains.

    Example: nextprobe calc ripple 10µF 40mA
    """
    from engine.electrics import mains as supply
    from kb.quantities import AMPERE, FARAD, VOLT
    from kb.quantities import show as shown
    from render.cli import worksheet as sheets

    farads = sheets.quantity(capacitor, FARAD, "ripple CAPACITOR").value
    amperes = sheets.quantity(current, AMPERE, "ripple CURRENT").value
    volts, hertz = (float(part) for part in mains.split("/"))
    bound = sheets.worked("ripple", lambda: supply.ripple_bound(amperes, farads, hertz))
    swing = sheets.worked("ripple", lambda: supply.ripple(volts, amperes, farads, hertz))
    top = supply.peak(volts)
    sheets.show(
        sheets.Worksheet(
            title=f"Ripple of {shown(farads, FARAD)} at {shown(amperes, AMPERE)}",
            inputs=(("mains", f"{shown(volts, VOLT)} {hertz:g} Hz"),),
            formula="at most I/(2 f C); exactly, the time until the next half wave meets it",
            results=(
                ("ripple", f"{shown(swing, VOLT)} peak to peak, at most {shown(bound, VOLT)}"),
                ("trough", shown(top - swing, VOLT)),
                ("peak", shown(top, VOLT)),
            ),
            rule="Much more than this: the capacitor has dried out. Replace by 105 °C, same or "
            "higher voltage, ripple current no lower.",
            source="ideal diodes, constant current, see engine.electrics.mains",
        ),
        as_json,
    )


@app.command("comparator")
def comparator(
    supply: Annotated[str, typer.Argument(help="Supply voltage, such as 3.1V.")],
    as_json: Json = False,
) -> None:
    """Inputs that a 393 or 2903 comparator still compares rightly at a supply.

    Example: nextprobe calc comparator 3.1V
    """
    from engine.electrics import comparator as comparators
    from kb.quantities import VOLT
    from kb.quantities import show as shown
    from render.cli import worksheet as sheets

    volts = sheets.quantity(supply, VOLT, "comparator SUPPLY").value
    # 2 V least supply, 1.5 V and 2.0 V of headroom: TI SLCS005, onsemi LM393/D.
    at = comparators.window(volts, 2.0, 1.5, 2.0)
    sheets.show(
        sheets.Worksheet(
            title=f"Comparator 393/2903 at {shown(volts, VOLT)}",
            inputs=(("supply", shown(volts, VOLT)),),
            formula="0 V to V+ - 1.5 V at 25 °C, V+ - 2.0 V over temperature",
            results=(
                ("works", "yes" if at.supplied else "no: below its least supply of 2 V"),
                (
                    "inputs to",
                    f"{shown(at.high_volts, VOLT)}, hot {shown(at.high_volts_hot, VOLT)}",
                ),
            ),
            rule="With one input inside the range and the other above it the output is still "
            "right.",
            source="TI SLCS005, onsemi LM393/D",
        ),
        as_json,
    )


@app.command("preferred")
def preferred(
    value: Annotated[str, typer.Argument(help="A value such as 4.3k or 0.31µF.")],
    series: Annotated[str, typer.Option(help="E3, E6, E12, E24, E48, E96 or E192.")] = "E12",
    as_json: Json = False,
) -> None:
    """The nearest preferred value, and its neighbours.

    Example: nextprobe calc preferred 4.3k --series E12
    """
    from engine.electrics import preferred as values
    from kb.quantities import OHM, read_quantity
    from kb.quantities import show as shown
    from render.cli import worksheet as sheets

    read = sheets.worked("preferred", lambda: read_quantity(value, OHM))
    near = sheets.worked("preferred", lambda: values.nearest(read.value, series.upper()))
    below, above = values.neighbours(read.value, series.upper())
    sheets.show(
        sheets.Worksheet(
            title=f"Preferred value for {read}",
            inputs=(("series", series.upper()),),
            formula="",
            results=(
                ("nearest", f"{shown(near, read.unit)} ({(near / read.value - 1) * 100:+.1f} %)"),
                ("between", f"{shown(below, read.unit)} and {shown(above, read.unit)}"),
            ),
            rule="",
            source="IEC 60063",
        ),
        as_json,
    )


@app.command("code")
def code(
    marking: Annotated[
        list[str], typer.Argument(help="What is printed, or the colours from the first band on.")
    ],
    capacitor: Annotated[bool, typer.Option("--capacitor", help="It is a capacitor.")] = False,
    as_json: Json = False,
) -> None:
    """Read a marking: 4k7, 103, 66B, 104 with --capacitor, or colours such as brown black red gold.

    Example: nextprobe calc code yellow violet red gold
    """
    from engine.electrics import codes
    from kb.quantities import show as shown
    from render.cli import worksheet as sheets

    text = " ".join(marking)
    if len(marking) > 1:
        read = sheets.worked("code", lambda: codes.resistor_colours(marking))
    elif capacitor:
        read = sheets.worked("code", lambda: codes.capacitor_code(text))
    else:
        read = sheets.worked("code", lambda: codes.resistor_code(text))
    results = [("value", str(read))]
    if read.tolerance is not None:
        results.append(
            ("between", f"{shown(read.low, read.unit)} and {shown(read.high, read.unit)}")
        )
    sheets.show(
        sheets.Worksheet(
            title=f"Marking “{text}”",
            inputs=(),
            formula="",
            results=tuple(results),
            rule="",
            source="IEC 60062, EIA-96, EIA-198 (from memory)",
        ),
        as_json,
    )
