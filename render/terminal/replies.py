"""What a person typed, understood: a command, an answer by key or word, or a reading.

Answers carry letters that no command uses, so that one key is never two things. An answer's whole
words come first, then a whole command word, a letter, an answer's first words or a reading, and
last a command's first letters. What is none of these comes back as `Unclear` with a sentence that
says what is wanted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.model.records import Arrangement, Test
from engine.readings import bands
from kb.trouble import TroubleError

# Letters of answers; those of one-key commands are left out.
LETTERS = "abcdefgijlmnopvz"

COMMANDS: dict[str, tuple[str, ...]] = {
    "why": ("why", "w"),
    "how": ("how", "h"),
    "can't": (
        "can't", "cant", "cannot", "can’t", "x", "don't know", "dont know", "don’t know", "unknown",
    ),
    "undo": ("undo", "u"),
    "known": ("known", "know", "k"),
    "traced": ("traced", "drawn"),
    "where": ("where", "where is"),
    "more": ("more",),
    "proofs": ("proofs", "proof"),
    "worth": ("worth", "worth it"),
    "good": ("good", "good one"),
    "still": ("still", "did not help", "didn't help", "didn’t help"),
    "stop": ("stop", "save", "s", "quit", "exit", "q"),
    "help": ("help", "?"),
}

DONE = ("done", "d", "yes", "y", "ok")


@dataclass(frozen=True, slots=True)
class Command:
    """One of the commands, with whatever was typed after it."""

    name: str
    rest: str = ""


@dataclass(frozen=True, slots=True)
class Told:
    """An answer to a test: outcome, its shares where a range straddles several, what was typed."""

    answer: bands.Answer


@dataclass(frozen=True, slots=True)
class Pick:
    """The number, from 0, of one of several choices."""

    index: int


@dataclass(frozen=True, slots=True)
class Unclear:
    """Not understood; `says` tells what is wanted."""

    says: str


def to_test(
    text: str, test: Test, arrangement: Arrangement | None = None
) -> Command | Told | Unclear:
    """What was typed at a test: a command, an outcome's letter, its words, or a reading."""
    plain = " ".join(text.split())
    for outcome in test.outcomes:
        if _fold(plain) in (_fold(outcome.id), _fold(outcome.says)):
            return Told(bands.Answer(test.id, ((outcome.id, 1.0),)))
    command = _whole_command(plain)
    if command is not None:
        return command
    letter = plain.casefold().rstrip(").")
    if len(letter) == 1 and letter in LETTERS[: len(test.outcomes)]:
        outcome = test.outcomes[LETTERS.index(letter)]
        return Told(bands.Answer(test.id, ((outcome.id, 1.0),)))
    try:
        return Told(bands.read(plain, test, arrangement))
    except TroubleError as wrong:
        return _begun_command(plain) or Unclear(f"{sentences(wrong)} {_choices(test)}".strip())


def _choices(test: Test) -> str:
    """The letters and words that stand on the screen."""
    pairs = zip(LETTERS, test.outcomes, strict=False)
    return "On the screen: " + ", ".join(f"{letter} {one.says}" for letter, one in pairs) + "."


def to_choice(text: str, choices: Sequence[str]) -> Command | Pick | Unclear:
    """What was typed at a list of choices: a command, a letter, or a choice's own first words."""
    plain = " ".join(text.split())
    whole = [n for n, choice in enumerate(choices) if _fold(choice) == _fold(plain)]
    if whole:
        return Pick(whole[0])
    command = _whole_command(plain)
    if command is not None:
        return command
    letter = plain.casefold().rstrip(").")
    if len(letter) == 1 and letter in LETTERS[: len(choices)]:
        return Pick(LETTERS.index(letter))
    matches = [n for n, choice in enumerate(choices) if _fold(choice).startswith(_fold(plain))]
    if plain and len(matches) == 1:
        return Pick(matches[0])
    keys = " or ".join(f"{LETTERS[n]} ({choice})" for n, choice in enumerate(choices))
    found = _begun_command(plain)
    return found or Unclear(f"Answer {keys}, or help.")


def is_done(text: str) -> bool:
    """Whether it is a whole word that confirms; a letter may be an answer's."""
    word = " ".join(text.split()).casefold().rstrip(".!")
    return len(word) > 1 and word in DONE


def to_confirm(
    text: str, done_words: Sequence[str] = DONE
) -> Command | Pick | Unclear:
    """What was typed at a step to be carried out: done, or a command. Enter alone is not done."""
    plain = " ".join(text.split())
    if plain.casefold().rstrip(".!") in done_words:
        return Pick(0)
    command = _whole_command(plain) or _begun_command(plain)
    return command or Unclear("Type done when it is carried out, can't if it can't be, or help.")


def sentences(wrong: TroubleError) -> str:
    """A trouble without place and code, as one says it across the bench."""
    lines = []
    for trouble in wrong.troubles:
        parts = (trouble.what, trouble.why, trouble.mend)
        lines += [part.rstrip(". ") + "." for part in parts if part]
    return " ".join(lines)


def _whole_command(plain: str) -> Command | None:
    word, _, rest = plain.partition(" ")
    for name, words in COMMANDS.items():
        if plain.casefold() in words:
            return Command(name)
        # Only these take something after them; else it may be an answer's words.
        if name in ("known", "can't", "traced", "where", "worth") and word.casefold() in words:
            return Command(name, rest)
    return None


def _begun_command(plain: str) -> Command | None:
    word = plain.casefold()
    if len(word) < 2 or not word.isalpha():
        return None
    names = {name for name, words in COMMANDS.items() if any(w.startswith(word) for w in words)}
    return Command(names.pop()) if len(names) == 1 else None


def _fold(text: str) -> str:
    return text.casefold().replace("-", " ").strip(" .")
