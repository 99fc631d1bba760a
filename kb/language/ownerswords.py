"""How owners say what is wrong: sentences by complaint, from which suggestions are learnt."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kb.trouble import Place, Trouble, TroubleError

FILE = Path(__file__).parents[1] / "words" / "owners-words.json"


class Saying(BaseModel):
    """How one complaint is said.

    It may be one that no unit here has yet: then it tells that a unit is of another kind.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    complaint: str
    says: str
    cases: float = Field(gt=0)
    """How many of the cases that told a complaint told this one."""
    sentences: tuple[str, ...] = Field(min_length=5)


class Quiet(BaseModel):
    """What is said of a unit that tells no complaint: a cause, what was done or is wanted."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    cases: float = Field(gt=0)
    """How many cases told none, for as many that told one as all complaints have between them."""
    sentences: tuple[str, ...] = Field(min_length=5)


class OwnersWords(BaseModel):
    """The whole file; `neutral` are words of the intake desk that say nothing of a complaint."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal["nextprobe-owners-words/1"]
    says: str
    source: str
    neutral: tuple[str, ...]
    quiet: Quiet
    complaints: tuple[Saying, ...]


def ours(path: Path = FILE) -> OwnersWords:
    """The sentences that come with the program. TroubleError KB709 where they can't be read."""
    try:
        return OwnersWords.model_validate_json(path.read_text(encoding="utf-8"))
    except (OSError, ValidationError) as wrong:
        first = str(wrong).splitlines()[0]
        raise TroubleError(
            Trouble(
                "KB709", Place(str(path)), f"the owners' sentences can't be read ({first})",
                "Install nextprobe anew, or put the file back as it was",
            )
        ) from wrong  # fmt: skip
