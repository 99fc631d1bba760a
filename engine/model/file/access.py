"""Supply, access and cautions of a model document: what could never be done, or never safely."""

from __future__ import annotations

from collections.abc import Iterator

from engine.model.absence import UNENERGISED
from engine.model.file.filling import LIVE_LED_BOARD, on_a_live_board
from engine.model.file.finding import Finding, Path
from engine.model.file.limits import ELV_VOLTS
from engine.model.records import Arrangement, Model, Test
from engine.model.setup import closure


def access_findings(model: Model) -> Iterator[Finding]:
    """Every trouble with supply arrangements, openings and what tests ask of them."""
    yield from _dead(model)
    for n, arrangement in enumerate(model.supply.arrangements):
        yield from _touchable(("supply", "arrangements", n), arrangement)
    yield from _start(model)
    arrangements = {arrangement.id: arrangement for arrangement in model.supply.arrangements}
    for n, test in enumerate(model.tests):
        if test.supply in arrangements:
            yield from _doable(("tests", n), model, test, arrangements[test.supply])
        yield from _check_cautions(("tests", n), model, test)
        yield from _check_openings(("tests", n), model, test)
    yield from _live(model)


def _dead(model: Model) -> Iterator[Finding]:
    dead = [a for a in model.supply.arrangements if a.energy == UNENERGISED]
    path: Path = ("supply", "arrangements")
    if len(dead) != 1:
        what = f'{len(dead)} arrangements have energy "none"'
        why = "Exactly one is unplugged, discharged and verified"
        yield Finding("MD151", path, what, 'Leave exactly one with energy "none"', why)
    elif not dead[0].hands_on or dead[0].closed_only:
        what = f'"{dead[0].id}" is the dead arrangement, yet hands or openings are barred from it'
        mend = "Write hands_on: true and closed_only: false for it"
        place = model.supply.arrangements.index(dead[0])
        yield Finding("MD152", (*path, place), what, mend)


def _touchable(path: Path, arrangement: Arrangement) -> Iterator[Finding]:
    if arrangement.energy in ("hvdc", "mains") and arrangement.hands_on:
        what = f'hands may not touch a circuit on {arrangement.energy} ("{arrangement.id}")'
        yield Finding("MD152", (*path, "hands_on"), what, "Write hands_on: false")
    if arrangement.energy == "elv" and arrangement.max_volts > ELV_VOLTS:
        what = f'"{arrangement.id}" is called elv, but reaches {arrangement.max_volts:g} V'
        mend = f"Call it hvdc, or keep it to {ELV_VOLTS:g} V"
        yield Finding("MD152", (*path, "energy"), what, mend, "Over 60 V DC is never touched")


def _start(model: Model) -> Iterator[Finding]:
    openings = set(model.start.opened)
    needs = {opening.id: opening.after for opening in model.openings}
    for name in model.start.opened:
        for before in needs.get(name, ()):
            if before not in openings:
                what = f'"{name}" is opened at the start, but "{before}", which it needs, is not'
                yield Finding("MD152", ("start", "opened"), what, f'Add "{before}"')
    for arrangement in model.supply.arrangements:
        if arrangement.id == model.start.supply and arrangement.closed_only and openings:
            what = f'the start is opened on "{arrangement.id}", which is for closed units only'
            yield Finding("MD152", ("start", "supply"), what, "Start unplugged")


def _doable(path: Path, model: Model, test: Test, arrangement: Arrangement) -> Iterator[Finding]:
    if test.hands_on and not arrangement.hands_on:
        what = f'test "{test.id}" is hands-on, but hands may not touch on "{arrangement.id}"'
        mend = "Do it in an arrangement with hands_on true, or write hands_on: false"
        yield Finding("MD153", (*path, "supply"), what, mend)
    if arrangement.closed_only and (test.opened or model.start.opened):
        what = (
            f'test "{test.id}" needs an opened unit on "{arrangement.id}"'
            if test.opened
            else (f'test "{test.id}" needs a closed unit, but the start is opened')
        )
        why = f'"{arrangement.id}" is for closed units only'
        mend = "Use an arrangement that is not closed_only"
        yield Finding("MD153", (*path, "supply"), what, mend, why)


def _check_cautions(path: Path, model: Model, test: Test) -> Iterator[Finding]:
    hazards = {caution.hazard for caution in model.cautions}
    for n, hazard in enumerate(test.hazards):
        if hazard not in hazards:
            what = f'no caution is about the hazard "{hazard}" of test "{test.id}"'
            mend = f'Add a caution with hazard "{hazard}"'
            yield Finding("MD154", (*path, "hazards", n), what, mend)


def _check_openings(path: Path, model: Model, test: Test) -> Iterator[Finding]:
    """A note where a test lists an opening without those that come before it."""
    names = {*test.opened, *(before for opening in model.openings for before in opening.after)}
    if not names <= {opening.id for opening in model.openings}:
        return  # told as an unknown name
    before = closure(model, frozenset(test.opened)) - set(test.opened)
    if before:
        missing = ", ".join(sorted(before))
        what = f'test "{test.id}" lists an opening, but not what must be opened first: {missing}'
        why = "It is planned and walked as if it did"
        yield Finding("MD155", (*path, "opened"), what, f"Add {missing}", why, grave=False)


def _live(model: Model) -> Iterator[Finding]:
    """A note where opened, energised work stands without the caution that is its own."""
    if any(caution.hazard == LIVE_LED_BOARD for caution in model.cautions):
        return
    ids = {arrangement.id for arrangement in model.supply.arrangements}
    for n, test in enumerate(model.tests):
        if test.supply in ids and test.opened and on_a_live_board(model, test):
            what = (
                f'test "{test.id}" is done on an opened unit on "{test.supply}", and no caution '
                f'is about the hazard "{LIVE_LED_BOARD}"'
            )
            mend = f'Add a caution with hazard "{LIVE_LED_BOARD}"; each such step then shows it'
            yield Finding("MD156", ("tests", n, "hazards"), what, mend, grave=False)
            return
