"""The outcome of a trial on one A4 sheet: minutes, accuracy, and where the chart goes wrong.

Ways of working differ by their dashes and their names; nothing is told by colour.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from engine.studies.contest import Bout, Contest
from render.drawing.ink import Box, Drawing, Panel, Sheet, Sheets, Stroke, Words
from render.report.axis import GREY, Scale, box, centre, ending, line, words

WIDTH, HEIGHT, MARGIN = 297.0, 210.0, 14.0
TYPE, SMALL, TITLE = 3.6, 3.1, 6.0
_DASHES: tuple[tuple[float, ...], ...] = (
    (), (2.4, 1.0), (0.5, 0.9), (4.5, 1.2, 0.6, 1.2), (1.2, 1.2), (7.0, 1.5),
)  # fmt: skip
_WEIGHTS = (0.7, 0.45, 0.6, 0.4, 0.4, 0.5)
_MOST = 6
Ink = tuple[tuple[Words, ...], tuple[Stroke, ...]]


def lay_out(contest: Contest, heading: str, date: str) -> Sheets:
    """The sheet, in plain mm; `heading` says what was tried."""
    title = f"Trial – {heading}"
    panels = (
        _head(contest, heading),
        _panel("minutes", "Bench minutes until a verdict", *_curves(contest)),
        _panel("ways", "Ways of working", *_rows(contest)),
        _panel("errors", "Where the printed chart goes wrong", *_errors(contest.bouts[0])),
    )
    sheet = Sheet(1, title, WIDTH, HEIGHT, Drawing(WIDTH, HEIGHT), panels)
    return Sheets(title, "en", (sheet,), TYPE * 0.7, TYPE * 0.7, "A4", date)


def _panel(kind: str, title: str, set_words: list[Words], strokes: list[Stroke]) -> Panel:
    left = min(w.x for w in set_words)
    top = min(w.box.y for w in set_words)
    right = max(w.box.right for w in set_words)
    bottom = max(w.box.bottom for w in set_words)
    return Panel(kind, title, Box(left, top, right - left, bottom - top), tuple(set_words),
                 tuple(strokes))  # fmt: skip


def _head(contest: Contest, heading: str) -> Panel:
    lines = (
        f"{contest.units} simulated units, the same for each way of working (seed {contest.seed}); "
        f"misreads {contest.misreads:g} times the model's; tests that can't be done "
        f"{100 * contest.skips:g} %"
    )
    return _panel(
        "title", "",
        [words(f"Trial of {heading}", MARGIN, 19.0, TITLE, bold=True),
         words(lines, MARGIN, 25.5, TYPE)],
        [],
    )  # fmt: skip


def _curves(contest: Contest) -> tuple[list[Words], list[Stroke]]:
    """Share of units done by each minute, a line for each way, named where it ends."""
    left, right, top, bottom = MARGIN + 12.0, 178.0, 44.0, 128.0
    longest = max(bout.quantiles[-1] for bout in contest.bouts) * 1.1 or 1.0
    along, up = Scale(0.0, longest, left, right), Scale(0.0, 1.0, bottom, top)
    labels = [words("Bench minutes until a verdict", MARGIN, 36.0, TYPE, bold=True),
            words("share of units done", MARGIN, 41.0, SMALL)]  # fmt: skip
    strokes = [line([(left, top), (left, bottom), (right, bottom)], weight=0.3)]
    for share in (0.25, 0.5, 0.75, 1.0):
        labels.append(ending(f"{100 * share:g} %", left - 1.5, up.at(share) + 1.1, SMALL))
        strokes.append(line([(left, up.at(share)), (right, up.at(share))], weight=0.12, ink=GREY))
    for minute in along.marks():
        labels.append(centre(f"{minute:g}", along.at(minute), bottom + 4.5, SMALL))
        strokes.append(line([(along.at(minute), bottom), (along.at(minute), bottom + 1.2)]))
    labels.append(ending("minutes", right, bottom + 8.5, SMALL))
    for number, bout in enumerate(contest.bouts):
        curve = _done_by(bout, longest)
        points = [(along.at(minute), up.at(share)) for minute, share in curve]
        weight, dash = _WEIGHTS[number % 6], _DASHES[number % 6]
        strokes.append(line(points, weight=weight, dash=dash))
        y = bottom + 13.0 + 4.3 * number
        strokes.append(line([(left, y - 1.1), (left + 16.0, y - 1.1)], weight=weight, dash=dash))
        median = f"{bout.name}: {bout.says}; half are done in {bout.quantiles[2]:.0f} min"
        labels.append(words(median, left + 19.0, y, SMALL))
    return labels, strokes


def _done_by(bout: Bout, longest: float) -> Iterator[tuple[float, float]]:
    """Steps of the share of units done, at most 120 of them."""
    minutes = sorted(bout.minutes)
    yield 0.0, 0.0
    steps = [longest * n / 120.0 for n in range(1, 121)]
    at = 0
    shares = []
    for step in steps:
        while at < len(minutes) and minutes[at] <= step:
            at += 1
        shares.append((step, at / len(minutes)))
    yield shares[0]
    for (_, before), (step, share) in pairwise(shares):
        if share != before:
            yield step, before
            yield step, share
    yield longest, shares[-1][1]


def _rows(contest: Contest) -> tuple[list[Words], list[Stroke]]:
    """For each way: odds of the right remedy with their interval, minutes, and cost."""
    left, right = 190.0, WIDTH - MARGIN
    labels = [words("Ways of working", left, 36.0, TYPE, bold=True)]
    strokes: list[Stroke] = []
    low = min(0.5, *(bout.right_low for bout in contest.bouts))
    odds = Scale(low, 1.0, left + 2.0, right - 2.0)
    longest = max(bout.quantiles[-1] for bout in contest.bouts) or 1.0
    time = Scale(0.0, longest, left + 2.0, right - 2.0)
    for number, bout in enumerate(contest.bouts):
        y = 42.0 + 18.5 * number
        labels.append(words(bout.name, left, y, TYPE, bold=True))
        text = (
            f"right {100 * bout.right:.1f} % ({100 * bout.right_low:.1f}–"
            f"{100 * bout.right_high:.1f}), cost {bout.cost:.1f} ± {1.96 * bout.cost_error:.1f} min"
        )
        labels.append(ending(text, right, y, SMALL))
        y += 3.8
        strokes.append(line([(odds.start, y), (odds.end, y)], weight=0.12, ink=GREY))
        strokes.append(
            line([(odds.at(bout.right_low), y), (odds.at(bout.right_high), y)], weight=0.8)
        )
        strokes.append(
            line([(odds.at(bout.right), y - 1.3), (odds.at(bout.right), y + 1.3)], weight=0.6)
        )
        y += 4.8
        q5, q25, q50, q75, q95 = (time.at(q) for q in bout.quantiles)
        strokes.append(line([(q5, y), (q95, y)]))
        strokes.append(box(q25, y - 1.4, max(0.2, q75 - q25), 2.8, fill="#ffffff"))
        strokes.append(line([(q50, y - 1.4), (q50, y + 1.4)], weight=0.7))
        text = " / ".join(f"{q:.0f}" for q in bout.quantiles)
        labels.append(
            words(
                f"{text} min (5, 25, 50, 75, 95 % of units)", left + 2.0, y + 4.9, SMALL, ink=GREY
            )
        )
    y = 42.0 + 18.5 * len(contest.bouts)
    labels.append(
        words(
            f"upper bar: odds of the right remedy, {100 * low:.0f} to 100 %, 95 % interval",
            left,
            y,
            SMALL,
        )
    )
    labels.append(words("lower bar: bench minutes, middle half boxed", left, y + 4.2, SMALL))
    return labels, strokes


def _errors(chart: Bout) -> tuple[list[Words], list[Stroke]]:
    """The dearest confusions of the printed chart."""
    top = 170.0
    labels = [words("Where the printed chart goes wrong", MARGIN, top, TYPE, bold=True)]
    columns = (MARGIN, MARGIN + 60.0, MARGIN + 130.0, MARGIN + 155.0)
    for x, head in zip(
        columns, ("fault", "taken for, ends in", "units", "minutes lost a unit"), strict=True
    ):
        labels.append(words(head, x, top + 5.0, SMALL, ink=GREY))
    for number, one in enumerate(chart.confusions[:_MOST]):
        y = top + 9.5 + 4.3 * number
        cells = (
            one.fault,
            one.remedy or "no verdict",
            f"{100 * one.share:.2f} %",
            f"{one.cost:.2f}",
        )
        labels.extend(words(cell, x, y, SMALL) for x, cell in zip(columns, cells, strict=True))
    if not chart.confusions:
        labels.append(words("nowhere in this trial", MARGIN, top + 9.5, SMALL))
    return labels, [line([(MARGIN, top - 6.0), (WIDTH - MARGIN, top - 6.0)], weight=0.2, ink=GREY)]
