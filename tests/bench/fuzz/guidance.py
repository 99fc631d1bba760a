"""Which lines of ours an input reaches that none before it did: what is worth spoiling further.

A line is looked out for until it was reached once; a function all of whose lines were costs no
more than its call from then on.
"""

from __future__ import annotations

import contextlib
import re
import sys
from collections.abc import Iterator
from types import CodeType, FrameType
from typing import Any

_OURS = re.compile(r"/(kb|engine|render)/[^/]")
_LIBRARIES = "site-packages"


class Lines:
    """The lines not reached yet, by function; `fresh` counts those of the last block."""

    def __init__(self) -> None:
        self._left: dict[CodeType, set[int]] = {}
        self.fresh = 0
        self.reached = 0

    @contextlib.contextmanager
    def watched(self) -> Iterator[None]:
        """While the block runs, in this thread."""
        self.fresh = 0
        sys.settrace(self._call)
        try:
            yield
        finally:
            sys.settrace(None)
            self.reached += self.fresh

    def _call(self, frame: FrameType, event: str, argument: Any) -> Any:
        code = frame.f_code
        left = self._left.get(code)
        if left is None:
            left = self._left[code] = _lines(code)
        return self._line if left else None

    def _line(self, frame: FrameType, event: str, argument: Any) -> Any:
        if event == "line":
            left = self._left[frame.f_code]
            if frame.f_lineno in left:
                left.remove(frame.f_lineno)
                self.fresh += 1
            if not left:
                return None
        return self._line


def _lines(code: CodeType) -> set[int]:
    name = code.co_filename
    if _LIBRARIES in name or not _OURS.search(name):
        return set()
    return {line for _, _, line in code.co_lines() if line is not None} - {code.co_firstlineno}
