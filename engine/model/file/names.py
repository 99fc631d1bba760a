"""Names in a model document: each given once, each spoken of exists, words from their lists."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import Protocol

from engine.model.absence import NO_REPAIR, UNENERGISED
from engine.model.file.finding import Finding, Path, quote
from engine.model.records import Model
from kb.language.nearest import alike

KINDS = (
    "repair", "outside", NO_REPAIR, "downgrade", "salvage", "scrap", "refuse", "connector",
)  # fmt: skip
SIGNALS = ("DANGER", "WARNING", "CAUTION", "NOTICE")
ENERGIES = (UNENERGISED, "elv", "hvdc", "mains")
FOLLOWS = ("go-on", "cold-first", "cold-only", "scrap", "refuse")


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


_DEPTHS = ("stage", "part")


def name_findings(model: Model) -> Iterator[Finding]:
    """Every trouble with names in a model."""
    yield from _doubles(model)
    yield from _references(model)
    yield from _test_references(model)
    yield from _check_requirements(model)
    yield from _manners(model)
    yield from _words(model)
    yield from _parents(model)
    yield from circles(
        {opening.id: opening.after for opening in model.openings}, "MD114", "openings", "after"
    )


def circles(
    after: Mapping[str, Sequence[str]], code: str, where: str, key: str
) -> Iterator[Finding]:
    """One finding for each name that comes, by `after`, before itself."""
    for index, name in enumerate(after):
        steps: set[str] = set()
        ahead = list(after[name])
        while ahead:
            step = ahead.pop()
            if step not in steps:
                steps.add(step)
                ahead.extend(after.get(step, ()))
        if name in steps:
            what = f'"{name}" comes before itself: its "{key}" goes round in a circle'
            yield Finding(code, (where, index, key), what, f'Break the circle in "{key}"')


def _doubles(model: Model) -> Iterator[Finding]:
    lists: list[tuple[Path, Sequence[_HasId]]] = [
        (("faults",), model.faults),
        (("remedies",), model.remedies),
        (("proofs",), model.proofs),
        (("cautions",), model.cautions),
        (("tests",), model.tests),
        (("openings",), model.openings),
        (("rigs",), model.rigs),
        (("supply", "arrangements"), model.supply.arrangements),
        (("entry",), model.entry),
        (("stages",), model.stages),
    ]
    for number, test in enumerate(model.tests):
        lists.append((("tests", number, "outcomes"), test.outcomes))
    for path, records in lists:
        yield from _twice(path, records)


def _twice(path: Path, records: Sequence[_HasId]) -> Iterator[Finding]:
    ids: set[str] = set()
    for index, record in enumerate(records):
        if not record.id.strip():
            yield Finding("MD106", (*path, index, "id"), "an id is empty", "Give it a name")
        if record.id in ids:
            what = f'the id "{record.id}" is given twice'
            yield Finding("MD111", (*path, index, "id"), what, "Rename one of the two")
        ids.add(record.id)


def _ids(records: Iterable[_HasId]) -> tuple[str, ...]:
    return tuple(record.id for record in records)


def _unknown(
    path: Path, names: Sequence[str], choices: Collection[str], kind: str
) -> Iterator[Finding]:
    for index, name in enumerate(names):
        if name not in choices:
            yield _nobody((*path, index), name, choices, kind)


def _nobody(path: Path, name: str, choices: Collection[str], kind: str) -> Finding:
    what = f'no {kind} is called "{name}"'
    near = alike(name, choices, 1)
    hint = f'Perhaps "{near[0]}" is meant; the' if near else "The"
    return Finding("MD112", path, what, f"{hint} {kind}s are: {quote(list(choices))}")


def _check_requirements(model: Model) -> Iterator[Finding]:
    """What remedies and tests require is shown by answers that there are."""
    answers = {test.id: _ids(test.outcomes) for test in model.tests}
    askers = [("remedies", n, r.requires) for n, r in enumerate(model.remedies)]
    askers += [("tests", n, t.requires) for n, t in enumerate(model.tests)]
    for where, n, requires in askers:
        for number, requirement in enumerate(requires):
            for name, outcomes in requirement.by.items():
                path: Path = (where, n, "requires", number, "by")
                if name not in answers:
                    yield _nobody((*path, name), name, tuple(answers), "test")
                else:
                    yield from _unknown((*path, name), outcomes, answers[name], "outcome")
    remedies = _ids(model.remedies)
    for n, test in enumerate(model.tests):
        if test.mends and test.mends not in remedies:
            yield _nobody(("tests", n, "mends"), test.mends, remedies, "remedy")


def _references(model: Model) -> Iterator[Finding]:
    faults, proofs = dict.fromkeys(_ids(model.faults)), _ids(model.proofs)
    cautions, supplies = _ids(model.cautions), _ids(model.supply.arrangements)
    openings, rigs = _ids(model.openings), _ids(model.rigs)
    for n, remedy in enumerate(model.remedies):
        yield from _unknown(("remedies", n, "cures"), remedy.cures, faults, "fault")
        yield from _unknown(("remedies", n, "proofs"), remedy.proofs, proofs, "proof")
        yield from _unknown(("remedies", n, "cautions"), remedy.cautions, cautions, "caution")
    for n, proof in enumerate(model.proofs):
        if proof.supply not in supplies:
            yield _nobody(("proofs", n, "supply"), proof.supply, supplies, "arrangement")
        yield from _unknown(("proofs", n, "opened"), proof.opened, openings, "opening")
        yield from _unknown(("proofs", n, "cautions"), proof.cautions, cautions, "caution")
    for n, opening in enumerate(model.openings):
        yield from _unknown(("openings", n, "after"), opening.after, openings, "opening")
        yield from _unknown(("openings", n, "cautions"), opening.cautions, cautions, "caution")
    for n, rig in enumerate(model.rigs):
        yield from _unknown(("rigs", n, "cautions"), rig.cautions, cautions, "caution")
    for n, arrangement in enumerate(model.supply.arrangements):
        path = ("supply", "arrangements", n, "cautions")
        yield from _unknown(path, arrangement.cautions, cautions, "caution")
    for n, store in enumerate(model.stores):
        exposing = store.exposed_by or ()
        yield from _unknown(("stores", n, "exposed_by"), exposing, openings, "opening")
    yield from _unknown(("start", "opened"), model.start.opened, openings, "opening")
    if model.start.supply not in supplies:
        yield _nobody(("start", "supply"), model.start.supply, supplies, "arrangement")
    if model.start.rig not in rigs:
        yield _nobody(("start", "rig"), model.start.rig, rigs, "rig")
    yield from _supply_references(model, supplies)


def _supply_references(model: Model, supplies: Collection[str]) -> Iterator[Finding]:
    for old, row in model.supply.minutes.items():
        if old not in supplies:
            yield _nobody(("supply", "minutes", old), old, supplies, "arrangement")
        for new in row:
            if new not in supplies:
                yield _nobody(("supply", "minutes", old, new), new, supplies, "arrangement")


def _test_references(model: Model) -> Iterator[Finding]:
    faults, cautions = dict.fromkeys(_ids(model.faults)), _ids(model.cautions)
    openings, rigs = _ids(model.openings), _ids(model.rigs)
    supplies, tests = _ids(model.supply.arrangements), set(_ids(model.tests))
    for n, test in enumerate(model.tests):
        path: Path = ("tests", n)
        yield from _unknown((*path, "opened"), test.opened, openings, "opening")
        yield from _unknown((*path, "cautions"), test.cautions, cautions, "caution")
        if test.supply not in supplies:
            yield _nobody((*path, "supply"), test.supply, supplies, "arrangement")
        if test.rig not in rigs:
            yield _nobody((*path, "rig"), test.rig, rigs, "rig")
        outcomes = _ids(test.outcomes)
        for true, row in test.misread.items():
            for word in (true, *row):
                if word not in outcomes:
                    yield _nobody((*path, "misread", true), word, outcomes, "outcome")
    for name, rows in model.likelihood.items():
        if name not in tests:
            yield _nobody(("likelihood", name), name, tests, "test")
            continue
        outcomes = _ids(model.test(name).outcomes)
        for fault, row in rows.items():
            if fault not in faults:
                yield _nobody(("likelihood", name, fault), fault, faults, "fault")
            for word in row:
                if word not in outcomes:
                    yield _nobody(("likelihood", name, fault, word), word, outcomes, "outcome")


def _manners(model: Model) -> Iterator[Finding]:
    faults, tests = set(_ids(model.faults)), set(_ids(model.tests))
    for n, manner in enumerate(model.manners):
        path: Path = ("manners", n)
        if manner.fault not in faults:
            yield _nobody((*path, "fault"), manner.fault, faults, "fault")
        for name, row in manner.shows.items():
            if name not in tests:
                yield _nobody((*path, "shows", name), name, tests, "test")
                continue
            outcomes = _ids(model.test(name).outcomes)
            for word in row:
                if word not in outcomes:
                    yield _nobody((*path, "shows", name, word), word, outcomes, "outcome")


def _words(model: Model) -> Iterator[Finding]:
    yield from _word(("depth",), model.depth, _DEPTHS)
    for n, remedy in enumerate(model.remedies):
        yield from _word(("remedies", n, "kind"), remedy.kind, KINDS)
    for n, caution in enumerate(model.cautions):
        yield from _word(("cautions", n, "signal"), caution.signal, SIGNALS)
    for n, arrangement in enumerate(model.supply.arrangements):
        yield from _word(("supply", "arrangements", n, "energy"), arrangement.energy, ENERGIES)
    for n, question in enumerate(model.entry):
        for answer, follows in question.answers.items():
            yield from _word(("entry", n, "answers", answer), follows, FOLLOWS)


def _word(path: Path, word: str, choices: Sequence[str]) -> Iterator[Finding]:
    if word not in choices:
        what = f'"{word}" is not a word for this'
        yield Finding("MD113", path, what, f"Write one of {', '.join(choices)}")


def _parents(model: Model) -> Iterator[Finding]:
    """A variant names a fault, or at least a group that another variant names too."""
    faults = dict.fromkeys(_ids(model.faults))
    groups = [fault.variant_of for fault in model.faults]
    for n, fault in enumerate(model.faults):
        parent = fault.variant_of
        if parent is not None and parent not in faults and groups.count(parent) < 2:
            yield _nobody(("faults", n, "variant_of"), parent, faults, "fault")
    parents = {f.id: () if f.variant_of is None else (f.variant_of,) for f in model.faults}
    yield from circles(parents, "MD115", "faults", "variant_of")
