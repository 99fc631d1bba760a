"""Photographs of a case: what their bytes say they are, and how many may be kept.

What a file is called says nothing: the kind is read off its first bytes, as the formats' standards
have them (JPEG: ITU-T T.81 annex B; PNG: ISO/IEC 15948; WebP: RFC 9649). Pictures that can carry
script, such as SVG, are none of these and are not kept.
"""

from __future__ import annotations

import hashlib

from engine.cases.mishaps import trouble

LARGEST = 16 * 1024 * 1024
"""Bytes: a photograph of a telephone takes two to ten million."""
MOST = 60
"""Photographs of a case: our choice, many times what a repair needs."""
ENDINGS = {"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp"}
"""How a file of each kind is called."""


def kind(content: bytes) -> str | None:
    """The media type that the first bytes show; None where they are no photograph's."""
    if content[:3] == b"\xff\xd8\xff":
        return "image/jpeg"
    if content[:8] == b"\x89PNG\r\n\x1a\n":
        return "image/png"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    return None


def check(content: bytes, source: str) -> str:
    """The media type. TroubleError CS114 where it is no photograph, CS115 where it is too big."""
    media = kind(content)
    if media is None:
        raise trouble("CS114", source, "this is no JPEG, PNG or WebP picture",
                      "Save it as one of these and give that")  # fmt: skip
    if len(content) > LARGEST:
        raise trouble(
            "CS115", source,
            f"the picture has {len(content) / 1e6:.1f} MB; a case keeps up to "
            f"{LARGEST / 1e6:.0f} MB each",
            "Save it smaller, 2000 pixels wide will do",
        )  # fmt: skip
    return media


def check_count(count: int, source: str) -> None:
    """TroubleError CS117 for a case that has as many photographs as are kept."""
    if count >= MOST:
        raise trouble(
            "CS117", source, f"the case has {count} photographs, and no more are kept",
            "Keep this one elsewhere, and note with the case where",
        )  # fmt: skip


def digest(content: bytes) -> str:
    """The SHA-256 that a photograph is known by, as hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()
