"""One server for the tests of a file that only look."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.station.house import Server, serving
from tests.station.visitor import Visitor


@pytest.fixture(scope="module")
def host(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server on a shop of its own."""
    folder = tmp_path_factory.mktemp("station")
    with serving(folder, str(folder / "shop.db")) as server:
        yield server


@pytest.fixture
def visitor(host: Server) -> Visitor:
    """Somebody who comes for the first time."""
    return Visitor(host.address)


@pytest.fixture(scope="module")
def behind_passcode(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server on the network: its passcode is `PASSCODE`."""
    folder = tmp_path_factory.mktemp("network")
    place = str(folder / "shop.db")
    with serving(folder, place, "--network", NEXTPROBE_PASSCODE=PASSCODE) as server:
        yield Server(f"http://127.0.0.1:{server.port}", server.process)


PASSCODE = "lamp-on-a-bench"
