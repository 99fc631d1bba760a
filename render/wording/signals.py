"""Signal words at the steps: which cautions a symbol bears, each once in a stack of symbols."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from kb.trouble import Place, Trouble, TroubleError
from render.drawing import signs
from render.drawing.benchband import mark_runs
from render.drawing.typeset import Run, fine
from render.wording.script import Document, Paragraph, Part, Signal

SIGNAL_ORDER = ("DANGER", "WARNING", "CAUTION", "NOTICE")


def gravity(word: str) -> int:
    """A signal word's place, the gravest first; words of no standard come last."""
    return SIGNAL_ORDER.index(word) if word in SIGNAL_ORDER else len(SIGNAL_ORDER)


def signals_of(
    ids: Iterable[str], cautions: Mapping[str, Document], numbers: Mapping[str, int]
) -> tuple[Signal, ...]:
    """The cautions as signals, the gravest word first; TroubleError for one the model lacks."""
    by_word: dict[str, dict[int, str]] = defaultdict(dict)
    for caution_id in ids:
        caution = cautions.get(caution_id)
        if caution is None:
            raise TroubleError(
                Trouble(
                    "PA122",
                    Place("chart document"),
                    f"A step names the caution {caution_id}, which the model does not have",
                    "Give the two documents of the same run",
                )
            )
        hazard = fine(signs.in_words(str(caution["hazard"])), f"caution {caution_id}")
        by_word[str(caution["signal"]).upper()][numbers[caution_id]] = hazard
    return _in_rank(by_word)


def told_once(parts: Iterable[Part]) -> Iterable[Part]:
    """Within one stack a caution stands at the first symbol it belongs to."""
    numbers: set[int] = set()
    for part in parts:
        signals = []
        for signal in part.signals:
            fresh = [n for n in range(len(signal.numbers)) if signal.numbers[n] not in numbers]
            if fresh:
                signals.append(
                    Signal(
                        signal.word,
                        tuple(signal.hazards[n] for n in fresh),
                        tuple(signal.numbers[n] for n in fresh),
                    )
                )
        numbers.update(n for signal in signals for n in signal.numbers)
        yield replace(part, signals=tuple(signals))


def run_together(parts: Sequence[Part]) -> list[Part]:
    """Set-ups that follow each other in one symbol; a test's cautions at the set-up before it.

    Where the bench's mark changes inside a symbol, its word stands there.
    """
    stack: list[Part] = []
    for part in parts:
        before = stack[-1] if stack else None
        if before and before.kind == part.kind == "setup":
            stack[-1] = _merge(before, part)
        elif before and before.kind == "setup" and part.kind in ("test", "again"):
            stack[-1] = replace(before, signals=_by_word((*before.signals, *part.signals)))
            stack.append(replace(part, signals=()))
        else:
            stack.append(part)
    return stack


def _merge(before: Part, part: Part) -> Part:
    word = mark_runs(part.mark) if part.mark and part.mark != before.mark else ()
    runs = (*before.paragraphs[0].runs, Run(". "), *word, *part.paragraphs[0].runs)
    return replace(
        before,
        paragraphs=(Paragraph(runs, hands=True),),
        signals=_by_word((*before.signals, *part.signals)),
        mark=part.mark,
        first_mark=before.first_mark or before.mark,
    )


def _by_word(signals: Iterable[Signal]) -> tuple[Signal, ...]:
    by_word: dict[str, dict[int, str]] = defaultdict(dict)
    for signal in signals:
        by_word[signal.word].update(zip(signal.numbers, signal.hazards, strict=True))
    return _in_rank(by_word)


def _in_rank(by_word: Mapping[str, Mapping[int, str]]) -> tuple[Signal, ...]:
    return tuple(
        Signal(word, tuple(by_word[word].values()), tuple(by_word[word].keys()))
        for word in sorted(by_word, key=gravity)
    )
