"""What is printed reaches its reader whole: any encoding, closed and full streams, JSON always.

Where a stream can't show a sign it is spelt: `4.7 kohm`, `12 uF`, `>= 30 V`; never a question mark
in a unit's place. JSON has its own escapes for that (RFC 8259, 7). Signs that a terminal would obey
are left out.
"""

from __future__ import annotations

import codecs
import json
import os
import re
import sys
import unicodedata
from io import TextIOBase
from typing import Any, TextIO

from kb.signs import plain

_SPELLINGS = {
    "Ω": "ohm", "\N{OHM SIGN}": "ohm", "µ": "u", "\N{GREEK SMALL LETTER MU}": "u", "°": " deg ",
    "±": "+/-", "×": "x", "÷": "/", "·": ".", "√": "sqrt ", "∞": "infinity", "≈": "about ",
    "≤": "<=", "≥": ">=", "≠": "!=", "−": "-", "–": "-", "—": "-", "…": "...", "→": "->",
    "←": "<-", "↔": "<->", "“": '"', "”": '"', "„": '"', "‘": "'", "’": "'", "«": '"', "»": '"',
    "•": "*", "●": "*", "■": "#", "▲": "^", "▼": "v", "✓": "yes", "✗": "no", "⚠": "!", "⚡": "!",
    "\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " ", "\N{THIN SPACE}": " ",
    "ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "½": "1/2", "¼": "1/4", "¾": "3/4",
}  # fmt: skip
_HANDLER = "nextprobe.spell"
_COLOUR = re.compile("(\x1b\\[[0-9;]*m)")
"""Select graphic rendition, ECMA-48, 8.3.117."""


def prepare() -> None:
    """Let standard output and error spell what they can't show; a closed one swallows all."""
    codecs.register_error(_HANDLER, _spell)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
            continue
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors=_HANDLER)
        if not isinstance(stream, Plain):
            setattr(sys, name, Plain(stream))


class Plain(TextIOBase):
    """A stream on which nothing printed moves the cursor, rings or turns letters round.

    At a terminal colours pass, which help is printed in; `bare` is the stream itself, for what
    draws there and is sure of its words.
    """

    def __init__(self, bare: TextIO) -> None:
        self.bare = bare

    def write(self, text: str) -> int:
        """Write a text without such signs."""
        if not text.isprintable():
            parts = _COLOUR.split(text) if self.bare.isatty() else [text]
            text = "".join(part if _COLOUR.fullmatch(part) else plain(part) for part in parts)
        return self.bare.write(text)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.bare, name)

    def flush(self) -> None:
        """Hand on what waits."""
        self.bare.flush()

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        return self.bare.isatty()

    def fileno(self) -> int:
        """The number that the system knows it by."""
        return self.bare.fileno()


def bare(stream: TextIO) -> TextIO:
    """The stream itself, for what draws on it and is sure of its words."""
    return stream.bare if isinstance(stream, Plain) else stream


def print_json(document: Any) -> None:
    """Print a document as JSON, escaped where the stream can't show all signs."""
    print(json.dumps(document, ensure_ascii=needs_escapes(sys.stdout), indent=1))


def needs_escapes(stream: TextIO) -> bool:
    """Whether a stream shows less than all of Unicode."""
    return codecs.lookup(stream.encoding or "utf-8").name != "utf-8"


def spelling(sign: str, encoding: str) -> str:
    """One sign in the letters that an encoding has; its name where it has no spelling."""
    text = _SPELLINGS.get(sign)
    if text is None and unicodedata.category(sign) == "So" and 0x2500 <= ord(sign) < 0x2600:
        words = unicodedata.name(sign).split()
        lone = {"HORIZONTAL": "-", "VERTICAL": "|"}.get(words[-1], "+")
        text = "+" if "AND" in words else lone
    if text is None:
        bare = unicodedata.normalize("NFKD", sign)
        text = "".join(letter for letter in bare if not unicodedata.combining(letter))
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return f"({unicodedata.name(sign, f'U+{ord(sign):04X}').lower()})"
    return text


def _spell(wrong: UnicodeError) -> tuple[str, int]:
    if not isinstance(wrong, UnicodeEncodeError):
        raise wrong
    signs = wrong.object[wrong.start : wrong.end]
    return "".join(spelling(sign, wrong.encoding) for sign in signs), wrong.end
