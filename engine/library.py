"""The way in for everything that shows knowledge: topologies, their models, checks, derivations.

Deducing takes seconds, so what it gives is kept in the user's cache folder, keyed by the hash of
all knowledge files and by what was asked. The long part (carrying every hypothesis through every
trial) is kept apart from the short one, which depends on complaint and depth.
"""

from __future__ import annotations

import hashlib
import json
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from engine.assembly import mixture, shop
from engine.assembly.pace import of_shop
from engine.assembly.portrait import Portrait, looks_of, portrait
from engine.assembly.shop import Shop
from engine.circuit import dictionary
from engine.model import tracing
from engine.model.complaints import complaints_of
from engine.model.file import recall
from engine.model.records import Mains, Model, document
from engine.readings import markings
from kb import cache
from kb.language import loader
from kb.language.benchfile import BenchFile, lackable
from kb.language.guards import cold_complaints
from kb.language.knowledge import Knowledge
from kb.language.lint import lint
from kb.quantities import Quantity
from kb.trouble import Place, Trouble, TroubleError

if TYPE_CHECKING:
    from engine.deduce.composition import Bench
    from engine.deduce.deduction import Deduction, Exploration, Reasoner
    from engine.deduce.hypotheses import Hypothesis

EXPLORED, MODELLED = "explored", "model"
_HERE = Path(__file__).parent
_REASONERS: deque[Reasoner] = deque(maxlen=2)
_SOUND: deque[Knowledge] = deque(maxlen=2)
"""The knowledge of the last models made and who reasons with it, by identity: what is read again
unchanged is the same object."""

NOT_OPENED = "not opened yet"
"""What one sees of a unit that nobody has opened yet, for lists."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class TopologyNote:
    """A topology's name and what it is."""

    id: str
    says: str
    looks: str = ""
    """What one sees and knows of the unit without opening it."""


def topologies(folders: tuple[Path, ...] = ()) -> tuple[TopologyNote, ...]:
    """All topologies, by name. TroubleError if the knowledge can't be read."""
    knowledge = loader.read(folders)
    return tuple(
        TopologyNote(name, topology.says, looks_of(knowledge, topology))
        for name, topology in sorted(knowledge.topologies.items())
    )


def unopened(folders: tuple[Path, ...] = ()) -> tuple[TopologyNote, ...]:
    """What units can be walked and charted that nobody has opened yet, and in words what each may
    turn out to be. TroubleError as `topologies`."""
    knowledge = loader.read(folders)
    members = {name: mixture.members_of(knowledge, name) for name in knowledge.unopened}
    return tuple(
        TopologyNote(name, f"{entry.says}: {', '.join(members[name])} or none", NOT_OPENED)
        for name, entry in knowledge.unopened.items()
        if members[name]
    )


def rules_stand_behind(topology: str, kb: Path | None = None) -> None:
    """Nothing for a topology; TroubleError KB710 for an unopened unit, which is several."""
    knowledge = loader.read((kb,) if kb is not None else ())
    if topology in knowledge.unopened:
        raise TroubleError(
            Trouble(
                "KB710", Place("command line"),
                f"No rules stand behind {topology} itself: its odds are those of what one sees, "
                "and of its topologies",
                f"Name one of: {', '.join(mixture.members_of(knowledge, topology))}",
            )
        )  # fmt: skip


def portrait_of(topology: str, model: Model, kb: Path | None = None) -> Portrait:
    """A topology for the eye, with the readings of its model. TroubleError as `topologies`."""
    return portrait(loader.read((kb,) if kb is not None else ()), topology, model)


def second_start(complaint: str | None, kb: Path | None = None) -> tuple[str, str] | None:
    """The complaint that a chart for this one has a second START for, by name and in words.

    None where no unit with this complaint is just plugged in, so that its one START will do.
    TroubleError if the knowledge can't be read.
    """
    knowledge = loader.read((kb,) if kb is not None else ())
    if cold_complaints(knowledge.rules.values()) & set(complaints_of(complaint)):
        return None
    for name, entry in knowledge.complaints.items():
        if entry.second_start:
            return name, entry.says
    return None


def listed_values(topology: str, mains: Mains, kb: Path | None = None) -> dict[str, Quantity]:
    """The values that a topology lists at these mains, by part; TroubleError as `topologies`."""
    knowledge = loader.read((kb,) if kb is not None else ())
    return markings.listed_values(knowledge, topology, mains.volts)


