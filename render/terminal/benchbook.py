"""Asking a shop about its bench: five questions, each with what stands now as the proposal."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from kb.language import benchfile
from kb.language.benchfile import ShopBench
from kb.language.benchwishes import Wishes, grant
from kb.language.knowledge import Knowledge
from kb.trouble import TroubleError
from render.terminal.screen import Screen

Lines = Callable[[str], str]
Wishing = Callable[[tuple[str, ...]], Wishes]
_NONE = ("none", "-")
_USUAL_TEN = 10.0


class Benchbook:
    """One dialogue: a screen, the person's lines, and the knowledge whose names may be said."""

    def __init__(self, screen: Screen, lines: Lines, knowledge: Knowledge) -> None:
        self.screen = screen
        self.lines = lines
        self.knowledge = knowledge
        kinds: dict[str, Any] = {**knowledge.arrangements, **knowledge.instruments}
        self.told = {name: kinds[name].says for name in benchfile.lackable(knowledge)}
        self.unusual = benchfile.unusual(knowledge)

    def ask(self, says: ShopBench) -> ShopBench:
        """The bench by the person's answers; Enter leaves a thing as it is."""
        self.screen.say("Enter leaves a thing as it is, none empties it.")
        self._offer("beyond the usual", (n for n in self.told if n in self.unusual))
        says = self._names(says, "What of these do you have?", "has", says.has, _having)
        self._offer("usual", (n for n in self.told if n not in self.unusual))
        says = self._names(says, "What of these do you lack?", "lacks", says.lacks, _lacking)
        says = self._pace(says)
        boards = [f"{u}/{b}" for u, t in self.knowledge.topologies.items() for b in t.boards]
        self.screen.say(f"Boards: {', '.join(boards)}; a whole donor unit by its name alone.")
        says = self._names(says, "Which spares are in stock?", "spares", says.spares, _stocking)
        return self._worth(says)

    def _offer(self, heading: str, names: Iterable[str]) -> None:
        self.screen.heading(heading)
        for name in names:
            self.screen.say(f"{name}: {self.told[name]}")

    def _names(
        self, says: ShopBench, question: str, key: str, now: tuple[str, ...], wishing: Wishing
    ) -> ShopBench:
        """One list of names, parted by commas."""
        while True:
            answer = self._line(question, ", ".join(now))
            names = tuple(name for name in re.split(r"[,\s]+", answer) if name)
            wishes = () if answer in _NONE else names
            bare = says.model_copy(update={key: ()})
            bench = self._grant(bare, wishing(wishes))
            if bench is not None:
                return bench

    def _pace(self, says: ShopBench) -> ShopBench:
        while True:
            now = f"{_USUAL_TEN * says.minutes.factor:g}"
            answer = self._line("How long do you take for what is 10 minutes as a rule?", now)
            number = _number(answer)
            if number is None:
                self.screen.say("Answer with a number of minutes, such as 12.")
                continue
            bench = self._grant(says, Wishes(pace=round(number[0] / _USUAL_TEN, 3)))
            if bench is not None:
                return bench

    def _worth(self, says: ShopBench) -> ShopBench:
        worth = says.worth
        now = "" if worth.minute is None else f"{worth.minute:g} {worth.currency}".strip()
        while True:
            answer = self._line("What is a minute at your bench worth, such as 0.5 EUR?", now)
            if not answer:
                return says
            if answer in _NONE:
                bare = worth.model_copy(update={"minute": None})
                return says.model_copy(update={"worth": bare})
            number = _number(answer)
            if number is None:
                self.screen.say("Answer with a number, and the currency if you like.")
                continue
            bench = self._grant(says, Wishes(worth_minute=number[0], currency=number[1]))
            if bench is not None:
                return bench

    def _grant(self, says: ShopBench, wishes: Wishes) -> ShopBench | None:
        """The bench with the answer, or None after saying what is wrong with it."""
        try:
            return grant(says, wishes, self.knowledge)
        except TroubleError as error:
            for trouble in error.troubles:
                self.screen.say(f"{trouble.what.rstrip('.')}. {trouble.mend}.")
            return None

    def _line(self, question: str, now: str) -> str:
        answer = " ".join(self.lines(f"{question} [{now or 'none'}] ").split())
        return answer or now


def _number(text: str) -> tuple[float, str | None] | None:
    """A number with the word after it, if one is there."""
    match = re.fullmatch(r"([0-9]+(?:[.,][0-9]+)?)\s*([^\s0-9]*)", text)
    if match is None:
        return None
    return float(match[1].replace(",", ".")), match[2] or None


def _having(names: tuple[str, ...]) -> Wishes:
    return Wishes(has=names)


def _lacking(names: tuple[str, ...]) -> Wishes:
    return Wishes(lacks=names)


def _stocking(names: tuple[str, ...]) -> Wishes:
    return Wishes(spares=names)
