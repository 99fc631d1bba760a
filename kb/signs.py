"""Signs that show nothing themselves but move a cursor, ring a bell or turn letters round.

Text of knowledge, documents and people may hold them: a terminal obeys them, and a reader sees
another sentence than the one that stands there (Unicode TR36, section 3). What goes out comes
through here. Line ends and tabs stay.
"""

from __future__ import annotations

import re
from typing import Any

_HIDDEN = re.compile(
    "["
    "\x00-\x08\x0b-\x1f\x7f-\x9f"  # control characters: Cc
    "\xad\u0600-\u0605\u061c\u06dd\u070f\u0890\u0891\u08e2\u180e"  # format characters: Cf
    "\u200b-\u200f\u202a-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb"
    "\U000110bd\U000110cd\U00013430-\U0001345f\U0001bca0-\U0001bca3\U0001d173-\U0001d17a"
    "\U000e0000-\U000e007f"
    "\u2028\u2029"  # line and paragraph separators: Zl, Zp
    "\ud800-\udfff"  # halves of a sign: Cs
    "\ufffe\uffff"  # no characters at all; no XML may hold them (XML 1.0, section 2.2)
    "]"
)


def first_hidden(text: str) -> str:
    """The first such sign of a text by its number, `U+202E`; empty where there is none."""
    if text.isprintable():
        return ""
    match = _HIDDEN.search(text)
    return f"U+{ord(match[0]):04X}" if match else ""


def plain(text: str) -> str:
    """The text without them."""
    return text if text.isprintable() else _HIDDEN.sub("", text)


def visible(text: str) -> str:
    r"""The text with each of them spelt, `\x1b` or `\u202e`, for messages about it."""
    if text.isprintable():
        return text
    return _HIDDEN.sub(lambda sign: sign[0].encode("unicode_escape").decode("ascii"), text)


def plain_tree(tree: Any) -> Any:
    """A decoded document whose texts, keys included, are without them."""
    if isinstance(tree, str):
        return plain(tree)
    if isinstance(tree, dict):
        return {plain(key) if isinstance(key, str) else key: plain_tree(value)
                for key, value in tree.items()}  # fmt: skip
    if isinstance(tree, (list, tuple)):
        return [plain_tree(value) for value in tree]
    return tree