def model(
    topology: str,
    *,
    mains: Mains,
    depth: str = "part",
    complaint: str | None = None,
    kb: Path | None = None,
    having: frozenset[str] = frozenset(),
    without: frozenset[str] = frozenset(),
    traced: frozenset[str] = frozenset(),
    bench: BenchFile | None = None,
    marked: tuple[tuple[str, str], ...] = (),
    progress: Progress | None = None,
) -> Model:
    """The model of a topology, from the cache where knowledge and readings have not changed.

    The bench is the usual one with what is in `having` (`everything` for all there is) and what
    its file `bench` tells, less what is in `without`: supplies, instruments, tests, remedies.
    `traced` are stages whose wiring is known, `marked` values read off this very unit, by part.
    TroubleError for an unknown name, or knowledge that doesn't fit together.
    """
    folders = (kb,) if kb is not None else ()
    mains = Mains(float(mains.volts), float(mains.hertz))  # a whole number would hash otherwise

    def of_topology(name: str, under: str | None) -> Model:
        return model(
            name, mains=mains, depth=depth, complaint=under, kb=kb, having=having,
            without=without, bench=bench, progress=progress,
        )  # fmt: skip

    version = _version(folders)
    shop_bench = Shop(having, without, traced, bench)
    request = (topology, mains.volts, mains.hertz, shop_bench.key(topology), sorted(marked))
    key = (*request, depth, complaint, _readings_hash(topology, mains))
    file = cache.place(MODELLED, [version, key])
    if (text := cache.recall(file)) is not None:
        try:
            return _recalled(text, str(file))
        except TroubleError:  # of another shape: no news to the person
            cache.drop(file)
    knowledge = _sound_knowledge(folders, topology, complaint)
    if topology in knowledge.unopened:
        result = _mixed(knowledge, topology, complaint, of_topology)
    else:
        plain = shop_bench.bench(knowledge, topology, mains, complaint)
        there = replace(plain, markings=tuple(sorted(marked)))
        result = _deduce(knowledge, topology, there, depth, bench, version, progress)
    cache.keep(file, json.dumps(document(result), ensure_ascii=False, separators=(",", ":")))
    return result


def _mixed(
    knowledge: Knowledge,
    name: str,
    complaint: str | None,
    model_of: Callable[[str, str | None], Model],
) -> Model:
    """The model of a unit that nobody has opened yet. What going on in a topology takes is told by
    the first plan that the planner comes to: it is the same on every machine."""
    from engine.planner import plan

    members = []
    for topology in mixture.members_of(knowledge, name):
        complained = model_of(topology, complaint)
        weight = mixture.complaint_weight(model_of(topology, None), complained)
        cost = plan(complained, seconds=0.0).proof.expected_cost
        members.append(mixture.Member(complained, weight, round(cost, 1)))
    return mixture.mixture(knowledge, name, members, complaint)


@lru_cache(maxsize=16)
def _recalled(text: str, source: str) -> Model:
    """A kept model; of the same text the same one, so that what is derived of it can be kept."""
    return recall(text, source)


def everything(kb: Path | None = None) -> frozenset[str]:
    """All that a bench can have. TroubleError if the knowledge can't be read."""
    return shop.everything(loader.read((kb,) if kb is not None else ()))


def deduce(
    reasoner: Reasoner,
    topology: str,
    bench: Bench,
    kb: Path | None = None,
    progress: Progress | None = None,
) -> Deduction:
    """What the rules imply for a unit on a bench, its long part from the cache where that is fresh.

    `reasoner` reasons with the shipped knowledge and that of `kb`. TroubleError for knowledge that
    doesn't fit together.
    """
    version = _version((kb,) if kb is not None else ())
    exploration = _exploration(reasoner, topology, bench, version, progress)
    return reasoner.conclude(topology, bench, exploration)


def explain(
    topology: str,
    test: str,
    fault: str,
    *,
    mains: Mains,
    depth: str = "part",
    complaint: str | None = None,
    kb: Path | None = None,
    told: Shop = shop.USUAL,
) -> list[str]:
    """The chain of rules and facts behind one cell of the model, as lines of text."""
    from engine.assembly.derivation import tell

    folders = (kb,) if kb is not None else ()
    knowledge = _sound_knowledge(folders, topology, complaint)
    rules_stand_behind(topology, kb)
    reasoner = _reasoner(knowledge)
    bench = told.bench(knowledge, topology, mains, complaint)
    deduction = deduce(reasoner, topology, bench, kb)
    return list(tell(reasoner, deduction, test, fault))


def _deduce(
    knowledge: Knowledge,
    topology: str,
    bench: Bench,
    depth: str,
    file: BenchFile | None,
    version: str,
    progress: Progress | None,
) -> Model:
    # late: a model from the cache needs neither rules nor durable-rules
    from engine.assembly.builder import build

    reasoner = _reasoner(knowledge)
    exploration = _exploration(reasoner, topology, bench, version, progress)
    deduction = reasoner.conclude(topology, bench, exploration)
    readings = dictionary.read(topology, Mains(bench.volts, bench.hertz))
    result = of_shop(build(deduction, topology, bench, depth, readings), deduction, file)
    return tracing.with_drawings(result, bench.traced) if bench.traced else result


