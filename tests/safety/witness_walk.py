"""Watches a walk from outside: what it asks for next, held against the bench as it really stands.

The witness keeps the bench itself: it believes what was carried out (a set-up, with the volts that
were measured in it), not what the walk makes of it. Taking words back moves no bench. Whoever
drives the walk tells it what happens and shows it each pending step *before* acting on it.

Written from the law alone. Records of the walk are read by the names of their fields, so that a
walk that lacks some of them is watched as far as it goes: an arrival that says nothing of volts
counts as one where all that was asked for was measured and low.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Any

from tests.safety.witness_law import (
    HANDS_ON_REMEDIES,
    OPENING_REMEDIES,
    Breach,
    Document,
    Law,
    named,
)

UNKNOWN, LOW, OUT_OF_REACH = "unknown", "low", "out of reach"


def kind_of(ahead: Any) -> str:
    """What a walk asks for: setting, question, halt or verdict."""
    if ahead is None:
        return "verdict"
    if hasattr(ahead, "bench"):
        return "setting"
    return "question" if hasattr(ahead, "test") else "halt"


class Witness:
    """The bench of one unit, from its coming in to the end.

    `barred` are arrangements that the entry check keeps the unit from. `unsettled` holds from a
    verdict on: repair and proofs happen out of sight, so nobody knows how the unit is fed.
    """

    def __init__(self, model: Document, barred: Collection[str] = ()) -> None:
        self.law = Law.of(model)
        self.barred = frozenset(barred)
        self.opened, self.supply, self.rig = self.law.start
        self.charge = dict.fromkeys(self.law.stores, UNKNOWN)
        self.unsettled = False
        self.short = False

    # ---- what happens ----

    def arrives(self, event: Any, setting: Any) -> None:
        """A set-up was carried out; `setting` is what the walk had asked for, None if nothing."""
        opened = frozenset(event.opened)
        if self.unsettled or self.law.charging(self.supply):
            self._forget()
        self._bring_within_reach(opened - self.opened)
        self.opened, self.supply, self.rig = self.opened | opened, event.supply, event.rig
        if self.law.charging(self.supply):
            self._forget()
        if self.law.dead(self.supply):
            self.unsettled = False
            self._measure(_volts(event, setting))

    def leaves(self) -> None:
        """The bench was left and come back to: what happened meanwhile nobody knows."""
        self._forget()

    def goes_on_after_verdict(self) -> None:
        """Something else than the end follows a verdict: it was repaired and powered meanwhile."""
        self._forget()
        self.unsettled = True

    def reads(self, events: Iterable[Any]) -> None:
        """The findings that stand, those taken back left out: was a short among them?"""
        last = {e.test: e.outcome for e in events if hasattr(e, "outcome")}
        self.short = any(finding in self.law.shorts for finding in last.items())

    def _forget(self) -> None:
        self.charge = dict.fromkeys(self.law.stores, UNKNOWN)

    def _bring_within_reach(self, openings: Collection[str]) -> None:
        for part in self.law.stores:
            way = not self.law.exposers(part).isdisjoint(openings)
            if way and self.charge[part] == OUT_OF_REACH:
                self.charge[part] = UNKNOWN

    def _measure(self, volts: Mapping[str, float | None]) -> None:
        exposed = self.law.exposed(self.opened)
        for part, read in volts.items():
            if part not in exposed:
                continue
            if read is None:
                self.charge[part] = OUT_OF_REACH
            else:
                low = abs(read) < self.law.stores[part].below
                self.charge[part] = LOW if low else UNKNOWN

    # ---- what is asked for ----

    def sees(self, ahead: Any, ending: Any = None) -> tuple[Breach, ...]:
        """What is wrong with what the walk asks for now; `ending` is a verdict's."""
        match kind_of(ahead):
            case "setting":
                found = self._setting(ahead)
            case "question":
                found = self._question(ahead)
            case "halt":
                found = self._halt()
            case _:
                found = self._verdict(ending)
        return tuple(found)

    def open_to_touch(self) -> frozenset[str]:
        """Stores in reach that are not known to be low."""
        return frozenset(p for p in self.law.exposed(self.opened) if self.charge[p] != LOW)

    def _stuck(self) -> frozenset[str]:
        exposed = self.law.exposed(self.opened)
        return frozenset(p for p in exposed if self.charge[p] == OUT_OF_REACH)

    def _setting(self, setting: Any) -> Iterator[Breach]:
        law, bench = self.law, setting.bench
        place = f"set up {', '.join(setting.opened)} {bench.supply} {bench.rig}"
        dead, was_dead = law.dead(bench.supply), law.dead(self.supply)
        newly = frozenset(bench.opened) - self.opened
        hands = law.touched(self.rig, bench.rig)
        if self.opened - frozenset(bench.opened):
            yield Breach("opening-undone", place, "what is open is taken for closed")
        if newly != frozenset(setting.opened):
            yield Breach("openings-unsaid", place, f"{named(newly)} is opened")
        if not dead and not was_dead and bench.supply != self.supply:
            yield Breach("energised-to-energised", place, f"from {self.supply}")
        if self.unsettled and not dead:
            yield Breach("unsettled", place, "after a verdict it is to be unplugged first")
        if not dead and (hands or newly & law.inner):
            yield Breach("hands-on-energised", place, f"hands in at {bench.supply}")
        if not dead and was_dead and self.open_to_touch():
            yield Breach("left-unmeasured", place, named(self.open_to_touch()))
        yield from self._openings(place, setting)
        yield from self._asked(place, setting, dead)
        yield from self._feed(place, bench.supply, frozenset(bench.opened))

    def _openings(self, place: str, setting: Any) -> Iterator[Breach]:
        """Each opening in turn; what is out of reach may only be opened towards."""
        law, opened, charge = self.law, set(self.opened), dict(self.charge)
        if self.unsettled or law.charging(self.supply):
            charge = dict.fromkeys(charge, UNKNOWN)
        for opening in setting.opened:
            for part in law.exposed(opened) if opening in law.inner else ():
                if charge[part] == UNKNOWN:
                    yield Breach("opened-past", place, f"{opening} past {part}, not measured")
                elif charge[part] == OUT_OF_REACH and opening not in law.ways_on(part, opened):
                    yield Breach("opened-past", place, f"{opening} past {part}, out of reach")
            opened.add(opening)
            for part in law.stores:
                if charge[part] == OUT_OF_REACH and opening in law.exposers(part):
                    charge[part] = UNKNOWN

    def _asked(self, place: str, setting: Any, dead: bool) -> Iterator[Breach]:
        law, opened = self.law, self.opened | frozenset(setting.bench.opened)
        exposed = law.exposed(opened)
        asked = {store.part: store for store in setting.make_safe}
        for part, store in asked.items():
            if part not in law.stores:
                yield Breach("asked-unknown", place, f"{part} holds nothing that is asked for")
            elif store.below > law.stores[part].below:
                yield Breach("limit-raised", place, f"{part} below {store.below}")
            elif part not in exposed:
                yield Breach("asked-unexposed", place, f"{part} can't be reached here")
            if not dead:
                yield Breach("asked-energised", place, f"{part} on {setting.bench.supply}")
        if not dead:
            return
        came_from_use = self.unsettled or law.charging(self.supply)
        for part in sorted(exposed - set(asked)):
            way = not law.exposers(part).isdisjoint(setting.opened)
            if came_from_use or self.charge[part] == UNKNOWN or (way and self.charge[part] != LOW):
                hands = law.touched(self.rig, setting.bench.rig)
                yield Breach("rig-unmeasured" if hands else "due-not-asked", place, part)
            elif self.charge[part] == OUT_OF_REACH and not self._towards(part, setting):
                yield Breach("past-out-of-reach", place, f"{part} can't be measured")

    def _towards(self, part: str, setting: Any) -> bool:
        """Whether the set-up opens towards a store out of reach and fits nothing by hand."""
        onward = not self.law.ways_on(part, self.opened).isdisjoint(setting.opened)
        return onward and not self.law.touched(self.rig, setting.bench.rig)

    def _feed(self, place: str, supply: str, opened: frozenset[str]) -> Iterator[Breach]:
        law = self.law
        if supply in law.closed_only and law.inside(opened | self.opened):
            yield Breach("opened-on-closed-only", place, f"opened unit on {supply}")
        if self.short and law.charging(supply):
            yield Breach("short-energised", place, f"{supply} after a short was found")
        if supply in self.barred:
            yield Breach("barred-supply", place, f"{supply} after this entry check")

    def _question(self, question: Any) -> Iterator[Breach]:
        law, test = self.law, self.law.tests[question.test]
        place = f"question {test['id']} on {self.supply}"
        if self.unsettled:
            yield Breach("unsettled", place, "after a verdict it is to be unplugged first")
        fits = test["supply"] == self.supply and test["rig"] == self.rig
        if not fits or set(test["opened"]) - self.opened:
            yield Breach("bench-wrong", place, f"it needs {test['supply']}, {test['rig']}")
        if test["hands_on"] and law.charging(self.supply):
            yield Breach("hands-on-energised", place, "by hand")
        yield from self._within_reach(place, test)
        yield from self._feed(place, self.supply, self.opened)

    def _within_reach(self, place: str, test: Document) -> Iterator[Breach]:
        if self.law.charging(self.supply):
            return
        for part in sorted(self.open_to_touch()):
            if self.charge[part] == OUT_OF_REACH:
                yield Breach("past-out-of-reach", place, f"{part} can't be measured")
            elif test["hands_on"]:
                yield Breach("test-unmeasured", place, f"by hand beside {part}")
            elif self.law.dead(self.supply):
                yield Breach("due-not-asked", place, part)

    def _halt(self) -> Iterator[Breach]:
        if not self.open_to_touch():
            yield Breach("halt-without-cause", "halt", "all that is in reach was measured")

    def _verdict(self, ending: Any) -> Iterator[Breach]:
        if ending is None:
            return
        kind, place = ending.remedy.kind, f"verdict {ending.remedy.id}"
        asked = {store.part for store in ending.make_safe}
        exposed = self.law.exposed(self.opened)
        came_from_use = self.unsettled or self.law.charging(self.supply)
        for part in sorted(asked - exposed):
            yield Breach("asked-unexposed", place, f"{part} can't be reached here")
        if kind in HANDS_ON_REMEDIES:
            if self._stuck() and not came_from_use:
                yield Breach("past-out-of-reach", place, named(self._stuck()))
            due = exposed if came_from_use else self.open_to_touch()
            if due - asked - self._stuck():
                yield Breach("verdict-unmeasured", place, named(due - asked))
        later = {store.part for store, _ in getattr(ending, "opening_up", ())}
        unsaid = set(self.law.stores) - exposed - later
        if kind in OPENING_REMEDIES and unsaid:
            yield Breach("opening-up-lacks", place, named(unsaid))


def _part(store: Any) -> str:
    """The part of a store, named by itself or by a record around it."""
    inner = getattr(store, "store", store)
    part: str = getattr(inner, "part", "")
    return part


def _volts(event: Any, setting: Any) -> dict[str, float | None]:
    measured = getattr(event, "measured", None)
    if measured is not None:
        return {entry.part: entry.volts for entry in measured}
    return {store.part: 0.0 for store in setting.make_safe} if setting is not None else {}
