"""What is wrong with a value, in words: the refusals of pydantic as a person would say them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

_MAPPING = "a mapping of words to values"
_KINDS = {
    "string_type": "text", "string_sub_type": "text", "float_type": "a number",
    "float_parsing": "a number", "int_type": "a whole number", "int_parsing": "a whole number",
    "int_from_float": "a whole number", "bool_type": "true or false",
    "bool_parsing": "true or false", "tuple_type": "a list", "list_type": "a list",
    "set_type": "a list", "frozen_set_type": "a list", "dict_type": _MAPPING,
    "mapping_type": _MAPPING, "dataclass_type": _MAPPING,
    "model_type": _MAPPING, "none_required": "left out",
    "model_attributes_type": _MAPPING, "finite_number": "a finite number",
}  # fmt: skip
_PATTERNS = {
    "^[A-Za-z0-9][A-Za-z0-9_.-]*$": "a name: plain letters, digits, and between them _ . or -",
}
_PREFIX = "Value error, "


def in_words(problem: Mapping[str, Any]) -> str:
    """One refusal as the end of a sentence: `it should be a number`."""
    kind, limits = problem["type"], problem.get("ctx", {})
    if kind in _KINDS:
        return f"it should be {_KINDS[kind]}"
    match kind:
        case "literal_error" | "enum":
            return f"it should be one of {_listed(str(limits.get('expected', '')))}"
        case "string_pattern_mismatch":
            shape = _PATTERNS.get(str(limits.get("pattern", "")))
            return f"it should be {shape or 'written in plain letters, digits, _, . and -'}"
        case "string_too_short":
            return f"it should have {_count(limits, 'min_length', 'letter')} or more"
        case "string_too_long":
            return f"it should have {_count(limits, 'max_length', 'letter')} at most"
        case "too_short":
            return f"it should hold {_count(limits, 'min_length', 'entry')} or more"
        case "too_long":
            return f"it should hold {_count(limits, 'max_length', 'entry')} at most"
        case "greater_than":
            return f"it should be above {_limit(limits, 'gt')}"
        case "greater_than_equal":
            return f"it should be {_limit(limits, 'ge')} or more"
        case "less_than":
            return f"it should be below {_limit(limits, 'lt')}"
        case "less_than_equal":
            return f"it should be {_limit(limits, 'le')} or less"
        case "union_tag_invalid" | "union_tag_not_found":
            tags = str(limits.get("expected_tags", ""))
            by = str(limits.get("discriminator", "its sort")).strip("'")
            return f"its {by} should be {f'one of {_listed(tags)}' if tags else 'told'}"
        case "missing":
            return "it is missing"
        case "extra_forbidden":
            return "this word is not known here"
        case "value_error" | "assertion_error":
            return str(problem["msg"]).removeprefix(_PREFIX)
    return "it can't stand here"


def _limit(limits: Mapping[str, Any], name: str) -> str:
    limit = limits.get(name)
    return f"{limit:g}" if isinstance(limit, float) else str(limit)


def _listed(text: str) -> str:
    words = re.findall(r"'([^']*)'", text)
    return ", ".join(words) if words else text


def _count(limits: Mapping[str, Any], name: str, thing: str) -> str:
    number = limits.get(name, 1)
    several = {"entry": "entries"}.get(thing, f"{thing}s")
    return f"{number} {thing if number == 1 else several}"
