"""Running the page: on this machine alone, or on the shop's network behind a passcode."""

from __future__ import annotations

import contextlib
import ctypes
import socket
from collections.abc import Callable
from dataclasses import dataclass

import uvicorn

from kb.trouble import Place, Trouble, TroubleError
from render.station.door import Door

_LOOPBACK, _EVERYWHERE = "127.0.0.1", "0.0.0.0"
_BACKLOG, _MOST_AT_ONCE = 64, 100
_ARENA_MAX = -8
"""M_ARENA_MAX of glibc's malloc.h."""
_IDLE_SECONDS, _PATIENCE_SECONDS = 20, 3


@dataclass(frozen=True, slots=True)
class Post:
    """Where the page is served: a bound socket, and the addresses that browsers reach it by."""

    socket: socket.socket
    addresses: tuple[str, ...]


def post(port: int, on_network: bool) -> Post:
    """The port on this machine, or on all of its networks; 0 for any free one.

    TroubleError CL163 where it is taken or may not be used."""
    host = _EVERYWHERE if on_network else _LOOPBACK
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    # So that a server that was killed can be started again at once.
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError as wrong:
        listener.close()
        raise TroubleError(
            Trouble(
                "CL163", Place(f"port {port}"),
                f"the page can't be served there ({wrong.strerror or wrong})",
                "Is another one running? Else name another port with --port",
            )
        ) from wrong  # fmt: skip
    number = listener.getsockname()[1]
    names = ["localhost"] if not on_network else [_own_address(), socket.gethostname()]
    return Post(listener, tuple(f"http://{name}:{number}/" for name in dict.fromkeys(names)))


def _own_address() -> str:
    """This machine's address on the network that leads out; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address that is nobody's (RFC 5737)
        except OSError:
            return _LOOPBACK
        return str(probe.getsockname()[0])


def run(app: Door, place: Post, ready: Callable[[], None]) -> None:
    """Serve until interrupted; `ready` is called before the first request is taken."""
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, server_header=False, lifespan="off",
        proxy_headers=False, limit_concurrency=_MOST_AT_ONCE, backlog=_BACKLOG,
        timeout_keep_alive=_IDLE_SECONDS, timeout_graceful_shutdown=_PATIENCE_SECONDS, ws="none",
    )  # fmt: skip
    _share_heaps()
    place.socket.listen(_BACKLOG)
    ready()
    uvicorn.Server(config).run(sockets=[place.socket])


def _share_heaps() -> None:
    """Let threads share two heaps: glibc gives each its own, and what walks free in one serves no
    other, so that a server grows for hours before it levels. Nothing where the C library is
    another."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).mallopt(_ARENA_MAX, 2)
