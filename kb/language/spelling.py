"""Words that nobody knows: a misspelt one would lose a fault or a rule without a sound.

Codes: KB621 a word that nobody knows; KB622 a share, odds or minutes that can't be.

What the words of a kind of fact's field may be is told by the knowledge itself: a `place` is one of
the places, what a part `acts` like is what some kind acts like or some rule asks for. Where one's
own knowledge may well add a word that nobody asks for yet (how a part acts, a trait), only what
looks like a known word misspelt is an error.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Any

from kb.language import bounds
from kb.language.knowledge import Knowledge
from kb.language.nearest import mend, near, slip_of
from kb.language.schema import Mode, Rule
from kb.trouble import Place, Trouble

ASKED_BY_PROGRAM = frozenset(
    {"isolates", "isolated", "outside", "non-isolated", "earthed", "corded", "capacitor"}
)
"""Traits that are read elsewhere than in rules."""
MAINS = ("230", "120")
"""The mains that plans are made for, as `when_mains` names them."""
LEAST_LISTED = 0.02
"""The least that the failure modes of a kind may sum to: below, nearly nothing is listed."""
_ODDS = frozenset({"odds", "share", "least", "most"})
_SPANS: Mapping[str, tuple[float, float]] = {"minutes": (0.0, 1000.0), "by": (0.0, 1000.0)}
_OF_SHARES = frozenset({"errs", "blurs", "slips", "open-to", "brings", "fault", "slice", "mode"})


def check(knowledge: Knowledge) -> Iterator[Trouble]:
    """Every trouble found, in the order of the entries."""
    words = _Words(knowledge)
    yield from _kinds(knowledge, words)
    yield from _units(knowledge, words)
    yield from _stages(knowledge)
    yield from _doings(knowledge, words)
    for rule in knowledge.rules.values():
        yield from _rule(rule, knowledge, words)
        yield from _numbers(rule, knowledge)


class _Words:
    """The words that each field of a kind of fact may have."""

    def __init__(self, knowledge: Knowledge) -> None:
        kinds = knowledge.parts.values()
        rules = knowledge.rules.values()
        manners = {acts for kind in kinds for mode in kind.modes.values() for acts in acting(mode)}
        questions = {word for rule in rules for word in _questions(rule, "condition", "acts")}
        conclusions = {word for rule in rules for word in _conclusions(rule, "condition", "acts")}
        self.acts = {
            "healthy", *questions, *conclusions,
            *(acts for acts in manners if _is_shipped_manner(acts, knowledge)),
        }  # fmt: skip
        self.kind_traits = {trait for kind in kinds for trait in kind.traits}
        self.asked_traits = {word for rule in rules for word in _questions(rule, "trait", "is")}
        self.traits = {
            *self.asked_traits, *ASKED_BY_PROGRAM,
            *(trait for name, kind in knowledge.parts.items() if ("parts", name) not in
              knowledge.own for trait in kind.traits),
        }  # fmt: skip
        values = {value for quantity in knowledge.quantities.values() for value in quantity.values}
        places = tuple(knowledge.place_words)
        self.closed: dict[tuple[str, str], Collection[str]] = {
            ("part", "place"): places,
            ("way", "place"): places,
            ("hangs", "place"): places,
            ("part", "kind"): tuple(knowledge.parts),
            ("stage", "kind"): tuple(knowledge.stages),
            ("complaint", "is"): tuple(knowledge.complaints),
            ("scene", "is"): tuple(v for scene in knowledge.scenes.values() for v in scene.values),
            ("bench", "has"): tuple(knowledge.instruments),
            ("arrangement", "name"): tuple(knowledge.arrangements),
            ("arrangement", "energy"): ("none", "elv", "hvdc", "mains"),
            ("supply", "energy"): ("none", "elv", "hvdc", "mains"),
            ("point", "side"): ("in", "out", "rail", "decision", "sensor"),
            ("remedy", "level"): ("part", "board", "stage", "unit"),
        }
        ours = [rule for rule in rules if ("rules", rule.id) not in knowledge.own]
        shipped_acts = {word for rule in ours for word in _questions(rule, "condition", "acts")}
        unit_traits = {trait for unit in knowledge.topologies.values() for trait in unit.traits}
        self.alike: dict[tuple[str, str], Collection[str]] = {
            ("condition", "acts"): {"healthy", *shipped_acts, *conclusions, *manners},
            ("trait", "is"): {
                *(word for rule in ours for word in _questions(rule, "trait", "is")),
                *ASKED_BY_PROGRAM, *self.kind_traits, *unit_traits,
            },
            ("stage", "family"): {kind.family for kind in knowledge.stages.values()},
            ("mode", "name"): {name for kind in kinds for name in kind.modes},
            **{("in-use", field): values for field in knowledge.facts["in-use"].fields
               if field != "fault"},
        }  # fmt: skip


def acting(mode: Mode) -> Iterator[str]:
    """How a part with a failure mode acts: as the mode's variants do where it has any."""
    yield from (variant.acts for variant in mode.variants.values())
    if not mode.variants:
        yield mode.acts


