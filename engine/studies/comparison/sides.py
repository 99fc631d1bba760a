"""The knowledge that a person names: `shipped`, a folder, or a git revision.

A folder that has the sub-folder `words` is a whole body of knowledge, as the shipped one is; any
other stands on top of what is shipped. Code: CL141 no such knowledge.
"""

from __future__ import annotations

import io
import subprocess
import tarfile
from dataclasses import dataclass, field
from pathlib import Path

from kb.language import benchfile, loader
from kb.language.benchfile import BenchFile
from kb.language.knowledge import Knowledge
from kb.trouble import Place, Trouble, TroubleError

_SHIPPED, _WORDS, _KNOWLEDGE = "shipped", "words", "kb"


@dataclass(frozen=True, slots=True)
class Side:
    """A body of knowledge with the name that it was asked for by, and the bench file beside it."""

    name: str
    knowledge: Knowledge = field(repr=False)
    bench: BenchFile | None = field(repr=False, default=None)


def side(name: str, work: Path) -> Side:
    """The knowledge of that name; a revision is unpacked below `work`.

    TroubleError CL141 for none, or with the troubles of its files.
    """
    if name == _SHIPPED:
        return Side(name, loader.read())
    folder = Path(name)
    if folder.is_dir():
        return Side(name, _folder(folder), benchfile.of(folder))
    return Side(name, loader.read(base=_revision(name, work)))


def _folder(folder: Path) -> Knowledge:
    if (folder / _WORDS).is_dir():
        return loader.read(base=folder)
    return loader.read((folder,))


def _revision(name: str, work: Path) -> Path:
    """The knowledge of a revision, unpacked."""
    for root in dict.fromkeys((Path.cwd(), loader.SHIPPED.parent)):
        commit = _git(
            root, "rev-parse", "--verify", "--quiet", "--end-of-options", name + "^{commit}"
        )
        top = _git(root, "rev-parse", "--show-toplevel")
        if not commit or not top:
            continue
        archive_bytes = _git(
            Path(top.decode().strip()), "archive", "--format=tar", commit.decode().strip(),
            _KNOWLEDGE,
        )  # fmt: skip
        if archive_bytes:
            where = work / commit.decode().strip()[:12]
            with tarfile.open(fileobj=io.BytesIO(archive_bytes)) as archive:
                archive.extractall(where, filter="data")
            return where / _KNOWLEDGE
    raise TroubleError(
        Trouble(
            "CL141", Place("command line"),
            f"'{name}' is no folder, and no git revision that holds knowledge",
            "Write shipped, the path of a folder of knowledge, or a revision such as HEAD~1",
        )
    )  # fmt: skip


def _git(root: Path, *words: str) -> bytes:
    """What git prints; nothing where there is no git, no repository, or no such thing."""
    try:
        process = subprocess.run(["git", "-C", str(root), *words], capture_output=True, check=False)
    except OSError:
        return b""
    return process.stdout if process.returncode == 0 else b""
