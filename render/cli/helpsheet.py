"""What `--help` prints: usage, what it does, then options and commands by what they are for.

In the look of the walk: a rule opens each group, names stand to the left, what they do beside them.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterable, Iterator
from typing import Any

from typer.core import TyperCommand, TyperGroup

from render.cli.columns import hanging, width

_NAMES = 24
"""Columns for names; a longer one stands on a line of its own."""
_KINDS = {
    "str": "WORD", "text": "WORD", "int": "NUMBER", "integer": "NUMBER", "float": "NUMBER",
    "int range": "NUMBER", "integer range": "NUMBER", "float range": "NUMBER", "path": "FILE",
}  # fmt: skip
_RANGES = (
    (re.compile(r"([\d.]+)<=x<=([\d.]+)"), r"\1 to \2"),
    (re.compile(r"x>=([\d.]+)"), r"\1 or more"),
)
_ARGUMENTS, _OTHERS, _COMMANDS = "Arguments", "Options", "Commands"


class Command(TyperCommand):
    """A command with our help."""

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the sheet."""
        formatter.write("\n".join((*_head(self, ctx), *_options(self, ctx))) + "\n")


class Group(TyperGroup):
    """The program with our help: its commands by what one wants to do."""

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the sheet."""
        lines = [*_head(self, ctx), *_commands(self, ctx), *_options(self, ctx), ""]
        formatter.write("\n".join((*lines, *hanging(self.epilog or "", 0, 0))) + "\n")


def _head(command: Any, ctx: Any) -> Iterator[str]:
    arguments = [_argument(param) for param in command.params if _is_argument(param)]
    last = ["COMMAND"] if hasattr(command, "commands") else arguments
    yield from hanging(" ".join(["Usage:", ctx.command_path, "[OPTIONS]", *last]))
    before = ""
    for paragraph in re.split(r"\n\s*\n", inspect.cleandoc(command.help or "")):
        words = " ".join(paragraph.split())
        if not (words.startswith("Example:") and before.startswith("Example:")):
            yield ""
        yield from hanging(words, 0, 2 if words.startswith("Example:") else 0)
        before = words


def _commands(group: Any, ctx: Any) -> Iterator[str]:
    by_panel: dict[str, list[tuple[str, str]]] = {}
    for name in group.list_commands(ctx):
        command = group.get_command(ctx, name)
        first = re.split(r"\n\s*\n", inspect.cleandoc(command.help or ""))[0]
        entry = (name, " ".join(first.split()))
        by_panel.setdefault(command.rich_help_panel or _COMMANDS, []).append(entry)
    for panel, entries in by_panel.items():
        yield from _panel(panel, entries)


def _options(command: Any, ctx: Any) -> Iterator[str]:
    by_panel: dict[str, list[tuple[str, str]]] = {}
    for param in command.get_params(ctx):
        record = param.get_help_record(ctx)
        if record is None:
            continue
        is_argument = _is_argument(param)
        panel = getattr(param, "rich_help_panel", None) or _OTHERS
        name = _plain_name(param) if is_argument else _option(param, record[0])
        by_panel.setdefault(_ARGUMENTS if is_argument else panel, []).append(
            (name, _in_words(record[1]))
        )
    others = by_panel.pop(_OTHERS, None)
    for panel, entries in by_panel.items():
        yield from _panel(panel, entries)
    if others:
        yield from _panel(_OTHERS, others)


def _panel(title: str, entries: Iterable[tuple[str, str]]) -> Iterator[str]:
    yield ""
    yield f"── {title} " + "─" * max(2, width() - len(title) - 4)
    for name, says in entries:
        lines = list(hanging(says, _NAMES, 0))
        if len(name) + 2 < _NAMES:
            lines[0] = name.ljust(_NAMES) + lines[0].lstrip()
        else:
            yield name
        yield from lines


def _is_argument(param: Any) -> bool:
    return bool(param.param_type_name == "argument")


def _plain_name(param: Any) -> str:
    return str(param.metavar or param.name).upper()


def _argument(param: Any) -> str:
    name = _plain_name(param) + ("..." if param.nargs != 1 else "")
    return name if param.required else f"[{name}]"


def _option(param: Any, record: str) -> str:
    """Its names, short ones first, and what it wants."""
    names = " ".join(sorted((*param.opts, *param.secondary_opts), key=len))
    if param.is_flag or param.count or param.name == "help":
        return names
    kind = param.metavar or record.removeprefix(", ".join(param.opts)).split(" ", 1)[-1]
    kind = re.sub(r"^<?(?:list)?\[?([^\]>]*)\]?>?(?:\.\.\.)?$", r"\1", kind.partition(" [")[0])
    return f"{names} {_KINDS.get(kind.casefold(), kind)}"


def _in_words(says: str) -> str:
    for pattern, words in _RANGES:
        says = pattern.sub(words, says)
    return says.replace("env var: ", "variable: ").replace("  [", " [")