def _is_shipped_manner(acts: str, knowledge: Knowledge) -> bool:
    return any(
        acts in acting(mode)
        for name, kind in knowledge.parts.items() if ("parts", name) not in knowledge.own
        for mode in kind.modes.values()
    )  # fmt: skip


def _questions(rule: Rule, kind: str, field: str) -> Iterator[str]:
    for clause in (*rule.when, *rule.unless):
        if kind in clause:
            yield from plain_words(clause[kind].get(field))


def _conclusions(rule: Rule, kind: str, field: str) -> Iterator[str]:
    for clause in rule.then:
        if kind in clause:
            yield from plain_words(clause[kind].get(field))


def plain_words(pattern: Any) -> Iterator[str]:
    """The plain words of a pattern, itself or those of `any` and `not`; no variable or template."""
    if isinstance(pattern, Mapping):
        for operand in pattern.values():
            for choice in operand if isinstance(operand, (list, tuple)) else (operand,):
                yield from plain_words(choice)
    elif isinstance(pattern, str) and pattern[:1] not in ("$", "=", "") and "{" not in pattern:
        yield pattern


def _kinds(knowledge: Knowledge, words: _Words) -> Iterator[Trouble]:
    for name, kind in knowledge.parts.items():
        if ("parts", name) not in knowledge.own:
            continue
        for trait in kind.traits:
            yield from _trait(
                f"Part kind '{name}'", trait, knowledge.at("parts", name, "traits"), words
            )
        for mode, spec in kind.modes.items():
            for path, acts in _acting_at(spec):
                if acts not in words.acts:
                    yield _unknown_manner(knowledge, name, mode, path, acts, words)
        total = sum(mode.share for mode in kind.modes.values())
        if kind.modes and total < LEAST_LISTED:
            yield Trouble(
                "KB622", knowledge.at("parts", name, "modes"),
                f"The failure modes of '{name}' have {total:.2g} of its failures between them",
                "Give each mode its share, from 0 to 1: 57 % is 0.57",
            )


def _trait(owner: str, trait: str, place: Place, words: _Words) -> Iterator[Trouble]:
    """A slip of the keys is an error; a word of one's own that resembles a known one is a note."""
    if trait in words.traits:
        return
    what = f"{owner} has the trait '{trait}', which no rule asks for"
    if slip := slip_of(trait, words.traits):
        mend_it = f"Write '{slip}'; or give your own trait a name less like it"
        yield Trouble("KB621", place, what, mend_it)
    elif near(trait, words.traits):
        mend_it = f"Let a rule ask for it, or choose among: {', '.join(sorted(words.traits))}"
        yield Trouble("KB621", place, what, mend_it, grave=False)


def _acting_at(mode: Mode) -> Iterator[tuple[tuple[str, ...], str]]:
    if not mode.variants:
        yield ("acts",), mode.acts
    for variant, inner in mode.variants.items():
        yield ("variants", variant, "acts"), inner.acts


def _unknown_manner(
    knowledge: Knowledge, kind: str, mode: str, path: tuple[str, ...], acts: str, words: _Words
) -> Trouble:
    nearest = slip_of(acts, words.acts)
    return Trouble(
        "KB621", knowledge.at("parts", kind, "modes", mode, *path),
        f"Part kind '{kind}' acts '{acts}' by its mode '{mode}', which no rule asks for, so that "
        "the fault would show nowhere",
        f"Write '{nearest}'" if nearest else
        "Write a word of the table How parts act, or let a rule of step suppose ask for this one",
        grave=bool(nearest),
    )  # fmt: skip


