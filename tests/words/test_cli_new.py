"""Is the way from nothing to a topology of one's own short, and are its errors kind?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from engine import drafting
from engine.deduce.composition import Bench, compose
from engine.drafting import wishes
from kb.language import loader
from kb.language.lint import lint
from kb.language.schema import Topology
from kb.language.topologyfile import topology_text
from kb.trouble import TroubleError
from render.terminal.drafting import Drafter
from render.terminal.screen import Screen
from tests.words.cli import Desk

STAGES = ("entry:mains-entry", "rectifier", "filter:bulk-filter", "driver:buck-converter",
          "leds:led-string")  # fmt: skip
BEGIN = ["new", "hall-lamp", "--kb", "shop", "--yes", "--says", "Lamp of the village hall"]
STAGED = [*BEGIN, *(word for stage in STAGES for word in ("--stage", stage))]

KNOWLEDGE = loader.read()
LAMP = KNOWLEDGE.topologies["buck-lamp"]


def written(folder: Path, name: str = "hall-lamp") -> Topology:
    """The topology as any reader of YAML finds it."""
    text = (folder / "shop" / f"{name}.yaml").read_text(encoding="utf-8")
    return Topology.model_validate(YAML(typ="safe").load(text))


def test_stages_alone_make_a_topology_that_fits_together(desk: Desk) -> None:
    """What they need is proposed, from how known units are built."""
    assert desk.run(*STAGED).code == 0
    knowledge = loader.read((desk.folder / "shop",))
    made = knowledge.topologies["hall-lamp"]
    assert list(made.stages) == [stage.partition(":")[0] for stage in STAGES]
    for stage in made.stages.values():
        held = {part.place for part in stage.parts.values()}
        assert set(knowledge.stages[stage.kind].needs) <= held
    assert compose(knowledge, made, Bench(230, 50))
    assert not [trouble for trouble in lint(knowledge) if trouble.grave]


def test_a_draft_tells_what_to_do_next_and_says_where_it_is(desk: Desk) -> None:
    """The two commands, ready to copy."""
    said = desk.run(*STAGED).out
    assert "put in, as known units have it: J1 joint in entry" in said
    assert "shop/hall-lamp.yaml is written" in said
    assert "nextprobe check shop" in said
    assert "nextprobe chart hall-lamp --kb shop" in said


def test_a_draft_is_live_unless_it_is_said_to_be_isolated(desk: Desk) -> None:
    """The careful answer needs no asking."""
    desk.run(*STAGED)
    assert written(desk.folder).traits == ("non-isolated",)
    desk.run(*STAGED, "--force", "--isolated")
    assert written(desk.folder).traits == ()


def test_the_file_binds_itself_to_a_schema_that_lies_beside_it(desk: Desk) -> None:
    """So that an editor completes and checks it, wherever the folder goes."""
    desk.run(*STAGED)
    file = desk.folder / "shop" / "hall-lamp.yaml"
    first = file.read_text(encoding="utf-8").splitlines()[0]
    assert first.startswith("# yaml-language-server: $schema=")
    assert (file.parent / first.partition("=")[2]).is_file()


def test_each_stage_is_told_in_a_comment_with_the_places_still_free(desk: Desk) -> None:
    """For whoever goes on by hand."""
    desk.run(*STAGED)
    text = (desk.folder / "shop" / "hall-lamp.yaml").read_text(encoding="utf-8")
    assert "# bulk-filter: bulk filter" in text
    assert "bleeds (bleed resistor)" in text


def test_options_tell_parts_openings_boards_and_points(desk: Desk) -> None:
    """Each in its own words."""
    done = desk.run(
        *STAGED,
        "--part", "entry F7 fusible-resistor line 22 ohm",
        "--part", "filter C9 electrolytic reservoir 4.7 uF, 400 V",
        "--opening", "cap 4 prise off the base cap",
        "--opening", "tray 2 draw out the tray",
        "--board", "tray-board tray 25 the one board",
        "--lies", "leds cap",
        "--point", "TP9 filter out across C9",
    )  # fmt: skip
    assert done.code == 0, done.err
    made = written(desk.folder)
    assert made.stages["entry"].parts["F7"].value == "22 ohm"
    assert made.stages["filter"].parts["C9"].volts == "400 V"
    assert made.openings["tray"].after == ("cap",)
    assert (made.stages["leds"].behind, made.stages["leds"].board) == ("cap", None)
    assert (made.stages["entry"].behind, made.stages["entry"].board) == ("tray", "tray-board")
    assert list(made.points) == ["TP9"]


def test_a_topology_can_be_begun_from_another(desk: Desk) -> None:
    """With what is different."""
    done = desk.run(
        *BEGIN, "--like", "buck-lamp",
        "--part", "entry R1 fusible-resistor line 22 ohm", "--leave-out", "RV1",
    )  # fmt: skip
    assert done.code == 0, done.err
    made, model = written(desk.folder), loader.read().topologies["buck-lamp"]
    assert made.stages["entry"].parts["R1"].value == "22 ohm"
    assert "RV1" not in made.stages["entry"].parts
    assert made.stages["driver"] == model.stages["driver"]
    assert made.says == "Lamp of the village hall"


@pytest.mark.parametrize("name", sorted(KNOWLEDGE.topologies))
def test_every_known_topology_reads_back_as_it_was_written(name: str) -> None:
    """Comments and quotes change nothing."""
    knowledge = KNOWLEDGE
    text = topology_text(knowledge.topologies[name], knowledge, "schema.json")
    assert Topology.model_validate(YAML(typ="safe").load(text)) == knowledge.topologies[name]


def test_nothing_is_overwritten_unless_it_is_asked_for(desk: Desk) -> None:
    """And then as a whole."""
    desk.run(*STAGED)
    before = (desk.folder / "shop" / "hall-lamp.yaml").read_bytes()
    again = desk.run(*BEGIN, "--stage", "rectifier")
    assert (again.code, "NW102" in again.err, "--force" in again.err) == (2, True, True)
    assert (desk.folder / "shop" / "hall-lamp.yaml").read_bytes() == before
    assert desk.run(*BEGIN, "--stage", "rectifier", "--force").code == 0
    assert list(written(desk.folder).stages) == ["rectifier"]


def test_a_folder_is_not_made_without_a_word(desk: Desk) -> None:
    """Nothing is there afterwards."""
    done = desk.run("new", "hall-lamp", "--kb", "shop", "--stage", "rectifier")
    assert (done.code, "NW104" in done.err) == (2, True)
    assert not (desk.folder / "shop").exists()


@pytest.mark.parametrize("file", ["shop", "shop/.schema"])
def test_where_no_folder_can_be_the_draft_is_refused_in_words(desk: Desk, file: str) -> None:
    """A file bears its name; nothing is left beside it."""
    (desk.folder / file).parent.mkdir(exist_ok=True)
    (desk.folder / file).write_text("", encoding="utf-8")
    folder = "shop/own" if file == "shop" else "shop"
    done = desk.run("new", "hall-lamp", "--kb", folder, "--yes", "--stage", "rectifier")
    assert (done.code, "CL201" in done.err) == (2, True), done.err
    assert [one.name for one in desk.folder.rglob("*lamp*")] == []


def test_without_a_folder_the_draft_goes_where_it_is_found_again(desk: Desk) -> None:
    """Into the user's data folder, which every command reads."""
    assert desk.run("new", "hall-lamp", "--yes", "--stage", "rectifier").code == 0
    assert "hall-lamp" in desk.run("list").out


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("NW101", ["new", "hall lamp", "--stage", "rectifier"]),
        ("NW103", ["new", "buck-lamp", "--stage", "rectifier"]),
        ("NW105", ["new", "x-lamp", "--stage", "rectifier", "--point", "TP1 rectifier left here"]),
        ("NW106", ["new", "x-lamp"]),
        ("KB409", ["new", "x-lamp", "--stage", "mains-entry",
                   "--part", "mains-entry R1 fusible-resistor line ten"]),
        ("KB701", ["new", "x-lamp", "--like", "back-lamp"]),
    ],
)  # fmt: skip
def test_what_can_not_be_is_told_with_its_mend_and_leaves_nothing(
    desk: Desk, code: str, words: list[str]
) -> None:
    """Exit code 2, one sentence, no folder."""
    done = desk.run(*words, "--kb", "shop", "--yes")
    assert (done.code, code in done.err) == (2, True), done.err
    assert "Traceback" not in done.err
    assert not (desk.folder / "shop").exists()


