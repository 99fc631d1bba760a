"""What a model document may not say, whoever made it: the lies that the document itself shows.

Each is refused, with its place. What can be put right without asking is put right in
`engine.model.file.strictness`; what a document alone can't show is said on sheet and screen.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from engine.model.absence import NO_REPAIR, NO_STAGE, UNENERGISED
from engine.model.file.finding import Finding, Path
from engine.model.file.limits import COLD_CHECKS, TOUCH_VOLTS
from engine.model.file.shipped import as_shipped
from engine.model.records import Arrangement, Model, Proof, Remedy, Test

RETURNED = ("repair", "downgrade")
"""Remedies after which the mended unit goes back into use."""

UNTOUCHED = ("outside", NO_REPAIR)
"""Remedies after which the unit goes back as it came."""

_MAINS_WORDS = re.compile(
    r"\b(mains|sockets?|wall|outlet|line volt\w*|live|energi[sz]ed|plugged|switched on|powered)\b"
    r"|\b[1-9]\d{2,} ?V",
    re.IGNORECASE,
)
_SOCKET_WORDS = re.compile(
    r"\b(normal|bare|sockets?|wall|outlet|direct(ly)?|straight|unlimited|full|closed|in use)\b",
    re.IGNORECASE,
)
_HANDS = re.compile(
    r"\b(ohms?|ohmmeter|diode|continuity|ESR|inductance|capacitance|LCR|iron|soldering)\b",
    re.IGNORECASE,
)
_HANDS_UNITS = ("Ω", "kΩ", "MΩ", "mΩ", "ohm", "F", "nF", "µF", "pF", "H", "mH", "µH")


def law_findings(model: Model) -> Iterator[Finding]:
    """Every lie of a model about safety that shows in the model itself."""
    for n, arrangement in enumerate(model.supply.arrangements):
        yield from _arrangement(("supply", "arrangements", n), arrangement)
    yield from _openings(model)
    yield from _start(model)
    yield from _stores(model)
    energies = {a.id: a.energy for a in model.supply.arrangements}
    for n, test in enumerate(model.tests):
        yield from _test(("tests", n), model, test, energies.get(test.supply, ""))
    yield from _remedies(model)
    for n, proof in enumerate(model.proofs):
        yield from _proof(("proofs", n), model, proof)


def of_hands(test: Test) -> bool:
    """Whether its instrument or its unit is one that hands put to a dead circuit."""
    units = {outcome.unit for outcome in test.outcomes}
    return bool(_HANDS.search(test.instrument)) or not units.isdisjoint(_HANDS_UNITS)


def inside(model: Model, openings: tuple[str, ...]) -> bool:
    """Whether any of these openings brings hands inside the unit."""
    return any(opening.id in openings and opening.inside for opening in model.openings)


def _arrangement(path: Path, arrangement: Arrangement) -> Iterator[Finding]:
    namesake = as_shipped().arrangements.get(arrangement.id)
    name, energy = arrangement.id, arrangement.energy
    why = "Whoever works by it goes by the name"
    if namesake is not None and namesake.energy != energy:
        what = f'"{name}" is {namesake.energy}, not {energy}'
        mend = f"Write energy: {namesake.energy}, or give it another id"
        yield Finding("MD152", (*path, "energy"), what, mend, why)
    if namesake is not None and namesake.closed_only and not arrangement.closed_only:
        what = f'"{name}" is for closed units only'
        yield Finding("MD152", (*path, "closed_only"), what, "Write closed_only: true", why)
    text = f"{name.replace('-', ' ')} {arrangement.says}"
    if energy == UNENERGISED and arrangement.max_volts > 0:
        what = f'"{name}" is called dead, yet brings {arrangement.max_volts:g} V'
        mend = "Write what energy it has; only the unplugged unit has none, at 0 V"
        yield Finding("MD152", (*path, "max_volts"), what, mend)
    if energy in (UNENERGISED, "elv") and (word := _MAINS_WORDS.search(text)):
        what = f'"{name}" is called {energy}, yet its words speak of "{word.group()}"'
        mend = "Write what energy it has, or words that can't be taken for mains"
        yield Finding("MD152", (*path, "energy"), what, mend)
    is_limited = energy == "mains" and not arrangement.closed_only
    if is_limited and namesake is None and (word := _SOCKET_WORDS.search(text)):
        what = (
            f'opened units may stand on "{name}", yet its words speak of "{word.group()}": an '
            "opened unit meets mains through a series lamp only"
        )
        yield Finding("MD152", (*path, "closed_only"), what, "Write closed_only: true")


def _openings(model: Model) -> Iterator[Finding]:
    for n, opening in enumerate(model.openings):
        if not opening.inside and opening.id != COLD_CHECKS:
            what = f'"{opening.id}" is said to bring no hands inside'
            mend = f'Write inside: true; only "{COLD_CHECKS}" is no opening'
            yield Finding("MD152", ("openings", n, "inside"), what, mend)


def _start(model: Model) -> Iterator[Finding]:
    start = model.start
    energies = {a.id: a.energy for a in model.supply.arrangements}
    if energies.get(start.supply, UNENERGISED) != UNENERGISED:
        what = f'the unit comes in on "{start.supply}"'
        mend = "Start unplugged: what is energised is a step of the plan, with its cautions"
        yield Finding("MD152", ("start", "supply"), what, mend)
    if inside(model, start.opened):
        what = "the unit comes in opened, so nobody is told to measure what it holds"
        mend = "Write opened: []; openings are steps of the plan, with what they expose"
        yield Finding("MD152", ("start", "opened"), what, mend)
    for rig in model.rigs:
        if rig.id == start.rig and (rig.hands_on or rig.minutes > 0):
            what = f'the unit comes in with "{rig.id}" fitted'
            mend = "Start with a rig of 0 minutes that is nothing fitted"
            yield Finding("MD152", ("start", "rig"), what, mend)


def _stores(model: Model) -> Iterator[Finding]:
    real = {opening.id for opening in model.openings if opening.inside}
    for n, store in enumerate(model.stores):
        path: Path = ("stores", n)
        for key, text in (("part", store.part), ("point", store.point)):
            if not text.strip():
                what = f"the store has no {key}, so nobody can measure it"
                yield Finding("MD157", (*path, key), what, f"Write the {key}")
        if not 0 < store.below <= TOUCH_VOLTS:
            what = f'"{store.part}" would be touched at {store.below:g} V'
            mend = f"Write a limit over 0 V, of at most {TOUCH_VOLTS:g} V"
            yield Finding("MD157", (*path, "below"), what, mend)
        if store.exposed_by and real.isdisjoint(store.exposed_by):
            what = f'no opening that brings hands inside exposes "{store.part}"'
            mend = "Name the openings that do, or write null where that is not known"
            yield Finding("MD157", (*path, "exposed_by"), what, mend)


def _test(path: Path, model: Model, test: Test, energy: str) -> Iterator[Finding]:
    if energy in ("mains", "hvdc") and of_hands(test):
        what = f'test "{test.id}" puts an ohm, diode or component range to a circuit on {energy}'
        mend = "Do it in the dead arrangement"
        yield Finding("MD153", (*path, "supply"), what, mend)
    parts = {part for stage in model.stages for part in stage.parts}
    parts |= {faulty.part for fault in model.faults for faulty in fault.parts}
    if test.on in parts and not inside(model, test.opened):
        what = f'test "{test.id}" is done to {test.on}, inside a unit that nobody has opened'
        mend = "Name the openings it needs"
        yield Finding("MD153", (*path, "opened"), what, mend)


def _remedies(model: Model) -> Iterator[Finding]:
    faults = {fault.id: fault for fault in model.faults}
    beyond = {"outside", NO_STAGE} | {s.id for s in model.stages if s.family == "outside"}
    hazards = {caution.id: caution.hazard for caution in model.cautions}
    mains = any(a.energy == "mains" for a in model.supply.arrangements)
    for n, remedy in enumerate(model.remedies):
        path: Path = ("remedies", n)
        if remedy.kind in UNTOUCHED:
            targets = [faults[name] for name in remedy.cures if name in faults]
            within = [f.id for f in targets if f.parts and f.stage not in beyond]
            warnings = {hazards.get(c) for c in remedy.cautions} & {"hot-iron", "stored-charge"}
            if within or warnings:
                reason = f'cures "{within[0]}"' if within else f"warns of {min(map(str, warnings))}"
                what = f'"{remedy.id}" is called {remedy.kind}, yet {reason}, inside the unit'
                mend = "Write kind: repair and the proofs that follow it"
                yield Finding("MD163", (*path, "kind"), what, mend)
        elif remedy.kind in RETURNED:
            yield from _check_proofs(path, model, remedy, mains)


def _check_proofs(path: Path, model: Model, remedy: Remedy, mains: bool) -> Iterator[Finding]:
    if not remedy.proofs:
        what = f'{remedy.kind} "{remedy.id}" has no proof, and the unit would go back into use'
        mend = "Name the proofs that follow it, the last one closed up"
        yield Finding("MD162", path, what, mend)
        return
    proof_of = {proof.id: proof for proof in model.proofs}
    arrangements = {a.id: a for a in model.supply.arrangements}
    proofs = [proof_of[name] for name in remedy.proofs if name in proof_of]
    last = proofs[-1] if proofs else None
    if last is not None and last.supply in arrangements:
        is_closed = last.closed or arrangements[last.supply].closed_only
        if not is_closed or last.opened:
            what = f'"{last.id}", the last proof of "{remedy.id}", is not done closed up'
            yield Finding("MD162", (*path, "proofs"), what, "End with a proof of the closed unit")
    if mains and not any(_insulation(proof) for proof in proofs):
        what = f'"{remedy.id}" is followed by no test of the insulation'
        mend = 'Add a proof "insulation" in the dead arrangement'
        yield Finding("MD162", (*path, "proofs"), what, mend)


def _insulation(proof: Proof) -> bool:
    return "insulation" in f"{proof.id} {proof.says}".lower()


def _proof(path: Path, model: Model, proof: Proof) -> Iterator[Finding]:
    for arrangement in model.supply.arrangements:
        if arrangement.id != proof.supply:
            continue
        is_energised = arrangement.energy in ("mains", "hvdc")
        if proof.hands_on and is_energised:
            what = f'proof "{proof.id}" is hands-on, on "{proof.supply}"'
            yield Finding("MD163", (*path, "hands_on"), what, "Write hands_on: false")
        if proof.opened and arrangement.closed_only:
            what = f'proof "{proof.id}" is done opened on "{proof.supply}", for closed units only'
            yield Finding("MD163", (*path, "opened"), what, "Write opened: []")
        if _insulation(proof) and is_energised:
            what = f'proof "{proof.id}" tests the insulation of an energised unit'
            yield Finding("MD163", (*path, "supply"), what, "Do it in the dead arrangement")
