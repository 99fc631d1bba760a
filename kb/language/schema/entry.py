"""What every entry of the knowledge files has in common."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

Name = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]*$")]
Sentence = Annotated[str, StringConstraints(min_length=3, strip_whitespace=True)]
Text = Annotated[str, StringConstraints(min_length=2)]
Minutes = Annotated[float, Field(ge=0, le=1000)]
Share = Annotated[float, Field(ge=0, le=1)]


class Entry(BaseModel):
    """Common to all: nothing unknown is accepted, nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Span(Entry):
    """Minutes as they mostly are, with the least and the most that skilled people would argue."""

    minutes: Minutes
    """Minutes as they mostly are."""
    least: Minutes
    """The least that skilled people would argue."""
    most: Minutes
    """The most that skilled people would argue."""
    source: Sentence
    """Where they are known from."""

    @model_validator(mode="after")
    def _in_order(self) -> Span:
        if not self.least <= self.minutes <= self.most:
            raise ValueError("least, minutes and most stand in that order, from low to high")
        return self
