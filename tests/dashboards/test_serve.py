from __future__ import annotations

import urllib.error
import urllib.request
from typing import Any

import pytest

from auditor.errors import InputError
from dashboards import serve as serving
from dashboards.app import create_app
from dashboards.serve import is_this_machine, link_of, new_key, serve
from tests.dashboards.desks import three_row_desk
from tests.dashboards.servers import free_port, running


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.10", "::", "studio.local", "127.0.0.1.evil.example", ""])  # noqa: S104
def test_serving_others_needs_a_key(host: str) -> None:
    assert not is_this_machine(host)
    with pytest.raises(InputError, match="open to them"):
        serve(create_app(three_row_desk()), host=host)


@pytest.mark.parametrize("host", ["127.0.0.1", "127.9.9.9", "::1", "[::1]", "localhost"])
def test_this_machine_is_known(host: str) -> None:
    assert is_this_machine(host)


def test_pages_are_served_behind_the_guard(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: dict[str, Any] = {}
    monkeypatch.setattr(serving, "listen", lambda app, host, **options: asked.update(app=app, host=host, **options))
    port = free_port()
    serve(create_app(three_row_desk()), port=port)
    assert asked.pop("host") == "127.0.0.1"
    with running(**asked) as address:
        with urllib.request.urlopen(f"{address}/") as answer:  # noqa: S310
            assert answer.status == 200
            assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
            assert "Server" not in answer.headers
        foreign = urllib.request.Request(f"{address}/", headers={"Host": "evil.example"})  # noqa: S310
        with pytest.raises(urllib.error.HTTPError, match="421") as refused:
            urllib.request.urlopen(foreign)  # noqa: S310
        refused.value.close()


def test_a_key_is_long_new_and_fit_for_an_address() -> None:
    one, other = new_key(), new_key()
    assert one != other
    assert len(one) >= 43  # 256 bits
    assert link_of("192.0.2.7", 80, one).endswith(f":80/?key={one}")


def test_on_every_address_the_link_names_one_that_others_reach() -> None:
    assert not link_of("0.0.0.0", 8050, "k").startswith("http://0.0.0.0")  # noqa: S104


def test_without_a_network_the_link_names_the_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    def unreachable(*_: Any) -> None:
        raise OSError

    monkeypatch.setattr("socket.socket.connect", unreachable)
    monkeypatch.setattr("socket.gethostname", lambda: "studio")
    assert link_of("::", 8050, "k") == "http://studio:8050/?key=k"
