"""Do names name things?"""

from tests.structure.census import is_participle, participles


def test_hardly_any_name_is_a_bare_participle():
    """One in a hundred at most; those left mirror keys of documents."""
    counts, names = participles()
    assert sum(counts.values()) <= names / 100, counts.most_common(20)


def test_a_participle_is_told_from_a_noun():
    assert all(map(is_participle, ("found", "told", "_asked", "joined")))
    assert not any(map(is_participle, ("seed", "feed", "found_at", "fault", "speed", "red")))
