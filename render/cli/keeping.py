"""Where a walk is kept: as a case of a shop, or as a file. Either is written after every answer."""

from __future__ import annotations

import itertools
import shlex
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from engine.model.records import Model
from engine.walk import record
from engine.walk.entry import Admission
from engine.walk.job import Walk
from kb.files import content
from kb.trouble import Place, Trouble, TroubleError
from render.cli import files
from render.cli.briefing import Brief

if TYPE_CHECKING:
    from engine.cases.shop import Shop
    from engine.cases.sitting import Sitting


class Keeping(Protocol):
    """What keeps a walk; each call has it on the disk, or raises a TroubleError."""

    def begin(self, brief: Brief, model: Model) -> None:
        """There is going to be a walk of it."""

    def entry(self, brief: Brief, model: Model, answers: Mapping[str, str]) -> None:
        """The entry check's answers so far."""

    def away(self, brief: Brief, model: Model, admission: Admission) -> None:
        """The entry check ended the job."""

    def walk(self, walk: Walk) -> None:
        """The walk as it stands."""

    def turn_out(self, model: Model) -> None:
        """The unit turned out to be of this model's topology."""

    @property
    def is_begun(self) -> bool:
        """Whether anything is kept yet."""

    @property
    def place(self) -> str:
        """Where, in words for the person."""

    @property
    def way_back(self) -> str:
        """The command that goes on with it."""

    @property
    def way_out(self) -> str:
        """The command that ends it: its closing; empty where there is none."""


@dataclass(slots=True)
class FileKeeping:
    """A walk document in a file, as `--save` names it; `known` is what this program knows to be
    there, so that it never writes over what another one has added."""

    path: Path
    known: bytes | None = None
    is_begun: bool = False

    def begin(self, brief: Brief, model: Model) -> None:
        """A file begins with the first step."""

    def entry(self, brief: Brief, model: Model, answers: Mapping[str, str]) -> None:
        """A file begins with the first step: the entry check's answers go into it with that."""

    def away(self, brief: Brief, model: Model, admission: Admission) -> None:
        """The document of a unit that was turned away."""
        self._save(record.turned_away(model, admission, brief.options))

    def walk(self, walk: Walk) -> None:
        """The whole document, in place of the one before."""
        self._save(record.document(walk))

    def turn_out(self, model: Model) -> None:
        """The next document is of that topology, in place of the one before."""

    @property
    def place(self) -> str:
        """The file's name."""
        return str(self.path)

    @property
    def way_back(self) -> str:
        """By the saved file."""
        return f"nextprobe walk --from {shlex.quote(str(self.path))}"

    @property
    def way_out(self) -> str:
        """A file is not closed."""
        return ""

    def _save(self, document: dict[str, Any]) -> None:
        self.known = files.write_json_on(self.path, document, self.known)
        self.is_begun = True


@dataclass(slots=True)
class OwnKeeping(FileKeeping):
    """A walk document in a new file of the user's data folder, of a name that nobody has yet."""

    def _save(self, document: dict[str, Any]) -> None:
        stem = self.path.stem
        for number in itertools.count(2):
            try:
                FileKeeping._save(self, document)
                return
            except TroubleError as wrong:
                if self.is_begun or wrong.troubles[0].code != files.CHANGED:
                    raise
                self.path = self.path.with_stem(f"{stem}-{number}")


