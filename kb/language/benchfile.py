"""A shop's bench: the file `bench.yaml` in the folder of its own knowledge.

It tells what the bench has beyond the usual one and what it lacks, its own minutes, the spares in
stock, which stages are traced already, and what a minute and a unit are worth. It is no knowledge:
it says nothing of how units fail, and can't touch what keeps hands from harm.

Codes: KB121 can't be read; KB122 not a bench file; KB123 unknown word; KB124 a value that may not
stand there; KB125 a name nobody knows; KB126 it contradicts itself.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, ValidationError
from ruamel.yaml.error import YAMLError

from kb.language import constraints, lines, ownfolder, trees
from kb.language.knowledge import Knowledge
from kb.language.nearest import alike
from kb.language.schema.entry import Entry, Name
from kb.trouble import Place, Trouble, TroubleError

FORMAT: Literal["nextprobe-bench/1"] = "nextprobe-bench/1"
Factor = Annotated[float, Field(ge=0.25, le=4)]
Figure = Annotated[float, Field(ge=0.05, le=600)]
Money = Annotated[float, Field(ge=0, le=1_000_000)]
Named = Annotated[
    str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]*(/[A-Za-z0-9][A-Za-z0-9_.-]*)?$")
]
"""A name, or a topology and a name in it: `buck-lamp/driver`."""


class Minutes(Entry):
    """How quick the shop is: a factor, or figures in minutes that stand instead.

    Openings and remedies may be named with their topology before them, `buck-lamp/driver-out`.
    Proofs and cold checks keep their minutes.
    """

    factor: Factor = 1.0
    """Times the usual minutes, from 0.25 to 4."""
    actions: dict[Name, Figure] = Field(default_factory=dict)
    """Minutes of each check of an action (ohms, volts, watch ...), from 0.05 to 600."""
    openings: dict[Named, Figure] = Field(default_factory=dict)
    """Minutes of an opening."""
    remedies: dict[Named, Figure] = Field(default_factory=dict)
    """Minutes of a remedy."""


class Worth(Entry):
    """What a minute at the bench and a working unit of a topology are worth, in one currency."""

    minute: Money | None = None
    """What a minute at the bench is worth."""
    units: dict[Name, Money] = Field(default_factory=dict)
    """What a working unit is worth, by topology."""
    currency: Annotated[str, StringConstraints(max_length=12)] = ""
    """Which money that is."""


class ShopBench(Entry):
    """What a shop says of its bench: the file `bench.yaml` in its folder of knowledge."""

    format: Literal["nextprobe-bench/1"]
    """By which the file is known as a bench file."""
    has: tuple[Name, ...] = ()
    """Supply arrangements and instruments beyond the usual bench."""
    lacks: tuple[Name, ...] = ()
    """Supply arrangements and instruments of the usual bench that are not there."""
    minutes: Minutes = Minutes()
    """How quick the shop is."""
    spares: tuple[Named, ...] = ()
    """Boards in stock, `buck-lamp/driver`, or a donor unit, `buck-lamp`; rules see them as facts
    `spare`."""
    traced: dict[Name, tuple[Name, ...]] = Field(default_factory=dict)
    """Stages whose wiring is known, by topology: they need no tracing."""
    worth: Worth = Worth()
    """What minutes and working units are worth."""


USUAL = ShopBench(format=FORMAT)
"""A bench of which nothing is said."""


@dataclass(frozen=True, slots=True)
class BenchFile:
    """A bench file as it was read: where it lies, what it says, and its words with their lines."""

    path: Path
    says: ShopBench
    words: Any = field(repr=False, compare=False, default=None)

    def place(self, *way: str | int) -> Place:
        """The line of a word, by the way to it: `("minutes", "actions", "ohms")`."""
        top = Place(str(self.path), 1, 1) if self.words is not None else Place(str(self.path))
        return lines.deepest(trees.with_marks(self.words), way, top)

    def spares_of(self, topology: str) -> frozenset[str]:
        """Names of its boards in stock; `unit` for a donor unit."""
        names = (spare.partition("/") for spare in self.says.spares)
        return frozenset(board or "unit" for unit, _, board in names if unit == topology)

    def traced_of(self, topology: str) -> frozenset[str]:
        """Its stages whose wiring the shop knows."""
        return frozenset(self.says.traced.get(topology, ()))


def path_in(folder: Path) -> Path:
    """Where the bench file of a folder lies, there or not."""
    return folder / ownfolder.BENCH


def of(folder: Path | None) -> BenchFile | None:
    """The bench file of a folder of one's own, None where there is none. As `read`."""
    path = path_in(folder) if folder is not None else None
    return read(path) if path is not None and path.is_file() else None


