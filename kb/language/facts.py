"""Several folders of one's own that add fields to one kind of fact: all fields stand."""

from __future__ import annotations

from kb.language.schema import FactKind
from kb.trouble import Place, Trouble


def join(first: FactKind, second: FactKind) -> tuple[FactKind, str]:
    """The kind with the fields of both, and in words where the two contradict each other.

    A field that the two hold to be of different sorts is no field for both; what the one lets off
    and the other does not may be lacking.
    """
    common = set(first.fields) & set(second.fields)
    for word in ("numbers", "truths"):
        strife = (set(getattr(first, word)) ^ set(getattr(second, word))) & common
        if strife:
            return second, f"the field '{min(strife)}' is listed under `{word}` by one of them only"
    fields = {**first.fields, **second.fields}

    def union(word: str) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*getattr(first, word), *getattr(second, word))))

    # what only one of them knows the other's rules never conclude
    lacking = [name for name in fields if name not in common]
    optional = tuple(dict.fromkeys((*union("optional"), *lacking)))
    return second.model_copy(
        update={
            "fields": fields, "numbers": union("numbers"), "truths": union("truths"),
            "optional": optional,
        }
    ), ""  # fmt: skip


def trouble(name: str, strife: str, place: Place, other: Place) -> Trouble:
    """Two that contradict each other."""
    return Trouble(
        "KB115", place, f"'{name}' stands at {other} too, and the two contradict: {strife}",
        "Give the field one sort in both, or another name in one of them",
    )
