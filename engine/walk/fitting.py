"""How this unit is built: a part that it does not have, or has, and of which kind a part is.

Makers leave out surge parts, chokes, fuses, bleeders, and put one kind of part in another's place.
What is not there has no fault and can't be measured: its hypotheses go, those that it shares with
another part, too, and so do the tests that are done to it. And a unit built so is of a design
built so: all readings, those taken already, too, are weighed by such designs from there on.

**The law.** With v the designs' weights before and w those of designs built as is told now,

    factor(f) = [f needs a part that is not there ? 0 : 1]
                x (sum over n of w(n) P(readings | f, n)) / (sum over n of v(n) P(readings | f, n))

which is Bayes' rule for fault and design together (`engine.evidence.joint`): whether a part is told
to be missing before a reading or after it, the belief comes out the same.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from engine.circuit.dictionary import Sibling
from engine.evidence.joint import Joint
from engine.evidence.make import apply_build
from engine.model.absence import NO_PART
from engine.model.records import Model
from engine.readings import belief as beliefs
from engine.walk.doubts import in_question
from engine.walk.events import Event, Fitted, NotFitted, OfKind
from engine.walk.state import Step, Walk
from engine.walk.unlike import notice
from kb.language import loader
from kb.language.schema.unit import PartFact
from kb.quantities import read_quantity
from kb.trouble import Place, Trouble, TroubleError

NONE = (NO_PART, "no", "not fitted", "missing", "absent")
THERE = ("fitted", "yes", "there")
"""What may be written behind a part's name and an equals sign, for one that the unit lacks or has.
"""


def parts(walk: Walk) -> tuple[str, ...]:
    """The parts that can be said to be there or not: those that tests are done to, those with a
    value in some sampled design and those that some lacks."""
    with_faults = {part.part for fault in walk.model.faults for part in fault.parts}
    on_tests = (test.on for test in walk.model.tests if test.on in with_faults)
    units = _units(walk)
    of_designs = {part for unit in units for part in (*unit.values, *unit.absent)}
    return tuple(dict.fromkeys((*on_tests, *sorted(of_designs))))


def kinds(walk: Walk, part: str) -> tuple[str, ...]:
    """The kinds that a part has in the sampled designs, the listed one first; empty where all have
    the listed one, so that nothing hangs on it."""
    others = {unit.kinds[part] for unit in _units(walk) if part in unit.kinds}
    first = _usual_kind(walk.model, part)
    return tuple(filter(None, (first, *sorted(others - {first})))) if others else ()


def is_build(words: str) -> bool:
    """Whether words such as `L1=none`, `L1=fitted` or `C2=electrolytic` tell how a unit is built;
    others are a value or a reading."""
    _, equals, text = words.partition("=")
    plain = _plain(text)
    return bool(equals) and (plain in (*NONE, *THERE) or any(_names(plain, k) for k in _kinds()))


def build_event(walk: Walk, words: str) -> Event:
    """The event of words that `is_build`. A kind's first word will do: `C2=ceramic`."""
    name, _, text = words.partition("=")
    part, plain = name.strip(), _plain(text)
    if plain in NONE:
        return NotFitted(part)
    if plain in THERE:
        return Fitted(part)
    return OfKind(part, next(k for k in (*kinds(walk, part), *_kinds()) if _names(plain, k)))


def without_part(walk: Walk, part: str) -> Walk:
    """The walk of a unit that has no such part, before the rest is planned anew.

    TroubleError WK136 for a part that the model does not have, WK137 where nothing would be left.
    """
    _check_part(walk, part)
    its_faults = {f.id for f in walk.model.faults if part in {own.part for own in f.parts}}
    if not any(p > 0.0 for fault, p in walk.belief.items() if fault not in its_faults):
        raise _trouble(
            walk, "WK137", f"what was told before is possible only with {part}",
            "Undo the answer that speaks for it, or look for the part again",
        )  # fmt: skip
    tests = frozenset(test.id for test in walk.model.tests if test.on == part)
    after = _build(walk, Step("not-fitted", 0.0, walk.bench, {}, thing=part), its_faults,
                   lambda joint: _narrower(joint, absent={part: True}))  # fmt: skip
    return replace(after, withdrawn=walk.withdrawn | tests)


