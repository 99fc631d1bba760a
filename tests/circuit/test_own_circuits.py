"""Does a circuit of one's own folder stand for its topology, with its own parts and devices?"""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from engine.circuit import campaign
from engine.circuit.taking import measurement
from engine.model.records import Mains
from engine.model.records import Test as Check
from kb.language import loader
from kb.language.circuit import SHIPPED, devices_with, folder_of
from kb.trouble import TroubleError

MAINS = Mains(230.0, 50.0)
KIND = """\
parts:
  - kind: hall-choke
    says: the hall's own choke
    unit: H
    proneness: 1
    proneness_source: made up for a test
    rating: Same.
    modes:
      open: {share: 0.5, acts: open, says: open, source: made up for a test}
"""
DEVICE = """\
devices:
  hall-choke:
    value: value
    acts:
      open: {cut: [1]}
"""


@pytest.fixture
def shop(tmp_path):
    """The buck lamp under another name, with a choke of the shop's own kind."""
    own = tmp_path / "shop"
    (own / "circuits").mkdir(parents=True)
    lamp = (loader.SHIPPED / "topologies" / "buck-lamp.yaml").read_text(encoding="utf-8")
    lamp = lamp.replace("topology: buck-lamp", "topology: hall-lamp")
    (own / "lamp.yaml").write_text(lamp.replace("kind: choke", "kind: hall-choke"))
    (own / "parts.yaml").write_text(KIND)
    for end in ("cir", "yml"):
        text = (SHIPPED / f"buck-lamp.{end}").read_text(encoding="utf-8")
        (own / "circuits" / f"hall-lamp.{end}").write_text(text.replace("buck-lamp", "hall-lamp"))
    return own


def workbench(shop):
    return campaign.workbench(SimpleNamespace(topology="hall-lamp", mains=MAINS), 0, shop)


def test_a_kind_that_no_circuit_knows_is_a_sentence(shop):
    with pytest.raises(TroubleError) as caught:
        workbench(shop)
    (trouble,) = caught.value.troubles
    assert trouble.code == "CI204"
    assert "'hall-choke'" in trouble.what
    assert trouble.place.source.endswith("parts.yaml")


def test_own_circuit_parts_and_devices_are_read(shop):
    (shop / "circuits" / "devices.yml").write_text(DEVICE)
    place = workbench(shop)
    assert place.nominal.parts["L1"].kind == "hall-choke"
    assert place.nominal.device("L1") == devices_with(shop)["hall-choke"]
    assert place.nominal.netlist.of("L1")


def test_damage_is_told_at_the_own_file(shop):
    (shop / "circuits" / "devices.yml").write_text(DEVICE.replace("[1]", "one"))
    with pytest.raises(TroubleError) as caught:
        workbench(shop)
    assert caught.value.troubles[0].code == "CI103"
    assert caught.value.troubles[0].place.source == str(shop / "circuits" / "devices.yml")


def test_a_shipped_topology_keeps_its_own_circuit(shop):
    assert folder_of("buck-lamp", shop) == SHIPPED
    assert folder_of("hall-lamp", shop) == shop / "circuits"


def test_a_measurement_of_the_unit_s_own_goes_before_the_bench_s(shop):
    """How a test is taken of one kind of unit only stands in its circuit's file."""
    (shop / "circuits" / "devices.yml").write_text(DEVICE)
    file = shop / "circuits" / "hall-lamp.yml"
    own = "measurements:\n  - {tests: 'ohms-R3', kind: esr}\n  - {tests: 'hum-.*', kind: diode}\n"
    file.write_text(file.read_text(encoding="utf-8") + own)
    kinds = {name: _kind(workbench(shop), name) for name in ("ohms-R3", "hum-L1", "esr-C1")}
    assert kinds == {"ohms-R3": "esr", "hum-L1": "diode", "esr-C1": "esr"}


def _kind(place, name):
    test = Check(name, "", 1, (), "unplugged", "none", True, (), instrument="ohm range")
    return measurement(place.bench, test).kind
