"""The document `nextprobe-chart/1` as records.

`engine.chart` builds them: `drawing` the chart with its nodes, `confirmed` the confirm steps,
`instead` and `engine.walk.goingon` what a node says of the way on, `secondstart` a second START.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter

from engine.documents.reading import read
from engine.documents.record import (
    ComingPoint,
    Depth,
    FaultOdds,
    MainsRecord,
    Names,
    Record,
    SafePoint,
)

FORMAT: Literal["nextprobe-chart/1"] = "nextprobe-chart/1"


class GroupedCautions(Record):
    """Cautions told once for all nodes of a kind."""

    verdict: Names = ()


class SetupNode(Record):
    """Change the supply, make openings, measure what is due, fit a rig; then go on to `next`."""

    kind: Literal["setup"]
    open: Names
    supply: str
    rig: str
    minutes: float
    cautions: Names
    standing: Names = ()
    make_safe: tuple[SafePoint, ...]
    next: str


class Instead(Record):
    """What comes where a test can't be done: another, or a remedy; and the minutes it costs."""

    test: str | None = None
    remedy: str | None = None
    minutes: float


class TestNode(Record):
    """Do a test and follow the branch of what it shows; every outcome has one. `compare`: its bands
    are one make's; a good unit beside it tells more."""

    kind: Literal["test"]
    test: str
    cautions: Names
    standing: Names = ()
    branches: Mapping[str, str]
    compare: bool = False
    instead: Instead | None = None


class Onward(Record):
    """What going on to the part takes at a verdict that is no end: minutes to find it and to mend
    it, the odds that the unit is mended then; its worth in minutes and what it advises only where
    somebody told that worth."""

    minutes: float
    repair_minutes: float
    saved: float
    worth: float | None = None
    advice: Literal["go on", "stop"] | None = None
    parts: tuple[tuple[str, float], ...]


class VerdictNode(Record):
    """Apply the remedy. `faults` have the odds given one got here, `reach` is the odds of that.

    `make_safe` lists the stores that are due at once, `opening_up` those that a repair comes upon.
    """

    kind: Literal["verdict"]
    remedy: str
    faults: tuple[FaultOdds, ...]
    reach: float
    cautions: Names
    standing: Names = ()
    make_safe: tuple[SafePoint, ...] = ()
    opening_up: tuple[ComingPoint, ...] = ()
    going_on: Onward | None = None


class RecheckNode(Record):
    """An answer that no remaining fault can show: it was misread, or what is wrong is not listed.
    """

    kind: Literal["recheck"]
    says: str


ChartNode = SetupNode | TestNode | VerdictNode | RecheckNode
Nodes = Mapping[str, Annotated[ChartNode, Field(discriminator="kind")]]


def led_by(names: Mapping[str, str], node: ChartNode) -> ChartNode:
    """The node, leading on to the nodes of these new names; KeyError where one is not named."""
    match node:
        case SetupNode():
            return node.model_copy(update={"next": names[node.next]})
        case TestNode():
            branches = {outcome: names[below] for outcome, below in node.branches.items()}
            return node.model_copy(update={"branches": branches})
        case _:
            return node


class ConfirmStep(Record):
    """A test done once more on the line `outcome` of the node `at`, before the verdict `to`.

    `root` and `nodes` are a small chart of its own; told otherwise, one goes on from `back` by what
    came twice. `minutes` are those of the repetition, `saves` what it is worth over all jobs.
    """

    at: str
    outcome: str
    to: str
    back: str
    test: str
    minutes: float
    saves: float
    root: str
    nodes: Nodes


class Loss(Record):
    """Minutes lost in the middle and in 19 benches of 20, and as shares of the best plan's."""

    median: float
    in_19_of_20: float
    median_share: float
    share_in_19_of_20: float


class Ranges(Record):
    """What a plan loses on other benches: to the best plan known there, and at most."""

    benches: int
    seed: int
    closed: int
    loses: Loss
    at_most: Loss


class Sturdy(Record):
    """That the plan is the one of `of` within a share of the least that loses least."""

    of: int
    within: float
    gap_minutes: float
    changed: bool
    optimum_proved: bool
    first: Ranges


class Start(Record):
    """A chart from one START; `nodes` in reading order."""

    format: Literal["nextprobe-chart/1"]
    topology: str
    says: str = ""
    mains: MainsRecord
    depth: Depth
    complaint: str | None
    knowledge: str = ""
    model_sha256: str
    expected_minutes: float
    expected_cost: float
    lower_bound: float
    proved_optimal: bool
    nodes_expanded: int
    fault_classes: int = 0
    tests_left: int = 0
    closed_by: str = ""
    grouped: GroupedCautions = GroupedCautions()
    root: str
    nodes: Nodes
    expected_cost_with_misreads: float | None = None
    expected_cost_with_confirm: float | None = None
    confirm: tuple[ConfirmStep, ...] = ()
    ranges: Ranges | None = None
    sturdy: Sturdy | None = None


class SecondStart(Record):
    """A second START: of which units it is said, and the chart for them, its model another one."""

    says: str
    chart: Start


class Chart(Start):
    """The whole document."""

    second: SecondStart | None = None


_CHART = TypeAdapter(Chart)


def read_chart(plain: Any) -> Chart:
    """The records of a chart document that was decoded from JSON; MisfitError where it is none."""
    return read(_CHART, plain)
