"""Start the server: find a port, print the address, open the browser, serve until Ctrl-C."""

from __future__ import annotations

import contextlib
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


def workshop(
    folder: str | Path,
    *,
    port: int = 0,
    browser: bool = True,
    say: Callable[[str], None] = print,
) -> None:
    """Serve the workshop of a folder until it is interrupted.

    Args:
        folder: The folder of plain files; made when it is not there.
        port: Where to listen; any free one when 0.
        browser: Whether to open the browser.
        say: Called with the first line, ``Workshop: `` and the address.

    Raises:
        InputError: The folder is a file.
        MotifError: The port is taken, or the folder cannot be made.
    """
    import uvicorn

    room = open_workroom(folder)
    listening = _listen(port)
    at = f"{HERE}:{listening.getsockname()[1]}"
    secret = new_secret()
    engines = Engines()
    try:
        engines.warm()
        go_on_all(room, engines)
        guarded = Guard(
            application(room, engines), secret, (at, f"localhost:{at.rpartition(':')[2]}")
        )
        address = f"http://{at}/?{KEY}={secret}"
        say(f"Workshop: {address}")
        if browser:
            webbrowser.open(address)
        config = uvicorn.Config(
            guarded, log_level="warning", access_log=False, server_header=False,
            timeout_graceful_shutdown=1, h11_max_incomplete_event_size=32_768,
        )  # fmt: skip
        server = uvicorn.Server(config)
        with contextlib.suppress(KeyboardInterrupt):
            server.run(sockets=[listening])
    finally:
        engines.close()
        listening.close()


def _listen(port: int) -> socket.socket:
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((HERE, port))
    except OSError as bad:
        made.close()
        raise MotifError(f"port {port} cannot be used: {bad.strerror}") from None
    return made
