"""A photograph that comes in with a form: multipart, RFC 7578, read no further than it may go.

By the numbers of OWASP ASVS 4.0.3 (from memory): 12.1.1 sizes, 12.2.1 kinds by content, 12.3.1 no
name of a file is used for anything.
"""

from __future__ import annotations

import re
from collections.abc import AsyncGenerator, Mapping

from starlette.datastructures import UploadFile
from starlette.formparsers import MultiPartException, MultiPartParser
from starlette.requests import Request
from starlette.responses import PlainTextResponse

from engine.cases import photographs

KIND = "multipart/form-data"
LARGEST = photographs.LARGEST + 64 * 1024
"""Bytes of the whole: a photograph, its words, and what parts them."""
TOO_LARGE = (
    f"A photograph may have {photographs.LARGEST // 10**6} MB. Save it smaller, 2000 pixels wide "
    "will do.\n"
)
_PLACE = re.compile(r"/case/[0-9]+/photographs")
_MOST_FIELDS, _LARGEST_FIELD = 8, 4096


class UploadError(Exception):
    """A form that can't be taken; `response` says so."""

    def __init__(self, status: int, says: str) -> None:
        self.response = PlainTextResponse(says, status)
        super().__init__(says)


def is_place(path: str) -> bool:
    """Whether photographs are taken at this address."""
    return _PLACE.fullmatch(path) is not None


async def read(request: Request) -> tuple[Mapping[str, tuple[str, ...]], tuple[bytes, ...]]:
    """The form's fields, each with all of its values, and what its files hold. UploadError for one
    that is too large or no form."""
    parser = MultiPartParser(
        request.headers, _pieces(request), max_files=1, max_fields=_MOST_FIELDS,
        max_part_size=_LARGEST_FIELD,
    )  # fmt: skip
    try:
        form = await parser.parse()
    except (MultiPartException, KeyError, ValueError) as wrong:
        raise UploadError(400, "That is no form of ours.\n") from wrong
    fields: dict[str, tuple[str, ...]] = {}
    files: list[bytes] = []
    try:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                files.append(await value.read())
            else:
                fields[name] = (*fields.get(name, ()), value)
    finally:
        await form.close()
    return fields, tuple(content for content in files if content)


async def _pieces(request: Request) -> AsyncGenerator[bytes, None]:
    size = 0
    async for piece in request.stream():
        size += len(piece)
        if size > LARGEST:
            raise UploadError(413, TOO_LARGE)
        yield piece
