"""Closed-form sums of one design: what its parts must be, and whether a sound unit of it works.

No simulation: averages over a half cycle after `engine.electrics`, parts by their place in the
topology, so that every topology with such places has them. `worst` takes the mains 5 % low, the
dropper at the top of its tolerance, the zener at the bottom of its own, and comparator and
thyristor at the far end of what differs from piece to piece (`vary` in `kb/circuits/devices.yml`).

What the sums can't see: how the rail moves within a half cycle beyond `STORE_SAG`, the thyristor's
holding, what the averaged controller does between its start and steady light, paths that a fault
opens. A simulated judge looks at those (`tests/circuit`).
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping
from types import MappingProxyType

from engine.circuit.design import Design
from engine.electrics import dropper, mains

DIODE_VOLTS = 0.7
"""One conducting bridge diode."""
GATE_VOLTS = 0.75
"""A thyristor's gate at some tens of microamperes; MCR100 class: 0.8 V at most."""
THERMAL_VOLTS = 0.0259
"""kT/q at 27 °C."""
ZENER_AMPERES = 5e-3
"""Where zeners of 0.4 W are marked (BZX79)."""
LOW_MAINS = 0.95
"""The least supply that units are sampled with, over the nominal."""
RESERVE = 1.1
"""What a sound design keeps over the worst need: our choice."""
DROPPER_WATTS = 1.0
"""The largest dropper that a lamp's control stage has room for: common practice, no source."""
START_WATTS = 0.5
STORE_SAG = 0.1
"""What the rail may lose between half cycles, as a share."""
RISE_SECONDS = 0.45
"""Within this time the rail stands: our choice, for readings are taken soon after."""
START_MARGIN = 0.15
"""Seconds between the last start of a sound unit and the first reading."""
EFFICIENCY = 0.9
"""Of a small step-down converter: common practice, no source."""
DUTY = 0.9
"""The largest mean duty a sound design needs at its lowest bus."""
BURST_COULOMBS = 1e-5
"""What the averaged controller takes at a start: 5 mA for 2 ms (`kb/circuits/parts.lib`)."""
HOT_SPREAD = 1.2
"""How far a controller's own current lies over its typical one (`vary`)."""


