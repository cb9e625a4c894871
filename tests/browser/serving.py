"""The application served on a free port, as long as a test needs it."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from ringwright.ledger.service import Ledger
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from ringwright.web.serving import Serving
from tests.make.signing import open_to_readers


@contextmanager
def served(url: str, ledger: Ledger, *, guarded: bool = False) -> Iterator[str]:
    """The address at which a record's pages answer; to anybody, unless it is guarded."""
    app = create_app(Settings(database_url=url), ledger)
    if not guarded:
        open_to_readers(app)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = Serving(app, port)
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(10)
