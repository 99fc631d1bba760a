"""What may be missing for the test that is due: the test itself, a part, or something it needs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from engine.model.setup import in_order
from engine.walk import fitting
from engine.walk.events import CannotDo, Lacking, NotFitted
from engine.walk.job import Due, Walk
from render.terminal import replies
from render.terminal.replies import LETTERS, Command, Pick, Unclear
from render.terminal.screen import Screen
from render.wording import leads

Lack = CannotDo | Lacking | NotFitted


def of(walk: Walk, node: Due) -> Iterable[tuple[str, Lack]]:
    """Each in words, with the event that says so."""
    model, need = walk.model, node.state
    yield f"this test: {model.test(node.test).says}", CannotDo(node.test)
    part = model.test(node.test).on
    if part in fitting.parts(walk):
        yield f"part: this unit has no {part}", NotFitted(part)
    for name in in_order(model, need.opened - walk.bench.opened):
        label = leads.LABELS.get(model.opening(name).kind, "open")
        yield f"{label}: {model.opening(name).says or name}", Lacking("opening", name)
    if need.supply not in (walk.bench.supply, model.dead_supply):
        says = model.arrangement(need.supply).says or need.supply
        yield f"supply: {says}", Lacking("supply", need.supply)
    if need.rig not in (walk.bench.rig, model.start.rig):
        yield f"rig: {model.rig(need.rig).says or need.rig}", Lacking("rig", need.rig)


def choose(
    screen: Screen, lines: Callable[[str], str], choices: Sequence[tuple[str, Lack]]
) -> Lack | Command:
    """The one that is picked, without asking where there is one; or a command typed instead."""
    if len(choices) == 1:
        return choices[0][1]
    for letter, (says, _) in zip(LETTERS, choices, strict=False):
        screen.choice(letter, says)
    texts = [says for says, _ in choices]
    while True:
        reply = replies.to_choice(lines(screen.prompt("what can't be done?")), texts)
        match reply:
            case Pick():
                return choices[reply.index][1]
            case Command():
                return reply
            case Unclear():
                screen.say(reply.says)
