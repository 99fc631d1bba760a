"""What a person asks of a draft in words: `entry R1 fusible-resistor line 10 ohm`.

One line each, the same on the command line as at the terminal. NW105 for words that can't be taken
apart, with what they should look like.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import ValidationError

from kb.language import constraints
from kb.language.schema import BoardFact, OpeningFact, PartFact, PointFact
from kb.trouble import Place, Trouble, TroubleError

_SIDES = ("in", "out", "rail", "decision", "sensor")
STAGE = "NAME[:KIND][=PART,PART...]"
PART = "STAGE DESIGNATOR KIND PLACE [VALUE][, VOLTS]"
POINT = "NAME STAGE SIDE WHERE-THE-PROBES-GO"
OPENING = "NAME MINUTES WHAT-IS-DONE"
BOARD = "NAME OPENING SWAP-MINUTES WHAT-IT-IS"
LIES = "STAGE OPENING [BOARD]"
LINK = "STAGE fed_by|controls STAGE"


@dataclass(frozen=True, slots=True)
class StageWish:
    """A stage: its name, its kind if told, and the netlist's parts that form it, if told."""

    name: str
    kind: str = ""
    parts: tuple[str, ...] = ()


def stage(text: str) -> StageWish:
    """`rectifier`, `entry:mains-entry`, `entry:mains-entry=F1,R1` or `entry=F1,R1`."""
    match = re.fullmatch(r"\s*([^:=\s]+)\s*(?::\s*([^=\s]+)\s*)?(?:=(.*))?", text)
    if not match:
        raise _unclear("--stage", text, STAGE)
    parts = tuple(part.strip() for part in (match[3] or "").split(",") if part.strip())
    return StageWish(match[1], match[2] or "", parts)


def part(text: str) -> tuple[str, str, PartFact]:
    """Stage, designator and part."""
    words = text.split(None, 4)
    if len(words) < 4:
        raise _unclear("--part", text, PART)
    value, volts = marks(words[4] if len(words) > 4 else "")
    with _named("--part", text, PART):
        part_fact = PartFact(kind=words[2], place=words[3], value=value, volts=volts)
    return words[0], words[1], part_fact


def marks(text: str) -> tuple[str, str]:
    """Value and rated volts of `6.8 uF, 400 V`; either may be missing."""
    value, _, volts = text.partition(",")
    return value.strip(), volts.strip()


def point(text: str) -> tuple[str, PointFact]:
    """Name and point."""
    words = text.split(None, 3)
    if len(words) < 4 or words[2] not in _SIDES or len(words[3]) < 3:
        raise _unclear("--point", text, POINT, f"SIDE is one of {', '.join(_SIDES)}")
    with _named("--point", text, POINT):
        point_fact = PointFact(stage=words[1], side=words[2], says=words[3])  # type: ignore[arg-type]
    return words[0], point_fact


def opening(text: str, after: str | None = None) -> tuple[str, OpeningFact]:
    """Name and level of access; it needs the opening `after`, if there is one."""
    words = text.split(None, 2)
    if len(words) < 3 or len(words[2]) < 3:
        raise _unclear("--opening", text, OPENING)
    how = words[2][0].upper() + words[2][1:].rstrip(".") + "."
    cost = minutes("--opening", words[1], text)
    with _named("--opening", text, OPENING):
        opening_fact = OpeningFact(
            minutes=cost, says=words[2], how=how, after=(after,) if after else ()
        )
    return words[0], opening_fact


def board(text: str) -> tuple[str, BoardFact]:
    """Name and assembly."""
    words = text.split(None, 3)
    if len(words) < 4 or len(words[3]) < 3:
        raise _unclear("--board", text, BOARD)
    swap = minutes("--board", words[2], text)
    with _named("--board", text, BOARD):
        board_fact = BoardFact(says=words[3], swap_minutes=swap, behind=words[1])
    return words[0], board_fact


def lies(text: str) -> tuple[str, str, str | None]:
    """Stage, opening, and board or none."""
    words = text.split()
    if len(words) not in (2, 3):
        raise _unclear("--lies", text, LIES)
    return words[0], words[1], words[2] if len(words) == 3 else None


def link(text: str) -> tuple[str, str, str]:
    """Stage, `fed_by` or `controls`, and the other stage."""
    words = text.split()
    if len(words) != 3 or words[1] not in ("fed_by", "controls"):
        raise _unclear("--link", text, LINK)
    return words[0], words[1], words[2]


def minutes(option: str, text: str, whole: str) -> float:
    """Bench minutes from 0 to 1000."""
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0 <= value <= 1000:
        raise _unclear(option, whole, "minutes from 0 to 1000", f"'{text}' is no such number")
    return value


@contextlib.contextmanager
def _named(option: str, text: str, shape: str) -> Iterator[None]:
    """NW105 where a word can't be what it stands for."""
    try:
        yield
    except ValidationError as wrong:
        problem = wrong.errors()[0]
        word = ".".join(str(step) for step in problem["loc"])
        more = f"its {word}: {constraints.in_words(problem)}"
        raise _unclear(option, text, shape, more) from wrong


def _unclear(option: str, text: str, shape: str, more: str = "") -> TroubleError:
    mend = f'Write {option} "{shape}"' + (f"; {more}" if more else "")
    what = f"'{text}' can't be understood"
    return TroubleError(Trouble("NW105", Place(option), what, mend))
