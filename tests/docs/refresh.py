"""Makes every made block of the documentation anew, from the repository root:

    .venv/bin/python -m tests.docs.refresh            tables, printouts and schemas
    .venv/bin/python -m tests.docs.refresh pictures   and the picture of a chart
"""

from __future__ import annotations

import re
import sys
import tempfile
from pathlib import Path

import pypdfium2
from PIL import Image

from render.paper.press import PNG_DPI
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
        said(f"nextprobe chart {TOPOLOGY} --depth stage -o {folder}/chart.pdf")
        document = pypdfium2.PdfDocument(Path(folder) / "chart.pdf")
        page = next(page for page in document if _begins(page))
        sheet = page.render(scale=PNG_DPI / 72).to_pil()
        # Median cut would give the few red spots of DANGER another colour.
        way = Image.Quantize.FASTOCTREE
        small = sheet.convert("RGB").quantize(_COLOURS, way, dither=Image.Dither.NONE)
    PICTURE.parent.mkdir(exist_ok=True)
    small.save(PICTURE, optimize=True)
    print(f"{PICTURE.relative_to(ROOT)} is drawn anew")


def _begins(page: pypdfium2.PdfPage) -> bool:
    """Whether a sheet has the START of the flowchart, and not only its name."""
    lines = page.get_textpage().get_text_range().splitlines()
    return any(re.match(r"START(?! and)", line) for line in lines)


if __name__ == "__main__":
    refresh_schemas()
    refresh_documents()
    if "pictures" in sys.argv[1:]:
        refresh_picture()
