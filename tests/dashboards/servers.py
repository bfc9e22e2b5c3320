"""A server of the kind the product uses, in a thread, that ends without a stray error."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from waitress.channel import HTTPChannel
from waitress.server import create_server


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@contextmanager
def running(app: Any, port: int, **options: Any) -> Iterator[str]:
    """Serve a WSGI application; yields its address."""
    server = create_server(app, host="127.0.0.1", port=port, **options)
    thread = threading.Thread(target=server.run)
    thread.start()
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        watched: list[Any] = []

        def let_go() -> None:  # the loop ends by itself when it watches nothing
            watched.extend(server._map.values())
            server._map.clear()

        server.trigger.pull_trigger(let_go)
        thread.join()
        server.task_dispatcher.shutdown()
        for connection in watched:
            (connection.handle_close if isinstance(connection, HTTPChannel) else connection.close)()
