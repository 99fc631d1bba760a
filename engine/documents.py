"""The three documents as JSON Schema (draft 2020-12), for whoever reads or writes them elsewhere.

The model's shape is that of its records (`engine.model.records`); chart and walk are written key by
key (`engine.chart.drawing.document`, `engine.walk.record.document`), so their shapes stand here,
typed, and a test holds what is printed against them. Keys with a default may be missing; keys that
are not listed are let pass, so that `/1` stays `/1` while keys are added.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, TypeAdapter

from engine.chart import drawing
from engine.model import records
from engine.walk import record
from kb.language.formats import DIALECT


class _Shape(BaseModel):
    model_config = ConfigDict(extra="allow")


class MainsShape(_Shape):
    """Nominal mains."""

    volts: float
    hertz: float


class SafePointShape(_Shape):
    """A store to be measured below its limit before hands go in."""

    part: str = ""
    point: str
    below: float
    unit: Literal["V"]


class ComingPointShape(SafePointShape):
    """A store that a repair comes upon, with the opening that shows it."""

    opening: str


class MeasuredShape(_Shape):
    """What was found at a store: volts, or out of reach, or supposed where a job is written up."""

    part: str
    volts: float = 0.0
    out_of_reach: bool = False
    supposed: bool = False


class HaltShape(_Shape):
    """A walk that stopped for good: these stores may be charged and can't be measured."""

    label: Literal["charged"]
    stores: list[SafePointShape]


class GroupedShape(_Shape):
    """Cautions told once for all nodes of a kind."""

    verdict: list[str] = []


class OddsShape(_Shape):
    """A fault and its odds."""

    id: str
    p: float


class SetupShape(_Shape):
    """Openings, supply arrangement and rig for what comes next."""

    kind: Literal["setup"]
    open: list[str]
    supply: str
    rig: str
    minutes: float
    cautions: list[str]
    standing: list[str] = []
    make_safe: list[SafePointShape]
    next: str


class InsteadShape(_Shape):
    """What comes where a test can't be done: another, or a remedy; and the minutes it costs."""

    test: str | None = None
    remedy: str | None = None
    minutes: float


class TestShape(_Shape):
    """A test with a branch for each outcome."""

    kind: Literal["test"]
    test: str
    cautions: list[str]
    standing: list[str] = []
    branches: dict[str, str]
    instead: InsteadShape | None = None


class OnwardShape(_Shape):
    """What going on to the part takes at a verdict that is no end: minutes to find it and to mend
    it, the odds that the unit is mended then, and its worth in minutes."""

    minutes: float
    repair_minutes: float
    saved: float
    worth: float
    advice: Literal["go on", "stop"]
    parts: list[tuple[str, float]]


class VerdictShape(_Shape):
    """The remedy that ends this way."""

    kind: Literal["verdict"]
    remedy: str
    faults: list[OddsShape]
    reach: float
    cautions: list[str]
    standing: list[str] = []
    make_safe: list[SafePointShape] = []
    opening_up: list[ComingPointShape] = []
    going_on: OnwardShape | None = None


class RecheckShape(_Shape):
    """An answer that no remaining fault can show."""

    kind: Literal["recheck"]
    says: str


class LossShape(_Shape):
    """Minutes lost in the middle and in 19 benches of 20, and as shares of the best plan's."""

    median: float
    in_19_of_20: float
    median_share: float
    share_in_19_of_20: float


class RangesShape(_Shape):
    """What a plan loses on other benches: to the best plan known there, and at most."""

    benches: int
    seed: int
    closed: int
    loses: LossShape
    at_most: LossShape


class SturdyShape(_Shape):
    """That the plan is the one of `of` within a share of the least that loses least."""

    of: int
    within: float
    gap_minutes: float
    changed: bool
    optimum_proved: bool
    first: RangesShape


class StartShape(_Shape):
    """A chart from one START."""

    format: Literal["nextprobe-chart/1"]
    topology: str
    says: str = ""
    mains: MainsShape
    depth: Literal["stage", "part"]
    complaint: str | None
    knowledge: str = ""
    model_sha256: str
    expected_minutes: float
    expected_cost: float
    lower_bound: float
    proved_optimal: bool
    nodes_expanded: int
    grouped: GroupedShape = GroupedShape()
    ranges: RangesShape | None = None
    sturdy: SturdyShape | None = None
    root: str
    nodes: dict[str, SetupShape | TestShape | VerdictShape | RecheckShape]

class SecondShape(_Shape):
    """A second START: of which units it is said, and the chart for them, its model another one."""

    says: str
    chart: StartShape


class ChartShape(StartShape):
    """The document `nextprobe-chart/1`."""

    second: SecondShape | None = None


class StepShape(_Shape):
    """One step of a walk and the bench after it."""

    kind: Literal["test", "known", "setup", "cannot", "lacking", "traced", "repair", "away"]
    minutes: float
    opened: list[str]
    supply: str
    rig: str
    belief: dict[str, float]
    test: str = ""
    answer: str = ""
    reading: str | None = None
    open: list[str] = []
    make_safe: list[SafePointShape] = []
    measured: list[MeasuredShape] = []
    thing: str = ""
    stage: str = ""
    remedy: str = ""


class EndShape(_Shape):
    """What a walk came to."""

    remedy: str | None
    confidence: float
    faults: list[OddsShape]
    proofs: list[str]
    kind: str = ""
    companions: list[str] = []
    make_safe: list[SafePointShape] = []
    opening_up: list[ComingPointShape] = []
    unmeasured: list[str] = []


class WalkShape(_Shape):
    """The document `nextprobe-walk/1`."""

    format: Literal["nextprobe-walk/1"]
    topology: str
    minutes: float
    steps: list[StepShape]
    verdict: EndShape | None
    halt: HaltShape | None = None
    mains: MainsShape | None = None
    depth: Literal["stage", "part"] = "part"
    complaint: str | None = None
    knowledge: str = ""
    model_sha256: str = ""
    options: dict[str, str] = {}
    entry: dict[str, str] = {}
    events: list[dict[str, Any]] = []


def schemas() -> Mapping[str, dict[str, Any]]:
    """Each document's schema, by the file name it is kept under."""
    return {
        "model.json": _of(records.Model, records.FORMAT),
        "chart.json": _of(ChartShape, drawing.FORMAT),
        "walk.json": _of(WalkShape, record.FORMAT),
    }


def _of(shape: Any, name: str) -> dict[str, Any]:
    made = TypeAdapter(shape).json_schema()
    defs = made.pop("$defs", {})
    made.pop("title", None)
    made.pop("description", None)
    made["properties"]["format"] = {"const": name}
    head = {"$schema": DIALECT, "title": name, "description": f"The document {name}."}
    return {**head, **made, "$defs": defs}
