"""Is every word that a knowledge file may say explained in the reference?

Words are read off the classes that read the files, so none can be added in silence.
"""

from __future__ import annotations

import re

import pytest
from pydantic import BaseModel

from kb.language import descriptions, lint, loader
from kb.language.schema import BoardFact, Mode, OpeningFact, PartFact, PointFact, StageFact, Variant
from tests.docs import reference
from tests.docs.blocks import ROOT

PAGE = "\n".join(
    (ROOT / "kb" / name).read_text(encoding="utf-8") for name in ("README.md", "REFERENCE.md")
)
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


@pytest.mark.parametrize("shape", reference.shapes(), ids=lambda shape: shape.__name__)
def test_each_word_of_a_shape_has_a_sentence_of_its_own(shape: type[BaseModel]) -> None:
    """Under its attribute, where the reference and the schemas take it from."""
    says = descriptions.of_words(shape)
    assert list(says) == list(shape.model_fields)
    assert all(re.search(r"\w\.$", text) or text.endswith("`.") for text in says.values())


@pytest.mark.parametrize("shape", reference.shapes(), ids=lambda shape: shape.__name__)
def test_each_word_of_a_shape_stands_in_the_reference_with_its_sentence(
    shape: type[BaseModel],
) -> None:
    """In a row, whole."""
    rows = (ROOT / "kb" / "REFERENCE.md").read_text(encoding="utf-8").splitlines()
    for word, text in descriptions.of_words(shape).items():
        assert any(row.startswith(f"| `{word}` | {text} |") for row in rows), word


@pytest.mark.parametrize("section", sorted(set(loader.SECTIONS) - {"topologies"}))
def test_each_section_is_in_the_table_of_sections(section: str) -> None:
    """With what an entry is and where its name stands."""
    assert re.search(rf"^\| `{section}` \| .+ \| `{loader.SECTIONS[section][0]}` \|", PAGE, re.M)


@pytest.mark.parametrize("word", ["any", "not", "above", "below", *lint.STEPS])
def test_each_word_of_a_condition_is_in_the_reference(word: str) -> None:
    """Comparisons and steps."""
    assert explained(word) or f"{{{word}:" in PAGE
