"""Start the server: find a port, print the address, open the browser, serve until Ctrl-C.

It listens on this machine alone.  With ``lan`` it listens on the address of this machine in the
home network too, for a phone beside the board; the secret, and the names that are answered, guard
that door as they do the other.
"""

from __future__ import annotations

import contextlib
import io
import ipaddress
import socket
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import Final

from motifsearch.base.errors import MotifError
from motifsearch.runs.live import Engines
from motifsearch.runs.wall import go_on_all
from motifsearch.runs.workroom import open_workroom
from motifsearch.workshop.app import application
from motifsearch.workshop.guard import KEY, Guard, new_secret

#: Where the server listens: this machine, and nothing else.
HERE: Final = "127.0.0.1"
#: An address for documentation (RFC 5737): asked for a way to it, a machine names its own address.
NOWHERE: Final = ("192.0.2.1", 9)

#: Private networks (RFC 1918, 3).
PRIVATE: Final = tuple(
    ipaddress.ip_network(network) for network in ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16")
)


def workshop(
    folder: str | Path,
    *,
    port: int = 0,
    browser: bool = True,
    lan: bool = False,
    say: Callable[[str], None] = print,
) -> None:
    """Serve the workshop of a folder until it is interrupted.

    Args:
        folder: The folder of plain files; made when it is not there.
        port: Where to listen; any free one when 0.
        browser: Whether to open the browser.
        lan: Whether to serve the home network too; what to scan, and a warning, are said then.
        say: Called with the first line, ``Workshop: `` and the address, and with what follows.

    Raises:
        InputError: The folder is a file.
        MotifError: The port is taken, the folder cannot be made, or there is no home network.
    """
    import uvicorn

    room = open_workroom(folder)
    listening = [_listen(HERE, port)]
    number = listening[0].getsockname()[1]
    names = [f"{HERE}:{number}", f"localhost:{number}"]
    at = names[0]
    if lan:
        try:
            listening.append(_listen(home_address(), number))
        except MotifError:
            listening[0].close()
            raise
        names.append(f"{listening[1].getsockname()[0]}:{number}")
    secret = new_secret()
    engines = Engines()
    try:
        engines.warm()
        go_on_all(room, engines)
        guarded = Guard(application(room, engines), secret, tuple(names))
        address = f"http://{at}/?{KEY}={secret}"
        say(f"Workshop: {address}")
        if lan:
            say(for_a_phone(f"http://{names[-1]}/?{KEY}={secret}"))
        if browser:
            webbrowser.open(address)
        config = uvicorn.Config(
            guarded, log_level="warning", access_log=False, server_header=False,
            timeout_graceful_shutdown=1, h11_max_incomplete_event_size=32_768,
        )  # fmt: skip
        server = uvicorn.Server(config)
        with contextlib.suppress(KeyboardInterrupt):
            server.run(sockets=listening)
    finally:
        engines.close()
        for one in listening:
            one.close()


def home_address() -> str:
    """Return the IPv4 address of this machine in the home network; nothing is sent.

    Raises:
        MotifError: There is none, or it is not of a private network (RFC 1918): whoever listens on
            a public address serves the world.
    """
    with contextlib.closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as probe:
        try:
            probe.connect(NOWHERE)
            found = str(probe.getsockname()[0])
        except OSError:
            found = HERE
    if not any(ipaddress.ip_address(found) in network for network in PRIVATE):
        raise MotifError("this machine is in no home network, so --lan has nobody to serve")
    return found


def for_a_phone(address: str) -> str:
    """Return what is said to whoever wants the workshop on a phone: a code to scan, and a warning.

    The code is a QR code (ISO/IEC 18004) of the address with the secret.
    """
    import segno

    drawn = io.StringIO()
    segno.make(address, error="m", micro=False).terminal(drawn, compact=True)
    return (
        f"On a phone in the same network: {address}\n\n{drawn.getvalue()}\n"
        "Whoever has this address can see and change your threads and bands until you press "
        "Ctrl-C, and in this network others could listen in: use --lan at home, not in a cafe."
    )


def _listen(host: str, port: int) -> socket.socket:
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((host, port))
        # From now on: whoever opens the address the moment it is printed waits, and is not refused.
        made.listen()
    except OSError as bad:
        made.close()
        raise MotifError(f"port {port} cannot be used: {bad.strerror}") from None
    return made