@pytest.mark.parametrize(
    ("code", "asked_for"),
    [
        ("NW105", lambda: wishes.stage("a lamp")),
        ("NW105", lambda: wishes.part("rectifier BR1")),
        ("NW105", lambda: wishes.opening("cap soon take it off")),
        ("NW105", lambda: wishes.board("board cap")),
        ("NW105", lambda: wishes.link("leds beside driver")),
        ("NW107", lambda: drafting.with_stage(LAMP, KNOWLEDGE, "leds", "led-string")),
        ("KB402", lambda: drafting.with_link(LAMP, "leds", "fed_by", "attic")),
        ("KB404", lambda: drafting.with_stage(LAMP, KNOWLEDGE, "more", "rectifyer")),
        ("KB406", lambda: put("rectifier R70 joint lights")),
        ("KB408", lambda: put("rectifier B1 brige line")),
        ("KB411", lambda: drafting.without(LAMP, "R99")),
        ("KB411", lambda: drafting.with_lies(LAMP, "leds", drafting.Lies("attic"))),
        ("KB413", lambda: put("leds R1 joint line")),
    ],
)
def test_each_word_of_a_draft_is_looked_at_as_it_comes(
    code: str, asked_for: Callable[[], object]
) -> None:
    """One trouble, with its mend."""
    with pytest.raises(TroubleError) as caught:
        asked_for()
    (trouble,) = caught.value.troubles
    assert (trouble.code, bool(trouble.mend)) == (code, True)


