"""Does the command `trial` tell and draw its outcome, and refuse what it can't draw?"""

from __future__ import annotations

import json

from tests.words.cli import LANTERN, Desk


def test_the_command_tells_and_draws(desk: Desk) -> None:
    """Each way with its interval, and where the chart goes wrong."""
    run = desk.run("trial", "--model", str(LANTERN), "--runs", "40", "-o", "trial.svg")
    assert run.code == 0, run.err
    assert "95 % interval" in run.out
    assert (desk.folder / "trial.svg").is_file()


def test_a_file_that_can_not_be_drawn_is_refused_first(desk: Desk) -> None:
    """In a sentence."""
    run = desk.run("trial", "--model", str(LANTERN), "-o", "trial.docx")
    assert run.code == 2
    assert "CL131" in run.err
    assert "Traceback" not in run.err


def test_the_document_holds_each_way_of_working(desk: Desk) -> None:
    """With its interval and quantiles, without each unit's minutes."""
    run = desk.run("trial", "--model", str(LANTERN), "--runs", "40", "--seed", "7", "--json")
    plain = json.loads(run.out)
    assert (plain["format"], plain["units"], plain["seed"]) == ("nextprobe-trial/1", 40, 7)
    assert [bout["name"] for bout in plain["bouts"]] == [
        "chart", "walk", "old hand", "p/c", "half-split", "nearest",
    ]  # fmt: skip
    for bout in plain["bouts"]:
        assert bout["right_low"] <= bout["right"] <= bout["right_high"]
        assert bout["quantiles"] == sorted(bout["quantiles"])
        assert "minutes" not in bout


def test_a_trial_tells_what_the_chart_loses_on_other_benches(desk: Desk) -> None:
    """In its document and in a sentence; none where none are wanted."""
    asked = ("trial", "--model", str(LANTERN), "--runs", "20", "--ranges", "4")
    plain = json.loads(desk.run(*asked, "--json").out)
    assert plain["ranges"]["benches"] == 4
    assert 0.0 <= plain["ranges"]["loses"]["median"] <= plain["ranges"]["loses"]["in_19_of_20"]
    assert "On 4 other benches" in desk.run(*asked).out
    assert "other bench" not in desk.run(*asked[:-1], "0").out
