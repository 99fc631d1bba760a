"""Makes every made block of the documentation anew, from the repository root:

    .venv/bin/python -m tests.docs.refresh            tables, printouts and schemas
    .venv/bin/python -m tests.docs.refresh pictures   and the picture of a chart
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from PIL import Image

from tests.docs.blocks import DOCUMENTS, ROOT, made_again
from tests.docs.printouts import said
from tests.docs.schemas import refresh_schemas

TOPOLOGY = "light-controlled-lamp"
PICTURE = ROOT / "samples" / "pictures" / f"{TOPOLOGY}.png"
_COLOURS = 64  # enough to keep the signal colours apart, few enough for a clone


def refresh_documents() -> None:
    """Rewrite the documents whose blocks have changed, and say which."""
    for path in DOCUMENTS:
        before = path.read_text(encoding="utf-8")
        after = made_again(before)
        if after != before:
            path.write_text(after, encoding="utf-8")
            print(f"{path.relative_to(ROOT)} is made anew")


def refresh_picture() -> None:
    """Draw the stage chart and keep the sheet on which its flowchart starts."""
    with tempfile.TemporaryDirectory() as folder:
        said(f"nextprobe chart {TOPOLOGY} --depth stage -o {folder}/chart.png")
        with Image.open(Path(folder) / "chart-2.png") as sheet:
            small = sheet.convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE)
    PICTURE.parent.mkdir(exist_ok=True)
    small.save(PICTURE, optimize=True)
    print(f"{PICTURE.relative_to(ROOT)} is drawn anew")


if __name__ == "__main__":
    refresh_schemas()
    refresh_documents()
    if "pictures" in sys.argv[1:]:
        refresh_picture()