def put(words: str) -> Topology:
    """The lamp with a part more."""
    return drafting.with_part(LAMP, KNOWLEDGE, *wishes.part(words))


def test_a_near_miss_is_answered_with_the_word_meant(desk: Desk) -> None:
    """For a slip of the finger."""
    said = desk.run("new", "x-lamp", "--stage", "rectifyer", "--kb", "shop", "--yes").err
    assert "Write rectifier" in said


def asked(answers: list[str]) -> tuple[Drafter, list[str]]:
    """A dialogue that gets these answers, and the questions it put."""
    questions: list[str] = []
    given = iter(answers)

    def line(question: str) -> str:
        questions.append(question)
        return next(given)

    return Drafter(Screen(), line, KNOWLEDGE), questions


def test_a_wrong_answer_is_asked_again_with_the_reason(capsys: pytest.CaptureFixture[str]) -> None:
    """Until it fits."""
    person, questions = asked(["7b 99", "entry:mains-entry rectifier"])
    made = person.stages(drafting.begin("x-lamp", "A lamp", "the bench", live=True))
    assert list(made.stages) == ["entry", "rectifier"]
    assert len(questions) == 2
    assert "is no kind of stage" in capsys.readouterr().out


def test_enter_takes_what_is_proposed_and_none_leaves_a_place_free() -> None:
    """A place that must be filled is filled by Enter alone."""
    person, _ = asked(["", ""])
    draft = drafting.begin("x-lamp", "A lamp", "the bench", live=True)
    draft = person.parts(drafting.with_stage(draft, KNOWLEDGE, "r", "rectifier"), "r")
    assert [part.place for part in draft.stages["r"].parts.values()] == ["rectifies"]


def test_at_a_terminal_it_asks_from_the_first_stage_to_the_last_point(desk: Desk) -> None:
    """And writes what was answered."""
    screen = desk.terminal("new", "hall-lamp", "--kb", "shop")
    for prompt, typed in (
        ("What is it, in a phrase?", "Lamp of the village hall"),
        ("joined to the mains", "maybe"),
        ("Answer yes or no", "yes"),
        ("Which stages has it?", "entry:mains-entry rectifier leds:led-string"),
        ("fusible-resistor", "a + R5=fusible-resistor 33 ohm"),
        ("varistor", ""),
        ("film capacitor", ""),
        ("alongside", "none"),
        ("bridge-rectifier", ""),
        ("KIND VALUE", "none"),
        ("joint", "a"),
        ("led-package", ""),
        ("Opening, such as", "cap 4 prise off the cap"),
        ("Opening, such as", ""),
        ("Board, such as", ""),
        ("entry lies behind", ""),
        ("rectifier lies behind", ""),
        ("leds lies behind", "none"),
        ("Behind entry", ""),
        ("Behind rectifier", "bridge plus to bridge minus"),
        ("Make the folder", "yes"),
    ):
        screen.wait(prompt)
        screen.type(typed + "\n")
    assert screen.end() == 0, screen.shown
    made = written(desk.folder)
    assert made.stages["entry"].parts["R5"].value == "33 ohm"
    assert made.points["TP2"].says == "bridge plus to bridge minus"
    assert (made.stages["entry"].behind, made.stages["leds"].behind) == ("cap", None)


def test_a_value_is_asked_for_where_none_is_proposed(capsys: pytest.CaptureFixture[str]) -> None:
    """In the unit of the kind; what can't be is told without the words of the command line."""
    knowledge = loader.read()
    kind = knowledge.stages["light-control"].model_copy(
        update={
            "kind": "own",
            "needs": (),
            "places": {"steadies": "a resistor"},
            "usual": {"steadies": "film-resistor"},
        }
    )
    bare = replace(knowledge, stages={**knowledge.stages, "own": kind}, topologies={})
    answers = iter(["a", "ten", "4k7"])
    person = Drafter(Screen(), lambda _: next(answers), bare)
    draft = drafting.begin("x-lamp", "A lamp", "the bench", live=True)
    draft = person.parts(drafting.with_stage(draft, bare, "control", "own"), "control")
    assert [part.value for part in draft.stages["control"].parts.values()] == ["4k7"]
    assert "--" not in capsys.readouterr().out


def test_parts_that_lack_their_value_are_told(desk: Desk) -> None:
    """Since figures stand on them."""
    said = desk.run(*BEGIN, "--stage", "entry:mains-entry", "--part", "entry R9 film-resistor line")
    assert "no value yet: R9" in said.out
