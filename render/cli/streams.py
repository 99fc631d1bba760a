"""What is printed reaches its reader whole: any encoding, closed and full streams, JSON always.

Where a stream can't show a sign it is spelt: `4.7 kohm`, `12 uF`, `>= 30 V`; never a question mark
in a unit's place. JSON has its own escapes for that (RFC 8259, 7).
"""

from __future__ import annotations

import codecs
import json
import os
import sys
import unicodedata
from typing import Any, TextIO

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
