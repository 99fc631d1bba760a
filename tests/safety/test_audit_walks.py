"""Do walks, on and off the plan, pass the checker that knows nothing of the walk?

People answer right or wrong, say what they know already, can't do this, and undo; whatever they
do, the minutes of the document are those of its steps and no step is against the safety rules.
"""

from __future__ import annotations

import json
import random

import pytest

from engine.audit import audit_walk
from engine.model.records import Model
from engine.model.records import document as model_document
from engine.planner import plan
from engine.walk.events import Answered, CannotDo, Event, Known
from engine.walk.job import Outset, Question, Setting, Walk, begin, pending, take
from engine.walk.record import document as walk_document
from engine.walk.undo import can_undo, undo
from tests.safety.shop_models import random_model


def person(
    walk: Walk, asked: Question, truth: dict[str, str], fault: str, chance: random.Random
) -> Event:
    """What a person with this faulty unit says to a question; asked again, the same again."""
    model, mood = walk.model, chance.random()
    if mood < 0.1:
        return CannotDo(asked.test)
    if mood < 0.2:
        left = [t.id for t in model.tests if t.id not in walk.done | walk.withdrawn]
        known = chance.choice(left)
        return Known(known, truth.setdefault(known, shown(model, known, fault, chance)))
    told = truth.setdefault(asked.test, shown(model, asked.test, fault, chance))
    return Answered(asked.test, told)


def shown(model: Model, test: str, fault: str, chance: random.Random) -> str:
    """A true outcome of the test under this fault."""
    row = model.row(test, fault)
    return chance.choices(list(row), list(row.values()))[0]


def walked(model: Model, chance: random.Random) -> Walk:
    """A walk to its end, with a change of mind now and then."""
    fault = chance.choices(model.faults, [fault.prior for fault in model.faults])[0].id
    walk = begin(Outset(model), plan)
    truth: dict[str, str] = {}
    regrets = 3
    while (ahead := pending(walk)) is not None:
        if isinstance(ahead, Setting):
            walk = take(walk, ahead.event)
        elif regrets and can_undo(walk) and chance.random() < 0.2:
            walk, regrets = undo(walk), regrets - 1
        else:
            walk = take(walk, person(walk, ahead, truth, fault, chance))
    return walk


@pytest.mark.parametrize("seed", range(40))
def test_walk_of_a_random_model_has_no_breach(seed: int) -> None:
    model = random_model(seed)
    walk = walked(model, random.Random(seed))
    document = json.loads(json.dumps(walk_document(walk)))
    assert audit_walk(model_document(model), document) == ()
