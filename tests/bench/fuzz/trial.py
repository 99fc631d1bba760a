"""One input tried on one reader: taken, refused in words, or a fault."""

from __future__ import annotations

import contextlib
import io
import json
import re
import signal
import traceback
import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from types import FrameType

from kb.trouble import TroubleError

_LIBRARIES = re.compile(
    r"Value error,|Input should|pydantic|Traceback|sqlalchemy|starlette|ruamel|object at 0x"
    r"|NoneType|__\w+__|<class '"
)
_HARMLESS = "\n\t"
_OBEYED = ("Cc", "Cf", "Cs", "Zl", "Zp")
"""Unicode's categories of what a terminal obeys or nobody sees."""
_BELLS = ((signal.SIGPROF, signal.ITIMER_PROF, 1), (signal.SIGALRM, signal.ITIMER_REAL, 30))
"""Time is the processor's, since a busy machine is no reader's fault; what waits for something that
never comes takes none, so the clock on the wall rings as well, later."""


class HungError(BaseException):
    """A reader has not ended in time; no `except Exception` holds it."""


@dataclass(frozen=True, slots=True)
class Reader:
    """What is fed: good texts to spoil, what takes one, and the seconds that it may take."""

    name: str
    seeds: Callable[[], tuple[str, ...]]
    take: Callable[[str], object]
    seconds: float = 20.0
    as_typed: bool = True
    """Whether its words come without what the person typed, so that they hold no other's words."""


@dataclass(frozen=True, slots=True)
class Finding:
    """A fault: its sort (an exception's name and place, or what is wrong with words), and more."""

    sort: str
    details: str


def tried(reader: Reader, text: str) -> tuple[str, Finding | None]:
    """`taken`, `refused` or `fault`, and what is wrong where something is."""
    said = io.StringIO()
    try:
        with _within(reader.seconds), contextlib.redirect_stdout(said), \
                contextlib.redirect_stderr(said):  # fmt: skip
            reader.take(text)
    except TroubleError as wrong:
        finding = _ill_worded(str(wrong), text)
        return ("fault" if finding else "refused"), finding
    except HungError:
        return "fault", Finding("hung", traceback.format_exc())
    except RecursionError as wrong:
        return "fault", Finding(_sort(wrong), traceback.format_exc()[-3000:])
    except MemoryError as wrong:
        return "fault", Finding(_sort(wrong), "memory")
    except (Exception, SystemExit, KeyboardInterrupt) as wrong:
        return "fault", Finding(_sort(wrong), traceback.format_exc())
    finding = _ill_worded(said.getvalue(), text)
    return ("fault" if finding else "taken"), finding


@contextlib.contextmanager
def _within(seconds: float) -> Iterator[None]:
    def ring(_: int, frame: FrameType | None) -> None:
        raise HungError

    kept = []
    for bell, clock, times in _BELLS:
        kept.append((bell, signal.signal(bell, ring)))
        signal.setitimer(clock, times * seconds)
    try:
        yield
    finally:
        for _, clock, _ in _BELLS:
            signal.setitimer(clock, 0)
        for bell, before in kept:
            signal.signal(bell, before)


def _sort(wrong: BaseException) -> str:
    """The exception's name and the innermost line of ours: one fault, one sort."""
    ours = [
        frame for frame in traceback.extract_tb(wrong.__traceback__)
        if "site-packages" not in frame.filename
        and re.search(r"/(kb|engine|render)/", frame.filename)
    ]  # fmt: skip
    if not ours:
        return type(wrong).__name__
    last = ours[-1]
    where = re.split(r"/(?=(?:kb|engine|render)/)", last.filename)[-1]
    return f"{type(wrong).__name__} {where}:{last.name}"


def _ill_worded(words: str, text: str) -> Finding | None:
    bad = {letter for letter in words
           if unicodedata.category(letter) in _OBEYED and letter not in _HARMLESS}  # fmt: skip
    if bad:
        return Finding("control characters in words", f"{sorted(bad)!r}\n{words[:2000]!r}")
    spoken = _LIBRARIES.search(words)
    if spoken and spoken[0] not in text and spoken[0] not in json.dumps(text):
        return Finding(f"words of a library: {spoken[0]}", words[:2000])
    return None
