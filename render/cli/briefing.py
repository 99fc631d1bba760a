"""What the command line was told of a walk, and what a saved walk was begun with."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TypeVar

from engine.model.records import Model
from engine.walk import record
from engine.walk.job import Walk
from engine.walk.record import SavedWalk
from kb.files import content
from kb.trouble import Place, Trouble, TroubleError
from render.cli import files
from render.cli.options import Depth, Mains


@dataclass(frozen=True, slots=True)
class Brief:
    """What the command line was told about the unit, and the saved walk to go on with, if any.

    `build` is what it was told of how the unit is built, `L1=none`: events of the walk's beginning.
    `origin` is the walk of the unit while nobody knew what it was, `minutes_before` what it took;
    `saved_as` what the file of the saved walk held when it was read.
    """

    topology: str | None
    mains: Mains
    depth: Depth
    complaint: str | None
    kb: Path | None
    without: tuple[str, ...]
    model: Path | None
    seconds: float = 1.0
    values: tuple[str, ...] = ()
    good: Path | None = None
    having: tuple[str, ...] = ()
    traced: tuple[str, ...] = ()
    learn: Callable[[Model], Model] | None = None
    unit: str = ""
    words: str = ""
    build: tuple[str, ...] = ()
    saved: SavedWalk | None = None
    saved_in: Path | None = None
    saved_as: bytes | None = None
    origin: Walk | None = None
    minutes_before: float = 0.0

    @property
    def options(self) -> dict[str, str]:
        """The options as text, for the saved walk."""
        plain: dict[str, str] = {"mains": self.mains.value, "depth": self.depth.value}
        if self.topology:
            plain["topology"] = self.topology
        if self.learn is not None:
            plain["priors"] = "both"
        if self.complaint:
            plain["complaint"] = self.complaint
        several = {
            "having": self.having, "without": self.without, "traced": self.traced,
            "values": self.values,
        }  # fmt: skip
        plain |= {name: "\n".join(words) for name, words in several.items() if words}
        for name, path in (("kb", self.kb), ("model", self.model), ("good", self.good)):
            if path is not None:
                plain[name] = str(path.absolute())
        if self.minutes_before:
            plain["minutes_before"] = f"{self.minutes_before:g}"
        return plain


def as_saved(brief: Brief, path: Path) -> Brief:
    """The options of a walk saved in a file in place of the command line's, with its events."""
    words = content(path)  # looked at first: what another program writes from here on is noticed
    raw, text = files.read_json(
        path, "the saved walk",
        ("CL111", "the saved walk is not JSON", "Give a file that nextprobe walk saved"),
    )  # fmt: skip
    before = record.reopen(raw, str(path), text)
    if brief.topology not in (None, before.topology):
        raise trouble(
            "CL112", str(path), f"the saved walk is of {before.topology}, not of {brief.topology}",
            "Leave the topology out, it is in the file",
        )  # fmt: skip
    return replace(as_begun(brief, before, str(path)), saved_in=path, saved_as=words)


def as_begun(brief: Brief, before: SavedWalk, place: str) -> Brief:
    """The options that a walk was begun with in place of the command line's, with its events to
    replay; `place` says where it was kept."""
    options = before.options
    return replace(
        brief,
        topology=options.get("topology"),
        mains=_one_of(Mains, options.get("mains", brief.mains.value), place),
        depth=_one_of(Depth, options.get("depth", brief.depth.value), place),
        complaint=options.get("complaint"),
        having=lines_of(options, "having"),
        without=lines_of(options, "without"),
        traced=lines_of(options, "traced"),
        kb=Path(options["kb"]) if "kb" in options else brief.kb,
        model=Path(options["model"]) if "model" in options else brief.model,
        values=(*lines_of(options, "values"), *brief.values),
        good=Path(options["good"]) if "good" in options else brief.good,
        minutes_before=_minutes(options.get("minutes_before", "0"), place),
        saved=before,
    )


def _minutes(text: str, place: str) -> float:
    """Minutes of a saved walk: a number, none below 0."""
    try:
        minutes = float(text)
    except ValueError:
        minutes = -1.0
    if not 0 <= minutes < _ENDLESS:
        raise trouble(
            "CL115", place, f'the saved walk was begun after "{text}" minutes, which can\'t be',
            "Use the file as nextprobe saved it, or start the walk anew",
        )  # fmt: skip
    return minutes


_ENDLESS = 1e6
_Choice = TypeVar("_Choice", bound=StrEnum)


def _one_of(choices: type[_Choice], text: str, place: str) -> _Choice:
    """An option of a saved walk; one that this program does not have is a trouble."""
    try:
        return choices(text)
    except ValueError as wrong:
        raise trouble(
            "CL115", place, f'the saved walk was begun with "{text}", which there is not',
            f"Start the walk anew, with one of {', '.join(choice.value for choice in choices)}",
        ) from wrong  # fmt: skip


def lines_of(options: Mapping[str, str], name: str) -> tuple[str, ...]:
    """The words of an option that may be given several times."""
    return tuple(options[name].split("\n")) if name in options else ()


def trouble(code: str, where: str, what: str, mend: str) -> TroubleError:
    """A trouble of the command line, ready to raise."""
    return TroubleError(Trouble(code=code, place=Place(where), what=what, mend=mend))
