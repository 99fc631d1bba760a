"""Designators and the ids made of them, in the order people count them."""

from __future__ import annotations


def natural(name: str) -> tuple[tuple[int, int | str], ...]:
    """A sort key that puts R2 before R10."""
    parts: list[tuple[int, int | str]] = []
    digits = ""
    for letter in name + " ":
        if letter.isdigit():
            digits += letter
            continue
        if digits:
            parts.append((0, int(digits)))
            digits = ""
        parts.append((1, letter))
    return tuple(parts)