class Sums:
    """The sums of one design, complete or still being drawn: what it leaves out is as listed."""

    def __init__(self, design: Design) -> None:
        self.design = design
        self.rms = design.nominal.mains.volts
        self.hertz = design.nominal.mains.hertz

    def value(self, place: str, parameter: str = "", missing: float = 0.0) -> float:
        """A number of the part at a place; `missing` where the design has no such part."""
        part = self.design.part(place)
        if not part:
            return missing
        return self.design.number(f"{part}.{parameter}" if parameter else part)

    def has(self, place: str) -> bool:
        """Whether the design has a part at this place."""
        return bool(self.design.part(place))

    def _added(self, name: str, missing: float) -> float:
        return self.design.number(name) if name in self.design.adds else missing

    def _spread(self, place: str, parameter: str, end: int) -> float:
        """How far a parameter may lie from its number: the end of `vary`, 0 least and 1 most."""
        part = self.design.part(place)
        kind = self.design.kinds.get(part, self.design.nominal.parts[part].kind)
        return self.design.nominal.devices[kind].vary.get(parameter, (1.0, 1.0))[end]

    # the control rail

    @property
    def is_mirrored(self) -> bool:
        """Whether the sensor lies at the rail's foot and its load at the rail."""
        return bool(self.design.legs.get(self.design.part("senses")))

    @property
    def source_ohms(self) -> float:
        """What the comparator's high output has in series: its own, or the pull-up."""
        return self._added("Rpullup", self.value("decides", "rout"))

    def gate_amperes(self, rail: float, worst: bool = False) -> float:
        """What reaches the gate with the comparator's output high (A)."""
        is_own = not self.design.adds.get("Rpullup")
        source = self.source_ohms * (self._spread("decides", "rout", 1) if worst and is_own else 1)
        series = source + self.value("drives") * (1.05 if worst else 1.0)
        foot = GATE_VOLTS / (self._added("Rgatefoot", math.inf) * (0.95 if worst else 1.0))
        return max(0.0, rail - GATE_VOLTS) / series - foot

    def load_amperes(self, rail: float, dark: bool, worst: bool = False) -> float:
        """What hangs on the rail beside its clamp, in the dark or in full light (A)."""
        icc = self.value("decides", "icc") * (self._spread("decides", "icc", 1) if worst else 1.0)
        divider = self.value("threshold-top") + self.value("threshold-foot")
        load = icc + rail / divider
        if dark:
            return load + max(0.0, rail - GATE_VOLTS) / (self.source_ohms + self.value("drives"))
        if self.design.adds.get("Rpullup"):
            load += rail / self.source_ohms
        sensor = rail / self.value("loads-sensor")
        return load + min(sensor, 1e-6 * self.value("senses", "bright") * 2.0)

    def feed_amperes(self, rail: float, worst: bool = False) -> float:
        """What the dropper feeds onto a rail, from the bus as the bridge gives it (A).

        So it is in the lit lamp, too: the thyristor blocks what would come back from the bulk
        capacitor.
        """
        within = 1.0 + self.design.nominal.within(self.design.part("rail-feed"))
        ohms = self.value("rail-feed") * (within if worst else 1.0)
        rms = self.rms * (LOW_MAINS if worst else 1.0)
        return dropper.resistor_feed(rms, ohms, rail, DIODE_VOLTS).amperes

    def clamp_volts(self, amperes: float, worst: bool = False) -> float:
        """What the zener holds at a current (V)."""
        within = self.design.nominal.within(self.design.part("rail-clamp")) if worst else 0.0
        slope = self.value("rail-clamp", "nbv") * THERMAL_VOLTS
        slope *= self._spread("rail-clamp", "nbv", 1) if worst else 1.0
        return self.value("rail-clamp") * (1 - within) + slope * math.log(amperes / ZENER_AMPERES)

    def rail_volts(self, dark: bool, worst: bool = False) -> float:
        """Where feed, load and clamp leave the rail (V): bisection to a millivolt."""
        low, high = 0.0, 1.3 * self.value("rail-clamp")
        while high - low > 1e-3:
            rail = (low + high) / 2
            left = self.feed_amperes(rail, worst) - self.load_amperes(rail, dark, worst)
            holds = left > 0.0 and self.clamp_volts(max(left, 1e-9), worst) > rail
            low, high = (rail, high) if holds else (low, rail)
        return (low + high) / 2

    def lowest_rail(self) -> float:
        """The rail with a tenth of a milliampere left for its clamp at the worst (V)."""
        return max(1.0, self.clamp_volts(1e-4, worst=True))

    def thresholds(self, rail: float) -> tuple[float, float]:
        """Photocurrents (A) that turn the lamp on and off again, the lower one first."""
        top, foot = self.value("threshold-top"), self.value("threshold-foot")
        load, steady = self.value("loads-sensor"), self.value("steadies", missing=math.inf)
        if self.is_mirrored:
            due = rail * foot / (top + foot)
            both = 1 / (1 / load + 1 / steady)
            on = rail * (1.0 if math.isinf(steady) else steady / (load + steady))
            return (on - due) / both, (rail - due) / both
        both = 1 / top + 1 / foot + 1 / steady
        return rail / top / both / load, rail * (1 / top + 1 / steady) / both / load

    # the converter

    @property
    def string_volts(self) -> float:
        """What the LED string drops as due."""
        part = self.design.part("lights")
        return self.design.number(part) * self.design.number(f"{part}.count")

    @property
    def led_amperes(self) -> float:
        """The mean current that sense resistor and reference set: half of the peak."""
        return self.value("controls", "vref") / (2 * self.value("measures"))

    @property
    def bus_amperes(self) -> float:
        """What the converter takes from the bulk capacitor on the mean (A)."""
        power = self.string_volts * self.led_amperes / EFFICIENCY
        return power / (0.93 * self.crest_volts)

    @property
    def crest_volts(self) -> float:
        """The bus at the top of a half cycle."""
        return mains.peak(self.rms) - 2 * DIODE_VOLTS

    def valley_volts(self, worst: bool = False) -> float:
        """The bus before the next half cycle; at the worst with a bulk capacitor a fifth small."""
        rms = self.rms * (LOW_MAINS if worst else 1.0)
        farads = self.value("reservoir") * (0.8 if worst else 1.0)
        amperes = self.bus_amperes / (LOW_MAINS if worst else 1.0)
        return mains.peak(rms) - 2 * DIODE_VOLTS - mains.ripple(rms, amperes, farads, self.hertz)

    @property
    def start_ohms(self) -> float:
        """The start resistor, a second one in series included; infinite where there is none."""
        return self.value("starts", missing=math.inf) + self._added("Rsecond", 0.0)

    @property
    def start_amperes(self) -> float:
        """What fills the controller's supply at low mains (A)."""
        bus = LOW_MAINS * self.crest_volts - self.value("controls", "von")
        return bus / (1.05 * self.start_ohms) + self.value("controls", "hv")

    def start_seconds(self) -> float:
        """How long the slowest sound controller takes to its first start."""
        left = self.start_amperes - self.value("controls", "iq")
        farads, volts = 1.2 * self.value("keeps"), 1.1 * self.value("controls", "von")
        return farads * volts / left if left > 0.0 else math.inf

    def rise_seconds(self) -> float:
        """How long the control rail takes to stand; 0 where there is none."""
        if not self.has("rail-clamp"):
            return 0.0
        rail = self.value("rail-clamp")
        left = self.feed_amperes(rail / 2, worst=True) - self.load_amperes(rail / 2, True, True)
        within = 1.0 + self.design.nominal.within(self.design.part("rail-store"))
        return within * self.value("rail-store") * rail / left if left > 0.0 else math.inf

    def spare_amperes(self) -> float:
        """What the running controller has over its need at low mains (A): below 0 it hiccups."""
        voff, irun = self.value("controls", "voff"), self.value("controls", "irun")
        supply = 1.1 * voff + 1.0
        bus = (LOW_MAINS * self.crest_volts + self.valley_volts(worst=True)) / 2
        feed = (bus - supply) / (1.05 * self.start_ohms) + self.value("controls", "hv")
        feed += self._tap(supply)
        return feed - HOT_SPREAD * irun - self.value("controls", "iq")

    def _tap(self, supply: float) -> float:
        volts = self.value("controls", "aux") * 0.92 * self.string_volts
        return max(0.0, volts - supply) / self.value("controls", "raux")


