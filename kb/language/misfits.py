"""What does not fit the shape of the knowledge files, in words for the person who wrote it.

pydantic finds it; here it is told at its line, with the nearest word or the number as it should be
written. Codes: KB201 a word is lacking; KB202 an unknown word; KB203 a wrong value; KB204
and KB205 see `unusable`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from kb.language import bounds, constraints, descriptions, lines
from kb.language.nearest import near
from kb.language.schema.entry import Entry
from kb.trouble import Place, Trouble

_COMMA = re.compile(r"[+-]?\d+,\d+")
_WITH_UNIT = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*[^\d\s].*")
_LIMITS = {"less_than_equal": "le", "less_than": "lt", "greater_than": "gt",
           "greater_than_equal": "ge"}  # fmt: skip
_REFERENCE = "See REFERENCE.md of the kb folder for what may stand here"


def trouble(
    problem: Mapping[str, Any], model: type[Entry], data: Any, place: Place, name: str
) -> Trouble:
    """One problem that pydantic found in the data of an entry of this shape, at its line."""
    path = list(problem["loc"])
    where = lines.deepest(data, path, place)
    words = ".".join(str(step) for step in path) or name
    kind = problem["type"]
    if kind == "missing":
        return Trouble("KB201", where, f"'{name}' lacks '{words}'", f"Add `{path[-1]}: ...`")
    if kind == "extra_forbidden" or (kind == "invalid_key" and isinstance(path[-1], int)):
        what = f"'{name}' has the unknown word '{words}'"
        return Trouble("KB202", where, what, _respell(str(path[-1]), model))
    value = problem.get("input")
    shown_value = f" (it says {value!r})" if isinstance(value, (str, int, float, bool)) else ""
    what = f"In '{name}', '{words}' is wrong{shown_value}: {constraints.in_words(problem)}"
    return Trouble("KB203", where, what, _rewrite(problem, value))


def _respell(word: str, model: type[Entry]) -> str:
    if word[:1].isdigit():
        return (
            "Within braces a comma parts entries: write decimals with a point, and thousands "
            "without a mark"
        )
    fields = {field for shape in descriptions.shapes_within(model) for field in shape.model_fields}
    nearest = near(word, sorted(fields))
    return f"Write '{nearest}', or remove it" if nearest else "Remove or respell it"


def _rewrite(problem: Mapping[str, Any], value: Any) -> str:
    """How a value of another sort or size should be written."""
    kind, limits = problem["type"], problem.get("ctx", {})
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if kind == "string_type" and is_number:
        return (
            f"Write it as text: a value with its unit, such as {value:g} ohm, {value:g} V or "
            f"{value:g} uF; a name in quotes"
        )
    if kind == "string_type" and isinstance(value, bool):
        return "YAML takes a bare on, off, yes or no for true or false: put quotes round it"
    if kind in ("float_parsing", "int_parsing") and isinstance(value, str):
        text = value.strip()
        if _COMMA.fullmatch(text):
            return f"Write a point for the comma: {text.replace(',', '.')}"
        if match := _WITH_UNIT.fullmatch(text):
            return f"Write the number alone: {match[1].replace(',', '.')}"
    if kind in _LIMITS and is_number and 1 < value <= 100 and limits.get("le") == 1:
        return f"Write a share from 0 to 1: {value:g} % is {value / 100:g}"
    if kind == "literal_error" and isinstance(value, str):
        choices = re.findall(r"'([^']+)'", str(limits.get("expected", "")))
        if nearest := near(value, choices):
            return f"Write '{nearest}'"
    return _REFERENCE


def unusable(tree: Any, source: str) -> Iterator[Trouble]:
    """What no file of knowledge may hold, wherever it stands: KB204 a number that is none, KB205 a
    sign that can't be seen."""
    for holder, key, value in bounds.no_numbers(tree):
        is_list, (line, column) = isinstance(holder, list), holder.marks[key]
        yield Trouble(
            "KB204",
            Place(source, line + 1, column + 1),
            f"{'An entry of a list' if is_list else repr(str(key))} is {value}, which is no number",
            "Write a number that can be reckoned with",
        )
    for holder, key, sign in bounds.hidden_signs(tree):
        line, column = holder.marks[key]
        yield Trouble(
            "KB205",
            Place(source, line + 1, column + 1),
            f"A sign stands here that can't be seen ({sign}) and that a terminal would obey",
            "Take it out",
        )


def mend_of_file(error: Exception) -> str:
    """How to mend a file that can't be read at all."""
    is_text = isinstance(error, UnicodeDecodeError)
    return "Save it as UTF-8" if is_text else "Put a plain file there, or take it away"


def mend_of_yaml(text: str, line: int) -> str:
    """How to mend a line that is no YAML; a tab is the least seen of all reasons."""
    lines_of_it = text.splitlines()
    near_it = lines_of_it[max(0, line - 1) : line + 1]
    if any("\t" in line_text[: len(line_text) - len(line_text.lstrip())] for line_text in near_it):
        return "A tab stands at the beginning of this line or the one before: write spaces instead"
    if any("\t" in line_text for line_text in near_it):
        return "A tab stands in this line or the one before: write spaces instead"
    return "Look at the indentation, colons and quotes around this line"
