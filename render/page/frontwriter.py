"""What stands around the screens: what the page is of, the entry check, test points, methods,
sources."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator

from engine.chart import secondstart
from engine.model.complaints import in_words
from render.drawing.typeset import fine
from render.page import pagewords
from render.page.screens import Method, Question
from render.wording import planwords, whereabouts
from render.wording.equipment import (
    Needs,
    method_source,
    method_steps,
    method_title,
    methods_of,
)
from render.wording.phrasing import capital
from render.wording.script import Document

_DIGEST = 8


def facts(model: Document, chart: Document) -> tuple[str, ...]:
    """Mains, depth and complaint."""
    mains = chart.get("mains") or model["mains"]
    complaint = chart.get("complaint")
    words = (
        f"{mains['volts']:g} V {mains['hertz']:g} Hz",
        f"to the {chart.get('depth') or model['depth']}",
        in_words(str(complaint)) if complaint else "any complaint",
    )
    return tuple(fine(word, "title") for word in words)


def plan(chart: Document) -> tuple[str, ...]:
    """What the plan costs, how well that is known, and how large it is."""
    figures = tuple(fine(word, "title") for word in planwords.figures_of(chart))
    second = secondstart.second_of(chart)
    return figures if second is None else (*figures, *_second(*second))


def _second(says: str, chart: Document) -> Iterator[str]:
    """The same of the second START, after the words for it."""
    yield fine(f"{pagewords.SECOND_TITLE}: {pagewords.SECOND_STARTS.format(says)}", "title")
    yield from plan(chart)


def versions(model: Document, chart: Document, date: str) -> tuple[str, ...]:
    """Which knowledge, model and chart, and when."""
    knowledge = str(model.get("knowledge") or "unversioned")
    return (
        f"knowledge {knowledge[:_DIGEST]}",
        f"model {str(chart.get('model_sha256') or '')[:_DIGEST]}",
        f"chart {digest(chart)}",
        date,
    )


def digest(chart: Document) -> str:
    """What tells this chart from any other: first digits of its document's SHA-256."""
    plain = json.dumps(chart, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(plain.encode()).hexdigest()[:_DIGEST]


def entry(model: Document, chart: Document) -> tuple[Question, ...]:
    """The questions of the entry check; on a plan that begins with cold checks itself, an answer
    that asks for them is one to go on with."""
    cold = any(not opening.get("inside", True) for opening in model["openings"])
    return tuple(_question(question, chart, cold) for question in model.get("entry") or ())


def _question(question: Document, chart: Document, cold: bool) -> Question:
    ends = pagewords.SECOND_ENDS if chart.get("second") else pagewords.ENTRY_ENDS
    where = f"entry question {question['id']}"
    answers = tuple(
        (
            fine(str(words), where),
            "go-on" if cold and effect == "cold-first" else str(effect),
            ends.get(effect, pagewords.ANSWERS.get(effect, str(effect))),
        )
        for words, effect in question["answers"].items()
    )
    why = fine(str(question.get("why") or ""), where)
    asks = fine(str(question["asks"]), where)
    return Question(str(question["id"]), asks, why, answers, _only_after(question, chart))


def _only_after(question: Document, chart: Document) -> tuple[tuple[str, str], ...]:
    """The answers, by question, that bring this one up; none where it is always asked."""
    if chart.get("complaint") in (question.get("complaints") or ()):
        return ()
    return tuple(
        (str(other), fine(str(answer), f"entry question {question['id']}"))
        for other, answers in (question.get("after") or {}).items()
        for answer in answers
    )


def points(model: Document) -> tuple[tuple[str, str, tuple[str, ...]], ...]:
    """Each test point, what it is, and what it should read."""
    listing = []
    for point in model.get("points") or ():
        where = f"test point {point['id']}"
        due = [
            fine(f"{capital(str(t.get('instrument') or ''))}: {t['good']}", where)
            for t in model["tests"]
            if t.get("point") == point["id"] and t.get("good")
        ]
        says = fine(capital(str(point["says"])), where)
        listing.append((str(point["id"]), says, tuple(dict.fromkeys(due))))
    return tuple(listing)


def locations(model: Document) -> tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]:
    """Where each part and test point is: each stage in words, and the lines of its table."""
    tables = whereabouts.tables(
        model.get("stages") or (), model.get("parts") or (), model.get("points") or ()
    )
    return tuple(
        (
            fine(table.says, f"stage {table.stage}"),
            tuple(
                tuple(fine(cell, f"part {line.designator}") for cell in line.cells)
                for line in table.lines
            ),
        )
        for table in tables
    )


def methods(model: Document, needs: Needs) -> tuple[Method, ...]:
    """How what the chart needs is done, step by step."""
    return tuple(
        Method(method_title(method, needs), method_steps(method), method_source(method))
        for method in methods_of(model, needs)
    )


def sources(model: Document) -> tuple[str, ...]:
    """Every source that a rule behind the model names, each once, common practice first."""
    reasons = (
        reason
        for kind in ("faults", "remedies", "proofs", "tests")
        for item in model[kind]
        for reason in item.get("because") or ()
    )
    proofs = (proof.get("source") for proof in model["proofs"])
    names = {str(s) for s in (*(r.get("source") for r in reasons), *proofs) if s}
    return tuple(fine(source, "source") for source in sorted(names, key=str.casefold))