def checks(design: Design) -> Mapping[str, bool]:
    """What converter and control stage of a design must keep, by name; empty for neither."""
    sums = Sums(design)
    driver = _driver_checks(sums) if sums.has("chops") else {}
    return {**driver, **(_control_checks(sums) if sums.has("rail-feed") else {})}


def _control_checks(sums: Sums) -> Mapping[str, bool]:
    dark, lit = sums.rail_volts(True, worst=True), sums.rail_volts(False, worst=True)
    rail = sums.rail_volts(False)
    least = sums.value("decides", "vmin") * 1.1 + 0.2
    headroom = sums.value("decides", "vcm")
    on, off = sums.thresholds(rail)
    sensor, load = sums.value("senses", "bright") * 1e-6, sums.value("loads-sensor")
    stray = 3 * sums.value("senses", "dark") + 4 * sums.value("decides", "ib")
    foot = sums.value("threshold-foot")
    due = rail * foot / (sums.value("threshold-top") + foot)
    highest = due if sums.is_mirrored else off * load
    need = max(sums.load_amperes(rail, state, worst=True) for state in (True, False))
    gap = need * 0.2 / (2 * sums.hertz)
    igt = sums.value("switches", "igt") * sums._spread("switches", "igt", 1)
    return {
        "feed": sums.feed_amperes(rail, worst=True) >= RESERVE * need,
        "rail": min(dark, lit) >= least,
        "gate": sums.gate_amperes(dark, worst=True) >= RESERVE * igt,
        "headroom": highest <= min(dark, lit) - headroom,
        "off-in-light": sensor * sums._spread("senses", "bright", 0) >= 1.3 * off,
        "on-in-the-dark": stray <= 0.5 * on,
        "own-light": sums.value("senses", "own") * 1e-6 <= 0.95 * max(0.0, off - on),
        "rise": sums.rise_seconds() <= RISE_SECONDS,
        "dropper-heat": sums.rms**2 / sums.value("rail-feed") <= DROPPER_WATTS,
        "store": gap / sums.value("rail-store") <= STORE_SAG * sums.value("rail-clamp"),
    }


