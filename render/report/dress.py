"""The sections of a report as text, as Markdown, or as one HTML page with charts side by side."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Iterator, Sequence

from engine.chart import drawing
from engine.model.records import document
from engine.studies.comparison.effects import Effect, Result
from render.drawing.markup import words
from render.report.comparison import Section

_STYLE = """body{font-family:sans-serif;max-width:100rem;margin:2rem auto;padding:0 1rem;color:#000;
background:#fff;line-height:1.4}table{border-collapse:collapse}th,td{border:1px solid #666;
padding:.2rem .5rem;text-align:left}.pair{display:grid;grid-template-columns:1fr 1fr;gap:1rem}
.pair img{width:100%;border:1px solid #666}figure{margin:0}"""


def text(title: str, sections: Iterable[Section]) -> Iterator[str]:
    """Lines for a terminal, to be wrapped by whoever prints them."""
    yield title
    for section in sections:
        yield ""
        yield section.title
        yield from (f"  {line}" for line in section.lines)
        yield from _columns(section.table)


def _policy() -> str:
    """Nothing but this style and pictures within runs or loads (Content Security Policy 3)."""
    digest = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode("ascii")
    return (
        f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; base-uri 'none'; "
        "form-action 'none'"
    )


def markdown(title: str, sections: Iterable[Section]) -> str:
    """The report as Markdown."""
    lines = [f"# {title}", ""]
    for section in sections:
        lines += [f"## {section.title}", ""]
        lines += [f"- {_plain(line)}" for line in section.lines]
        if section.table:
            head, *rows = section.table
            lines.append("| " + " | ".join(_plain(cell) for cell in head) + " |")
            lines.append("|" + "---|" * len(head))
            lines += ["| " + " | ".join(_plain(cell) for cell in row) + " |" for row in rows]
        lines.append("")
    return "\n".join(lines)


def html(title: str, sections: Iterable[Section]) -> str:
    """The report as one page that asks nothing of the network; charts to the stage side by side."""
    body = [f"<h1>{words(title)}</h1>"]
    for section in sections:
        body.append(f"<h2>{words(section.title)}</h2>")
        if section.lines:
            items = "".join(f"<li>{words(line)}</li>" for line in section.lines)
            body.append(f"<ul>{items}</ul>")
        if section.table:
            body.append(_table(section.table))
        if section.effect is not None and section.effect.depth == "stage":
            body.append(_pair(section.effect))
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width">'
        f'<meta http-equiv="Content-Security-Policy" content="{_policy()}">'
        f"<title>{words(title)}</title><style>{_STYLE}</style></head>\n<body>"
        + "\n".join(body)
        + "</body></html>\n"
    )


def _plain(line: str) -> str:
    """A line in which nothing is taken for a sign of Markdown's or HTML's."""
    for sign in ("\\", "|", "*", "_", "`", "<", "[", "#"):
        line = line.replace(sign, f"\\{sign}")
    return line


def _columns(table: Sequence[Sequence[str]]) -> Iterator[str]:
    widths = [max(len(row[n]) for row in table) for n in range(len(table[0]))] if table else []
    for row in table:
        cells = (f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True))
        yield "  " + "  ".join(cells).rstrip()


def _table(table: Sequence[Sequence[str]]) -> str:
    head, *rows = table
    heads = "".join(f"<th>{words(cell)}</th>" for cell in head)
    body = "".join(
        "<tr>" + "".join(f"<td>{words(cell)}</td>" for cell in row) + "</tr>" for row in rows
    )
    return f"<table><tr>{heads}</tr>{body}</table>"


def _pair(effect: Effect) -> str:
    """Both charts, sheet by sheet, the old one on the left."""
    sides = (("before", effect.old), ("after", effect.new))
    figures = []
    for word, side in sides:
        pictures = _pictures(side) if side is not None else []
        images = "".join(
            f'<img alt="chart {word}, sheet {n}" src="data:image/svg+xml;base64,{picture}">'
            for n, picture in enumerate(pictures, 1)
        )
        figures.append(f"<figure><figcaption>{word}</figcaption>{images or 'no chart'}</figure>")
    return f'<div class="pair">{"".join(figures)}</div>'


def _pictures(side: Result) -> list[str]:
    from render.drawing import svg
    from render.paper import press

    chart = drawing.document(drawing.draw_up(side.model, side.plan))
    layout = press.lay_out(document(side.model), chart, paper="A3")
    return [
        base64.b64encode(svg.draw(sheet, sheet.title, layout.language).encode()).decode()
        for sheet in layout.sheets
    ]
