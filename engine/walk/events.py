"""What can happen during a walk, as frozen facts; a walk is its outset plus a tuple of these.

Nothing here depends on a plan: an event says what was found or done at the bench, so it stays true
when the plan, the knowledge or the program changes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from kb.trouble import Place, Trouble, TroubleError


@dataclass(frozen=True, slots=True)
class Measured:
    """What was found at one store of charge: volts, or None where it can't be reached.

    `supposed` marks a store of a job that is told in writing: nobody says what it read.
    """

    part: str
    volts: float | None = None
    supposed: bool = False

    @property
    def out_of_reach(self) -> bool:
        """Whether nobody could measure it."""
        return self.volts is None and not self.supposed


@dataclass(frozen=True, slots=True)
class Arrived:
    """One setup step was carried out: the bench now stands as named here.

    `measured` are the stores of charge that were due in it.
    """

    opened: tuple[str, ...]
    supply: str
    rig: str
    measured: tuple[Measured, ...] = ()


@dataclass(frozen=True, slots=True)
class Away:
    """The bench was left: what was done to the unit since, and what it holds, nobody knows."""


@dataclass(frozen=True, slots=True)
class _Finding:
    """What a test showed: an outcome, and the reading as typed where there was one.

    `shares` splits the evidence where a reading leaves open which outcome it is; empty otherwise.
    """

    test: str
    outcome: str
    reading: str | None = None
    shares: tuple[tuple[str, float], ...] = ()

    @property
    def evidence(self) -> tuple[tuple[str, float], ...]:
        """The outcomes spoken for, with their shares; these sum to 1."""
        return self.shares or ((self.outcome, 1.0),)


class Answered(_Finding):
    """The test was done on this bench."""

    __slots__ = ()


class Known(_Finding):
    """The outcome was known already: it costs no minutes and moves nothing."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class CannotDo:
    """The test can't be done here; it is not offered again."""

    test: str


@dataclass(frozen=True, slots=True)
class Lacking:
    """An opening, a supply arrangement or a rig can't be had: no test that needs it is offered.

    `kind` is opening, supply or rig.
    """

    kind: str
    thing: str


@dataclass(frozen=True, slots=True)
class Traced:
    """There is a drawing of the stage: tracing it costs nothing from here on."""

    stage: str


@dataclass(frozen=True, slots=True)
class Unmended:
    """The remedy was carried out and the unit is as it was before."""

    remedy: str


Event = Arrived | Away | Answered | Known | CannotDo | Lacking | Traced | Unmended

_KINDS: dict[str, type[Event]] = {
    "arrived": Arrived,
    "away": Away,
    "answered": Answered,
    "known": Known,
    "cannot-do": CannotDo,
    "lacking": Lacking,
    "traced": Traced,
    "unmended": Unmended,
}


def plain(event: Event) -> dict[str, Any]:
    """The event as a JSON-ready dictionary with its kind under `event`."""
    kind = next(name for name, record in _KINDS.items() if isinstance(event, record))
    match event:
        case Arrived():
            rest: dict[str, Any] = {
                "opened": list(event.opened),
                "supply": event.supply,
                "rig": event.rig,
                "measured": [plain_measure(found) for found in event.measured],
            }
        case Away():
            rest = {}
        case Answered() | Known():
            rest = {"test": event.test, "answer": event.outcome, "reading": event.reading}
            if event.shares:
                rest["shares"] = dict(event.shares)
        case CannotDo():
            rest = {"test": event.test}
        case Lacking():
            rest = {"kind": event.kind, "thing": event.thing}
        case Traced():
            rest = {"stage": event.stage}
        case Unmended():
            rest = {"remedy": event.remedy}
    return {"event": kind, **rest}


def read(raw: Mapping[str, Any], source: str) -> Event:
    """The event of a JSON dictionary; a shape that is none raises a `TroubleError`."""
    try:
        match raw["event"]:
            case "arrived":
                return Arrived(
                    tuple(map(str, raw["opened"])), str(raw["supply"]), str(raw["rig"]),
                    tuple(_measured(found) for found in raw["measured"]),
                )  # fmt: skip
            case "away":
                return Away()
            case "answered":
                return Answered(*_finding(raw))
            case "known":
                return Known(*_finding(raw))
            case "cannot-do":
                return CannotDo(str(raw["test"]))
            case "lacking":
                return Lacking(str(raw["kind"]), str(raw["thing"]))
            case "traced":
                return Traced(str(raw["stage"]))
            case "unmended":
                return Unmended(str(raw["remedy"]))
            case _:
                pass
    except (KeyError, TypeError, ValueError, AttributeError):
        pass
    raise TroubleError(
        Trouble(
            code="WK101",
            place=Place(source),
            what=f"one of its events is not of a known shape: {raw!r:.120}",
            mend="Use the file as nextprobe saved it, or start the walk anew",
        )
    )


def plain_measure(found: Measured) -> dict[str, Any]:
    """What was found at a store, as a JSON-ready dictionary."""
    if found.supposed:
        return {"part": found.part, "supposed": True}
    if found.volts is None:
        return {"part": found.part, "out_of_reach": True}
    return {"part": found.part, "volts": found.volts}


def _measured(raw: Mapping[str, Any]) -> Measured:
    kinds = ("volts", "out_of_reach", "supposed")
    ways = [kind for kind in kinds if raw.get(kind) is not None and raw[kind] is not False]
    if len(ways) != 1:
        raise ValueError("a store is measured, out of reach or supposed, one of the three")
    if "volts" in ways and isinstance(raw["volts"], bool):
        raise ValueError("volts are a number")
    volts = float(raw["volts"]) if "volts" in ways else None
    return Measured(str(raw["part"]), volts, "supposed" in ways)


def _finding(
    raw: Mapping[str, Any],
) -> tuple[str, str, str | None, tuple[tuple[str, float], ...]]:
    shares = tuple((str(o), float(share)) for o, share in raw.get("shares", {}).items())
    return str(raw["test"]), str(raw["answer"]), _text(raw.get("reading")), shares


def _text(value: Any) -> str | None:
    return None if value is None else str(value)