def _driver_checks(sums: Sums) -> Mapping[str, bool]:
    string, ovp = sums.string_volts, sums.value("controls", "ovp")
    von = sums.value("controls", "von")
    begin = sums.rise_seconds() + sums.start_seconds()
    return {
        "bus": string <= DUTY * sums.valley_volts(worst=True),
        "output-limit": 1.15 * string <= ovp <= 1.05 * sums.value("smooths", "vr"),
        "start": sums.start_seconds() > 0 and begin <= _begin(sums) - START_MARGIN,
        "running": sums.spare_amperes() >= 0.0,
        "start-heat": sums.rms**2 / sums.start_ohms <= START_WATTS * _pieces(sums),
        "burst": sums.value("keeps") >= _keeps(sums),
        "clamp": von * 1.1 + 0.3 <= sums.value("controls", "vclamp"),
    }


def _begin(sums: Sums) -> float:
    return sums.design.nominal.data.settled


def _pieces(sums: Sums) -> int:
    return 2 if "Rsecond" in sums.design.adds else 1


def _feed(sums: Sums) -> float:
    """The dropper that at the worst just carries what hangs on the rail (ohms)."""
    rail = sums.value("rail-clamp")
    need = max(sums.load_amperes(rail, state, worst=True) for state in (True, False))
    drop = dropper.resistor_feed(LOW_MAINS * sums.rms, 1.0, rail, DIODE_VOLTS).amperes
    within = 1.0 + sums.design.nominal.within(sums.design.part("rail-feed"))
    return drop / need / within / RESERVE


def _gate_chain(sums: Sums) -> float:
    """The most that comparator and resistor may have together to fire the dullest thyristor from
    the lowest rail (ohms)."""
    igt = sums.value("switches", "igt") * sums._spread("switches", "igt", 1) * RESERVE
    foot = GATE_VOLTS / (0.95 * sums._added("Rgatefoot", math.inf))
    return (sums.lowest_rail() - GATE_VOLTS) / (igt + foot) / 1.05


def _gate(sums: Sums) -> float:
    """The largest gate resistor, beside what the comparator's high output has in series (ohms)."""
    is_own = not sums.design.adds.get("Rpullup")
    source = sums.source_ohms * (sums._spread("decides", "rout", 1) if is_own else 1.0)
    return max(1.0, _gate_chain(sums) - source)


def _hysteresis(sums: Sums) -> float:
    """The source resistance of the node that the feedback goes to (ohms)."""
    if sums.is_mirrored:
        return sums.value("loads-sensor")
    return 1 / (1 / sums.value("threshold-top") + 1 / sums.value("threshold-foot"))


def _sensor_load(sums: Sums) -> float:
    """The least load with which the dullest sensor turns the lamp off in full light (ohms)."""
    full = 1e-6 * sums.value("senses", "bright") * sums._spread("senses", "bright", 0) / 1.3
    rail, foot = sums.value("rail-clamp"), sums.value("threshold-foot")
    if sums.is_mirrored:  # the feedback, still to be drawn, takes a third at most
        return 1.3 * rail * (1 - foot / (sums.value("threshold-top") + foot)) / full
    return sums.thresholds(rail)[1] * sums.value("loads-sensor") / full


def _sensor_most(sums: Sums) -> float:
    """The largest load that dark current and the comparator's own leave alone (ohms)."""
    rail, foot = sums.lowest_rail(), sums.value("threshold-foot")
    stray = 3 * sums.value("senses", "dark") + 4 * sums.value("decides", "ib")
    if sums.is_mirrored:
        share = 0.7 - foot / (sums.value("threshold-top") + foot)
        return 0.4 * max(0.05, share) * rail / stray
    return 0.4 * sums.thresholds(rail)[0] * sums.value("loads-sensor") / stray


def _own_light(sums: Sums) -> float:
    """The unit's own light that its hysteresis still bears (microamperes)."""
    on, off = sums.thresholds(sums.lowest_rail())
    return 1e6 * max(0.0, off - on)


def _store(sums: Sums) -> float:
    """The rail capacitor that stands when a rail must (farads)."""
    return sums.value("rail-store") * RISE_SECONDS / sums.rise_seconds()


