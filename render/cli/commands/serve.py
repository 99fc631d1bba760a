"""`nextprobe serve`: the page at the bench, for browsers on this machine or in the shop."""

from __future__ import annotations

from typing import Annotated

import typer

from render.cli.options import Kb, Mains, MainsOption, ShopOption, Who


def serve(
    port: Annotated[
        int, typer.Option(min=0, max=65535, metavar="NUMBER", help="The port; 0 for any free one.")
    ] = 8410,
    network: Annotated[
        bool,
        typer.Option(
            "--network",
            help="Serve the shop's own network, too, behind a passcode: whoever has it can read "
            "and change every case, and nothing that goes over the network is encrypted.",
        ),
    ] = False,
    passcode: Annotated[
        str | None,
        typer.Option(
            envvar="NEXTPROBE_PASSCODE",
            metavar="WORDS",
            help="The passcode with --network, better told by the variable than by the option; "
            "without one, one is made and shown.",
        ),
    ] = None,
    mains: MainsOption = Mains.EUROPE,
    kb: Kb = None,
    shop: ShopOption = None,
    who: Who = None,
    time: Annotated[
        float,
        typer.Option(
            min=0.05, metavar="SECONDS", help="Longest time to plan before the first question."
        ),
    ] = 1.0,
) -> None:
    """Serve the page at the bench: cases taken in, walked, proven and closed in a browser.

    It shares the shop's cases with the terminal: begun at one, gone on with at the other.

    Without --network only browsers on this machine reach it.

    Example: nextprobe serve

    Example: nextprobe serve --network --shop postgresql://bench@shop/cases
    """
    from render.cli import keeping
    from render.station import keys, routes, server
    from render.station.desk import Desk
    from render.station.door import Doorway

    books = keeping.open_shop(shop, who)
    own_passcode = None
    if network:
        own_passcode = passcode or keys.new_passcode()
        keys.check_passcode(own_passcode)
    secrets = keys.Keys(keys.machine_key(), own_passcode)
    app = routes.application(books, Desk(kb, mains, time), secrets, Doorway.of(network))
    place = server.post(port, network)

    def ready() -> None:
        for address in place.addresses:
            print(f"Open {address}")
        print(f"Cases are those of {books.name}; Ctrl-C ends it.")
        if network:
            print(routes.NETWORK)
            if passcode is None:
                print(f"Passcode: {own_passcode}", flush=True)
        print(end="", flush=True)

    server.run(app, place, ready)
