"""Is every word that a knowledge file may say explained in the reference?

Words are read off the classes that read the files, so none can be added in silence.
"""

from __future__ import annotations

import re

import pytest

from kb.language import lint, loader
from kb.language.schema import BoardFact, Mode, OpeningFact, PartFact, PointFact, StageFact, Variant
from tests.docs.blocks import ROOT

PAGE = (ROOT / "kb" / "README.md").read_text(encoding="utf-8")
SHAPES = (
    *(shape for _, shape in loader.SECTIONS.values()),
    Mode, Variant, PartFact, StageFact, OpeningFact, BoardFact, PointFact,
)  # fmt: skip
WORDS = sorted({(shape.__name__, name) for shape in SHAPES for name in shape.model_fields})


def explained(word: str) -> bool:
    """In code letters, alone or at the head of `word: ...`."""
    return re.search(rf"`{re.escape(word)}(?:`|: |\b[^`\n]*`)", PAGE) is not None


@pytest.mark.parametrize(("shape", "word"), WORDS)
def test_each_word_of_a_file_is_in_the_reference(shape: str, word: str) -> None:
    """Whatever the kind of entry."""
    assert explained(word), f"{shape}.{word}"


@pytest.mark.parametrize("section", sorted(set(loader.SECTIONS) - {"topologies"}))
def test_each_section_is_in_the_table_of_sections(section: str) -> None:
    """With what an entry is and where its name stands."""
    assert re.search(rf"^\| `{section}` \| .+ \| `{loader.SECTIONS[section][0]}` \|", PAGE, re.M)


@pytest.mark.parametrize("word", ["any", "not", "above", "below", *lint.STEPS])
def test_each_word_of_a_condition_is_in_the_reference(word: str) -> None:
    """Comparisons and steps."""
    assert explained(word) or f"{{{word}:" in PAGE
