"""Does each shipped kind of stage tell the reader what it takes for granted?"""

from __future__ import annotations

import pytest

from kb.language import loader
from tests.docs.blocks import made

STAGES = loader.as_shipped().stages


@pytest.mark.parametrize("name", STAGES)
def test_a_stage_says_what_it_assumes_and_can_not_express(name):
    kind = STAGES[name]
    assert kind.assumes_before
    assert kind.assumes_behind
    assert kind.cant_express


def test_each_place_stands_on_its_page():
    pages = made("stage-pages").split("\n### ")
    assert len(pages) == len(STAGES)
    for kind, page in zip(STAGES.values(), pages, strict=True):
        assert all(f"- `{place}`" in page for place in kind.places)
