"""A part that this unit does not have: makers leave out surge parts, chokes, fuses, bleeders.

What is not there has no fault and can't be measured: its hypotheses go, those that it shares with
another part, too, and so do the tests that are done to it.
"""

from __future__ import annotations

from dataclasses import replace

from engine.readings import belief as beliefs
from engine.walk.doubts import in_question
from engine.walk.state import Step, Walk
from kb.trouble import Place, Trouble, TroubleError


def parts(walk: Walk) -> tuple[str, ...]:
    """The parts of the model that can be said not to be there, by the tests done to them."""
    with_faults = {part.part for fault in walk.model.faults for part in fault.parts}
    return tuple(
        dict.fromkeys(test.on for test in walk.model.tests if test.on in with_faults)
    )


def without_part(walk: Walk, part: str) -> Walk:
    """The walk of a unit that has no such part, before the rest is planned anew.

    TroubleError WK136 for a part that the model does not have, WK137 where nothing would be left.
    """
    model = walk.model
    factors = {
        fault.id: 0.0 if part in {own.part for own in fault.parts} else 1.0
        for fault in model.faults
    }
    if part not in parts(walk) or all(factors.values()):
        names = ", ".join(parts(walk))
        raise _trouble(
            walk, "WK136", f'there is no part "{part}" to be without', f"Name one of {names}"
        )
    if not any(walk.belief.get(fault, 0.0) * factor for fault, factor in factors.items()):
        raise _trouble(
            walk, "WK137", f"what was told before is possible only with {part}",
            "Undo the answer that speaks for it, or look for the part again",
        )  # fmt: skip
    belief = beliefs.weigh(walk.belief, factors)
    step = Step("not-fitted", 0.0, walk.bench, belief, thing=part, factors=factors)
    left = frozenset(fault for fault in walk.suspects if factors[fault])
    tests = frozenset(test.id for test in model.tests if test.on == part)
    return replace(
        walk, belief=belief, steps=(*walk.steps, step), suspects=left or in_question(belief),
        withdrawn=walk.withdrawn | tests,
    )  # fmt: skip


def _trouble(walk: Walk, code: str, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code, Place(walk.model.topology), what, mend))
