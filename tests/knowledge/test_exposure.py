"""Which opening brings which charge within reach, by how a unit is built and by nothing else."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from engine.assembly.builder import build
from engine.deduce.composition import Bench, compose
from engine.deduce.deduction import Deduction, Reasoner
from engine.deduce.facts import Fact
from engine.model.records import Model, Store
from kb.language import loader
from kb.language.bounds import LEAST_STORING_FARADS
from tests.docs.schemas import WORKSHOP
from tests.knowledge.shop import CORD_LAMP, folder

BENCH = Bench(230, 50)
PEAK = 358  # 230 V, its peak at 10 % over nominal
FILM_KIND = """\
parts:
  - kind: film-capacitor
    says: film capacitor
    traits: [capacitor]
    unit: F
    proneness: 1
    proneness_source: the shop's own count
    modes:
      short: {share: 0.4, acts: short, says: shorted, source: the shop's own count}
      open: {share: 0.42, acts: open, says: open, source: the shop's own count}
      value: {share: 0.18, acts: faded, says: lost half its value, source: the shop's own count}
"""
FILM = "      CX1: {kind: film-capacitor, place: shunts, value: %s}\n  rectifier:\n"


def film_lamp(value: str) -> str:
    """The cord lamp with a film capacitor in front of its bridge."""
    return CORD_LAMP.replace("  rectifier:\n", FILM % value, 1)


def deduced(at: Path, lamp: str) -> Deduction:
    """All that follows for the lamp."""
    knowledge = loader.read((folder(at, lamp=lamp, film=FILM_KIND),))
    return Reasoner(knowledge).deduce("cord-lamp", BENCH)


def stores_of(model: Model) -> dict[str, Store]:
    """The stores by part."""
    return {store.part: store for store in model.stores}


def held(topology: str, at: Path | None = None) -> dict[str, tuple[float, str, tuple[str, ...]]]:
    """By part: volts it can keep, where it is measured, what shows it; of the structure alone."""
    knowledge = loader.read((at,) if at is not None else ())
    facts = compose(knowledge, knowledge.topologies[topology], BENCH)
    return {
        found.text("part"): (
            found.number("volts"), found.text("point"), shown(facts, found.text("part"))
        )
        for found in facts if found.kind == "holds"
    }  # fmt: skip


def shown(facts: tuple[Fact, ...], name: str) -> tuple[str, ...]:
    """The openings that show a part or node."""
    return tuple(f.text("behind") for f in facts if f.kind == "shows" and f.text("of") == name)


@cache
def film_model(at: Path) -> Model:
    """The lamp with 0.22 µF in front of its bridge."""
    return build(deduced(at, film_lamp("0.22 uF")), "cord-lamp", BENCH, "part")


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Model:
    """The lamp with 0.22 µF in front of its bridge."""
    return film_model(tmp_path_factory.mktemp("film"))


@pytest.mark.parametrize(
    ("topology", "part", "point", "openings"),
    [
        ("buck-lamp", "C1", "C1", ("driver-board",)),
        ("buck-lamp", "C3", "TP4 (C3)", ("led-board", "driver-board")),
        ("enabled-lamp", "C4", "TP4 (C4)", ("led-board", "driver-board")),
        ("light-controlled-lamp", "C1", "C1", ("driver-board",)),
        ("light-controlled-lamp", "C4", "TP5 (C4)", ("led-board", "driver-board")),
    ],
)  # fmt: skip
def test_a_capacitor_shows_at_every_opening_of_its_node(
    topology: str, part: str, point: str, openings: tuple[str, ...]
) -> None:
    """A driver's output stands at the pads of the LED board before the driver is drawn out."""
    found = held(topology)[part]
    assert found[1:] == (point, openings)


def test_a_node_without_a_test_point_is_named_by_what_it_feeds(tmp_path: Path) -> None:
    """So that a person finds it at the board that shows it."""
    lamp = (loader.SHIPPED / "topologies" / "buck-lamp.yaml").read_text(encoding="utf-8")
    lamp = lamp.replace("buck-lamp", "my-lamp", 1).replace(
        "  TP4: {stage: driver, side: out, says: across the LED output}\n", ""
    )
    found = held("my-lamp", folder(tmp_path, lamp=lamp))["C3"]
    assert found[1] == "where the LED string takes its power (C3)"


def test_a_film_capacitor_across_the_mains_is_met_at_the_contacts(film: Model) -> None:
    """With nothing opened, at the peak of mains that are 10 % over."""
    store = stores_of(film)["CX1"]
    assert (store.max_volts, store.point) == (PEAK, "supply contacts (CX1)")
    assert store.exposed_by == ()


@pytest.mark.parametrize(
    ("value", "stores"),
    [("100 nF", False), ("0.1 uF", False), ("101 nF", True), ("0.47 uF", True)],
)
def test_a_small_one_is_exempt(tmp_path: Path, value: str, stores: bool) -> None:
    """IEC 60335-1 cl. 22.5: up to and with 0.1 µF."""
    own = folder(tmp_path, lamp=film_lamp(value), film=FILM_KIND)
    assert ("CX1" in held("cord-lamp", own)) == stores
    assert LEAST_STORING_FARADS == 1e-7


def test_several_small_ones_in_one_place_count_together(tmp_path: Path) -> None:
    """Two of 68 nF are 136 nF."""
    lamp = film_lamp("68 nF").replace("value: 68 nF", "value: 68 nF, count: 2")
    assert "CX1" in held("cord-lamp", folder(tmp_path, lamp=lamp, film=FILM_KIND))


def test_a_shorted_film_capacitor_is_seen_cold_and_by_the_series_lamp(film: Model) -> None:
    """As a shorted surge part is; the fuse may go with it."""
    assert film.row("ohms-at-contacts", "CX1-short")["near-nothing"] == 1
    assert film.row("diode-range-at-contacts", "CX1-short")["near-nothing"] == 1
    assert film.row("limiter-glow", "CX1-short")["stays-bright"] == 1
    assert "CX1-short" in film.remedy("renew-CX1").cures


def test_an_open_or_faded_film_capacitor_keeps_the_lamp_as_it_was(film: Model) -> None:
    """Nobody sees it in use, so it is no fault of the complaint."""
    assert {"CX1-open", "CX1-value"} & {fault.id for fault in film.faults} == set()


def test_openings_warn_of_what_they_bring_within_reach(film: Model) -> None:
    """The shell shows the reservoir."""
    assert "stored-charge" in film.opening("shell").cautions
    assert "stored-charge" not in film.rig("none").cautions


def lamp_with_transformer(where: str, kind: str = "mains-transformer") -> str:
    """The cord lamp with a transformer in front of or behind its bridge, and no trait."""
    stage = (
        "  transformer:\n    kind: mains-transformer\n    behind: shell\n    parts:\n"
        f"      T1: {{kind: {kind}, place: transforms, value: 24 V}}\n"
    )
    plain = CORD_LAMP.replace("traits: [non-isolated]\n", "")
    return plain.replace(where, stage + where, 1)


@pytest.mark.parametrize(
    ("lamp", "joined"),
    [
        (CORD_LAMP.replace("traits: [non-isolated]\n", ""), True),
        (lamp_with_transformer("  rectifier:\n"), False),
        (lamp_with_transformer("  filter:\n"), True),
        (lamp_with_transformer("  rectifier:\n", "joint").replace(", value: 24 V", ""), True),
        (lamp_with_transformer("  rectifier:\n").replace("topology: cord-lamp\n",
            "topology: cord-lamp\ntraits: [non-isolated]\n"), True),
    ],
    ids=["direct bridge", "transformer first", "bridge first", "no transformer", "says so"],
)  # fmt: skip
def test_a_unit_is_joined_to_the_mains_unless_its_parts_show_otherwise(
    tmp_path: Path, lamp: str, joined: bool
) -> None:
    """Whatever its traits leave out."""
    own = folder(tmp_path, lamp=lamp)
    for name in ("parts", "stages", "words"):
        (own / f"{name}.yaml").write_bytes((WORKSHOP / f"{name}.yaml").read_bytes())
    knowledge = loader.read((own,))
    facts = compose(knowledge, knowledge.topologies["cord-lamp"], BENCH)
    traits = [f.text("is") for f in facts if f.kind == "trait" and f.text("of") == "unit"]
    assert traits.count("non-isolated") == int(joined)


@pytest.mark.parametrize(("rating", "volts"), [("1 V", 35), ("63 V", 63)])
def test_behind_a_transformer_its_secondary_bounds_a_rating(
    tmp_path: Path, rating: str, volts: int
) -> None:
    """22.5 V at their peak, 10 % over, are 35 V: a rating below that is not believed."""
    lamp = (WORKSHOP / "amplifier-channel.yaml").read_text(encoding="utf-8")
    own = folder(tmp_path, lamp=lamp.replace("volts: 63 V", f"volts: {rating}").replace(
        "value: 25 V", "value: 22.5 V"))  # fmt: skip
    for name in ("parts", "stages", "words"):
        (own / f"{name}.yaml").write_bytes((WORKSHOP / f"{name}.yaml").read_bytes())
    assert held("amplifier-channel", own)["C1"][0] == pytest.approx(volts, abs=0.5)


def test_however_little_a_part_keeps_it_is_named(tmp_path: Path) -> None:
    """0.3 V at their peak, 10 % over, are 0.47 V: whether that hurts is not decided here."""
    lamp = (WORKSHOP / "amplifier-channel.yaml").read_text(encoding="utf-8")
    own = folder(tmp_path, lamp=lamp.replace("volts: 63 V", "volts: 0.1 V").replace(
        "value: 25 V", "value: 0.3 V"))  # fmt: skip
    for name in ("parts", "stages", "words"):
        (own / f"{name}.yaml").write_bytes((WORKSHOP / f"{name}.yaml").read_bytes())
    assert held("amplifier-channel", own)["C1"][0] == pytest.approx(0.467, abs=0.001)
