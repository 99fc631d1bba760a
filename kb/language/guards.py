"""What a folder of one's own may not do: safety can be added to, never taken from.

Codes: KB109 a safeguard would be replaced; KB110 a shipped word would lose something; KB112 a
number of safety leaves its bounds; KB113 a supply arrangement or a word of one's own is laxer than
it may be; KB614 an unknown word for what is done; KB615 a rule that contradicts such a word; KB616
a rule of one's own that concludes what only the unit and the bench can give.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from kb.language import bounds
from kb.language.knowledge import Knowledge
from kb.language.nearest import alike
from kb.language.schema import (
    ActionWord,
    ArrangementEntry,
    DoctrineNumber,
    DoingWord,
    FactKind,
    PartKind,
    PlaceWord,
    Quantity,
    Rule,
    SceneWord,
)
from kb.language.schema.entry import Entry
from kb.trouble import Place, Trouble

_SAFEGUARDS: Mapping[str, str] = {
    "cautions": "a caution",
    "arrangements": "a supply arrangement",
    "entry": "an entry question",
    "methods": "a method",
    "places": "a place",
    "doings": "a word for what a rig does",
    "actions": "a word for what is done in a test",
}
_SAFETY_FACTS = frozenset(
    {
        "hazard", "cautioned", "handled", "cold-first", "short-check", "short-check-first",
        "whole-first", "store", "proof", "proves", "limiter",
    }
)  # fmt: skip
_GIVEN = frozenset(
    {
        "mains", "complaint", "trait", "opening", "board", "arrangement", "head", "stage", "part",
        "mode", "way", "hangs", "enters", "leaves", "feeds", "controls", "point", "caution",
        "bench", "unit", "supply", "scene", "rigged", "supposed", "in-use", "pair", "withheld",
        "doing", "action", "shows", "holds", "spare", "duty", "alongside",
    }
)  # fmt: skip
"""Kinds of fact that tell how the unit is built, what the bench has and what is tried."""

REMEDIES = ("repair", "outside", "none", "downgrade", "salvage", "scrap", "refuse")
"""The kinds of remedy that documents know; `repair` and `downgrade` end in proofs."""

_WORDS: Mapping[tuple[str, str], str] = {
    ("rig", "does"): "doings",
    ("rigged", "does"): "doings",
    ("test", "action"): "actions",
}


def safeguard(section: str, entry: Any) -> str:
    """What an entry guards that no other may replace, in words; empty for none."""
    if section in _SAFEGUARDS:
        return _SAFEGUARDS[section]
    if section == "rules" and {kind for clause in entry.then for kind in clause} & _SAFETY_FACTS:
        return "a safety rule"
    return ""


def check_replacement(
    section: str, original: Any, own: Any, cold: frozenset[str]
) -> tuple[str, str]:
    """Why an entry may not stand in place of a shipped one: code and words; ("", "") if it may.

    `cold` are the complaints after which rules of safety ask for cold checks.
    """
    if reason := safeguard(section, original):
        return "KB109", reason
    if section == "complaints" and original.complaint in cold:
        return "KB109", "a complaint after which nothing is just plugged in"
    losses = ", ".join(_losses(original, own))
    return ("KB110", losses) if losses else ("", "")


def _losses(original: Any, own: Any) -> Iterator[str]:
    """What a word of one's own no longer has of the shipped one."""
    match original, own:
        case FactKind(), FactKind():
            yield from (f"the field {name}" for name in original.fields if name not in own.fields)
            for word in ("numbers", "truths", "optional"):
                before = set(getattr(original, word))
                after = set(getattr(own, word)) & set(original.fields)
                yield from (f"{name} as one of its {word}" for name in sorted(before - after))
                yield from (f"{name} as none of its {word}" for name in sorted(after - before))
        case Quantity(), Quantity():
            common = [value for value in own.values if value in original.values]
            if common != list(original.values):
                yield "its values in their order"
            if own.otherwise != original.otherwise:
                yield f"'{original.otherwise}' as what holds otherwise"
        case SceneWord(), SceneWord():
            if own.values[: len(original.values)] != original.values:
                yield "its values in their order"
        case PartKind(), PartKind():
            yield from (f"the trait {name}" for name in original.traits if name not in own.traits)
            if own.unit != original.unit:
                yield f"the unit {original.unit or 'it has not'}"
        case _:
            return


