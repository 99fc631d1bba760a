"""Taking a unit in at a terminal: which unit, what the owner says, which mains, what the bench
lacks. Names are understood whatever their capitals, spaces and hyphens."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from engine.intake.suggestion import Listener
from engine.model.complaints import as_one
from render.terminal.replies import LETTERS
from render.terminal.screen import Screen
from render.wording.odds import percent

Lines = Callable[[str], str]
_STOP = ("stop", "quit", "q", "exit")
_UNDO = ("undo", "u")


class Abandonment(Exception):
    """The person left before anything was begun."""


class _Back(Exception):
    """The last answer is taken back: the question before is put again."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """What a walk is begun with; `words` are the owner's own."""

    topology: str
    complaint: str | None
    words: str
    mains: str
    without: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Desk:
    """Where a unit is taken in: what may be named, and what it is; `mains` the usual first."""

    screen: Screen
    lines: Lines
    units: Mapping[str, str]
    complaints: Mapping[str, str]
    mains: Sequence[str]
    listener: Listener
    unknown: str = ""
    """The unit to take where nobody can say which it is."""

    def take_in(self, before: Arrival | None = None) -> Arrival:
        """Ask the four questions, the last of them where they were answered `before`; undo goes
        back one. Abandonment where the person types stop."""
        self.screen.heading("what is handed over", "undo goes back one, stop leaves")
        questions: tuple[Callable[[], Any], ...] = (
            self._unit, self._complaint, self._mains, self._lacks
        )
        answers: list[Any] = []
        if before is not None:
            answers = [before.topology, (before.words, before.complaint), before.mains]
        while len(answers) < len(questions):
            try:
                answers.append(questions[len(answers)]())
            except _Back:
                if answers:
                    answers.pop()
                else:
                    self.screen.say("This is the first question; stop leaves.")
        topology, (words, complaint), mains, names = answers
        return Arrival(topology, complaint, words, mains, names)

    def _lacks(self) -> tuple[str, ...]:
        without = self._line("What does your bench lack today? names, or Enter for nothing")
        return tuple(fold(name) for name in without.split(",") if name.strip())

    def _unit(self) -> str:
        names = list(self.units)
        for letter, one in zip(LETTERS, names, strict=False):
            self.screen.choice(letter, one, self.units[one])
        ask = "its letter or name, or don't know" if self.unknown else "its letter or name"
        while True:
            text = self._line(f"which unit? {ask}")
            if self.unknown and fold(text) in _NOT_KNOWN:
                return self.unknown
            name = pick(text, names)
            if name is not None:
                return name
            self.screen.say(f"Type a letter, {LETTERS[0]} to {LETTERS[len(names) - 1]}, or a name.")

    def _complaint(self) -> tuple[str, str | None]:
        """The owner's words, and the complaint that the person says they mean; None for none."""
        while True:
            words = self._line("what does the owner say? in their own words, Enter if nothing")
            if not words:
                return "", None
            whole = next((name for name in self.complaints if fold(words) == fold(name)), None)
            if whole is not None:
                return words, whole
            try:
                meaning = self._meaning(words)
            except _Back:  # to the words, not past them
                continue
            if meaning != _AGAIN:
                return words, meaning

    def _meaning(self, words: str) -> str | None:
        """Which of the likeliest complaints, or of all, is meant."""
        likely = [s for s in self.listener.hear(words) if s.complaint in self.complaints]
        elsewhere = [s for s in self.listener.hear(words) if s.complaint not in self.complaints]
        if elsewhere and not likely:
            self.screen.say(f"That sounds like “{elsewhere[0].says}”, which no unit here has.")
        names = [s.complaint for s in likely]
        for letter, one in zip(LETTERS, likely, strict=False):
            because = ", ".join(f"“{word}”" for word in one.because)
            self.screen.choice(letter, one.says, f"{percent(one.odds)}, by {because}")
        if not names:
            names = self._all()
        while True:
            text = self._line("which is meant? its letter, several as a, b; all, again, or none")
            match text.casefold():
                case "" | "none" | "-":
                    return None
                case "again":
                    return _AGAIN
                case "all":
                    names = self._all()
                    continue
            name = self._several(text, names)
            if name is not None:
                return name
            self.screen.say("Type a letter, a complaint's name, all, again or none.")

    def _several(self, text: str, names: Sequence[str]) -> str | None:
        """The complaint that is named, or several parted by commas; None where one is none."""
        every = list(self.complaints)
        meant = [pick(one, names) or pick(one, every) for one in text.split(",") if one.strip()]
        return as_one(name for name in meant if name) if all(meant) else None

    def _all(self) -> list[str]:
        names = list(self.complaints)
        for letter, name in zip(_MANY, names, strict=False):
            self.screen.choice(letter, self.complaints[name], name)
        return names

    def _mains(self) -> str:
        while True:
            text = self._line(f"mains, {' or '.join(self.mains)} [{self.mains[0]}]")
            plain = re.sub(r"[^0-9]+", "/", text).strip("/")
            hits = [one for one in self.mains if one.startswith(plain)]
            if len(hits) == 1 or not plain:
                return hits[0]
            self.screen.say(f"Type {' or '.join(self.mains)}, volts/hertz.")

    def _line(self, question: str) -> str:
        text = " ".join(self.lines(self.screen.prompt(question)).split())
        if text.casefold() in _STOP:
            raise Abandonment
        if text.casefold() in _UNDO:
            raise _Back
        return text


_AGAIN = "again"
_NOT_KNOWN = ("", "don't-know", "dont-know", "don’t-know", "unknown", "?")
_MANY = (*LETTERS, *(f"{letter}{letter}" for letter in LETTERS))
"""Letters for a list that is longer than the alphabet."""


def fold(text: str) -> str:
    """A name as knowledge spells it: small letters, hyphens for spaces."""
    return re.sub(r"[\s_-]+", "-", text.strip().casefold())


def pick(text: str, names: Sequence[str]) -> str | None:
    """The name that a letter, the name itself or the only beginning stands for; else None."""
    plain = fold(text)
    if plain in _MANY[: len(names)]:
        return names[_MANY.index(plain)]
    whole = [name for name in names if fold(name) == plain]
    if whole:
        return whole[0]
    starts = [name for name in names if plain and fold(name).startswith(plain)]
    return starts[0] if len(starts) == 1 else None
