"""What the bench sees: a running docket down the page, one numbered entry per step.

The look is plain on purpose: a rule with the step's number and the minutes so far, then lines of a
short label and its text. Colour only repeats what words and signs say already; without a terminal,
or with NO_COLOR, the same lines come without it, and without line drawing where the output can't
show it.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Sequence
from typing import TextIO

from rich.console import Console
from rich.text import Text

from engine.model.records import Caution
from kb.signs import plain
from render.wording.odds import percent

WIDEST = 92
_LABEL = 12
_STYLE = {"DANGER": "bold red", "WARNING": "bold dark_orange", "CAUTION": "bold yellow"}
# A number and its unit stay on one line: their space stands aside while lines are broken.
_JOINT = "\ue000"
_UNIT_SPACE = re.compile(r"(?<=[0-9]) (?=[%°]|[kMmµn]?[VAWΩFHs]\b|min\b|Hz\b)")
_ENDLESS = 1e15
"""Minutes that only a spoilt document holds; beyond, floats have no halves."""
_BARS = "▁▂▃▄▅▆▇█"


class Screen:
    """Prints docket lines to one stream; knows nothing of walks."""

    def __init__(self, stream: TextIO | None = None, width: int | None = None) -> None:
        out = stream or sys.stdout
        out = getattr(out, "bare", out)  # what is printed here is made plain here
        self._console = Console(file=out, highlight=False, width=width, soft_wrap=False)
        if width is None:
            self._console.width = min(self._console.width, WIDEST)
        encoding = (getattr(out, "encoding", None) or "utf-8").lower().replace("-", "")
        self._drawn = encoding.startswith("utf")

    def heading(self, left: str, right: str = "") -> None:
        """A rule across the page that opens one entry of the docket."""
        dash = "─" if self._drawn else "-"
        room = self._console.width - len(left) - len(right) - 6
        rule = Text(" " + dash * max(2, room + (0 if right else 1)), style="dim")
        self._console.print()
        self._print(
            Text(f"{dash}{dash} ", style="dim"), Text(left, style="bold"), rule,
            Text(f" {right}" if right else ""),
        )  # fmt: skip

    def line(self, label: str, text: str, style: str = "") -> None:
        """A short label and its text, wrapped beside it; nothing for empty text."""
        if text:
            self._row(Text(label, style="dim"), Text(_sentence(text), style=style))

    def main(self, text: str) -> None:
        """What to do now: the one line that must not be missed."""
        self._row(Text(""), Text(_sentence(text), style="bold"))

    def choice(self, key: str, text: str, aside: str = "") -> None:
        """One answer with its key, and its band or meaning beside it."""
        body = Text(text)
        if aside:
            body.append(f"   {aside}", style="dim")
        self._row(Text(f"{key:>{_LABEL - 1}}", style="bold cyan"), body)

    def cautions(self, cautions: Iterable[Caution]) -> None:
        """Words of warning with their signal word, each once."""
        for caution in dict.fromkeys(cautions):
            style = _STYLE.get(caution.signal, "bold")
            self._row(Text(caution.signal, style=style), Text(_sentence(caution.says)))

    def say(self, text: str, style: str = "") -> None:
        """A plain paragraph at the text's margin."""
        self._row(Text(""), Text(text, style=style))

    def verbatim(self, label: str, text: str) -> None:
        """A label and a text that must stay on one line to be copied, however long."""
        gap = " " * max(1, _LABEL - len(label))
        self._print(Text(label, style="dim"), Text(gap + text))

    def blank(self) -> None:
        """An empty line."""
        self._console.print()

    def blocks(self, cells: Sequence[tuple[str, float]]) -> None:
        """The unit's stages in their order with the odds that the fault sits there (0 to 1)."""
        rows: list[list[tuple[str, str, float]]] = [[]]
        room = self._console.width - _LABEL
        for name, odds in cells:
            words = self._odds(odds)
            width = max(len(name), len(words))
            used = sum(max(len(n), len(t)) + 3 for n, t, _ in rows[-1])
            if rows[-1] and used + width > room:
                rows.append([])
            rows[-1].append((name, words, odds))
        for number, row in enumerate(rows):
            self._pair_of_lines(row, "fault in" if number == 0 else "")

    @property
    def draws(self) -> bool:
        """Whether the output can show line drawing and block elements."""
        return self._drawn

    def picture(self, lines: Iterable[str]) -> None:
        """Lines that stand as they are, set apart from the words around them."""
        self._console.print()
        for line in lines:
            self._print(Text(line))
        self._console.print()

    def prompt(self, words: str) -> str:
        """The prompt text for what may be typed now."""
        return f"{words} {'›' if self._drawn else '>'} "

    def _pair_of_lines(self, row: list[tuple[str, str, float]], label: str) -> None:
        names, odds = Text(), Text()
        for name, words, p in row:
            width = max(len(name), len(words))
            style = "bold" if p >= 0.25 else ("dim" if p < 0.005 else "")
            names.append(f"{name:<{width}}   ", style=style)
            odds.append(f"{words:<{width}}   ", style=style)
        for left, cells in ((label, names), ("", odds)):
            cells.rstrip()
            self._print(Text(f"{left:<{_LABEL}}", style="dim"), cells)

    def _print(self, *parts: Text) -> None:
        """One line as it is: no part lends its style to another, nothing is wrapped or cut."""
        for part in parts:
            if not part.plain.isprintable():
                part.plain = plain(part.plain)
        self._console.print(Text.assemble(*parts), soft_wrap=True)

    def _odds(self, odds: float) -> str:
        if not self._drawn:
            return percent(odds)
        bar = _BARS[min(7, int(odds * 8))] if odds >= 0.005 else "·"
        return f"{bar} {percent(odds)}"

    def _row(self, label: Text, body: Text) -> None:
        """A label and its text beside it; wrapped by hand, since a table would pad each line."""
        room = max(20, self._console.width - _LABEL)
        body.plain = _UNIT_SPACE.sub(_JOINT, body.plain)
        lines = body.wrap(self._console, room) or [Text("")]
        for number, line in enumerate(lines):
            line.rstrip()
            line.plain = line.plain.replace(_JOINT, " ")
            left = label if number == 0 else Text("")
            gap = Text(" " * max(1, _LABEL - len(left)) if line else "")
            self._print(left, gap, line)


def minutes(amount: float) -> str:
    """Bench minutes to the half: `0 min`, `1.5 min`, `under ½ min`."""
    halves = round(amount * 2) / 2 if amount < _ENDLESS else amount
    if amount > 0 and halves == 0:
        return "under 0.5 min"
    return f"{halves:g} min"


def _sentence(text: str) -> str:
    return " ".join(text.split())
