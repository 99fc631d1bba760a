"""Makes the parts of the documentation that can be made: tables of words and commands, printouts.

A block stands in a document between `<!-- made: NAME -->` and `<!-- end -->`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import EnumType
from pathlib import Path
from typing import Any, get_args, get_type_hints

import typer
from typer.core import TyperCommand

from engine import library
from kb.language import loader
from kb.language.knowledge import Knowledge
from kb.language.schema import FactKind
from render.cli.commands import app
from tests.docs import reference
from tests.docs.printouts import sample_verdicts, walk_check, walk_excerpt
from tests.docs.reference import table

ROOT = Path(__file__).parents[2]
DOCUMENTS = tuple(
    ROOT / name
    for name in (
        "README.md", "DEVELOPERS.md", "kb/README.md", "kb/REFERENCE.md", "kb/TUTORIAL.md",
        "samples/README.md",
    )
)  # fmt: skip
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


@dataclass(frozen=True)
class Option:
    """An option of a command: how it is written, what its help says, the words it takes."""

    written: tuple[str, ...]
    says: str
    choices: tuple[str, ...]


def options(command: str) -> Iterator[Option]:
    """Every option of a command but --help; no choices where it takes any word."""
    callbacks = {registered.name: registered.callback for registered in app.registered_commands}
    hints = get_type_hints(callbacks[command])
    for parameter in commands()[command].params:
        if parameter.param_type_name == "option" and "--help" not in parameter.opts:
            says = " ".join((parameter.help or "").split())  # type: ignore[attr-defined]
            yield Option(tuple(parameter.opts), says, _choices(hints[parameter.name or ""]))


def _choices(hint: Any) -> tuple[str, ...]:
    kinds = [kind for kind in (hint, *get_args(hint)) if isinstance(kind, EnumType)]
    return tuple(str(word.value) for kind in kinds for word in kind)


def _commands() -> str:
    rows = (
        (f"`nextprobe {name}`", (command.help or "").strip().splitlines()[0])
        for name, command in commands().items()
    )
    return table(("command", "what it does"), rows)


def _knowledge() -> Knowledge:
    return loader.read()


def _topologies() -> str:
    rows = ((f"`{note.id}`", note.says) for note in library.topologies())
    return table(("topology", "what it is"), rows)


def _field(kind: FactKind, name: str) -> str:
    """A field with what it holds, of what sort where that is no text, and whether it may lack."""
    marks = {"a number": kind.numbers, "true or false": kind.truths, "optional": kind.optional}
    own = [mark for mark, names in marks.items() if name in names]
    return f"`{name}` {kind.fields[name]}" + (f" ({', '.join(own)})" if own else "")


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
            ", ".join(_field(kind, name) for name in kind.fields),
            ", ".join(concluded.get(name, ())) or "given",
        )
        for name, kind in knowledge.facts.items()
    )
    return table(("fact", "says", "fields", "comes from"), rows)


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
    return table(("quantity", "what it is", "values, gravest first", "otherwise"), rows)


def _places() -> str:
    rows = ((f"`{name}`", w.says, w.lies) for name, w in _knowledge().place_words.items())
    return table(("place", "what stands there", "lies"), rows)


def _scenes() -> str:
    rows = (
        (f"`{name}`", scene.says, ", ".join(f"`{value}`" for value in scene.values))
        for name, scene in _knowledge().scenes.items()
    )
    return table(("scene", "what it is", "values, usual first"), rows)


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
    return table(("stage kind", "what it is", "family", "places (needed ones bold)"), rows)


def _stage_pages() -> str:
    """Each stage kind: what it assumes, its places, what it can't express."""
    pages = []
    for name, kind in _knowledge().stages.items():
        places = "\n".join(
            f"- `{place}`{' (needed)' if place in kind.needs else ''}: {says}; "
            f"{_knowledge().place_words[place].lies}"
            for place, says in kind.places.items()
        )
        limits = "\n".join(f"- {limit}" for limit in kind.cant_express)
        pages.append(
            f"### `{name}`: {kind.says}\n\n"
            f"**Before it**: {kind.assumes_before}. **Behind it**: {kind.assumes_behind}.\n\n"
            f"Its places:\n\n{places}\n\nWhat it can't express:\n\n{limits}"
        )
    return "\n\n".join(pages)


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
    return table(("part kind", "what it is", "traits", "failure modes"), rows)


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
    return table(("acts", "part kinds that can act so"), rows)