def read(path: Path) -> BenchFile:
    """A bench file, its shape checked; names are checked by `troubles`. TroubleError KB121-KB126"""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as wrong:
        line = str(wrong).splitlines()[0]
        raise _error("KB121", Place(str(path)), f"The bench file can't be read ({line})",
                     "Save it as UTF-8, with read permission") from wrong  # fmt: skip
    return parse(text, path)


def parse(text: str, path: Path) -> BenchFile:
    """As `read`, from the text that `path` holds."""
    words = _words(text, path)
    top = Place(str(path), 1, 1)
    if not isinstance(words, dict) or words.get("format") != FORMAT:
        where = lines.deepest(trees.with_marks(words), ("format",), top)
        raise _error(
            "KB122", where,
            f"{ownfolder.BENCH} in a folder of knowledge tells of the bench, and this does not "
            "begin as such a file does",
            f"Begin it with `format: {FORMAT}`; name a file of knowledge otherwise",
        )  # fmt: skip
    try:
        says = ShopBench.model_validate(words)
    except ValidationError as error:
        raise TroubleError(_shape(problem, words, top) for problem in error.errors()) from error
    bench = BenchFile(path, says, words)
    if wrong := tuple(_contradictions(bench)):
        raise TroubleError(wrong)
    return bench


def load_plain(plain: Mapping[str, Any], where: Path) -> BenchFile:
    """As `read`, from what was told elsewhere than in a file; `where` names that in messages."""
    try:
        bench = BenchFile(where, ShopBench.model_validate({"format": FORMAT, **plain}))
    except ValidationError as error:
        top = Place(str(where))
        raise TroubleError(_shape(problem, None, top) for problem in error.errors()) from error
    if wrong := tuple(_contradictions(bench)):
        raise TroubleError(wrong)
    return bench


def _words(text: str, path: Path) -> Any:
    try:
        return trees.load(text)
    except YAMLError as error:
        problem, mark = trees.trouble_of(error)
        place = Place(str(path), mark[0] + 1, mark[1] + 1) if mark else Place(str(path))
    raise _error("KB121", place, f"This is not valid YAML: {problem}",
                 "Look at the indentation, colons and quotes around this line")  # fmt: skip


def _error(code: str, place: Place, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code, place, what, mend))


_WORDS: Mapping[tuple[str, ...], type[Entry]] = {
    (): ShopBench, ("minutes",): Minutes, ("worth",): Worth,
}  # fmt: skip


def _shape(problem: Mapping[str, Any], words: Any, top: Place) -> Trouble:
    way = tuple(step for step in problem["loc"] if step != "[key]")
    where = lines.deepest(trees.with_marks(words), way, top)
    name = ".".join(str(step) for step in way)
    if problem["type"] == "extra_forbidden":
        shape = _WORDS.get(tuple(str(step) for step in way[:-1]), ShopBench)
        mend = _nearest(str(way[-1]), tuple(shape.model_fields))
        return Trouble("KB123", where, f"A bench file has no word '{name}'", mend)
    value = problem.get("input")
    says = f" (it says {value!r})" if isinstance(value, (str, int, float, bool)) else ""
    return Trouble(
        "KB124",
        where,
        f"'{name}' is not what may stand there{says}: {constraints.in_words(problem)}",
        "See the part on the bench file on the page of the knowledge for what may stand here",
    )


def _contradictions(bench: BenchFile) -> Iterator[Trouble]:
    says = bench.says
    for number, thing in enumerate(says.lacks):
        if thing in says.has:
            yield Trouble(
                "KB126",
                bench.place("lacks", number),
                f"'{thing}' stands under has and lacks",
                "Take it out of one of the two",
            )
    lists: dict[tuple[str, ...], tuple[str, ...]] = {
        ("has",): says.has, ("lacks",): says.lacks, ("spares",): says.spares,
    }  # fmt: skip
    lists |= {("traced", name): stages for name, stages in says.traced.items()}
    for way, names in lists.items():
        for number, name in enumerate(names):
            if name in names[:number]:
                yield Trouble(
                    "KB126",
                    bench.place(*way, number),
                    f"'{name}' stands twice under {way[-1]}",
                    "Take one of them out",
                )


