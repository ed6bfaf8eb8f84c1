"""`commission tablet`: the walk in a browser, on this machine unless an address is named."""

from __future__ import annotations

import argparse
import ipaddress
import sys

from commission.commands.say import complain, finish, say
from commission.problems import EXIT_DONE, InputRefused
from commission.text import visible

NOT_HERE = (
    "this needs the extra 'tablet', which is not installed; in the folder of the program: "
    "pip install '.[tablet]'"
)
OPEN_TO_ALL = (
    "Whoever can read this network's traffic can read, and type, what you do: no TLS. Only on a "
    "network of your own, and only for as long as it is needed."
)


def run(options: argparse.Namespace) -> int:
    """Serve the walk of a site or a job until it is ended by Ctrl+C."""
    from commission.host import Disk
    from commission.opening import refuse_what_cannot_open

    host = _address(options.host)
    if not 0 <= options.port <= 65_535:
        raise InputRefused("a port is a number from 0 (any that is free) to 65535")
    refuse_what_cannot_open(options.target, kind=None, new=False, checklist=None, disk=Disk())
    try:
        from commission.tablet.server import Server, serve
    except ModuleNotFoundError as error:
        if not str(error.name).startswith(("textual_serve", "aiohttp")):
            raise
        raise InputRefused(NOT_HERE) from None
    import asyncio

    def told(address: str) -> None:
        say(f"{address}\nopen it in a browser; Ctrl+C here ends it, and the walk with it")
        finish()

    if not ipaddress.ip_address(host).is_loopback:
        complain(OPEN_TO_ALL)
    command = [sys.executable, "-m", "commission", "open", options.target]
    try:
        asyncio.run(
            serve(Server(command, f"commission: {options.target}"), host, options.port, told)
        )
    except OSError as error:
        words = f"{host}, port {options.port} can't be served: {error.strerror or error}"
        raise InputRefused(words) from None
    return EXIT_DONE


def _address(text: str) -> str:
    """One address of this machine. Raises InputRefused for a name, or for all addresses at once."""
    try:
        found = ipaddress.ip_address(text)
    except ValueError:
        raise InputRefused(f"{visible(text, 60)} is no IP address, such as 127.0.0.1") from None
    if found.is_unspecified:
        raise InputRefused("name one address of this machine, not all of them at once")
    return str(found)
