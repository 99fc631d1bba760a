"""Does what is printed reach its reader: in any encoding, on closed and full streams?"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from typing import Any

import pytest

from render.cli import streams
from tests.words.cli import Desk

Done = subprocess.CompletedProcess[bytes]


def _run(desk: Desk, *words: str, encoding: str = "utf-8", **pipes: Any) -> Done:
    command = (
        f"import sys\nfrom render.cli.commands import main\nsys.argv = {['nextprobe', *words]!r}\n"
        "main()"
    )
    env = {**os.environ, **desk.own, "PYTHONIOENCODING": encoding}
    return subprocess.run(
        [sys.executable, "-c", command],
        env=env,
        check=False,
        timeout=120,
        **{"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **pipes},
    )


def test_units_are_spelt_where_a_stream_has_no_sign_for_them(desk: Desk) -> None:
    """`?` in the place of Ω or µ changes what is said."""
    words = ("calc", "discharge", "22 µF", "325 V")
    plain, narrow = _run(desk, *words), _run(desk, *words, encoding="ascii")
    shown, spelt = plain.stdout.decode(), narrow.stdout.decode("ascii")
    assert "kΩ" in shown
    assert "µF" in shown
    assert "kohm" in spelt
    assert "uF" in spelt
    assert spelt.count("?") == shown.count("?")


@pytest.mark.parametrize(
    ("sign", "text"),
    [("Ω", "ohm"), ("µ", "u"), ("≥", ">="), ("–", "-"), ("é", "e"), ("─", "-"), ("│", "|"),
     ("┼", "+"), ("世", "(cjk unified ideograph-4e16)")],
)  # fmt: skip
def test_a_sign_is_spelt(sign: str, text: str) -> None:
    """By a unit's letters, its base letter, or its Unicode name."""
    assert streams.spelling(sign, "ascii") == text


def test_json_is_whole_in_any_encoding(desk: Desk) -> None:
    """Escaped as RFC 8259 section 7 has it, not spelt."""
    wide = _run(desk, "list", "--json")
    narrow = _run(desk, "list", "--json", encoding="latin-1")
    sums = [_run(desk, "calc", "--json", encoding=e).stdout.decode(e) for e in ("utf-8", "ascii")]
    assert json.loads(wide.stdout.decode()) == json.loads(narrow.stdout.decode("latin-1"))
    assert json.loads(sums[0]) == json.loads(sums[1])


def test_a_full_disk_is_told_in_a_sentence(desk: Desk) -> None:
    """It is no fault of the program."""
    with open("/dev/full", "w", encoding="utf-8") as full:
        done = _run(desk, "list", stdout=full)
    assert done.returncode == 2
    assert b"nothing more can be written" in done.stderr
    assert done.stderr.count(b"\n") == 1


def test_a_closed_output_is_no_fault(desk: Desk) -> None:
    """As with `>&-`."""
    done = _run(desk, "list", stdout=None, preexec_fn=lambda: os.close(1))
    assert (done.returncode, done.stderr) == (0, b"")