def _units(knowledge: Knowledge, words: _Words) -> Iterator[Trouble]:
    for name, unit in knowledge.topologies.items():
        if ("topologies", name) not in knowledge.own:
            continue
        for trait in unit.traits:
            yield from _trait(f"'{name}'", trait, knowledge.at("topologies", name, "traits"), words)
        for stage, stage_fact in unit.stages.items():
            for part, fact in stage_fact.parts.items():
                for mains in fact.when_mains:
                    if mains not in MAINS:
                        yield Trouble(
                            "KB621",
                            knowledge.at(
                                "topologies", name, "stages", stage, "parts", part, "when_mains",
                                mains,
                            ),
                            f"Part '{part}' has a value for the mains '{mains}', which no plan is "
                            "made for",
                            mend(mains, MAINS),
                        )


def _stages(knowledge: Knowledge) -> Iterator[Trouble]:
    for name, stage in knowledge.stages.items():
        for word in ("found", "usual"):
            for place in getattr(stage, word):
                if place not in stage.places:
                    yield Trouble(
                        "KB621", knowledge.at("stages", name, word, place),
                        f"Stage kind '{name}' says under '{word}' what stands at '{place}', which "
                        "is none of its places",
                        mend(place, stage.places),
                    )
        for place, kind in stage.usual.items():
            if kind not in knowledge.parts:
                yield Trouble(
                    "KB621", knowledge.at("stages", name, "usual", place),
                    f"Stage kind '{name}' has mostly a '{kind}' at '{place}', which is no kind of "
                    "part",
                    mend(kind, knowledge.parts),
                )


def _doings(knowledge: Knowledge, words: _Words) -> Iterator[Trouble]:
    for name, doing in knowledge.doings.items():
        for acts in doing.overcomes:
            if acts not in words.acts:
                yield Trouble(
                    "KB621", knowledge.at("doings", name, "overcomes"),
                    f"'{name}' overcomes parts that act '{acts}', as none does",
                    mend(acts, words.acts),
                )  # fmt: skip


def _rule(rule: Rule, knowledge: Knowledge, words: _Words) -> Iterator[Trouble]:
    for section, clauses in (("when", rule.when), ("unless", rule.unless), ("then", rule.then)):
        for number, clause in enumerate(clauses):
            for kind, fields in clause.items():
                for field, pattern in fields.items():
                    choices = words.closed.get((kind, field))
                    for word in plain_words(pattern):
                        nearest = ""
                        if choices is not None and word not in choices:
                            how = mend(word, choices)
                        elif choices is None and section != "then" and (
                            nearest := _misspelt(word, words.alike.get((kind, field)))
                        ):
                            how = f"Write '{nearest}'"
                        else:
                            continue
                        yield Trouble(
                            "KB621", knowledge.at("rules", rule.id, section, number, kind, field),
                            f"Rule '{rule.id}' names '{word}' as the '{field}' of a '{kind}', "
                            "which there is none of",
                            how,
                        )


def _misspelt(word: str, choices: Collection[str] | None) -> str:
    """The known word that an unknown one looks like; empty for a known word and for one's own."""
    return "" if choices is None or word in choices else slip_of(word, choices)


def _numbers(rule: Rule, knowledge: Knowledge) -> Iterator[Trouble]:
    """Odds and shares from 0 to 1, minutes and factors that can be."""
    for number, clause in enumerate(rule.then):
        for kind, fields in clause.items():
            for field, value in fields.items():
                if not bounds.is_number(value):
                    continue
                if field in _ODDS and kind in _OF_SHARES:
                    least, most = 0.0, 1.0
                elif field in _SPANS:
                    least, most = _SPANS[field]
                else:
                    continue
                if not least <= value <= most:
                    yield Trouble(
                        "KB622", knowledge.at("rules", rule.id, "then", number, kind, field),
                        f"Rule '{rule.id}' concludes a '{kind}' whose '{field}' is {value:g}",
                        f"Write a number from {least:g} to {most:g}"
                        + (f": {value:g} % is {value / 100:g}" if most == 1 < value else ""),
                    )  # fmt: skip
