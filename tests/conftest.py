"""Settings and fixtures that hold for every test."""

from __future__ import annotations

import gc
from pathlib import Path

import pytest
from hypothesis import settings

from tests.words.cli import Desk

# A deadline would be a wall-clock assertion: it fails on a busy machine and proves nothing.
settings.register_profile("nextprobe", deadline=None, print_blob=True)
settings.load_profile("nextprobe")

# Models, rules and facts that many tests share are millions of objects. Going through all of them
# for garbage after every seven hundred new ones took 4 to 9 % of the time and found nothing.
gc.set_threshold(50_000, 20, 50)

ROOT = Path(__file__).parents[1]
LONGEST = (
    "station/test_turns.py",
    "station/test_whole_job.py",
    "knowledge/test_each_rule.py",
    "walk/test_every_hypothesis.py",
    "safety/test_cold_first.py",
    "safety/test_requirements_everywhere.py",
    "safety/test_shipped_charts.py",
    "words/test_cli_knowledge.py",
    "page/test_page_bench.py",
    "safety/test_audit_readings.py",
    "safety/test_found_before.py",
    "paper/test_whole_words.py",
    "properties/test_planner_requirements.py",
    "words/test_cli_walk.py",
    "docs/test_tutorial.py",
    "paper/test_bench_marks.py",
    "walk/test_build.py",
    "walk/test_going_on.py",
    "walk/test_walk_states.py",
    "words/test_cli_charts.py",
)
"""Files that take longest come first, so that two workers end together."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the longest files first; within a file, and among the rest, all stays in order."""
    rank = {ROOT / "tests" / name: place for place, name in enumerate(LONGEST)}
    items.sort(key=lambda item: rank.get(item.path, len(rank)))


@pytest.fixture
def desk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Desk:
    """A desk with nothing on it, to run the command line at."""
    return Desk(tmp_path, monkeypatch, capsys)