@dataclass(slots=True)
class CaseKeeping:
    """A case of a shop; a new one begins with the first answer, so that a look leaves none."""

    shop: Shop
    shop_option: str = ""
    sitting: Sitting | None = field(default=None)

    def entry(self, brief: Brief, model: Model, answers: Mapping[str, str]) -> None:
        """The entry check's answers so far."""
        self._sitting(brief, model).keep_entry(model, answers, brief.options)

    def away(self, brief: Brief, model: Model, admission: Admission) -> None:
        """The entry check ended the job."""
        self._sitting(brief, model).turn_away(model, admission, brief.options)

    def walk(self, walk: Walk) -> None:
        """The walk as it stands; what came before it began the case."""
        assert self.sitting is not None
        self.sitting.keep(walk)

    def begin(self, brief: Brief, model: Model) -> None:
        """Begin the case, if it is not begun."""
        self._sitting(brief, model)

    def turn_out(self, model: Model) -> None:
        """The case is one of that topology."""
        assert self.sitting is not None
        self.sitting.turn_out(model.topology)

    @property
    def is_begun(self) -> bool:
        """Whether there is a case yet."""
        return self.sitting is not None

    @property
    def place(self) -> str:
        """The case's number, and the shop's name."""
        number = self.sitting.number if self.sitting else 0
        return f"case {number} in {self.shop.name}"

    @property
    def way_back(self) -> str:
        """By the case's number."""
        number = self.sitting.number if self.sitting else 0
        return f"nextprobe resume {number}{self.shop_option}"

    @property
    def way_out(self) -> str:
        """By the case's number; the sheet comes after it."""
        number = self.sitting.number if self.sitting else 0
        return f"nextprobe close {number}{self.shop_option}, then nextprobe sheet {number}"

    def _sitting(self, brief: Brief, model: Model) -> Sitting:
        from engine.cases.records import Intake
        from engine.cases.sitting import Sitting
        from engine.model.records import sha256

        if self.sitting is None:
            intake = Intake(
                topology=model.topology, mains=(model.mains.volts, model.mains.hertz),
                depth=model.depth, complaint=model.complaint, unit=brief.unit, words=brief.words,
                options=brief.options, knowledge=model.knowledge, model_sha256=sha256(model),
            )  # fmt: skip
            self.sitting = Sitting.begin(self.shop, intake)
        return self.sitting


def keeping_of(
    brief: Brief, save: Path | None, books: Shop | None, shop_option: str
) -> Callable[[str], Keeping]:
    """What keeps a walk of a topology: the file that is named, else the shop, else (None) a file
    in the user's data folder. TroubleError CL113 where that can't be."""
    path = save or brief.saved_in
    if path is not None:
        known = brief.saved_as if path == brief.saved_in else content(path)
        return lambda topology: FileKeeping(path, known)
    if books is None:
        return lambda topology: OwnKeeping(own_place(topology))
    return lambda topology: CaseKeeping(books, shop_option)


def open_shop(shop: str | None, who: str | None) -> Shop:
    """The shop that the command line names; who is at the bench is the login's name if not told."""
    from engine.cases import opening

    return opening.open_shop(shop, who=_at_bench(who), clock=_now)


def open_to_read(shop: str | None) -> Shop:
    """That shop for who only looks: it may be one that can't be written to."""
    from engine.cases import opening

    return opening.open_to_read(shop, who=_at_bench(None), clock=_now)


def _at_bench(who: str | None) -> str:
    import getpass

    try:
        return who or getpass.getuser()
    except (KeyError, OSError):  # a login without a name, as containers have
        return "bench"


def _now() -> datetime:
    return datetime.now(UTC)


def option_of(shop: str | None) -> str:
    """The option that names the shop again, for a command that is told; a password is left out."""
    if shop is None:
        return ""
    head, at, tail = shop.rpartition("@")
    user = head.rpartition(":")[0] if "://" in head and head.count(":") > 1 else head
    return f" --shop {shlex.quote(user + at + tail)}"


def own_place(topology: str) -> Path:
    """A new file for a walk in the user's data folder."""
    import platformdirs

    folder = Path(platformdirs.user_data_dir("nextprobe", appauthor=False)) / "walks"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        raise TroubleError(
            Trouble(
                code="CL113", place=Place(str(folder)),
                what=f"walks can't be saved there ({wrong.strerror})",
                mend="Give a file with --save",
            )
        ) from wrong  # fmt: skip
    return folder / f"{topology}-{time.strftime('%Y%m%d-%H%M%S')}.json"
