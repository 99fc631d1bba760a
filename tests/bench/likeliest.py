"""Which tests run a function and how long each takes; and a given few tests in a given order.

A pytest plugin, for `tests.bench.mutations`. With `WATCH` it writes down of each test its CPU
seconds and which of the watched functions ran in it; with `ORDER` it lets those tests run that a
file lists, in that order.
"""

from __future__ import annotations

import json
import os
import sys
from collections import defaultdict
from collections.abc import Callable, Generator
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

WATCH, RECORD, ORDER = "MUTATIONS_WATCH", "MUTATIONS_RECORD", "MUTATIONS_ORDER"
"""Names in the environment, each of a file's path: functions to watch (pairs of file and first
line), where to write what they did, tests to run."""


def pytest_configure(config: pytest.Config) -> None:
    """Watch where that is asked for."""
    if WATCH in os.environ:
        functions = json.loads(Path(os.environ[WATCH]).read_text(encoding="utf-8"))
        config.pluginmanager.register(_Watch(config.rootpath, functions))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Keep the listed tests, in the order of the list."""
    if ORDER not in os.environ:
        return
    listed = json.loads(Path(os.environ[ORDER]).read_text(encoding="utf-8"))
    place = {name: number for number, name in enumerate(listed)}
    others = [item for item in items if item.nodeid not in place]
    items[:] = sorted(
        (item for item in items if item.nodeid in place), key=lambda item: place[item.nodeid]
    )
    config.hook.pytest_deselected(items=others)


class _Watch:
    """Notes the watched functions by their number in the list, and seconds, by test."""

    def __init__(self, root: Path, functions: list[tuple[str, int]]) -> None:
        self._numbers = {
            (str(root / file), line): number for number, (file, line) in enumerate(functions)
        }
        self._number_of: dict[CodeType, int | None] = {}
        self._ran: set[int] = set()
        self._tests: defaultdict[str, tuple[float, list[int]]] = defaultdict(lambda: (0.0, []))

    def trace(self, frame: FrameType, event: str, argument: Any) -> None:
        """A call; nothing within it is followed."""
        code = frame.f_code
        if code not in self._number_of:
            self._number_of[code] = self._numbers.get((code.co_filename, code.co_firstlineno))
        number = self._number_of[code]
        if number is not None:
            self._ran.add(number)

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, Any, None]:
        """One test with its fixtures."""
        self._ran.clear()
        began = _cpu()
        before: Callable[..., Any] | None = sys.gettrace()
        sys.settrace(self.trace)
        try:
            yield
        finally:
            sys.settrace(before)
        self._tests[item.nodeid] = (round(_cpu() - began, 3), sorted(self._ran))

    def pytest_sessionfinish(self) -> None:
        """Written at the end, whole."""
        Path(os.environ[RECORD]).write_text(json.dumps(self._tests), encoding="utf-8")


def _cpu() -> float:
    """CPU seconds of this process and of the children it waited for."""
    return sum(os.times()[:4])
