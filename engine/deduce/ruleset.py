"""durable-rules, driven from here: told messages, asked for firings one by one until none is left.

Its Python wrapper starts timer threads, keeps a state document it is never asked for, gives up on
an action after ten seconds without a word and swallows what an action raises. So this talks to the
compiled engine itself: what an action raises comes out, and a firing costs a third.

What durable-rules 2.0.28 does with its sessions and messages is fenced in here:
- It tells messages apart by a 32-bit hash (FNV-1a) of their id and drops one that seems known. The
  ids given here are counted; the hashes of decimal numbers up to 300 000 were seen to differ.
- Deleting a session in which no rule ever fired frees memory that was never set. So each session
  fires one rule of no consequence.
- It keeps 16 messages for a firing, and writes past them if a rule has more patterns.
- Rulesets are process-global and can't be dropped: the shipped rules take some megabytes each time.
  So one that was compiled serves all later ones that say the same. They are run one at a time.
"""

from __future__ import annotations

import itertools
import json
import threading
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

import durable_rules_engine as engine

from kb.trouble import Place, Trouble

MOST_PATTERNS = 15
MOST_FIRINGS = 20_000
"""Of one rule about one unit; shipped rules fire some hundred times at most."""
"""Patterns that the rule engine takes in one rule and stays quick; `kb.language.conditions` has the
same."""
_SESSION, _BEGIN = "run", "begin"
_names = itertools.count(1)
_RULESETS: dict[str, Any] = {}
"""Handles of what was compiled, by its text."""
_ALONE = threading.RLock()
"""Held while rules run: all runs have one session, and threads may have one ruleset."""

Message = dict[str, Any]
Match = Mapping[str, Message]
Act = Callable[[str, Match], Iterable[str]]


def spelling(message: Message) -> str:
    """A message as it is told: its members in JSON, for what is told in many runs, spelt once."""
    return json.dumps(message, separators=(",", ":"))[1:-1]


class RulesetError(Exception):
    """The engine refused a message or stopped part-way."""


class EndlessError(RulesetError):
    """A rule fired more often than any can that ends; `name` is what the definition calls it."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(f"{name} fired more than {MOST_FIRINGS} times")


def endless(rule: str, place: Place) -> Trouble:
    """What is told of a rule that does not end."""
    return Trouble(
        "KB307", place, f"Rule '{rule}' fires without end: it feeds itself, or joins all with all",
        "Let its conclusion not meet its own conditions, and bind these to each other",
    )  # fmt: skip


class Ruleset:
    """Compiled rules. `definition` maps a rule's name to its patterns, in durable-rules' terms."""

    def __init__(self, definition: Mapping[str, list[Message]]) -> None:
        rules = {name: {"all": patterns} for name, patterns in definition.items()}
        rules[_BEGIN] = {"all": [{_BEGIN: {"fact": _BEGIN}}]}
        text = json.dumps(rules)
        with _ALONE:
            if text not in _RULESETS:
                _RULESETS[text] = engine.create_ruleset(f"step{next(_names)}", text)
            self._handle = _RULESETS[text]

    def run(self, batches: Iterable[list[str]], act: Act) -> None:
        """Tell each batch of messages and let `act` answer every firing with messages that follow.

        Messages come as `spelling` gives them.

        RulesetError if the engine stops; what `act` raises goes through.
        """
        with _ALONE:
            self._run(batches, act)

    def _run(self, batches: Iterable[list[str]], act: Act) -> None:
        ids = itertools.count()
        begin = spelling({"fact": _BEGIN})
        try:
            for messages in ([begin], *batches):
                if messages:
                    self._fire(self._tell(messages, ids), act, ids)
        except engine.error as error:
            raise RulesetError(str(error)) from error
        finally:
            engine.delete_state(self._handle, _SESSION)

    def _tell(self, messages: list[str], ids: Iterator[int]) -> int:
        payload = ",".join(
            f'{{"sid":"{_SESSION}","id":"{next(ids)}",{message}}}' for message in messages
        )
        code, state = engine.assert_facts(self._handle, f"[{payload}]")
        if code:
            raise RulesetError(f"a message was not taken (code {code})")
        return int(state)

    def _fire(self, state: int, act: Act, ids: Iterator[int]) -> None:
        counts: Counter[str] = Counter()
        action = engine.start_action_for_state(self._handle, state)
        firing = action[1] if action else None
        while firing:
            ((name, match),) = json.loads(firing).items()
            counts[name] += 1
            try:
                if counts[name] > MOST_FIRINGS:
                    raise EndlessError(name)
                new = [] if name == _BEGIN else list(act(name, match))
            except BaseException:
                engine.abandon_action(self._handle, state)
                raise
            if new:
                self._tell(new, ids)
            firing = engine.complete_and_start_action(self._handle, state)
