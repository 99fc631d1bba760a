"""Does the reviewer remark on each weakness, with its code, place and mend, and on nothing else?"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from engine import library
from engine.assembly.builder import build
from engine.deduce.deduction import Reasoner
from engine.studies.review import TOPICS, Review, circuits, review
from engine.studies.review.scope import Scope
from engine.studies.review.trying import BENCHES, Unit
from kb.language import loader
from kb.language.review import review as read_through
from kb.trouble import Place, Trouble
from render.cli.commands.check import lines
from tests.knowledge.reviewed import HUM_LAMP, RULES, STUCK_LAMP, WORDS
from tests.knowledge.shop import CORD_LAMP, KIND, folder
from tests.words.cli import Desk


@pytest.fixture(scope="module")
def bad(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder in which everything is wrong."""
    return folder(
        tmp_path_factory.mktemp("shop"),
        rules=RULES, words=WORDS, hum_lamp=HUM_LAMP, stuck_lamp=STUCK_LAMP,
    )  # fmt: skip


@pytest.fixture(scope="module")
def found(bad: Path) -> Review:
    """What the reviewer says of it."""
    return review(bad)


def of(found: Review, code: str) -> list[Trouble]:
    """The troubles of a code."""
    return [trouble for trouble in found.troubles if trouble.code == code]


# Code, a file of the folder, words of the sentence, whether it keeps the knowledge from being used.
REMARKS = [
    ("KB801", "rules.yaml", "Rule 'waits-for-ever' never fires", False),
    ("KB802", "rules.yaml", "'second-twin' concludes 'rig' from the same conditions", False),
    ("KB803", "rules.yaml", "'says-it-for-each-part' fires 3 times in hum-lamp", False),
    ("KB804", "rules.yaml", "Nobody can reach the test 'out-of-reach'", False),
    ("KB805", "rules.yaml", "The test 'deaf' of hum-lamp shows the same", False),
    ("KB806", "hum-lamp.yaml", "No test of hum-lamp sees the fault L7-hums", False),
    ("KB807", "hum-lamp.yaml", "L8-hums of hum-lamp is never suspected", False),
    ("KB808", "rules.yaml", "'untold' does not tell how it is done (`how`), what a good", False),
    ("KB809", "rules.yaml", "The test 'no-unit' has cut points, but no unit", True),
    ("KB809", "hum-lamp.yaml", "Part 'R1' (fusible resistor) has no value", False),
    ("KB810", "rules.yaml", "'a' (below 5) and 'b' (below 3) overlap", True),
    ("KB811", "rules.yaml", "The bands of the test 'holed' leave a gap: 'b' has no end", True),
    ("KB812", "words.yaml", "The share 0.9 of 'hummer' hums is not what its source says", False),
    ("KB813", "rules.yaml", "The source of 'hummers-hum' in rules names nothing: “???”", False),
    ("KB819", "words.yaml", "The fault L7-faint of hum-lamp (L7 (humming choke): hums", False),
    ("KB814", "hum-lamp.yaml", "AU301", True),
    ("KB815", "stuck-lamp.yaml", "once fired it would never let go", False),
    ("KB815", "stuck-lamp.yaml", "with every part sound it gives no light", False),
]


@pytest.mark.parametrize(("code", "file", "words", "grave"), REMARKS)
def test_each_weakness_is_remarked_on(
    bad: Path, found: Review, code: str, file: str, words: str, grave: bool
) -> None:
    """In a sentence, with file, line and what to do."""
    told = [t for t in of(found, code) if words in t.what and t.place.source == str(bad / file)]
    assert told, [str(t) for t in of(found, code)]
    assert told[0].grave == grave
    assert told[0].place.line > 0
    assert told[0].mend


@pytest.mark.parametrize("code", ["KB801", "KB802", "KB803", "KB812", "KB813"])
def test_what_is_in_order_is_not_remarked_on(found: Review, code: str) -> None:
    """One remark for the one mistake of its sort."""
    assert len(of(found, code)) == 1


def test_a_fault_left_out_is_told_at_its_mode(bad: Path, found: Review) -> None:
    """With how the part acts."""
    (told,) = [t for t in of(found, "KB819") if "L7-faint" in t.what]
    line = (bad / "words.yaml").read_text(encoding="utf-8").splitlines()[told.place.line - 1]
    assert line.strip().startswith("faint:")
    assert "acts 'weak'" in told.what


def test_a_misspelt_place_is_told_before_any_unit_is_deduced(tmp_path: Path) -> None:
    """With the nearest word; nobody waits for what would be told anyway."""
    doings: list[str] = []
    lamp = CORD_LAMP.replace("place: reservoir", "place: resevoir")
    own = folder(tmp_path, cord_lamp=lamp)
    told = review(own, doings.append).grave
    assert [trouble.code for trouble in told] == ["KB406"]
    assert "Write 'reservoir'" in told[0].mend
    assert not [words for words in doings if words.startswith("deducing")]


def test_what_is_shipped_is_not_blamed_on_a_folder(bad: Path, found: Review) -> None:
    """All remarks lead into it."""
    assert {Path(trouble.place.source).parent for trouble in found.troubles} == {bad}


def test_the_worst_comes_first(found: Review) -> None:
    """Errors, then by topic, with the number of each."""
    topics = [topic for topic, _ in found.by_topic()]
    assert topics == ["errors", *(topic for topic in TOPICS if topic in topics)]
    assert sum(len(troubles) for _, troubles in found.by_topic()) == len(found.troubles)