def troubles(bench: BenchFile, knowledge: Knowledge) -> Iterator[Trouble]:
    """Each name of a bench file that the knowledge doesn't have: KB125."""
    says, units = bench.says, knowledge.topologies
    things = lackable(knowledge)
    for section, names in (("has", says.has), ("lacks", says.lacks)):
        for number, name in enumerate(names):
            yield from _check_name(bench, name, things, "supply or instrument", section, number)
    actions = tuple(knowledge.actions)
    for name in says.minutes.actions:
        yield from _check_name(bench, name, actions, "action of a test", "minutes", "actions", name)
    openings = [f"{unit}/{o}" for unit, t in units.items() for o in t.openings]
    for name in says.minutes.openings:
        choices = (*openings, *dict.fromkeys(o.partition("/")[2] for o in openings))
        yield from _check_name(bench, name, choices, "opening", "minutes", "openings", name)
    for name in says.minutes.remedies:
        yield from _remedy(bench, name, knowledge)
    spares = (*units, *(f"{unit}/{board}" for unit, t in units.items() for board in t.boards))
    for number, name in enumerate(says.spares):
        yield from _check_name(bench, name, spares, "unit or board of one", "spares", number)
    for section, entries in (("traced", says.traced), ("worth", says.worth.units)):
        way = (section,) if section == "traced" else (section, "units")
        for name in entries:
            yield from _check_name(bench, name, tuple(units), "topology", *way, name)
    for unit, stages in says.traced.items():
        for number, stage in enumerate(stages if unit in units else ()):
            choices = tuple(units[unit].stages)
            what = f"stage of {unit}"
            yield from _check_name(bench, stage, choices, what, "traced", unit, number)


def lackable(knowledge: Knowledge) -> tuple[str, ...]:
    """What a bench may have or lack: supply arrangements but the dead one, and instruments."""
    supplies = (name for name, a in knowledge.arrangements.items() if a.energy != "none")
    return (*supplies, *knowledge.instruments)


def unusual(knowledge: Knowledge) -> frozenset[str]:
    """What a bench has only where it says so."""
    supplies = (name for name, a in knowledge.arrangements.items() if not a.usual)
    instruments = (name for name, entry in knowledge.instruments.items() if not entry.usual)
    return frozenset((*supplies, *instruments))


def lacking(
    knowledge: Knowledge,
    having: Collection[str] = (),
    without: Collection[str] = (),
    file: BenchFile | None = None,
) -> frozenset[str]:
    """What a bench is without: what is not usual and nobody says it has, and what it lacks.

    What is said for this once (`having`, `without`) goes before what the file says.
    """
    has, lacks = (file.says.has, file.says.lacks) if file is not None else ((), ())
    absent = unusual(knowledge).difference(having, has)
    return absent.union(set(lacks).difference(having), without)


def _check_name(
    bench: BenchFile, name: str, names: tuple[str, ...], what: str, *way: str | int
) -> Iterator[Trouble]:
    if name not in names:
        mend = _nearest(name, names)
        yield Trouble("KB125", bench.place(*way), f"'{name}' is no {what} that is known", mend)


def _remedy(bench: BenchFile, name: str, knowledge: Knowledge) -> Iterator[Trouble]:
    """A remedy's name is made by a rule out of the unit's parts: `renew-{p}`."""
    unit, _, bare = name.rpartition("/")
    where = bench.place("minutes", "remedies", name)
    if unit and unit not in knowledge.topologies:
        mend = _nearest(unit, tuple(knowledge.topologies))
        yield Trouble("KB125", where, f"'{unit}' is no topology that is known", mend)
    shapes = remedies(knowledge)
    if not is_remedy(name, knowledge):
        yield Trouble(
            "KB125",
            where,
            f"'{bare}' is no remedy that a rule offers",
            f"Remedies are called: {', '.join(shapes)}, with the part or board in place of the "
            "letter",
        )


def remedies(knowledge: Knowledge) -> tuple[str, ...]:
    """The names of remedies as rules shape them: `renew-{p}`."""
    names = (
        str(clause["remedy"].get("name", ""))
        for rule in knowledge.rules.values()
        for clause in rule.then
        if "remedy" in clause
    )
    return tuple(dict.fromkeys(names))


def is_remedy(name: str, knowledge: Knowledge) -> bool:
    """Whether some rule could offer a remedy of that name, its topology before it or not."""
    bare = name.rpartition("/")[2]
    return any(re.fullmatch(_pattern(shape), bare) for shape in remedies(knowledge))


def _pattern(shape: str) -> str:
    return ".+".join(re.escape(text) for text in re.split(r"\{[^}]*\}", shape))


def _nearest(name: str, names: Collection[str]) -> str:
    near = alike(name, names, 1)
    return f"Write {near[0]}" if near else f"Write one of: {', '.join(names)}"
