"""Is a kept model dropped as soon as anything changes that it was made by?"""

from __future__ import annotations

from engine import library


def test_code_of_any_depth_is_in_the_key(tmp_path):
    """A folder within a folder counts, and so does a name."""
    room = tmp_path / "room"
    (room / "inner").mkdir(parents=True)
    (room / "inner" / "deep.py").write_text("ONE = 1\n")
    first = library.code_hash([room])
    (room / "inner" / "deep.py").write_text("ONE = 2\n")
    second = library.code_hash([room])
    (room / "inner" / "deep.py").rename(room / "inner" / "else.py")
    third = library.code_hash([room])
    assert len({first, second, third}) == 3
