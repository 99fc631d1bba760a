"""Are files written whole, to plain files only, and left as private as they were?

The disk's side is POSIX: rename replaces a name as one step, and fsync brings data on to the medium
(IEEE Std 1003.1-2017, rename, fsync). A kill between the two is tried in `test_a_kill_*`.
"""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from kb import cache, files
from kb.trouble import TroubleError
from render.cli import files as told
from render.drawing import issue


def test_a_device_a_pipe_and_a_folder_are_refused_and_stay(tmp_path: Path) -> None:
    """Replacing `/dev/null` by a plain file breaks the machine."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for target in (pipe, Path("/dev/null"), tmp_path):
        kind = stat.S_IFMT(target.stat().st_mode)
        with pytest.raises(TroubleError, match="CL201"):
            told.write_text(target, "chart")
        assert stat.S_IFMT(target.stat().st_mode) == kind
    assert [one.name for one in tmp_path.iterdir()] == ["pipe"]


def test_a_link_stays_a_link_and_its_file_is_written(tmp_path: Path) -> None:
    """Also where nothing is there yet that it points to."""
    for name in ("there", "not-there"):
        link = tmp_path / f"link-{name}"
        link.symlink_to(tmp_path / name)
    (tmp_path / "there").write_text("old", encoding="utf-8")
    for name in ("there", "not-there"):
        told.write_text(tmp_path / f"link-{name}", "new")
        assert (tmp_path / f"link-{name}").is_symlink()
        assert (tmp_path / name).read_text(encoding="utf-8") == "new"


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664])
def test_a_file_keeps_its_mode(tmp_path: Path, mode: int) -> None:
    """A private file is not made readable by all."""
    target = tmp_path / "walk.json"
    target.write_text("old", encoding="utf-8")
    target.chmod(mode)
    told.write_text(target, "new")
    assert stat.S_IMODE(target.stat().st_mode) == mode


def test_a_new_file_has_the_mode_of_new_files(tmp_path: Path) -> None:
    """What the person's umask leaves."""
    before = os.umask(0o027)
    try:
        told.write_text(tmp_path / "new", "text")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o640


def test_a_kill_leaves_the_old_file_and_what_it_left_beside_goes_next_time(tmp_path: Path) -> None:
    """What a living program is writing stays."""
    target = tmp_path / "chart.json"
    target.write_text("old", encoding="utf-8")
    code = (
        "import sys, time\nfrom pathlib import Path\nfrom kb import files\n"
        f"with files.whole(Path({str(target)!r})) as aside:\n"
        "    aside.write_text('half')\n    print('writing', flush=True)\n    time.sleep(60)\n"
    )
    pair = [
        subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    for one in pair:
        assert one.stdout is not None
        assert one.stdout.readline() == "writing\n"
    pair[0].send_signal(signal.SIGKILL)
    pair[0].wait()
    assert target.read_text(encoding="utf-8") == "old"
    asides = [one for one in tmp_path.iterdir() if one != target]
    assert len(asides) == 2
    for one in asides:
        os.utime(one, (time.time() - 3600,) * 2)
    told.write_text(tmp_path / "other", "text")
    assert len([one for one in tmp_path.iterdir() if one.name.startswith(".")]) == 1
    pair[1].kill()
    pair[1].wait()


def test_standard_output_by_any_of_its_names_is_streamed() -> None:
    """A PDF, too, byte for byte, however the stream's letters are set."""
    for name in files.STREAMS:
        code = (
            "from pathlib import Path\nfrom render.drawing.issue import save\n"
            f"save([bytes(range(256))], Path({name!r}))\n"
        )
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
        assert done.stdout == bytes(range(256))


def test_several_sheets_can_t_be_streamed(capsys: pytest.CaptureFixture[str]) -> None:
    """They are a file each."""
    with pytest.raises(TroubleError, match="PA153"):
        issue.save([b"one", b"two"], Path("-"))
    assert capsys.readouterr().out == ""


def _sheet(number: int, of: int, mark: str = issue.MARK) -> bytes:
    return f"<!-- {mark} --><svg><title>lamp – sheet {number} of {of}</title></svg>".encode()


def test_sheets_of_an_earlier_longer_chart_go(tmp_path: Path) -> None:
    """They would hang beside the new ones as if they belonged to them."""
    target = tmp_path / "lamp.svg"
    issue.save([_sheet(n, 5) for n in range(1, 6)], target)
    issue.save([_sheet(n, 3) for n in range(1, 4)], target)
    assert sorted(p.name for p in tmp_path.iterdir()) == [f"lamp-{n}.svg" for n in (1, 2, 3)]
    issue.save([_sheet(1, 1)], target)
    assert [p.name for p in tmp_path.iterdir()] == ["lamp.svg"]


def test_files_that_are_not_its_earlier_sheets_stay(tmp_path: Path) -> None:
    """Someone else's drawing, and a chart of one sheet that happens to have such a name."""
    (tmp_path / "lamp-1.svg").write_bytes(_sheet(1, 1, "someone's own"))
    issue.save([_sheet(1, 1)], tmp_path / "lamp.svg")
    assert (tmp_path / "lamp-1.svg").exists()
    issue.save([_sheet(1, 1)], tmp_path / "other-2.svg")
    issue.save([_sheet(1, 1)], tmp_path / "other.svg")
    assert (tmp_path / "other-2.svg").exists()


def test_files_written_together_go_together(tmp_path: Path) -> None:
    """A draft's second file fails: neither it, nor the first, nor their new folder stays."""
    (tmp_path / "old").write_text("old", encoding="utf-8")
    first, second = tmp_path / "made" / "first", tmp_path / "old"
    with pytest.raises(TroubleError), told.together([first, second]):  # noqa: PT012
        first.parent.mkdir()
        told.write_text(first, "text")
        told.write_text(tmp_path / "nowhere" / "second", "text")
    assert [one.name for one in tmp_path.iterdir()] == ["old"]


@pytest.mark.parametrize("at", [0, 40, 70, 90])
def test_a_damaged_kept_file_is_as_if_not_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    """One byte is enough, in the text or in its checksum; the next one is kept again."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    file = cache.place("model", ["a", 1])
    cache.keep(file, '{"prior": 0.25, "minutes": 12}')
    assert cache.recall(file) == '{"prior": 0.25, "minutes": 12}'
    content = bytearray(file.read_bytes())
    content[at] ^= 1
    file.write_bytes(content)
    assert cache.recall(file) is None
    assert not file.exists()
    cache.keep(file, "{}")
    assert cache.recall(file) == "{}"
