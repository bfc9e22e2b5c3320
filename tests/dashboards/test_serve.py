from __future__ import annotations

import socket
import threading
import urllib.error
import urllib.request

import pytest

from auditor.errors import InputError
from dashboards import serve as serving
from dashboards.app import create_app
from dashboards.serve import is_this_machine, serve
from tests.dashboards.desks import three_row_desk


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.10", "::", "studio.local", "127.0.0.1.evil.example", ""])  # noqa: S104
def test_serving_others_needs_a_key(host: str) -> None:
    assert not is_this_machine(host)
    with pytest.raises(InputError, match="open to them"):
        serve(create_app(three_row_desk()), host=host)


@pytest.mark.parametrize("host", ["127.0.0.1", "127.9.9.9", "::1", "[::1]", "localhost"])
def test_this_machine_is_known(host: str) -> None:
    assert is_this_machine(host)


def test_pages_are_served_behind_the_guard(monkeypatch: pytest.MonkeyPatch) -> None:
    from waitress.server import create_server

    started: list[object] = []

    def listen(app: object, host: str, port: int, **options: object) -> None:
        started.append(server := create_server(app, host=host, port=port, **options))
        threading.Thread(target=server.run, daemon=True).start()

    monkeypatch.setattr(serving, "listen", listen)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    serve(create_app(three_row_desk()), port=port)
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/") as answer:
        assert answer.status == 200
        assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
        assert "Server" not in answer.headers
    foreign = urllib.request.Request(f"http://127.0.0.1:{port}/", headers={"Host": "evil.example"})
    with pytest.raises(urllib.error.HTTPError, match="421") as refused:
        urllib.request.urlopen(foreign)  # noqa: S310
    refused.value.close()
    started[0].close()  # type: ignore[attr-defined]