def _start_running(sums: Sums) -> float:
    """The start resistor that just carries the running controller (ohms)."""
    controls = functools.partial(sums.value, "controls")
    bus = (LOW_MAINS * sums.crest_volts + sums.valley_volts(worst=True)) / 2
    need = HOT_SPREAD * controls("irun") + controls("iq")
    return (bus - 1.1 * controls("voff") - 1.0) / need / 1.05


def _start_waiting(sums: Sums) -> float:
    """The start resistor that fills the controller's supply just in time (ohms)."""
    controls = functools.partial(sums.value, "controls")
    left = _begin(sums) - START_MARGIN - sums.rise_seconds()
    need = 1.2 * sums.value("keeps") * 1.1 * controls("von") / max(left, 0.05) + controls("iq")
    return (LOW_MAINS * sums.crest_volts - controls("von")) / need / 1.05


def _keeps(sums: Sums) -> float:
    """The least supply capacitor that the burst of a start doesn't empty, a fifth small (farads).

    Fed by tap or output it also bridges the time in which the output rises.
    """
    running = HOT_SPREAD * sums.value("controls", "irun")
    fill = 2 * sums.value("smooths") * sums.string_volts / sums.led_amperes
    burst = BURST_COULOMBS + (running * fill if sums.value("controls", "aux") else 0.0)
    window = 0.9 * sums.value("controls", "von") - sums.value("controls", "voff")
    return burst / (0.8 * 0.9 * window)


def _tap_turns(sums: Sums) -> float:
    """The least volts of a coil tap that keep the controller running, over the output's volts."""
    return (1.1 * sums.value("controls", "voff") + 1.5) / (0.92 * sums.string_volts)


def _tap_ohms(sums: Sums) -> float:
    """The largest resistance from tap or output that carries the controller (ohms)."""
    supply = 1.1 * sums.value("controls", "voff") + 1.0
    volts = sums.value("controls", "aux") * 0.92 * sums.string_volts
    need = HOT_SPREAD * sums.value("controls", "irun") + sums.value("controls", "iq")
    return (volts - supply) / need


SUMS: Mapping[str, Callable[[Sums], float]] = MappingProxyType(
    {
        "feed": _feed,
        "gate": _gate,
        "gate-chain": _gate_chain,
        "threshold-top": lambda sums: sums.value("threshold-top"),
        "hysteresis": _hysteresis,
        "sensor-load": _sensor_load,
        "sensor-most": _sensor_most,
        "own-light": _own_light,
        "dropper-least": lambda sums: 1.05 * sums.rms**2 / DROPPER_WATTS,
        "store": _store,
        "packages": lambda sums: sums.design.number("string") / sums.value("lights"),
        "sense": lambda sums: (
            sums.value("controls", "vref") * sums.string_volts / 2 / sums.design.number("watts")
        ),
        "string-amperes": lambda sums: sums.led_amperes,
        "string-volts": lambda sums: sums.string_volts,
        # a fifth of the crest is what cheap lamps let the bus fall by
        "bulk": lambda sums: sums.bus_amperes / (2 * sums.hertz * 0.2 * sums.crest_volts),
        "output": lambda sums: 0.015 * sums.led_amperes / sums.string_volts,
        "output-limit": lambda sums: sums.value("controls", "ovp"),
        # copper that costs half a volt, whatever the coil carries
        "coil-ohms": lambda sums: 0.5 / sums.led_amperes,
        "coil-volts": lambda sums: DIODE_VOLTS + sums.led_amperes * sums.value("coil", "dcr"),
        # a bleed that takes no more than a thirtieth of the LED current
        "bleed-least": lambda sums: 30 * sums.string_volts / sums.led_amperes,
        "start-volts": lambda sums: sums.value("controls", "von"),
        "start-running": _start_running,
        "start-waiting": _start_waiting,
        "start-resistor": lambda sums: sums.value("starts"),
        "running-amperes": lambda sums: sums.value("controls", "irun"),
        "keeps": _keeps,
        "tap-turns": _tap_turns,
        "tap-ohms": _tap_ohms,
    }
)
"""What a draw may be a multiple of (`of` in a circuit's family), by name."""