def _traits() -> str:
    users: dict[str, dict[str, None]] = {}
    for name, kind in _knowledge().parts.items():
        for trait in kind.traits:
            users.setdefault(trait, {})[name] = None
    rows = (
        (f"`{trait}`", ", ".join(f"`{name}`" for name in names))
        for trait, names in sorted(users.items())
    )
    return table(("trait", "part kinds that have it"), rows)


def _arrangements() -> str:
    rows = (
        (
            f"`{name}`", entry.says, entry.energy, f"`{entry.feeds}`", _yes(entry.hands_on),
            _yes(entry.closed_only), "always" if entry.energy == "none" else _has(entry.usual),
        )
        for name, entry in _knowledge().arrangements.items()
    )  # fmt: skip
    head = ("arrangement", "what it is", "energy", "feeds", "hands on", "closed only")
    return table((*head, "a bench has it"), rows)


def _instruments() -> str:
    rows = (
        (f"`{name}`", instrument.says, _has(instrument.usual))
        for name, instrument in _knowledge().instruments.items()
    )
    return table(("instrument", "what it is", "a bench has it"), rows)


def _doings() -> str:
    rows = (
        (f"`{name}`", word.says, _yes(word.hands), word.live, _yes(word.heat))
        for name, word in _knowledge().doings.items()
    )
    return table(("doing", "what is done", "hands in the circuit", "live", "hot iron"), rows)


def _actions() -> str:
    rows = ((f"`{name}`", word.says, word.hands) for name, word in _knowledge().actions.items())
    return table(("action", "what is done", "hands in the circuit"), rows)


def _has(usual: bool) -> str:
    return "yes, unless it says otherwise" if usual else "where it says so"


def _yes(truth: bool) -> str:
    return "yes" if truth else "no"


def _complaints() -> str:
    rows = ((f"`{name}`", complaint.says) for name, complaint in _knowledge().complaints.items())
    return table(("complaint", "what the owner reports"), rows)


def _hazards() -> str:
    told: dict[str, dict[str, None]] = {}
    for caution in _knowledge().cautions.values():
        told.setdefault(caution.hazard, {})[f"{caution.signal}: {caution.says}"] = None
    rows = ((f"`{hazard}`", " ".join(says)) for hazard, says in told.items())
    return table(("hazard", "its cautions"), rows)


def _numbers() -> str:
    rows = (
        (f"`{name}`", f"{number.value:g}", number.says, number.source)
        for name, number in _knowledge().numbers.items()
    )
    return table(("number", "value", "what it is", "source"), rows)


_MADE: Mapping[str, Callable[[], str]] = {
    "commands": _commands,
    "topologies": _topologies,
    "sections": reference.sections,
    "entries": reference.entries,
    "topology": reference.topology,
    "bench-file": reference.bench_file,
    "fact-kinds": _fact_kinds,
    "quantities": _quantities,
    "places": _places,
    "scenes": _scenes,
    "stage-kinds": _stage_kinds,
    "stage-pages": _stage_pages,
    "part-kinds": _part_kinds,
    "acts": _acts,
    "traits": _traits,
    "arrangements": _arrangements,
    "instruments": _instruments,
    "doings": _doings,
    "actions": _actions,
    "complaints": _complaints,
    "hazards": _hazards,
    "numbers": _numbers,
    "walk": walk_excerpt,
    "walk-check": walk_check,
    "verdicts": sample_verdicts,
}
