"""One page of all there is to show of a chart: its screens, those of a second START, and those of
the ways on from checks that can't be done.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import chain
from typing import TypeVar

from engine.chart import secondstart
from engine.chart.detours import Detour
from render.drawing.bench_marks import MILDEST_FIRST, BenchMark
from render.page import frontwriter, pagewords
from render.page.forecast import Outset
from render.page.screens import Page, WayOn
from render.page.screenwriter import Writer
from render.wording.equipment import have_ready
from render.wording.instead import more_words
from render.wording.notices import Notice
from render.wording.script import Document

_Thing = TypeVar("_Thing")


def write_page(
    model: Document,
    chart: Document,
    date: str,
    second: Document | None = None,
    detours: Sequence[Detour] = (),
) -> Page:
    """The page of a model and a chart document of the same run.

    `second` is the model document of the chart's second START, where it has one; `detours` are the
    ways on from checks of both. TroubleError if they don't belong together or hold letters that the
    shipped font lacks.
    """
    first, inner = Writer(model, chart), secondstart.second_of(chart)
    page = _with_ways_on(first, date, detours)
    if second is None or inner is None:
        return page
    other = Writer(second, inner[1], first.script, inner[0])
    return _with_second(page, _with_ways_on(other, date, detours))


def _with_ways_on(writer: Writer, date: str, detours: Iterable[Detour]) -> Page:
    """A writer's page, with the ways on from its own checks."""
    own = [detour for detour in detours if detour.at in writer.nodes]
    writers = [_writer(writer, detour) for detour in own]
    writer.ways_on = {d.at: _way_on(d, w) for d, w in zip(own, writers, strict=True)}
    page = writer.page(date)
    screens = tuple(screen for one in writers for screen in one.screens())
    needs = [one.needs for one in writers]
    return replace(
        page,
        ways_on=screens,
        marks=_mildest_first(page.marks, (screen.here.mark for screen in screens)),
        instruments=_once(page.instruments, *(have_ready(writer.model, one) for one in needs)),
        methods=_once(page.methods, *(frontwriter.methods(writer.model, one) for one in needs)),
        repair=_each_notice(page.repair, *(one.repair() for one in writers)),
    )


def _writer(writer: Writer, detour: Detour) -> Writer:
    number = writer.labels[detour.at].rpartition(" ")[2]
    begin = Outset(detour.state, detour.weights)
    return Writer(writer.model, detour.chart, begin=begin, of=f"{number}.")


def _way_on(detour: Detour, writer: Writer) -> WayOn:
    root = str(detour.chart["root"])
    label = writer.labels[root]
    leads = pagewords.LEADS.format(label=label[:1].lower() + label[1:])
    return WayOn(root, f"{leads}, {more_words(detour.more)}")


def _with_second(first: Page, second: Page) -> Page:
    """One page of both STARTs: the first one's, with what it lacks of the other's."""
    return replace(
        first,
        screens=(*first.screens, *second.screens),
        ways_on=(*first.ways_on, *second.ways_on),
        outline=(*first.outline, *second.outline),
        instruments=_once(first.instruments, second.instruments),
        sources=tuple(
            sorted(dict.fromkeys((*first.sources, *second.sources)), key=str.casefold)
        ),
        marks=_mildest_first(first.marks, second.marks),
        repair=_each_notice(second.repair, first.repair),
        methods=_once(first.methods, second.methods),
        second=second.root,
        second_says=second.second_says,
    )  # fmt: skip


def _mildest_first(*marks: Iterable[BenchMark]) -> tuple[BenchMark, ...]:
    found = set(chain(*marks))
    return tuple(mark for mark in MILDEST_FIRST if mark in found)


def _each_notice(*notices: Iterable[Notice]) -> tuple[Notice, ...]:
    return tuple({notice.id: notice for notice in chain(*notices)}.values())


def _once(*things: Iterable[_Thing]) -> tuple[_Thing, ...]:
    return tuple(dict.fromkeys(chain(*things)))
