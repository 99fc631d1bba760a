"""Secrets of the page: a key of this machine, tokens made with it, the passcode of a shop.

A token is an HMAC (RFC 2104, SHA-256) over what it is for and the session it belongs to. Nothing is
kept of a session on the server, so pages and forms outlive its restart.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from platformdirs import user_data_path

from kb.trouble import Place, Trouble, TroubleError

ADMISSION_SECONDS = 12 * 3600
"""How long a passcode opens the page: a working day. Our choice."""
LEAST_LETTERS = 8
"""Characters of a passcode at least (NIST SP 800-63B, 5.1.1.1, from memory)."""
MOST_TRIES, TRIES_SECONDS = 8, 60.0
"""Wrong passcodes in so many seconds, from everywhere together, before all have to wait."""
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""None that is easily taken for another."""
_KEY_BYTES = 32


def machine_key(path: Path | None = None) -> bytes:
    """The key in a file that only its owner may read, made where it is not there yet.

    TroubleError CL161 where it can't be kept."""
    place = path or user_data_path("nextprobe", appauthor=False) / "page.key"
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        try:
            handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except FileExistsError:
            key = place.read_bytes()
            if len(key) == _KEY_BYTES:
                return key
            place.unlink()
            return machine_key(path)
        with os.fdopen(handle, "wb") as stream:
            stream.write(key := secrets.token_bytes(_KEY_BYTES))
        return key
    except OSError as wrong:
        raise TroubleError(
            Trouble(
                "CL161", Place(str(place)),
                f"the page's key can't be kept there ({wrong.strerror or wrong})",
                "Make the folder one that you may write to",
            )
        ) from wrong  # fmt: skip


def new_passcode() -> str:
    """A passcode by chance, in groups: some 59 bits."""
    groups = ("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(3))
    return "-".join(groups)


def check_passcode(passcode: str) -> None:
    """TroubleError CL162 for one that is too short to keep anybody out."""
    if len(passcode.strip()) < LEAST_LETTERS:
        raise TroubleError(
            Trouble(
                "CL162", Place("NEXTPROBE_PASSCODE"), "the passcode is too short",
                f"Give one of {LEAST_LETTERS} characters or more, or none: one is made then",
            )
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Keys:
    """Tokens of one server: `passcode` is None where everybody on this machine may come in."""

    key: bytes = field(repr=False)
    passcode: str | None = field(default=None, repr=False)
    clock: Callable[[], float] = time.time
    failures: deque[float] = field(default_factory=lambda: deque(maxlen=MOST_TRIES))

    def new_session(self) -> str:
        """A name for a browser that comes for the first time."""
        return secrets.token_hex(16)

    def form_token(self, session: str) -> str:
        """What a form of this session must bring along."""
        return self._sign("form", session)

    def is_form_token(self, session: str, token: str) -> bool:
        """Whether a form brought its session's token."""
        return hmac.compare_digest(self.form_token(session).encode(), token.encode())

    def admission(self, session: str) -> str:
        """What a browser keeps once it has told the passcode."""
        until = str(int(self.clock()) + ADMISSION_SECONDS)
        return f"{until}.{self._sign('in', session, until, self.passcode or '')}"

    def is_admitted(self, session: str, admission: str) -> bool:
        """Whether a browser may come in: by its admission, or because no passcode is asked for."""
        if self.passcode is None:
            return True
        until, _, signature = admission.partition(".")
        if not until.isascii() or not until.isdigit() or int(until) < self.clock():
            return False
        due = self._sign("in", session, until, self.passcode)
        return hmac.compare_digest(due.encode(), signature.encode())

    def is_waiting(self) -> bool:
        """Whether so many wrong passcodes came that nobody may try now."""
        now = self.clock()
        return len(self.failures) == MOST_TRIES and now - self.failures[0] < TRIES_SECONDS

    def is_passcode(self, text: str) -> bool:
        """Whether that is the passcode; a wrong one is counted."""
        there = (self.passcode or "").strip().casefold()
        if hmac.compare_digest(there.encode(), text.strip().casefold().encode()):
            return True
        self.failures.append(self.clock())
        return False

    def _sign(self, *words: str) -> str:
        text = "\0".join(words).encode()
        return hmac.new(self.key, text, hashlib.sha256).hexdigest()
