"""How a dialogue is left before its verdict."""

from __future__ import annotations

from engine.walk.job import Walk


class BackAtEntryError(Exception):
    """Everything said of the unit was taken back: next is the entry check's last answer."""

    def __init__(self, walk: Walk) -> None:
        self.walk = walk
        super().__init__("entry")


class BackAtIntakeError(Exception):
    """Undone before the entry check's first answer: next is the last thing taken in."""


class Left(Exception):
    """The person stopped before the verdict; the walk is as last saved."""

    def __init__(self, walk: Walk) -> None:
        self.walk = walk
        super().__init__("left")
