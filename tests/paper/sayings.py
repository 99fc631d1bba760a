"""The words that a chart is to say, and those that stand on its sheets."""

from __future__ import annotations

from render.drawing.ink import Sheet, Sheets
from render.wording.script import Script


def sayings(script: Script) -> set[str]:
    """The words of every symbol and branch, marks and signal words beside them."""
    sayings_here: set[str] = set()
    for step in script.steps.values():
        for part in step.parts:
            runs = [run.text for paragraph in part.paragraphs for run in paragraph.runs]
            signals = [w for s in part.signals for w in (s.word, *s.hazards)]
            marks = [mark.word for mark in (part.mark, part.first_mark) if mark]
            # A paragraph's runs stand close where no space parts them.
            sayings_here.update("".join(runs).split())
            for words in (*runs, *signals, *marks, *(run.text for run in part.tail)):
                sayings_here.update(words.split())
        for way in step.exits:
            sayings_here.update(way.label.split())
    return {word.strip(",.") for word in sayings_here}


def words_on(sheet: Sheet) -> set[str]:
    symbols = [s for s in sheet.drawing.symbols if s.kind not in ("connector", "decision")]
    words = [w.text for s in symbols for w in s.words]
    words += [w.text for la in sheet.drawing.labels if la.outcomes for w in la.words]
    return {word.strip(",.") for text in words for word in text.split()} - {"", "·", "P1–P5"}


def fragments(sheets: Sheets, sayings_here: set[str]) -> set[str]:
    """Words on the sheets that nobody says: pieces of broken ones."""
    return {word for sheet in sheets.sheets for word in words_on(sheet)} - sayings_here
