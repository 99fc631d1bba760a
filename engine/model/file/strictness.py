"""A document replayed under the laws: where it says less than is safe, the safer is taken, and a
note says so. A document may precede the words of safety, never replace them.

Nothing here can make a step bolder: hazards, cautions, stores and questions are added, hands are
seen where they are, supplies are told as they must be built.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from engine.model.absence import UNENERGISED
from engine.model.file.finding import Finding, quote
from engine.model.file.laws import RETURNED, inside, of_hands
from engine.model.file.limits import ANY_STORE, PEAK, TOUCH_VOLTS
from engine.model.file.names import FOLLOWS, SIGNALS
from engine.model.file.shipped import BEHIND_RCD, as_shipped, mandatory, tells
from engine.model.notes import EntryQuestion
from engine.model.records import Arrangement, Caution, Model, Proof, Remedy, Rig, Store, Test

CHARGED = ("mains", "hvdc")
_CAPACITOR = re.compile(r"C\d+[A-Za-z]?")


def make_strict(model: Model) -> tuple[Model, tuple[Finding, ...]]:
    """The model as it is worked with, and a note for each kind of thing that was put right.

    A model that was replayed once stays as it is.
    """
    notes: list[Finding] = []
    for put_right, code, path, what in _LAWS:
        stricter, names = put_right(model)
        if stricter != model:
            notes.append(Finding(code, (path,), f"{what}: {quote(names)}", "", grave=False))
        model = stricter
    return model, tuple(notes)


def _arrangement_words(model: Model) -> tuple[Model, list[str]]:
    """Each arrangement with the shipped words of how it is built."""
    arrangements = tuple(_arrangement(a) for a in model.supply.arrangements)
    names = [b.id for a, b in zip(model.supply.arrangements, arrangements, strict=True) if a != b]
    return replace(model, supply=replace(model.supply, arrangements=arrangements)), names


def _arrangement(own: Arrangement) -> Arrangement:
    stands = as_shipped().stands_for(own.id, own.energy, own.closed_only)
    words = own.says if stands.says in own.says else stands.says
    return replace(own, says=words, how=_after(own.how, stands.how))


def _after(own: str, standard: str) -> str:
    """The document's own words, then the shipped ones, unless they are there."""
    if standard in own:
        return own
    return f"{own.rstrip('. ')}. {standard}" if own.strip() else standard


def _entry_questions(model: Model) -> tuple[Model, list[str]]:
    """The shipped questions of the entry check first, their answers at least as grave."""
    own = {question.id: question for question in model.entry}
    standard = as_shipped().questions()
    first = {question.id: _graver(question, own.get(question.id)) for question in standard}
    if all(own.get(name) == question for name, question in first.items()):
        return model, []
    rest = tuple(question for question in model.entry if question.id not in first)
    names = [name for name, question in first.items() if own.get(name) != question]
    return replace(model, entry=(*first.values(), *rest)), names


def _graver(standard: EntryQuestion, own: EntryQuestion | None) -> EntryQuestion:
    if own is None:
        return standard
    answers = {
        answer: max(follows, own.answers.get(answer, follows), key=FOLLOWS.index)
        for answer, follows in standard.answers.items()
    }
    return replace(standard, answers=answers)


def _all_stores(model: Model) -> tuple[Model, list[str]]:
    """Every store asked for, every capacitor that the document names a store.

    Nobody can see in a document that a capacitor stays below the limit, so it is measured.
    """
    is_charged = any(a.energy in CHARGED for a in model.supply.arrangements)
    opens = any(opening.inside for opening in model.openings)
    if not is_charged or not opens:
        return model, []
    peak = round(PEAK * model.mains.volts)
    most = max(float(peak), TOUCH_VOLTS + 1.0)
    stores = [s if s.max_volts > s.below else replace(s, max_volts=most) for s in model.stores]
    parts = {store.part for store in stores}
    more = [part for part in _capacitors(model) if part not in parts]
    stores += [Store(part, most, part, TOUCH_VOLTS) for part in more]
    if not stores:
        stores = [Store(ANY_STORE[0], most, ANY_STORE[1], TOUCH_VOLTS)]
    names = [s.part for s in stores if s not in model.stores]
    return replace(model, stores=tuple(stores)), names


def _capacitors(model: Model) -> list[str]:
    """Parts with the letter code of capacitors (IEC 81346-2, IEEE 315) that the document names."""
    parts = [part for stage in model.stages for part in stage.parts]
    parts += [faulty.part for fault in model.faults for faulty in fault.parts]
    parts += [test.on for test in model.tests]
    return [part for part in dict.fromkeys(parts) if _CAPACITOR.fullmatch(part)]


def _hands(model: Model) -> tuple[Model, list[str]]:
    """Hands where hands are: rigs fitted inside, checks of a circuit that hands may touch."""
    energies = {a.id: a.energy for a in model.supply.arrangements}
    within = {test.rig for test in model.tests if inside(model, test.opened)}

    def rig_by_hand(rig: Rig) -> Rig:
        hands = rig.id in within and rig.id != model.start.rig and rig.minutes > 0
        return replace(rig, hands_on=True) if hands and not rig.hands_on else rig

    def test_by_hand(test: Test) -> Test:
        safe = energies[test.supply] in (UNENERGISED, "elv")
        hands = safe and (inside(model, test.opened) or of_hands(test))
        return replace(test, hands_on=True) if hands and not test.hands_on else test

    rigs, tests = tuple(map(rig_by_hand, model.rigs)), tuple(map(test_by_hand, model.tests))
    names = [r.id for r in rigs if r not in model.rigs] + [
        t.id for t in tests if t not in model.tests
    ]
    return replace(model, rigs=rigs, tests=tests), names


