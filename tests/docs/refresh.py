"""Makes every made block of the documentation anew, from the repository root:

    .venv/bin/python -m tests.docs.refresh
"""

from __future__ import annotations

from tests.docs.blocks import DOCUMENTS, ROOT, made_again


def main() -> None:
    """Rewrite the documents whose blocks have changed, and say which."""
    for path in DOCUMENTS:
        before = path.read_text(encoding="utf-8")
        after = made_again(before)
        if after != before:
            path.write_text(after, encoding="utf-8")
            print(f"{path.relative_to(ROOT)} is made anew")


if __name__ == "__main__":
    main()
