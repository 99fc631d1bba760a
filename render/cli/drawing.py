"""One chart from what was asked to files, with a line that says how far it is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode, urlsplit

from engine import safetygate
from engine.chart import drawing, secondstart
from engine.chart.detours import Detour
from engine.model.plan import Plan
from engine.model.records import Model, document
from render.cli import cannot, files, knowledge, onward, planning, ranging
from render.cli.asked import Request
from render.cli.options import Depth
from render.cli.ranging import Drafting
from render.cli.waiting import status

if TYPE_CHECKING:
    from render.drawing.ink import Sheets

Files = tuple[Path, ...]

PAPER_FORMS = frozenset({"pdf", "svg", "png"})


@dataclass(frozen=True, slots=True)
class Paper:
    """What a chart is printed on: size, which way up, read from how far, without which parts, and
    over tiles of which smaller paper, if any; `link` is where a code on it leads."""

    size: str
    hang: str
    read_from: str
    leave_out: tuple[str, ...] = ()
    tiles: str | None = None
    edition: str = "booklet"
    add: tuple[str, ...] = ()
    link: str = ""


@dataclass(frozen=True, slots=True)
class Draft:
    """A chart ready to be written in any format; `sheets` where it was laid out for print.

    `model` is the document it was made from, with a word on its `origin` where that is unknown;
    `second` that of its second START, where it has one; `leave_out` names parts to leave out.
    `detours` are the ways on from checks, for the page.
    """

    model: dict[str, Any]
    chart: dict[str, Any]
    sheets: Sheets | None = None
    second: dict[str, Any] | None = None
    leave_out: tuple[str, ...] = ()
    detours: tuple[Detour, ...] = ()


def as_planned(model: Model, plan: Plan) -> dict[str, Any]:
    """The chart document of the plan and nothing else."""
    return drawing.document(drawing.draw_up(model, plan))


def with_confirm(model: Model, plan: Plan) -> dict[str, Any]:
    """The chart document with tests done again before a verdict, where misreads make that pay."""
    from engine.studies.trial import document_with_confirm

    with status("looking where a test is worth doing again"):
        return document_with_confirm(model, plan)


def draw(
    request: Request,
    form: str,
    target: Path,
    paper: Paper,
    seconds: float,
    drafting: Drafting = as_planned,
) -> Iterator[str]:
    """Plan and draw what was asked, as `form` to `target`; what there is to say, as it comes."""
    draft = draft_of(request, (form,), paper, seconds, drafting)
    if draft.sheets is not None:
        yield draft.sheets.says
    if str(target) != "-":
        yield from _second_told(draft.chart)
        yield from ranging.lines(draft.chart)
    for path in put_down(draft, form, target):
        if str(path) != "-":
            yield f"{path} is written."


def draft_of(
    request: Request,
    forms: tuple[str, ...],
    paper: Paper,
    seconds: float,
    drafting: Drafting = as_planned,
) -> Draft:
    """Plan what was asked, and lay it out once if any format is printed.

    TroubleError AU... where the audit rejects the plan: nothing of it is drawn or written then.
    """
    model = knowledge.either(
        request.topology, request.model, request.mains, request.depth, request.complaint,
        request.kb, request.without, request.values, request.having, request.traced,
    )  # fmt: skip
    check_values(request, model)
    on_paper = not PAPER_FORMS.isdisjoint(forms)
    blocks = "html" in forms or (on_paper and "blocks" not in paper.leave_out)
    if blocks and model.stages:
        from render.drawing import dot

        dot.ready()  # before time is spent on planning
    chart = drafting(model, planning.plan_of(model, seconds))
    chart = cannot.with_ways_on(model, onward.with_going_on(request, model, chart))
    chart, other = _with_second(request, chart, seconds)
    safetygate.check(model, chart, kb=request.kb, source=request.model, second=other)
    unit = document(model)
    if origin := safetygate.origin_note(model, request.model is not None):
        unit["origin"] = origin
    second = document(other) if other is not None else None
    sheets = _laid_out(unit, chart, second, paper) if on_paper else None
    ways_on = tuple(_detours(request, model, chart, other)) if "html" in forms else ()
    return Draft(unit, chart, sheets, second, paper.leave_out, ways_on)


def _detours(
    request: Request, model: Model, chart: dict[str, Any], other: Model | None
) -> Iterator[Detour]:
    """The ways on from the checks of both STARTs."""
    yield from cannot.detours_of(model, chart, request.kb, request.model)
    start = secondstart.second_of(chart)
    if start is not None and other is not None:
        yield from cannot.detours_of(other, start[1], request.kb, request.model)


def _with_second(
    request: Request, chart: dict[str, Any], seconds: float
) -> tuple[dict[str, Any], Model | None]:
    """The chart with its second START and the model of that; as it is where it needs none.

    The second goes down to the stages: after a bang it is the short that is looked for, and a chart
    of twice the size is not read on a wall.
    """
    from engine import library

    start = library.second_start(request.complaint, request.kb) if request.topology else None
    if request.topology is None or start is None:
        return chart, None
    complaint, says = start
    model = knowledge.topology_model(
        request.topology, request.mains, Depth.STAGE, complaint, request.kb, request.without,
        request.values, request.having, request.traced,
    )  # fmt: skip
    plan = planning.plan_of(model, seconds)
    return secondstart.join(chart, says, as_planned(model, plan)), model


def _second_told(chart: dict[str, Any]) -> Iterator[str]:
    """What the second START costs, where there is one."""
    start = secondstart.second_of(chart)
    if start is not None:
        says, second = start
        yield (
            f"Second START, after {says}: {second['expected_minutes']:.1f} min to a verdict, on "
            f"average; {second['expected_cost']:.1f} min with repair and risk."
        )


def check_values(request: Request, model: Model) -> None:
    """That each value given is one of a part: a chart knows no readings. TroubleError EV101."""
    if request.values and request.topology is not None:
        from engine import library
        from engine.readings import markings

        values = library.listed_values(request.topology, model.mains, request.kb)
        markings.read(markings.assignments(request.values), values)


def _laid_out(
    model: dict[str, Any], chart: dict[str, Any], second: dict[str, Any] | None, paper: Paper
) -> Sheets:
    from render import paper as press

    with status(f"laying out {len(chart['nodes'])} steps on {paper.size}"):
        sheets = press.lay_out(
            model, chart,
            paper=paper.size, landscape=press.Orientation(paper.hang), read_from=paper.read_from,
            leave_out=tuple(press.Extra(part) for part in paper.leave_out), second=second,
            edition=press.Edition(paper.edition), add=tuple(map(press.Extra, paper.add)),
            link=_walk_at(paper.link, model),
        )  # fmt: skip
        return press.tile_sheets(sheets, paper.tiles) if paper.tiles else sheets


def _walk_at(link: str, model: dict[str, Any]) -> str:
    """The address of the unit's walk: what is given, or on a page of ours that is given without
    more, where such a unit is taken in."""
    if not link or urlsplit(link).path.strip("/") or urlsplit(link).query:
        return link
    unit = {"topology": model["topology"], "complaint": model.get("complaint") or ""}
    return f"{link.rstrip('/')}/take-in?{urlencode({k: v for k, v in unit.items() if v})}"


def put_down(draft: Draft, form: str, target: Path) -> Files:
    """Write a draft as `form`: its JSON, the page, DOT, or its sheets. The files written."""
    if form == "json":
        files.write_json(target, draft.chart)
        return (target,)
    if form == "html":
        from render import page

        with status("writing the page"):
            return page.write(
                draft.model, draft.chart, target, second=draft.second, detours=draft.detours
            )
    if form == "dot":
        from render.drawing.issue import issue_date
        from render.paper import Extra, flowgraph

        left_out = [Extra(part) for part in draft.leave_out]
        text = flowgraph.write(
            draft.model, draft.chart, second=draft.second, date=issue_date(), leave_out=left_out
        )
        files.write_text(target, text)
        return (target,)
    from render import paper as press

    assert draft.sheets is not None
    with status(f"drawing {len(draft.sheets.sheets)} sheets"):
        return press.print_out(draft.sheets, target, press.Format(form))
