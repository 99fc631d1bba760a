"""The whole chart as a plain flowchart in the DOT language, for Graphviz to lay out.

Nodes with their words, arrows with the answers that take them, and nothing of where they stand: the
words are those of the sheets, the places whatever `dot` makes of them.
"""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any

import graphviz

from engine.chart import secondstart
from render.drawing.typeset import Run
from render.layout.panels import Leaf
from render.paper import contents
from render.paper.contents import Extra
from render.wording import planwords
from render.wording.script import Part, Script, Step
from render.wording.scriptwriter import write_script

# ISO 5807 as near as Graphviz has it: terminator, manual operation, preparation, process.
_SHAPES = {
    "start": {"shape": "box", "style": "rounded"},
    "verdict": {"shape": "box", "style": "rounded"},
    "make-safe": {"shape": "invtrapezium"},
    "setup": {"shape": "hexagon"},
    "test": {"shape": "box"},
    "again": {"shape": "box"},
}
# Graphviz has no type of ours.
_TYPE = "sans-serif"
# Letters in a line.
_NODE, _ARROW, _TITLE = 38, 26, 110
_LEFT, _CENTRED = "\\l", "\\n"
# Lines set from the left would run over a slanted side.
_SLANTED = {"make-safe", "setup"}


def write(
    model: Mapping[str, Any],
    chart: Mapping[str, Any],
    *,
    second: Mapping[str, Any] | None = None,
    date: str,
    leave_out: Collection[Extra] = (),
) -> str:
    """The chart of the two documents as DOT text; equal documents give equal text.

    Each node bears the name that it has in the chart document, or in its confirm steps. Verdicts of
    one test that the sheets draw as one symbol are one node. `second` is the model document of the
    chart's second START, where it has one; `date` an ISO date.
    TroubleError for documents that don't belong together, or letters that the font lacks.
    """
    script = write_script(model, chart)
    graph = graphviz.Digraph(
        str(model["topology"]),
        graph_attr={"fontname": _TYPE, "labelloc": "t", "labeljust": "l"},
        node_attr={"fontname": _TYPE},
        edge_attr={"fontname": _TYPE},
    )
    panels = contents.around_the_graph(script, frozenset(leave_out))
    title = [_heading(script, date), *_lines(panels)]
    _add(graph, script)
    inner = secondstart.second_of(chart)
    if second is not None and inner is not None:
        says, second_chart = inner
        other = write_script(second, second_chart, first=script, says=says)
        left_out = frozenset({*leave_out, *contents.told_before(script, other)})
        more = [leaf for leaf in contents.around_the_graph(other, left_out) if leaf not in panels]
        title += [f"SECOND START, after {says}: {planwords.line(second_chart)}", *_lines(more)]
        _add(graph, other)
    graph.attr(label=_set(title, _TITLE))
    return str(graph.source)


def _heading(script: Script, date: str) -> str:
    model, chart = script.model, script.chart
    mains, sha = model["mains"], str(chart.get("model_sha256") or "")[:8]
    return (
        f"{model.get('says') or model['topology']} · {mains['volts']:g} V {mains['hertz']:g} Hz · "
        f"{planwords.line(chart)} · model {sha} · {date}"
    )


def _lines(panels: Iterable[Leaf]) -> Iterator[str]:
    for panel in panels:
        if panel.title:
            yield panel.title.upper()
        for row in panel.rows:
            yield " ".join(words for words in (row.marker, row.signal, _plain(row.runs)) if words)


def _add(graph: graphviz.Digraph, script: Script) -> None:
    """All of a script's nodes and arrows."""
    for step in script.steps.values():
        for part in step.parts:
            lines = _set(_words(part), _NODE, _CENTRED if part.kind in _SLANTED else _LEFT)
            graph.node(part.node, label=lines, **_SHAPES[part.kind])
    for step in script.steps.values():
        for tail, head, answer in _arrows(step, script.steps):
            label = _set([answer], _ARROW) if answer else None
            graph.edge(tail, head, label=label)


def _arrows(step: Step, steps: Mapping[str, Step]) -> Iterator[tuple[str, str, str]]:
    """From part to part inside the step, then on to the steps that follow, by their answers."""
    names = [part.node for part in step.parts]
    for tail, head in itertools.pairwise(names):
        yield tail, head, ""
    for way in step.exits:
        yield names[-1], steps[way.to].parts[0].node, way.label


def _words(part: Part) -> Iterator[str]:
    """The bench's mark, the signal words with their hazards, then what is to be done."""
    if part.mark is not None:
        yield f"[{part.mark.word}]"
    for signal in part.signals:
        yield f"{signal.word}: {', '.join(signal.hazards)}"
    for paragraph in part.paragraphs:
        yield _plain(paragraph.runs)


def _plain(runs: Sequence[Run]) -> str:
    return "".join(run.text for run in runs)


def _set(paragraphs: Iterable[str], width: int, end: str = _LEFT) -> str:
    """Paragraphs as a label of lines that end so; nothing in them is taken for an escape."""
    lines = (
        line
        for words in paragraphs
        for line in textwrap.wrap(words, width, break_on_hyphens=False, break_long_words=False)
    )
    return "".join(graphviz.escape(line) + end for line in lines)
