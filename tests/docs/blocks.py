"""Makes the parts of the documentation that can be made: tables of words, tables of options,
printouts. A block stands in a document between `<!-- made: NAME -->` and `<!-- end -->`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from enum import EnumType
from pathlib import Path
from typing import Any, get_args, get_type_hints

import typer
from typer.core import TyperCommand

from engine import library
from kb.language import loader
from kb.language.knowledge import Knowledge
from render.cli.commands import app
from tests.docs.printouts import sample_verdicts, walk_excerpt

ROOT = Path(__file__).parents[2]
DOCUMENTS = tuple(
    ROOT / name for name in ("README.md", "DEVELOPERS.md", "kb/README.md", "samples/README.md")
)
_BLOCK = re.compile(r"(<!-- made: ([a-z-]+) -->\n)(.*?)(<!-- end -->)", re.DOTALL)


def made_again(text: str) -> str:
    """The text with every block made anew; KeyError for a block that nothing makes."""
    return _BLOCK.sub(lambda found: f"{found[1]}{_MADE[found[2]]()}\n{found[4]}", text)


def standing(path: Path) -> Mapping[str, str]:
    """Each block of a document as it stands."""
    found = _BLOCK.findall(path.read_text(encoding="utf-8"))
    return {name: body.removesuffix("\n") for _, name, body, _ in found}


def made(name: str) -> str:
    """A block made anew."""
    return _MADE[name]()


def commands() -> Mapping[str, TyperCommand]:
    """Each command of the program by its name."""
    group = typer.main.get_command(app)
    found = group.commands  # type: ignore[attr-defined]
    return dict(found)


def options() -> Iterator[tuple[str, str, str]]:
    """Every option of every command: (command, how it is written, what it does)."""
    told = {command.name: command.callback for command in app.registered_commands}
    for name, command in commands().items():
        hints = get_type_hints(told[name])
        for parameter in command.params:
            if parameter.param_type_name == "option" and "--help" not in parameter.opts:
                written = ", ".join(sorted(parameter.opts, key=len))
                says = " ".join((parameter.help or "").split())  # type: ignore[attr-defined]
                yield name, written, says + _choices(hints[parameter.name or ""])


def _choices(hint: Any) -> str:
    """The words an option takes, if it takes some only."""
    kinds = [kind for kind in (hint, *get_args(hint)) if isinstance(kind, EnumType)]
    words = [str(word.value) for kind in kinds for word in kind]
    return f" One of {', '.join(words)}." if words else ""


def _row(*cells: str) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    rule = "|" + "---|" * len(head)
    return "\n".join((_row(*head), rule, *(_row(*row) for row in rows)))


def _commands() -> str:
    rows = (
        (f"`nextprobe {name}`", (command.help or "").strip().splitlines()[0])
        for name, command in commands().items()
    )
    return _table(("command", "what it does"), rows)


def _options() -> str:
    takers: dict[tuple[str, str], list[str]] = {}
    for command, written, says in options():
        takers.setdefault((written, says), []).append(command)
    rows = ((f"`{written}`", ", ".join(who), says) for (written, says), who in takers.items())
    return _table(("option", "of", "what it does"), rows)


def _knowledge() -> Knowledge:
    return loader.read()


def _topologies() -> str:
    rows = ((f"`{note.id}`", note.says) for note in library.topologies())
    return _table(("topology", "what it is"), rows)


def _fact_kinds() -> str:
    knowledge = _knowledge()
    concluded: dict[str, dict[str, None]] = {}
    for rule in knowledge.rules.values():
        for clause in rule.then:
            for kind in clause:
                concluded.setdefault(kind, {})[rule.step] = None
    rows = (
        (
            f"`{name}`",
            kind.says,
            ", ".join(f"`{field}` {says}" for field, says in kind.fields.items()),
            ", ".join(concluded.get(name, ())) or "given",
        )
        for name, kind in knowledge.facts.items()
    )
    return _table(("fact", "says", "fields", "comes from"), rows)


def _quantities() -> str:
    rows = (
        (
            f"`{name}`",
            quantity.says,
            ", ".join(f"`{value}`" for value in quantity.values),
            f"`{quantity.otherwise}`",
        )
        for name, quantity in _knowledge().quantities.items()
    )
    return _table(("quantity", "what it is", "values, gravest first", "otherwise"), rows)


def _places() -> str:
    rows = ((f"`{name}`", w.says, w.lies) for name, w in _knowledge().place_words.items())
    return _table(("place", "what stands there", "lies"), rows)


def _scenes() -> str:
    rows = (
        (f"`{name}`", scene.says, ", ".join(f"`{value}`" for value in scene.values))
        for name, scene in _knowledge().scenes.items()
    )
    return _table(("scene", "what it is", "values, usual first"), rows)


def _stage_kinds() -> str:
    rows = (
        (
            f"`{name}`",
            kind.says,
            f"`{kind.family}`",
            ", ".join(f"**`{p}`**" if p in kind.needs else f"`{p}`" for p in kind.places),
        )
        for name, kind in _knowledge().stages.items()
    )
    return _table(("stage kind", "what it is", "family", "places (needed ones bold)"), rows)


def _part_kinds() -> str:
    rows = (
        (
            f"`{name}`",
            kind.says,
            ", ".join(f"`{trait}`" for trait in kind.traits),
            ", ".join(f"`{mode}`" for mode in kind.modes),
        )
        for name, kind in _knowledge().parts.items()
    )
    return _table(("part kind", "what it is", "traits", "failure modes"), rows)


def _acts() -> str:
    users: dict[str, dict[str, None]] = {}
    for name, kind in _knowledge().parts.items():
        for mode in kind.modes.values():
            for act in [v.acts for v in mode.variants.values()] or [mode.acts]:
                users.setdefault(act, {})[name] = None
    rows = (
        (f"`{act}`", ", ".join(f"`{name}`" for name in names))
        for act, names in sorted(users.items())
    )
    return _table(("acts", "part kinds that can act so"), rows)


def _traits() -> str:
    users: dict[str, dict[str, None]] = {}
    for name, kind in _knowledge().parts.items():
        for trait in kind.traits:
            users.setdefault(trait, {})[name] = None
    rows = (
        (f"`{trait}`", ", ".join(f"`{name}`" for name in names))
        for trait, names in sorted(users.items())
    )
    return _table(("trait", "part kinds that have it"), rows)


def _arrangements() -> str:
    rows = (
        (f"`{name}`", arrangement.says, arrangement.energy, f"`{arrangement.feeds}`")
        for name, arrangement in _knowledge().arrangements.items()
    )
    return _table(("arrangement", "what it is", "energy", "feeds"), rows)


def _numbers() -> str:
    rows = (
        (f"`{name}`", f"{number.value:g}", number.says, number.source)
        for name, number in _knowledge().numbers.items()
    )
    return _table(("number", "value", "what it is", "source"), rows)


_MADE: Mapping[str, Callable[[], str]] = {
    "commands": _commands,
    "options": _options,
    "topologies": _topologies,
    "fact-kinds": _fact_kinds,
    "quantities": _quantities,
    "places": _places,
    "scenes": _scenes,
    "stage-kinds": _stage_kinds,
    "part-kinds": _part_kinds,
    "acts": _acts,
    "traits": _traits,
    "arrangements": _arrangements,
    "numbers": _numbers,
    "walk": walk_excerpt,
    "verdicts": sample_verdicts,
}
