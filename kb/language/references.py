"""Do methods and entry questions name what is there? A misspelt name would never be missed: the
method would not be told, the question never put.

Codes: KB618 a method names what no rule offers; KB619 an entry question waits for what can't be
answered.
"""

from __future__ import annotations

from collections.abc import Iterator

from kb.language.knowledge import Knowledge
from kb.trouble import Trouble


def check(knowledge: Knowledge) -> Iterator[Trouble]:
    """Every trouble found, in the order of the entries."""
    yield from _methods(knowledge)
    yield from _questions(knowledge)


def _methods(knowledge: Knowledge) -> Iterator[Trouble]:
    vocabulary = {
        "arrangements": set(knowledge.arrangements),
        "rigs": _conclusions(knowledge, "rig", "does"),
        "proofs": _conclusions(knowledge, "proof", "name"),
        "actions": _conclusions(knowledge, "test", "action"),
    }
    for name, method in knowledge.methods.items():
        for kind, words in vocabulary.items():
            for word in getattr(method, kind):
                if word not in words:
                    yield Trouble(
                        "KB618", knowledge.place("methods", name),
                        f"Method '{name}' names '{word}' under {kind}, which there is none of",
                        f"Write one of: {', '.join(sorted(words))}",
                    )  # fmt: skip


def _conclusions(knowledge: Knowledge, kind: str, field: str) -> set[str]:
    """The words that rules conclude in a field of a kind of fact."""
    values = (
        clause[kind].get(field)
        for rule in knowledge.rules.values()
        for clause in rule.then
        if kind in clause
    )
    return {word for word in values if isinstance(word, str)}


def _questions(knowledge: Knowledge) -> Iterator[Trouble]:
    for name, question in knowledge.entry.items():
        for other, answers in question.after.items():
            earlier = knowledge.entry.get(other)
            choices = set(earlier.answers) if earlier is not None and other != name else set()
            for answer in answers:
                if answer not in choices:
                    yield Trouble(
                        "KB619", knowledge.place("entry", name),
                        f"Entry question '{name}' waits for \"{answer}\" to '{other}', "
                        f"which is no answer to another question",
                        f"Write one of: {', '.join(sorted(choices))}" if choices
                        else f"Name one of: {', '.join(q for q in knowledge.entry if q != name)}",
                    )  # fmt: skip
        for complaint in question.complaints:
            if complaint not in knowledge.complaints:
                yield Trouble(
                    "KB619", knowledge.place("entry", name),
                    f"Entry question '{name}' waits for the unknown complaint '{complaint}'",
                    f"Write one of: {', '.join(knowledge.complaints)}",
                )  # fmt: skip