def cold_complaints(rules: Iterable[Rule]) -> frozenset[str]:
    """The complaints by which rules ask for cold checks."""
    return frozenset(
        str(clause["complaint"].get("is"))
        for rule in rules
        if any("cold-first" in clause for clause in rule.then)
        for clause in rule.when
        if "complaint" in clause
    )


def refusal(code: str, why: str, name: str, place: Place, original: Place) -> Trouble:
    """The trouble of an entry that may not stand in place of another, after `check_replacement`."""
    if code == "KB109":
        return Trouble(
            code,
            place,
            f"'{name}' would replace {why} of {original}",
            "Give it a name of its own: one's own knowledge can add to safety, never take from it",
        )
    return Trouble(
        code,
        place,
        f"'{name}' would take from the shipped word of {original}: {why}",
        "Keep all that the shipped word has, and add to it; or give yours another name",
    )


def entry_troubles(section: str, entry: Entry, place: Place, own: bool) -> Iterator[Trouble]:
    """What is wrong with an entry by itself; more is asked of one of a folder of one's own."""
    if isinstance(entry, DoctrineNumber):
        if why := bounds.outside(entry.number, entry.value):
            yield Trouble(
                "KB112", place, f"The number '{entry.number}' leaves its bounds: {why}",
                "Write one within them; knowledge can ask for more care, never for less",
            )
    elif isinstance(entry, ArrangementEntry):
        for why in (*_volts(entry), *(_laxer(entry) if own else ())):
            yield Trouble(
                "KB113", place, f"Supply arrangement '{entry.arrangement}' can't be used: {why}",
                "Add one that asks for more care than the shipped ones, or use one of those",
            )
    elif own:
        for why in _lax_word(entry):
            yield Trouble("KB113", place, why, "Write the stricter value, or use a shipped word")


def _volts(entry: ArrangementEntry) -> Iterator[str]:
    if entry.energy == "elv" and not _at_most(entry.volts, bounds.MOST_ELV_VOLTS):
        yield (
            f"elv is a plain number of volts, at most {bounds.MOST_ELV_VOLTS:g} "
            f"(IEC 62368-1 ES1), and it says {entry.volts!r}"
        )


def _at_most(text: str, most: float) -> bool:
    try:
        return 0 <= float(text.removeprefix("= ")) <= most
    except ValueError:
        return False


def _laxer(entry: ArrangementEntry) -> Iterator[str]:
    if entry.energy == "none":
        yield "there is one way to be unplugged, and it is shipped"
    if entry.energy == "mains" and not entry.closed_only:
        yield "an opened unit meets mains only through the shipped, limited arrangements"
    if entry.energy == "hvdc" and not entry.closed_only and entry.feeds == "unit":
        yield "an opened unit's own contacts are not fed with high direct volts"
    if entry.energy == "mains" and entry.feeds != "unit":
        yield "mains feeds the unit's own contacts, never a part of it"


def _lax_word(entry: Entry) -> Iterator[str]:
    if isinstance(entry, DoingWord) and not entry.hands:
        yield f"The doing '{entry.doing}' says `hands: false`, but every rig is fitted by hand"
    elif isinstance(entry, ActionWord) and entry.hands == "never":
        yield (
            f"The action '{entry.action}' says `hands: never`; what brings no hands to the circuit "
            "is `watch` or `ask`"
        )
    elif isinstance(entry, PlaceWord) and entry.isolates:
        yield (
            f"The place '{entry.place}' says `isolates: true`; only the shipped `transforms` "
            "parts a unit from the mains"
        )


