"""What a check of a model document found, before it gets its line and column."""

from __future__ import annotations

from dataclasses import dataclass

from kb.trouble import Place, Trouble

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Finding:
    """A trouble at a path of keys and indexes; `at` is its line and column where known."""

    code: str
    path: Path
    what: str
    mend: str
    why: str = ""
    grave: bool = True
    at: tuple[int, int] | None = None

    def trouble(self, source: str, at: tuple[int, int]) -> Trouble:
        """The trouble in `source` at (line, column), naming the path."""
        what = f"{path_text(self.path)}: {self.what}" if self.path else self.what
        place = Place(source, *at)
        return Trouble(self.code, place, what, self.mend, self.why, self.grave)


def path_text(path: Path) -> str:
    """A path as people write it: `tests[3].supply`."""
    words = ""
    for step in path:
        if isinstance(step, int):
            words += f"[{step}]"
        elif step.replace("_", "").isalnum():
            words += f".{step}" if words else step
        else:
            words += f'["{step}"]'
    return words


NOTHING_LISTED = "none"
"""The word for an empty row of names."""


def quote(names: object) -> str:
    """A few names in a row, for a mend: `a, b, c and 4 more`."""
    texts = [str(name) for name in names] if isinstance(names, (list, tuple)) else [str(names)]
    if not texts:
        return NOTHING_LISTED
    head = ", ".join(texts[:6])
    return head if len(texts) <= 6 else f"{head} and {len(texts) - 6} more"
