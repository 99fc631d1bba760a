"""A line that says how far something is that takes its time."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from render.cli import streams


@contextmanager
def status(words: str) -> Iterator[Callable[[str], None] | None]:
    """A line on standard error that can be rewritten and goes away; None where no one looks."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console

    with Console(file=streams.bare(sys.stderr)).status(words) as line:
        yield line.update
