"""Circuits and the bench around them, as data: the `.yml` and `.cir` files of `circuits`.

They end in `.yml` so that the knowledge reader (`kb.language.loader`) leaves them alone: rules
never see a circuit, so editing one needs no new deduction. Numbers follow SPICE: `4k7` is not one,
`4.7k` is.

Codes: CI101 no circuit of that name; CI102 unreadable; CI103 against the schema.
"""

from __future__ import annotations

import functools
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from ruamel.yaml.error import YAMLError

from kb.language import constraints, trees
from kb.language.ownfolder import CIRCUITS
from kb.trouble import Place, Trouble, TroubleError

SHIPPED = Path(__file__).parent.parent / CIRCUITS

Node = str
Factor = tuple[float, float]


class _Entry(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Act(_Entry):
    """What a failure mode does to an element: legs cut, legs joined, parameters changed.

    `loose` names legs whose joint comes and goes: a shaky contact stands in series with each.
    `range` holds, for numbers of scale, put, ohms or leak, how far a mild and a grave case have
    gone.
    """

    cut: tuple[int, ...] = ()
    loose: tuple[int, ...] = ()
    across: tuple[int, int] | None = None
    ohms: float = 0.1
    scale: dict[str, float] = {}
    put: dict[str, str | float] = {}
    leak: str = ""
    range: dict[str, Factor] = {}
    pieces: Literal["first", "all"] = "first"
    says: str = ""


class Promise(_Entry):
    """What a part's maker promises of its supply and inputs: pins as legs of the element, volts.

    Inputs count as compared rightly from 0 V to the supply less `headroom` at 25 °C, less
    `headroom_hot` over temperature, and also where only one of them is inside; out of `supply` from
    `least` to `most` nothing is promised.
    """

    supply: tuple[int, int]
    inputs: tuple[int, int]
    least: float
    most: float
    headroom: float
    headroom_hot: float
    says: str
    source: str


class Device(_Entry):
    """How a kind of part stands in a circuit and what its modes do to it.

    `model` is its subcircuit, where a unit may have this kind in another's place.
    """

    model: str = ""
    value: str = ""
    rated: str = ""
    vary: dict[str, Factor] = {}
    acts: dict[str, Act]
    promise: Promise | None = None


class Spread(_Entry):
    """List with odds or range of a draw at one mains."""

    odds: dict[str, float] = {}
    range: tuple[str, str] | None = None


class Draw(_Entry):
    """One number of a design: a value out of a list with odds, or out of a range, all alike likely
    on a scale of ratios; as it stands, or times a sum of what was drawn before it.

    `sets` names a part (its value), a parameter of its element (`U2.icc`), a resistor that the way
    adds, or a number that only sums ask for (`watts`). `of` is of `engine.circuit.soundness`;
    so do `at_least` and `at_most`, which the product keeps within.
    `series` is what the product is snapped to: E6, E12, E24, `whole` numbers, or `rated` volts of
    capacitors. `when_mains` holds list or range at another mains.
    """

    sets: str
    odds: dict[str, float] = {}
    range: tuple[str, str] | None = None
    of: str = ""
    series: Literal["", "E6", "E12", "E24", "whole", "rated"] = ""
    at_least: str = ""
    at_most: str = ""
    when_mains: dict[str, Spread] = {}


class Insert(_Entry):
    """A resistor that the topology doesn't list: between two nodes, or in series behind a part's
    second leg; between two nodes a part of another `kind` as well. No fault of its own."""

    between: tuple[Node, Node] | None = None
    behind: str = ""
    kind: str = ""


class Way(_Entry):
    """One of several ways in which makers build something, with its odds among them.

    `absent`: parts of the topology that it lacks; `kinds`: parts of another kind; `adds`: resistors
    without a designator; `legs`: nodes that legs of parts go to instead.
    """

    odds: Annotated[float, Field(gt=0, le=1)]
    says: str = ""
    draws: tuple[Draw, ...] = ()
    absent: tuple[str, ...] = ()
    kinds: dict[str, str] = {}
    adds: dict[str, Insert] = {}
    legs: dict[str, dict[int, Node]] = {}


class Choice(_Entry):
    """What a maker chooses, in the order in which choices depend on each other.

    Made only `when` the choices before it fell on one of the ways named.
    """

    of: str
    when: dict[str, tuple[str, ...]] = {}
    ways: dict[str, Way]
    source: str


class Degree(_Entry):
    """Where a part's fault is noticed at another degree than is typical of its kind."""

    part: str
    mode: str
    scale: dict[str, float] = {}
    leak: str = ""
    range: dict[str, Factor] = {}
    says: str


class Beyond(_Entry):
    """Cells where rules and circuit may differ, by patterns of fault and test, and why.

    The circuit can't speak for them; or, where it is `heeded`, its word counts all the same, for
    there the rules know less of how makers differ than it does.
    """

    faults: str
    tests: str
    says: str
    heeded: bool = False


class RigLines(_Entry):
    """What a rig does to the circuit: lines added, legs lifted, all legs freed, a meter at
    each test point."""

    rig: str
    lines: tuple[str, ...] = ()
    lifts: tuple[int, ...] = ()
    frees: bool = False
    meters: bool = False


class Condition(_Entry):
    """One bound on a figure, on its ratio (`over`) or its distance (`less`) to another."""

    of: str
    over: str = ""
    less: str = ""
    above: float | None = None
    below: float | None = None


class Show(_Entry):
    """An outcome and the conditions that must all hold for it."""

    outcome: str
    when: tuple[Condition, ...] = ()
    where: str = ""


class Measurement(_Entry):
    """How a test is taken in a simulation: what is run, watched, read, and what it shows."""

    tests: str
    instrument: str = ""
    kind: Literal["powered", "ohms", "diode", "esr", "inductance", "capacitance"]
    also: Literal["", "ohms"] = ""
    light: str = ""
    seconds: float | None = None
    windows: dict[str, tuple[float, float] | Literal["settled", "all"]] = {}
    versions: dict[str, dict[str, Any]] = {}
    watch: dict[str, tuple[Node, Node]] = {}
    reads: str = ""
    shows: tuple[Show, ...] = ()
    lines: tuple[str, ...] = ()
    frees: bool = False
    ends: tuple[Node, Node] | None = None
    pairs: tuple[tuple[int, int], ...] = ((1, 2),)
    across: tuple[int, int] | None = None
    part_in_rig: str = ""


class CircuitData(_Entry):
    """What stands beside a netlist: times in seconds, test points as pairs of nodes.

    `family` says how units of the make differ; `absent_as` what is left where a unit has no such
    part: a wire between its first two legs, or nothing. `measurements` are what only this unit's
    tests want: each goes before those of the bench. `when_mains` puts parameters of elements
    (`LED.rated`) to what they are at another mains than the netlist's, as the topology does with
    values.
    """

    circuit: str
    netlist: str
    seconds: Annotated[float, Field(gt=0, le=20)]
    settled: Annotated[float, Field(ge=0)]
    points: dict[str, tuple[Node, Node]]
    family: tuple[Choice, ...] = ()
    absent_as: dict[str, Literal["wire", "open"]] = {}
    degrees: tuple[Degree, ...] = ()
    beyond: tuple[Beyond, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    when_mains: dict[str, dict[str, float]] = {}


class Bench(_Entry):
    """Supplies, scenes, rigs and measurements as lines and patterns."""

    supplies: dict[str, tuple[str, ...]]
    scenes: dict[str, dict[str, tuple[str, ...]]]
    rigs: tuple[RigLines, ...]
    measurements: tuple[Measurement, ...]


class _Devices(_Entry):
    devices: dict[str, Device]


_Data = TypeVar("_Data", bound=BaseModel)


def circuits(folder: Path = SHIPPED) -> tuple[str, ...]:
    """The topologies that carry a circuit, by name."""
    return tuple(sorted(path.stem for path in folder.glob("*.cir")))


def circuit(topology: str, folder: Path = SHIPPED) -> CircuitData:
    """The data of a topology's circuit. TroubleError CI101 where it has none."""
    path = folder / f"{topology}.yml"
    if not path.is_file():
        have = ", ".join(circuits(folder)) or "none yet"
        raise TroubleError(
            Trouble(
                "CI101",
                Place(_shown_path(path)),
                f"Topology '{topology}' has no circuit",
                f"Take one of those that have ({have}), or write a netlist and this file",
            )
        )
    return _read(path, CircuitData)


def circuit_of(topology: str, folder: Path = SHIPPED) -> CircuitData | None:
    """The data of a topology's circuit; None where it carries none. TroubleError where it has one
    that can't be read: damage is no silence."""
    return circuit(topology, folder) if topology in circuits(folder) else None


def devices(folder: Path = SHIPPED) -> dict[str, Device]:
    """How each kind of part stands in a circuit."""
    return _read(folder / "devices.yml", _Devices).devices


def bench(folder: Path = SHIPPED) -> Bench:
    """The bench around the unit."""
    return _read(folder / "bench.yml", Bench)


def folder_of(topology: str, kb: Path | None) -> Path:
    """Where a topology's circuit lies: the folder `circuits` of one's own knowledge where that has
    it, else with what is shipped."""
    own = SHIPPED if kb is None else kb / CIRCUITS
    return own if (own / f"{topology}.yml").is_file() else SHIPPED


def devices_with(kb: Path | None) -> dict[str, Device]:
    """The shipped devices, and over them those of one's own knowledge."""
    own = SHIPPED if kb is None else kb / CIRCUITS
    more = devices(own) if own != SHIPPED and (own / "devices.yml").is_file() else {}
    return {**devices(), **more}


def netlist_text(name: str, folder: Path = SHIPPED) -> str:
    """The text of a netlist with its included files in place, shipped ones where the folder has
    none of that name. TroubleError CI102 if unreadable."""
    path = folder / name if (folder / name).is_file() else SHIPPED / name
    path = path if path.is_file() else folder / name
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise _unreadable(path, str(error)) from None
    text = []
    for line in lines:
        words = line.split()
        if words[:1] == [".include"]:
            text.append(netlist_text(words[1], folder))
        else:
            text.append(line)
    return "\n".join(text) + "\n"


def _shown_path(path: Path) -> str:
    """How a file is named in messages: a shipped one by its place in the knowledge."""
    return f"kb/{CIRCUITS}/{path.name}" if path.parent == SHIPPED else str(path)


def _read(path: Path, kind: type[_Data]) -> _Data:
    try:
        return kind.model_validate(_parse(path.read_text(encoding="utf-8")))
    except (OSError, UnicodeDecodeError) as error:
        raise _unreadable(path, " ".join(str(error).split())) from None
    except YAMLError as error:
        words, mark = trees.trouble_of(error)
        where = f"line {mark[0] + 1}: " if mark else ""
        raise _unreadable(path, f"{where}{words}") from None
    except ValidationError as error:
        raise TroubleError(
            Trouble(
                "CI103",
                Place(_shown_path(path)),
                f"'{'.'.join(str(step) for step in problem['loc'])}' is wrong: "
                f"{constraints.in_words(problem)}",
                "Compare with the shipped files of this folder",
            )
            for problem in error.errors()
        ) from None


@functools.lru_cache(maxsize=16)
def _parse(text: str) -> Any:
    """The tree of a file's text, parsed once: placing one model's cuts asks a dozen times."""
    return trees.load(text, "safe")


def _unreadable(path: Path, why: str) -> TroubleError:
    place = Place(_shown_path(path))
    return TroubleError(Trouble("CI102", place, f"The file can't be read ({why})", "Mend the file"))
