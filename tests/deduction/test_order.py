"""The same knowledge gives the same model, to the letter, whatever order Python's sets take."""

import os
import subprocess
import sys

from engine.library import model
from engine.model.records import Mains, sha256

# Deduced anew: the cache lies in a folder of the test's own.
DEDUCE = (
    "from engine.library import model; from engine.model.records import Mains, sha256; "
    "print(sha256(model('buck-lamp', mains=Mains(230, 50))))"
)


def test_a_model_does_not_depend_on_the_order_of_sets(tmp_path):
    hashes = set()
    for seed in ("1", "2"):
        own = {**os.environ, "PYTHONHASHSEED": seed, "XDG_CACHE_HOME": str(tmp_path / seed)}
        done = subprocess.run(
            [sys.executable, "-c", DEDUCE], env=own, capture_output=True, text=True, check=True
        )
        hashes.add(done.stdout.strip())
    assert len(hashes) == 1


def test_a_model_from_the_cache_is_the_one_that_was_deduced(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    first = model("buck-lamp", mains=Mains(230, 50))  # whole numbers: text keeps them apart
    assert any(tmp_path.rglob("model-*.json"))
    assert sha256(model("buck-lamp", mains=Mains(230, 50))) == sha256(first)
    for kept in tmp_path.rglob("model-*.json"):
        kept.unlink()
    assert sha256(model("buck-lamp", mains=Mains(230, 50))) == sha256(first)


def test_a_damaged_cache_is_deduced_anew(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    first = model("buck-lamp", mains=Mains(120, 60))
    for kept in tmp_path.rglob("*.json"):
        kept.write_text("{", encoding="utf-8")
    assert sha256(model("buck-lamp", mains=Mains(120, 60))) == sha256(first)