def _reasoner(knowledge: Knowledge) -> Reasoner:
    """The one that reasons with it, compiled once: a process makes several models of the same."""
    from engine.deduce.deduction import Reasoner

    for reasoner in tuple(_REASONERS):
        if reasoner.knowledge is knowledge:
            return reasoner
    reasoner = Reasoner(knowledge)
    _REASONERS.append(reasoner)
    return reasoner


def _exploration(
    reasoner: Reasoner, topology: str, bench: Bench, version: str, progress: Progress | None
) -> Exploration:
    from engine.deduce.deduction import Exploration
    from engine.deduce.hypotheses import Hypothesis

    # tests and remedies that a shop does without are left out at the end: nothing is supposed anew
    lacking = bench.without.intersection(lackable(reasoner.knowledge))
    key = (
        topology, bench.volts, bench.hertz, sorted(lacking), bench.markings, sorted(bench.spares),
        sorted(bench.traced),
    )  # fmt: skip
    file = cache.place(EXPLORED, [version, key])
    if (text := cache.recall(file)) is not None:
        try:
            plain = json.loads(text)
            return Exploration(
                tuple(_hypothesis(Hypothesis, h) for h in plain["hypotheses"]),
                tuple(_hypothesis(Hypothesis, h) for h in plain["latent"]),
                {(test, fault): value for test, fault, value in plain["shown"]},
                plain["in_use"],
                frozenset(plain["fired"]),
            )
        except (ValueError, KeyError, TypeError):
            cache.drop(file)
    exploration = reasoner.explore(topology, bench, progress)
    plain = {
        "hypotheses": [asdict(h) for h in exploration.hypotheses],
        "latent": [asdict(h) for h in exploration.latent],
        "shown": [[test, fault, value] for (test, fault), value in exploration.values.items()],
        "in_use": exploration.in_use,
        "fired": sorted(exploration.firings),
    }
    cache.keep(file, json.dumps(plain, ensure_ascii=False, separators=(",", ":")))
    return exploration


def _hypothesis(kind: type[Hypothesis], plain: dict[str, object]) -> Hypothesis:
    pairs = {
        name: tuple(tuple(pair) for pair in plain[name])  # type: ignore[attr-defined]
        for name in ("parts", "acts")
    }
    both = plain["brought"]
    return kind(**{**plain, **pairs, "brought": tuple(both) if both else None})  # type: ignore


def _sound_knowledge(
    folders: tuple[Path, ...], topology: str, complaint: str | None
) -> Knowledge:
    knowledge = loader.read(folders)
    if not any(knowledge is sound for sound in tuple(_SOUND)):
        troubles = [trouble for trouble in lint(knowledge) if trouble.grave]
        if troubles:
            raise TroubleError(troubles)
        _SOUND.append(knowledge)
    if topology not in knowledge.topologies and topology not in knowledge.unopened:
        raise TroubleError(
            Trouble(
                "KB701", Place("command line"), f"There is no topology '{topology}'",
                f"Write one of: {', '.join(sorted((*knowledge.topologies, *knowledge.unopened)))}",
            )
        )
    for one in complaints_of(complaint):
        if one in knowledge.complaints:
            continue
        raise TroubleError(
            Trouble(
                "KB702", Place("command line"), f"'{one}' is no complaint that is known",
                f"Write one of: {', '.join(knowledge.complaints)}",
            )
        )
    return knowledge


def _version(folders: tuple[Path, ...]) -> str:
    """Hash of all knowledge and of the code that reads it and reasons over it."""
    return hashlib.sha256((loader.fingerprint(folders) + _code()).encode()).hexdigest()


@lru_cache(maxsize=1)
def _code() -> str:
    """Hash of the code that a model depends on, all folders deep: what a running program has
    loaded does not change under it."""
    packages = ("deduce", "assembly", "model", "readings", "calc", "electrics", "evidence")
    rooms = (*(_HERE / name for name in packages), loader.SHIPPED / "language")
    return code_hash(rooms)


def code_hash(rooms: Iterable[Path]) -> str:
    """Hash of the Python files of these folders and of all folders within, names and bytes."""
    digest = hashlib.sha256()
    for room in rooms:
        for path in sorted(room.rglob("*.py")):
            digest.update(f"{room.name}/{path.relative_to(room).as_posix()}\0".encode())
            digest.update(path.read_bytes() + b"\0")
    return digest.hexdigest()


def _readings_hash(topology: str, mains: Mains) -> str:
    """Hash of the committed readings, which place a model's cut points: its own, or without any
    those of all, for an unopened unit has cut points of several."""
    file = dictionary.path(topology, mains)
    files = (file,) if file.is_file() else tuple(sorted(file.parent.glob("*.json")))
    return hashlib.sha256(b"".join(one.read_bytes() for one in files)).hexdigest()