def _caution_words(model: Model) -> tuple[Model, list[str]]:
    """Cautions of shipped hazards with the shipped words and a signal word as grave."""
    cautions = tuple(_standing(caution) for caution in model.cautions)
    names = [new.id for old, new in zip(model.cautions, cautions, strict=True) if old != new]
    return replace(model, cautions=cautions), names


def _standing(caution: Caution) -> Caution:
    standard = mandatory(caution.hazard)
    if standard is None:
        return caution
    says = caution.says if tells(caution) else _after(caution.says, standard.says)
    signal = min(caution.signal, standard.signal, key=SIGNALS.index)
    return replace(caution, says=says, signal=signal)


def _step_cautions(model: Model) -> tuple[Model, list[str]]:
    """At each step the cautions of the hazards that its energy, its access and its hands bring."""
    hazards = _Hazards(model)
    stricter = replace(
        model,
        tests=tuple(hazards.at_test(test) for test in model.tests),
        rigs=tuple(hazards.at_rig(rig) for rig in model.rigs),
        remedies=tuple(hazards.at_remedy(remedy) for remedy in model.remedies),
        proofs=tuple(hazards.at_proof(proof) for proof in model.proofs),
        supply=replace(
            model.supply,
            arrangements=tuple(map(hazards.at_arrangement, model.supply.arrangements)),
        ),
    )
    return replace(stricter, cautions=tuple(hazards.cautions)), hazards.put_in


class _Hazards:
    """The hazards that follow from energy, access and hands, and their cautions; adds what the
    document has not."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.cautions = list(model.cautions)
        self.put_in: list[str] = []
        self.arrangements = {a.id: a for a in model.supply.arrangements}
        self.stored = any(store.max_volts > store.below for store in model.stores)
        self.opens = any(opening.inside for opening in model.openings)

    def at_arrangement(self, own: Arrangement) -> Arrangement:
        hazards = [*self._energy(own), *(["stored-charge"] if self._dead(own.id) else [])]
        return replace(own, cautions=self._with(own.cautions, hazards))

    def at_test(self, test: Test) -> Test:
        hazards = [*self._energy(self.arrangements[test.supply]), *self._earthing(test.supply)]
        within = inside(self.model, test.opened) and self._touchable(test.supply)
        if self.stored and (within or (test.hands_on and self._dead(test.supply))):
            hazards.append("stored-charge")
        return replace(test, cautions=self._with(test.cautions, hazards))

    def at_rig(self, rig: Rig) -> Rig:
        within = any(t.rig == rig.id and inside(self.model, t.opened) for t in self.model.tests)
        hazards = ["stored-charge"] if rig.hands_on and self.stored and within else []
        return replace(rig, cautions=self._with(rig.cautions, hazards))

    def at_remedy(self, remedy: Remedy) -> Remedy:
        hazards = ["hot-iron"] if remedy.kind in RETURNED else []
        if self.stored and remedy.kind in (*RETURNED, "scrap", "salvage"):
            hazards.append("stored-charge")
        return replace(remedy, cautions=self._with(remedy.cautions, hazards))

    def at_proof(self, proof: Proof) -> Proof:
        hazards = [*self._energy(self.arrangements[proof.supply])]
        if self._dead(proof.supply):
            hazards.append("test-voltage")
        return replace(proof, cautions=self._with(proof.cautions, hazards))

    def _energy(self, arrangement: Arrangement) -> Iterator[str]:
        if arrangement.energy == "hvdc":
            yield "high-dc"
        elif arrangement.energy == "mains" and arrangement.closed_only:
            yield "mains-closed"
        elif arrangement.energy == "mains":
            yield "limited-mains"
            if self.opens:
                yield "live-led-board"

    def _earthing(self, supply: str) -> Iterator[str]:
        arrangement = self.arrangements[supply]
        if arrangement.energy == "mains" and not arrangement.closed_only:
            yield "mains-referenced" if supply == BEHIND_RCD else "no-rcd-protection"

    def _dead(self, supply: str) -> bool:
        return self.arrangements[supply].energy == UNENERGISED

    def _touchable(self, supply: str) -> bool:
        return self.arrangements[supply].energy in (UNENERGISED, "elv")

    def _with(self, own: Sequence[str], hazards: Iterable[str]) -> tuple[str, ...]:
        hazard_of = {caution.id: caution.hazard for caution in self.cautions}
        present = {hazard_of[name] for name in own}
        additions = [self._caution(hazard) for hazard in hazards if hazard not in present]
        return (*own, *dict.fromkeys(additions))

    def _caution(self, hazard: str) -> str:
        """The id of a caution of this hazard: the document's, else the shipped one put in."""
        if hazard not in self.put_in:
            self.put_in.append(hazard)
        for caution in self.cautions:
            if caution.hazard == hazard:
                return caution.id
        standard = mandatory(hazard)
        assert standard is not None  # the hazards of this class are all shipped ones
        ids = {caution.id for caution in self.cautions}
        name = standard.id
        while name in ids:
            name += "-as-shipped"
        self.cautions.append(replace(standard, id=name))
        return name


# What is put right, in this order, and the note of it.
_LAWS = (
    (_arrangement_words, "MD174", "supply", "told in the words of the shipped arrangement as well"),
    (_entry_questions, "MD171", "entry",
     "the shipped questions of the entry check are asked as well"),
    (_all_stores, "MD158", "stores", "measured before hands go in, though the document would not"),
    (_hands, "MD173", "tests", "taken for hands-on, though the document says otherwise"),
    (_caution_words, "MD172", "cautions", "the shipped words stand in the cautions as well"),
    (_step_cautions, "MD172", "cautions", "put in where the document leaves their hazards unsaid"),
)  # fmt: skip