def with_part(walk: Walk, part: str) -> Walk:
    """The walk of a unit that has this part, before the rest is planned anew. TroubleError WK136.
    """
    _check_part(walk, part)
    return _build(walk, Step("fitted", 0.0, walk.bench, {}, thing=part), set(),
                  lambda joint: _narrower(joint, absent={part: False}))  # fmt: skip


def with_kind(walk: Walk, part: str, kind: str) -> Walk:
    """The walk of a unit whose part is of this kind, before the rest is planned anew.

    TroubleError WK138 for a kind that no design has there.
    """
    if kind not in kinds(walk, part):
        names = " or ".join(kinds(walk, part))
        raise _trouble(
            walk, "WK138", f'no design that is known has the kind "{kind}" for {part}',
            f"{part} is {names} in those" if names else f"Nothing here hangs on {part}'s kind",
        )  # fmt: skip
    return _build(walk, Step("of-kind", 0.0, walk.bench, {}, thing=part, answer=kind), set(),
                  lambda joint: _narrower(joint, kinds={part: kind}))  # fmt: skip


def _build(walk: Walk, step: Step, its_faults: set[str], narrow: Callable[[Joint], Joint]) -> Walk:
    """The walk once more is known of how its unit is built: `its_faults` are of what is not there.
    """
    before, joint = walk.joint, narrow(walk.joint)
    logs = joint.support(walk.history) - before.support(walk.history)
    ratios = np.exp(logs - logs.max())
    faults = [fault.id for fault in walk.model.faults]
    factors = {
        fault: 0.0 if fault in its_faults else float(ratio)
        for fault, ratio in zip(faults, ratios, strict=True)
    }
    most = max(factors.values())
    factors = {fault: factor / most for fault, factor in factors.items()}
    belief = beliefs.weigh(walk.belief, factors)
    left = walk.suspects - its_faults
    if not left or not np.allclose(ratios, 1.0):  # what a reading ruled out may be back
        left |= in_question(belief)
    return notice(replace(
        walk, belief=belief, own_joint=joint, suspects=left,
        steps=(*walk.steps, replace(step, belief=belief, factors=factors)),
    ))  # fmt: skip


def _narrower(
    joint: Joint, absent: Mapping[str, bool] = {}, kinds: Mapping[str, str] = {}
) -> Joint:
    witness = joint.witness
    return Joint(witness.narrower(apply_build(witness.make, witness.dictionary, absent, kinds)))


def _check_part(walk: Walk, part: str) -> None:
    if part not in parts(walk):
        raise _trouble(
            walk, "WK136", f'there is no part "{part}" to be without or to have',
            f"Name one of {', '.join(parts(walk))}",
        )  # fmt: skip


def _units(walk: Walk) -> tuple[Sibling, ...]:
    dictionary = walk.joint.witness.dictionary
    return dictionary.units if dictionary is not None else ()


def unit_of(model: Model, part: str) -> str:
    """The unit that a part is marked in; empty where its topology lists no value."""
    entry = _fact(model, part)
    return read_quantity(entry.value).unit if entry is not None and entry.value else ""


def _usual_kind(model: Model, part: str) -> str:
    entry = _fact(model, part)
    return entry.kind if entry is not None else ""


def _fact(model: Model, part: str) -> PartFact | None:
    topology = loader.as_shipped().topologies.get(model.topology)
    stages = topology.stages.values() if topology is not None else ()
    return next((stage.parts[part] for stage in stages if part in stage.parts), None)


def _kinds() -> tuple[str, ...]:
    return tuple(loader.as_shipped().parts)


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def _names(words: str, kind: str) -> bool:
    """Whether words are a kind's name or its first word."""
    return words.replace(" ", "-") == kind or words == kind.partition("-")[0]


def _trouble(walk: Walk, code: str, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code, Place(walk.model.topology), what, mend))
