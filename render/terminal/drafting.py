"""Asking a person what a unit is made of, one thing at a time, until the draft is whole.

Every answer is looked at as it is given: what can't be is told in a sentence and asked again.
Enter takes what is proposed, and the proposals are how known units are built.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from engine import drafting
from engine.drafting import wiring, wishes
from kb.language.knowledge import Knowledge
from kb.language.schema import PartFact, PointFact, Topology
from kb.trouble import TroubleError
from render.terminal.replies import LETTERS
from render.terminal.screen import Screen

Lines = Callable[[str], str]
_NONE = ("none", "-")
_OPTION = re.compile(r"--[a-z-]+ ")  # a mend names the option; here its words alone are typed


class Drafter:
    """One dialogue: a screen, the person's lines, and the knowledge that proposals come from."""

    def __init__(self, screen: Screen, lines: Lines, knowledge: Knowledge) -> None:
        self.screen = screen
        self.lines = lines
        self.knowledge = knowledge

    def words(self, label: str, question: str, proposal: str = "") -> str:
        """A phrase for a person, at least three letters long; Enter takes the proposal."""
        while True:
            answer = self.line(question, proposal)
            if len(answer) >= 3:
                return answer
            self.screen.say(f"{label} wants a phrase of three letters or more.")

    def live(self) -> bool:
        """Whether the inside stands on the mains; the careful answer is proposed."""
        while True:
            answer = self.line(
                "Is the inside joined to the mains, with no transformer that isolates it?", "yes"
            ).lower()
            if answer in ("yes", "y", "no", "n"):
                return answer[0] == "y"
            self.screen.say("Answer yes or no; if you don't know, yes is the safe answer.")

    def stages(self, draft: Topology) -> Topology:
        """The stages in the order in which power meets them."""
        kinds = tuple(self.knowledge.stages)
        self.screen.heading("stages")
        for number, kind in enumerate(kinds, 1):
            stage = self.knowledge.stages[kind]
            self.screen.choice(str(number), f"{kind}: {stage.says}")
        self.screen.say(
            "The names or numbers, in the order in which power meets them, such as 1 2 3; "
            "a name of your own goes in front: entry:mains-entry."
        )
        while True:
            try:
                return self._stage(draft, self.line("Which stages has it?"), kinds)
            except TroubleError as error:
                self.tell(error)

    def _stage(self, draft: Topology, answer: str, kinds: tuple[str, ...]) -> Topology:
        kinds_of = answer.replace(",", " ").split()
        for word in kinds_of:
            wish = wishes.stage(word)
            kind = wish.kind or wish.name
            if kind.isdigit() and 1 <= int(kind) <= len(kinds):
                kind = kinds[int(kind) - 1]
            name = wish.name if wish.kind else _free(kind, draft)
            draft = drafting.with_stage(draft, self.knowledge, name, kind)
        if kinds_of:
            return draft
        self.screen.say("A unit needs at least one stage.")
        return self._stage(draft, self.line("Which stages has it?"), kinds)

    def parts(self, draft: Topology, stage: str) -> Topology:
        """The parts of a stage, place by place; places that hold a part already are passed by."""
        kind = self.knowledge.stages[draft.stages[stage].kind]
        self.screen.heading(stage, kind.says)
        names: dict[str, str] = {}
        for place, says in kind.places.items():
            if any(part.place == place for part in draft.stages[stage].parts.values()):
                continue
            draft = self._place(draft, stage, place, says, names)
        return draft

    def _place(
        self, draft: Topology, stage: str, place: str, says: str, names: dict[str, str]
    ) -> Topology:
        kind = self.knowledge.stages[draft.stages[stage].kind]
        must = place in kind.needs
        proposals = drafting.proposals(self.knowledge, kind.kind, place)
        self.screen.line(place, says + (" (needed)" if must else ""))
        for letter, proposal in zip(LETTERS, proposals, strict=False):
            self.screen.choice(letter, str(proposal))
        usual = "a" if proposals and must else "none"
        while True:
            answer = self.line("Which? A letter, KIND VALUE, several with +, or none", usual)
            if answer in _NONE and not must:
                return draft
            try:
                return self._take(draft, stage, place, answer, proposals, names)
            except TroubleError as error:
                self.tell(error)

    def _take(
        self,
        draft: Topology,
        stage: str,
        place: str,
        answer: str,
        proposals: tuple[drafting.Proposal, ...],
        names: dict[str, str],
    ) -> Topology:
        for piece in (piece.strip() for piece in answer.split("+")):
            if len(piece) == 1 and piece in LETTERS[: len(proposals)]:
                proposal = proposals[LETTERS.index(piece)]
                draft, name = drafting.with_proposal(draft, self.knowledge, stage, proposal, names)
                names[proposal.name] = name
                draft = self._value(draft, stage, name)
            else:
                draft, name = self._own(draft, stage, place, piece)
            self.screen.line("", f"{name}: {draft.stages[stage].parts[name].kind}")
        return draft

    def _value(self, draft: Topology, stage: str, name: str) -> Topology:
        """The part with what is written on it, where its kind has a value and none is proposed."""
        part = draft.stages[stage].parts[name]
        unit = self.knowledge.parts[part.kind].unit
        while unit and not part.value:
            answer = self.line(f"What is written on {name}, in {unit}? (Enter: can't be read)")
            if not answer:
                return draft
            value, volts = wishes.marks(answer)
            changed_part = part.model_copy(update={"value": value, "volts": volts or part.volts})
            try:
                return drafting.with_part(draft, self.knowledge, stage, name, changed_part)
            except TroubleError as error:
                self.tell(error)
        return draft

    def _own(self, draft: Topology, stage: str, place: str, piece: str) -> tuple[Topology, str]:
        """A part in the person's words: `R7=film-resistor 4k7` or `film-resistor 4k7`."""
        name, _, rest = piece.rpartition("=")
        kind, _, marks = rest.strip().partition(" ")
        value, volts = wishes.marks(marks)
        name = name.strip() or drafting.free_designator(draft, self.knowledge, kind)
        part = PartFact.model_construct(kind=kind, place=place, value=value, volts=volts)
        return drafting.with_part(draft, self.knowledge, stage, name, part), name

    def access(self, draft: Topology) -> Topology:
        """Openings one after the other, then boards, then which stage lies where."""
        self.screen.heading("how it is opened")
        self.screen.say("One step a line: a NAME, MINUTES, what is done. Enter when no more.")
        while answer := self.line("Opening, such as base-cap 4 take off the base cap"):
            try:
                after = next(reversed(draft.openings), None)
                draft = drafting.with_opening(draft, *wishes.opening(answer, after))
            except TroubleError as error:
                self.tell(error)
        if draft.openings:
            draft = self._boards(draft)
        return draft

    def _boards(self, draft: Topology) -> Topology:
        self.screen.say(
            "Boards that can be replaced whole: a NAME, the OPENING it lies behind, MINUTES to "
            "swap it, what it is. Enter when no more."
        )
        first = next(iter(draft.openings))
        while answer := self.line(f"Board, such as driver {first} 40 driver board"):
            try:
                draft = drafting.with_board(draft, *wishes.board(answer))
            except TroubleError as error:
                self.tell(error)
        for stage in draft.stages:
            if drafting.inside(draft, self.knowledge, stage):
                draft = self._lies(draft, stage)
        return draft

    def _lies(self, draft: Topology, stage: str) -> Topology:
        usual = next(reversed(draft.openings))
        boards = [name for name, board in draft.boards.items() if board.behind == usual]
        proposal = " ".join([usual, *boards[-1:]])
        while True:
            answer = self.line(
                f"{stage} lies behind which opening, on which board? (none: behind nothing)",
                proposal,
            )
            try:
                if answer in _NONE:
                    return drafting.with_lies(draft, stage, drafting.Lies())
                _, behind, board = wishes.lies(f"{stage} {answer}")
                return drafting.with_lies(draft, stage, drafting.Lies(behind, board))
            except TroubleError as error:
                self.tell(error)

    def points(self, draft: Topology) -> Topology:
        """Where the probes go behind each stage that passes power on to another."""
        self.screen.heading("test points")
        number = len(draft.points)
        for stage in tuple(draft.stages)[:-1]:
            if not drafting.passes(draft, self.knowledge, stage):
                continue
            usual = drafting.point_words(draft, self.knowledge, stage)
            question = f"Behind {stage}: from where to where do the probes go? (none: no point)"
            answer = self.words("A test point", question, usual)
            if answer not in _NONE:
                number += 1
                point = PointFact(stage=stage, side="out", says=answer)
                draft = drafting.with_point(draft, f"TP{number}", point)
        return draft

    def differences(self, draft: Topology) -> Topology:
        """What is other than in the unit that was taken as the model, part by part."""
        self.screen.heading("what is different")
        self.screen.say("For each part: Enter keeps it; KIND VALUE changes it; none leaves it out.")
        for stage, fact in draft.stages.items():
            for name, part in fact.parts.items():
                draft = self._keep(draft, stage, name, part)
        return draft

    def _keep(self, draft: Topology, stage: str, name: str, part: PartFact) -> Topology:
        usual = " ".join(word for word in (part.kind, _marks(part)) if word)
        while True:
            answer = self.line(f"{stage} {name} at {part.place}", usual)
            try:
                if answer == usual:
                    return draft
                if answer in _NONE:
                    return drafting.without(draft, name)
                kind, _, marks = answer.partition(" ")
                value, volts = wishes.marks(marks)
                facts = {"kind": kind, "value": value, "volts": volts, "when_mains": {}}
                other = part.model_copy(update=facts)
                return drafting.with_part(draft, self.knowledge, stage, name, other)
            except TroubleError as error:
                self.tell(error)

    def naming(self, name: str, proposal: str) -> wiring.Naming:
        """What a component of a netlist is and where it stands; none leaves it out."""
        while True:
            answer = self.line(f"{name} is which KIND:PLACE? (none: leave it out)", proposal)
            if answer in _NONE:
                return wiring.Naming()
            try:
                return wiring.naming(f"{name}={answer}")[1]
            except TroubleError as error:
                self.tell(error)

    def yes(self, question: str) -> bool:
        """A plain yes or no; Enter is yes."""
        while True:
            answer = self.line(question, "yes").lower()
            if answer in ("yes", "y", "no", "n"):
                return answer[0] == "y"
            self.screen.say("Answer yes or no.")

    def line(self, question: str, proposal: str = "") -> str:
        """One line from the person; Enter takes the proposal."""
        aside = f" [{proposal}]" if proposal else ""
        return self.lines(self.screen.prompt(question + aside)).strip() or proposal

    def tell(self, error: TroubleError) -> None:
        """What can't be, and its mend."""
        for trouble in error.troubles:
            mend = _OPTION.sub("", trouble.mend.rstrip(". "))
            self.screen.say(f"{trouble.what.rstrip('. ')}. {mend}.")


def _free(kind: str, draft: Topology) -> str:
    """The kind as the stage's name, with a number where the name is taken."""
    number, name = 1, kind
    while name in draft.stages:
        number += 1
        name = f"{kind}-{number}"
    return name


def _marks(part: PartFact) -> str:
    return ", ".join(mark for mark in (part.value, part.volts) if mark)
