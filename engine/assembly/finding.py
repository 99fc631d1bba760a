"""Getting a probe onto the right part: what that adds to tests and rigs, and the openings it takes.

Whatever is done by hand at a part or point begins with finding it (`engine.deduce.whereabouts`). A
rig that is fitted there finds it once for all that is done in it; a test without such a rig finds
it itself. What only a drawing shows needs the tracing of its stage, which is made like an opening:
once, unplugged, behind whatever shows the stage. It brings nothing new within reach, so no store of
charge is exposed by it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from engine.deduce import anatomy, offers
from engine.deduce.deduction import Deduction
from engine.deduce.facts import Fact
from engine.model.finds import Find
from engine.model.records import Opening, Test
from engine.model.tracing import TRACING

LEAD = "lead"


@dataclass(frozen=True, slots=True)
class Search:
    """What finding something takes: minutes, the tracings it stands behind, and words.

    `fact` is the fact it follows from, None where nothing is looked for.
    """

    minutes: float = 0.0
    behind: tuple[str, ...] = ()
    says: str = ""
    fact: Fact | None = None

    def before(self, how: str) -> str:
        """Words for how something is done, the finding first."""
        return f"{self.says} {how}" if self.says else how


NOTHING = Search()


class Finder:
    """The searches of a deduced unit."""

    def __init__(self, deduction: Deduction) -> None:
        self._knowledge = deduction.knowledge
        self._finds = {(own.of_what, own.side): own for own in deduction.all(anatomy.Finding)}
        self._rigs = {rig.name: rig for rig in deduction.all(offers.Rig)}
        self._tests = {test.name: test for test in deduction.all(offers.Test)}
        self._tracings = deduction.all(anatomy.Tracing)
        self._leads = {lead.name: lead for lead in deduction.all(offers.Lead)}

    def of(self, name: str, side: str = "") -> Search:
        """What finding a part or point takes, or a stage's side; nothing for what is no such."""
        find = self._finds.get((name, side))
        if find is None:
            return NOTHING
        behind = (find.behind,) if find.behind else ()
        label = f"{name} {side}" if side else name
        return Search(find.minutes, behind, f"{label}: {find.where}.", find.fact)

    def of_rig(self, rig: str) -> Search:
        """What fitting a rig begins with: nothing where no hands come to the circuit for it."""
        offer = self._rigs.get(rig)
        if offer is None:
            return NOTHING
        word = self._knowledge.doings.get(offer.does)
        if word is None or not word.hands:
            return NOTHING
        on = offer.on
        return self.of(on) if (on, "") in self._finds else self.of(on, word.side)

    def of_test(self, test: offers.Test) -> Search:
        """What the hands look for in a test beyond its rig: nothing where it is only watched."""
        word = self._knowledge.actions.get(test.action)
        if (word is not None and word.hands == "never") or test.lead:
            return NOTHING
        rig = self._rigs.get(test.rig)
        at = test.on or test.point
        return NOTHING if rig is not None and rig.on == at else self.of(at)

    def openings(
        self, names: Collection[str], cautions: Mapping[str, tuple[str, ...]]
    ) -> tuple[Opening, ...]:
        """The tracings that any test needs, as openings."""
        return tuple(_opening(own, cautions) for own in self._tracings if own.name in names)

    def notes(self, tests: Iterable[Test]) -> tuple[Find, ...]:
        """What is looked for in these tests, their rigs and leads, and the tracings for it."""
        in_tests: defaultdict[Fact, list[str]] = defaultdict(list)
        in_rigs: defaultdict[Fact, dict[str, None]] = defaultdict(dict)
        names: set[str] = set()
        for test in tests:
            names.update(test.opened)
            search, rig_search = self.of_test(self._tests[test.id]), self.of_rig(test.rig)
            if search.fact is not None:
                in_tests[search.fact].append(test.id)
            if rig_search.fact is not None:
                in_rigs[rig_search.fact][test.rig] = None
        in_leads: defaultdict[Fact, list[str]] = defaultdict(list)
        for name, lead in self._leads.items():
            lead_find = self.of(lead.of_what).fact
            if name in names and lead_find is not None:
                in_leads[lead_find].append(name)
        in_each = (in_tests, in_rigs, in_leads)
        finds = [f for f in self._finds.values() if any(f.fact in uses for uses in in_each)]
        return (
            *(_find(find, *(tuple(uses[find.fact]) for uses in in_each)) for find in finds),
            *(_trace_find(own) for own in self._tracings if own.name in names),
        )

    def lead_of(self, test: offers.Test) -> tuple[str, ...]:
        """The lead that a test is read at, after the tracing that its point takes."""
        lead = test.lead
        return (*self.of(self._leads[lead].of_what).behind, lead) if lead else ()

    def leads(
        self,
        names: Collection[str],
        cautions: Mapping[str, tuple[str, ...]],
        chain_of: Callable[[str], tuple[str, ...]],
    ) -> Iterator[Opening]:
        """The points brought out for some test, each with the finding of it; `chain_of` gives an
        opening with all before it."""
        how = next((word.how for word in self._knowledge.doings.values() if word.how), "")
        for name, lead in self._leads.items():
            if name not in names:
                continue
            search = self.of(lead.of_what)
            after = (*chain_of(lead.behind)[-1:], *search.behind)
            yield Opening(
                name, lead.minutes + search.minutes, after, lead.says,
                search.before(how), cautions[name], kind=LEAD, of=lead.of_what,
            )  # fmt: skip


def _find(
    find: anatomy.Finding,
    tests: tuple[str, ...],
    rigs: tuple[str, ...],
    openings: tuple[str, ...],
) -> Find:
    return Find(
        " ".join(word for word in (find.of_what, find.side) if word), find.by,
        find.minutes, find.least, find.most, tests, rigs, openings,
    )  # fmt: skip


def _trace_find(tracing: anatomy.Tracing) -> Find:
    return Find(
        tracing.stage, "stage", tracing.minutes, tracing.least, tracing.most,
        openings=(tracing.name,),
    )  # fmt: skip


def _opening(tracing: anatomy.Tracing, cautions: Mapping[str, tuple[str, ...]]) -> Opening:
    return Opening(
        tracing.name, tracing.minutes, (tracing.behind,) if tracing.behind else (), tracing.says,
        tracing.how, cautions[tracing.name], kind=TRACING, stage=tracing.stage,
    )  # fmt: skip
