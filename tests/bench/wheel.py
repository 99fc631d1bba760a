"""Is the wheel the same wherever it is built, whole, and does it work alone, without a network?

    python -m tests.bench.wheel            # dependencies are those of this environment
    python -m tests.bench.wheel --fresh    # dependencies are installed anew, by their hashes

The tracked files are copied to two folders and built there; the two wheels have to be the same byte
for byte (reproducible-builds.org, SOURCE_DATE_EPOCH). One is installed into an empty environment
outside the repository, and list, a walk, charts and a derivation run from it where no network is:
in a network name space of their own (unshare -n), or, where that may not be, with every connection
an error.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import shutil
import subprocess
import sys
import sysconfig
import tempfile
import zipfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
LANTERN = "tests/safety/gate-lantern.model.json"
_EPOCH = "315532800"
"""The first second that a zip file can tell: 1980."""
_FORBIDDING = """
import sys
def watch(event, arguments):
    if event in ("socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "socket.sendto"):
        raise SystemExit(f"a connection: {event} {arguments!r}")
sys.addaudithook(watch)
"""
_WITHOUT_NETWORK = ("unshare", "-n")


def run(*words: str | Path, **more: object) -> str:
    """A program to its end; what it said. SystemExit where it failed."""
    done = subprocess.run(
        [str(word) for word in words], capture_output=True, text=True, check=False, **more
    )  # type: ignore[call-overload]
    if done.returncode:
        raise SystemExit(f"{' '.join(map(str, words))}\n{done.stdout}{done.stderr}")
    return str(done.stdout)


def built(folder: Path) -> Path:
    """The wheel of the tracked files, built from a copy of them in a folder."""
    source = folder / "source"
    for name in run("git", "-C", ROOT, "ls-files", "-z").split("\0"):
        if name and (ROOT / name).is_file():
            (source / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(ROOT / name, source / name)
    env = {**os.environ, "SOURCE_DATE_EPOCH": _EPOCH}
    run(sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation",
        "--wheel-dir", folder, source, env=env, cwd=folder)  # fmt: skip
    (wheel,) = folder.glob("*.whl")
    return wheel


def installed(wheel: Path, folder: Path, is_fresh: bool) -> Path:
    """An environment with the wheel; its folder of programs."""
    run(sys.executable, "-m", "venv", folder)
    pip = (folder / "bin" / "python", "-m", "pip", "install", "--quiet")
    if is_fresh:
        run(*pip, "--require-hashes", "--no-deps", "-r", ROOT / "tests" / "requirements.hashes")
    else:  # files of this kind are read only where they lie: our own code is not lent
        place = next((folder / "lib").glob("python*")) / "site-packages" / "lent.pth"
        place.write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    run(*pip, "--no-deps", wheel)
    return folder / "bin"


def main() -> None:
    """Build, compare, look inside, run."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.wheel")
    parser.add_argument("--fresh", action="store_true", help="install dependencies by their hashes")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="wheel-") as name:
        folder = Path(name)
        wheels = []
        for place in ("one", "another/deeper"):
            (folder / place).mkdir(parents=True)
            wheels.append(built(folder / place))
        digests = {hashlib.sha256(wheel.read_bytes()).hexdigest() for wheel in wheels}
        print(f"{wheels[0].name}: {wheels[0].stat().st_size / 1e6:.1f} MB")
        print("built twice:", "the same" if len(digests) == 1 else _difference(*wheels))
        with zipfile.ZipFile(wheels[0]) as archive:
            names = archive.namelist()
        print("licences in it:", *(n for n in names if "/licenses/" in n and not n.endswith("/")))
        stray = [n for n in names if not n.startswith(("kb/", "engine/", "render/", "nextprobe-"))]
        print("strays in it:", stray or "nothing")
        programs = installed(wheels[0], folder / "environment", asked.fresh)
        _work(programs, folder)
        sys.exit(1 if len(digests) > 1 or stray else 0)


def _difference(one: Path, other: Path) -> str:
    with zipfile.ZipFile(one) as first, zipfile.ZipFile(other) as second:
        unlike = [name for name in first.namelist() if first.read(name) != second.read(name)]
    return f"they differ in {', '.join(unlike) or 'their frame'}"


def _work(programs: Path, folder: Path) -> None:
    """Everything that a bench does, where no network is and no repository."""
    is_apart = subprocess.run([*_WITHOUT_NETWORK, "true"], check=False).returncode == 0
    print("network:", "a name space of its own, without any" if is_apart else "forbidden by a hook")
    home = folder / "home"
    home.mkdir()
    shutil.copyfile(ROOT / LANTERN, home / "lantern.json")
    (home / "answers.yaml").write_text("other-socket: dead\n", encoding="utf-8")
    (home / "buck.yaml").write_text("volts-TP1: 3 V\n", encoding="utf-8")
    unit = ("--model", "lantern.json", "--time", "0.2")
    env = {**os.environ, "HOME": str(home), "XDG_CACHE_HOME": str(home), "PYTHONPATH": ""}
    for words in (
        ("list",), ("walk", *unit, "--answers", "answers.yaml"),
        *(("chart", *unit, "--depth", "stage", "-o", f"x.{end}") for end in ("pdf", "svg", "html")),
        ("walk", "buck-lamp", "--answers", "buck.yaml"), ("calc", "discharge", "22uF", "325V"),
        ("derive", "buck-lamp", "--samples", "1", "-o", "readings"),
    ):  # fmt: skip
        code = f"{_FORBIDDING}\nimport render\nassert {str(folder)!r} in render.__file__\n" \
            "from render.cli.commands import main\nsys.argv = ['nextprobe', *sys.argv[1:]]\nmain()"
        apart = _WITHOUT_NETWORK if is_apart else ()
        run(*apart, programs / "python", "-c", code, *words, env=env, cwd=home)
        print("works:", "nextprobe", *words, flush=True)


if __name__ == "__main__":
    main()