def check(knowledge: Knowledge) -> Iterator[Trouble]:
    """Every rule against the words for what is done, and one's own against what is given."""
    for rule in knowledge.rules.values():
        place = knowledge.place("rules", rule.id)
        for kind, field, word in _plain_words(rule):
            section = _WORDS[kind, field]
            words = getattr(knowledge, section)
            if word not in words:
                yield _unknown(rule.id, place, f"{kind} {field}", word, section, words)
        for why in _contradictions(rule, knowledge):
            yield Trouble(
                "KB615", place, f"Rule '{rule.id}' {why}",
                "Write plain words, and let the hazards of the word stand",
            )
        if ("rules", rule.id) in knowledge.own:
            for kind in sorted({kind for clause in rule.then for kind in clause} & _GIVEN):
                yield Trouble(
                    "KB616", place,
                    f"Rule '{rule.id}' concludes '{kind}', which only the unit's own file and the "
                    "bench can give",
                    "Write it into the topology, or conclude a kind of fact of your own",
                )
    yield from _limited_cautions(knowledge)


def _plain_words(rule: Rule) -> Iterator[tuple[str, str, str]]:
    """Each plain word for what is done that a rule asks for or concludes."""
    for clause in (*rule.when, *rule.unless, *rule.then):
        for kind, fields in clause.items():
            for field, pattern in fields.items():
                if (kind, field) in _WORDS:
                    yield from ((kind, field, word) for word in _plain(pattern))


def _plain(pattern: Any) -> Iterator[str]:
    if isinstance(pattern, Mapping):
        for inner in pattern.values():
            for choice in inner if isinstance(inner, (list, tuple)) else (inner,):
                yield from _plain(choice)
    elif not (isinstance(pattern, str) and pattern[:1] == "$"):
        yield str(pattern)


def _unknown(
    rule: str, place: Place, where: str, word: str, section: str, words: Mapping[str, Any]
) -> Trouble:
    near = alike(word, words, 1) or [f"one of: {', '.join(words)}"]
    return Trouble(
        "KB614", place,
        f"Rule '{rule}' has the unknown {where} '{word}', so nobody knows its hazards",
        f"Write {near[0]}; or add '{word}' to `{section}` with its "
        "hazards",
    )  # fmt: skip


def _contradictions(rule: Rule, knowledge: Knowledge) -> Iterator[str]:
    """Conclusions whose word for what is done is no plain word, or is said to be harmless."""
    for clause in rule.then:
        for kind, fields in clause.items():
            for field, pattern in fields.items():
                plain = isinstance(pattern, str) and not pattern.startswith(("$", "= "))
                if (kind, field) in _WORDS and (not plain or "{" in pattern):
                    yield f"concludes a {kind} whose '{field}' is no plain word: {pattern!r}"
            if kind == "remedy" and fields.get("kind") not in REMEDIES:
                yield f"concludes a remedy whose kind is none of {', '.join(REMEDIES)}"
            if kind == "rig":
                yield from _by_hand(fields, knowledge)


def _by_hand(fields: Mapping[str, Any], knowledge: Knowledge) -> Iterator[str]:
    hands = fields.get("hands_on")
    word = knowledge.doings.get(str(fields.get("does")))
    if hands is not None and not isinstance(hands, bool):
        yield f"concludes a rig whose 'hands_on' is neither true nor false: {hands!r}"
    elif hands is False and word is not None and word.hands:
        yield f"says `hands_on: false` of a rig, but '{word.doing}' is done by hand"


def _limited_cautions(knowledge: Knowledge) -> Iterator[Trouble]:
    """A hazard for which only cautions stand that hold for some units would go unwarned."""
    whole = {
        caution.hazard for name, caution in knowledge.cautions.items()
        if not caution.only_for or ("cautions", name) not in knowledge.own
    }  # fmt: skip
    for name, caution in knowledge.cautions.items():
        if caution.hazard not in whole:
            yield Trouble(
                "KB608", knowledge.place("cautions", name),
                f"The hazard '{caution.hazard}' has only cautions that hold for some units",
                "Add a caution with that hazard and without `only_for`",
            )