def test_only_what_a_folder_can_change_is_deduced(tmp_path: Path) -> None:
    """A topology and a part kind that no other uses leave the shipped ones alone."""
    own = folder(tmp_path, cord_lamp=CORD_LAMP, kind=KIND)
    assert Scope.of(loader.read((own,)), own).topologies() == ("cord-lamp",)


def test_a_rule_for_what_a_unit_has_is_tried_there(tmp_path: Path) -> None:
    """A thyristor stands in one shipped lamp."""
    rule = RULES.replace("is: perpetual", "is: gated").partition("  - id: first-twin")[0]
    rule = rule.replace("trait: {of: unit, is: shop-made}, ", "")
    own = folder(tmp_path, rules=rule)
    shipped = loader.read()
    gated = {
        name
        for name, topology in shipped.topologies.items()
        for stage in topology.stages.values()
        for part in stage.parts.values()
        if "gated" in shipped.parts[part.kind].traits
    }
    assert gated
    assert set(Scope.of(loader.read((own,)), own).topologies()) == gated


def test_what_replaces_what_is_told(tmp_path: Path) -> None:
    """With both places."""
    kind = KIND.replace("soft-start-thermistor", "varistor").replace("unit: ohm", "unit: V")
    own = folder(tmp_path, kind=kind.replace("[resistor, thermistor]", "[surge, resistor]"))
    told = [t for _, _, t in read_through(loader.read((own,))) if t.code == "KB816"]
    assert len(told) == 1
    assert "'varistor' of parts replaces the one at kb/parts/" in told[0].what
    assert not told[0].grave


def test_a_kind_of_fact_with_more_fields_replaces_nothing(tmp_path: Path) -> None:
    """All fields of both stand, and the note says so."""
    fact = loader.read().facts["watched"]
    fields = ", ".join(f"{name}: {says}" for name, says in fact.fields.items())
    entry = f"{{fact: watched, says: seen, fields: {{{fields}, by: who}}}}"
    own = folder(tmp_path, facts=f"facts:\n  - {entry}\n")
    (told,) = [t for _, _, t in read_through(loader.read((own,))) if t.code == "KB816"]
    assert "'watched' of facts adds its fields to the one at kb/words/facts.yaml" in told.what


def test_a_share_may_be_a_part_of_the_published_one_if_its_source_says_so(tmp_path: Path) -> None:
    """Not more than it."""
    text = KIND.replace('thermistor"', 'thermistor .63, scaled to the 0.8 left"')
    texts = {"less": text.replace("share: 0.63", "share: 0.50"),
             "more": text.replace("share: 0.63", "share: 0.70")}  # fmt: skip
    codes = {}
    for name, changed in texts.items():
        own = folder(tmp_path / name, kind=changed)
        notes = read_through(loader.read((own,)))
        codes[name] = [t.code for _, entry, t in notes if entry == "soft-start-thermistor"]
    assert codes == {"less": [], "more": ["KB812"]}


def test_rules_and_circuit_that_disagree_are_told() -> None:
    """A cell turned round in the model is found against its circuit, with both derivations."""
    known, bench = loader.read(), BENCHES[0]
    made = library.deduce(Reasoner(known), "buck-lamp", bench)
    model = build(made, "buck-lamp", bench, "part")
    shows = {"at-or-below": 1.0, "above": 0.0, "open": 0.0}
    turned = {**model.likelihood["ohms-R1"], "R1-open": shows}
    wrong = replace(model, likelihood={**model.likelihood, "ohms-R1": turned})
    unit = Unit("buck-lamp", bench, made, wrong)
    told = list(circuits.agreement(Scope.of(known, None), unit))
    (ours,) = [t for t in told if t.code == "KB817" and "ohms-R1 with R1-open" in t.what]
    assert not ours.grave
    assert "Simulated with R1" in ours.why
    assert "By the rules: " in ours.why


def _never(file: str, line: int) -> Trouble:
    return Trouble("KB801", Place(file, line, 1), f"Rule {line}", "Mend it", grave=False)


def test_many_rules_of_a_file_that_never_fire_are_a_line() -> None:
    """They would hide what is one's own; --every and --json tell each."""
    many = tuple(_never("amplifier.yaml", line) for line in range(1, 6))
    found = Review((*many, _never("own.yaml", 7)), 6, ("lamp",))
    short, full = ("\n".join(lines(None, found, every)) for every in (False, True))
    assert short.count("KB801") == 2
    assert "amplifier.yaml KB801 5 rules of this file never fire" in short
    assert "own.yaml:7:1 KB801 Rule 7" in short
    assert full.count("KB801") == 6


def test_the_command_sums_up(desk: Desk, tmp_path: Path) -> None:
    """Grouped and counted; errors make the exit code 2."""
    rules = RULES.replace("looks_at: esr", "looks_at: ears")
    own = folder(tmp_path / "shop", words=WORDS, rules=rules)
    told = desk.run("check", str(own))
    plain = json.loads(desk.run("check", str(own), "--json").out)
    assert told.code == 2
    assert plain["errors"] > 0
    assert f"errors ({plain['errors']})" in told.out
    assert f"{plain['errors']} errors, {plain['notes']} notes." in told.out
    assert {t["topic"] for t in plain["troubles"]} <= {"errors", *TOPICS}
