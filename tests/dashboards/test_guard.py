"""Hostile requests, each of which must fail safely: without an answer from the pages, and without a traceback."""

from __future__ import annotations

import json
from typing import Any

import pytest
from werkzeug.test import Client, EnvironBuilder, run_wsgi_app

from dashboards.app import create_app
from dashboards.guard import MOST_BYTES, Door, guarded
from dashboards.serve import behind_the_guard
from tests.dashboards.desks import three_row_desk

PORT = 8050
OWN = {"Host": f"127.0.0.1:{PORT}"}
PAGES = {
    **OWN,
    "Origin": f"http://127.0.0.1:{PORT}",
    "Sec-Fetch-Site": "same-origin",
    "Content-Type": "application/json",
}
TURN = {
    "output": "..page.children...page-title.data...filters-said.children..",
    "outputs": [
        {"id": "page", "property": "children"},
        {"id": "page-title", "property": "data"},
        {"id": "filters-said", "property": "children"},
    ],
    "inputs": [
        {"id": "address", "property": "pathname", "value": "/"},
        {"id": "address", "property": "search", "value": ""},
    ],
    "changedPropIds": ["address.pathname"],
}


@pytest.fixture(scope="module")
def client() -> Client:
    return Client(behind_the_guard(create_app(three_row_desk()), PORT))


def ask(client: Client, method: str, path: str, headers: dict[str, str], body: bytes = b"") -> Any:
    return client.open(path, method=method, headers=headers, data=body, buffered=True)


def turn(**values: str) -> bytes:
    asked = json.loads(json.dumps(TURN))
    for given in asked["inputs"]:
        given["value"] = values.get(given["property"], given["value"])
    return json.dumps(asked).encode()


def test_the_pages_own_requests_are_answered(client: Client) -> None:
    assert ask(client, "GET", "/", OWN).status_code == 200
    answer = ask(client, "POST", "/_dash-update-component", PAGES, turn())
    assert answer.status_code == 200
    assert "3 frames" in answer.text


@pytest.mark.parametrize(
    "host",
    ["evil.example", f"evil.example:{PORT}", "127.0.0.1", "127.0.0.1:1", f"127.0.0.1:{PORT}.evil.example", "",
     f"0.0.0.0:{PORT}", f"localhost.evil.example:{PORT}", f"user@127.0.0.1:{PORT}", f"127.0.0.1:{PORT}#evil"],
)  # fmt: skip
@pytest.mark.parametrize("path", ["/", "/_dash-layout", "/table/keep-rates-by-lens.csv"])
def test_another_host_is_refused(client: Client, host: str, path: str) -> None:
    answer = ask(client, "GET", path, {"Host": host})
    assert answer.status_code == 421
    assert "Orla" not in answer.text


@pytest.mark.parametrize("host", [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"LOCALHOST:{PORT}", f"[::1]:{PORT}"])
def test_this_machine_by_any_of_its_names(client: Client, host: str) -> None:
    assert ask(client, "GET", "/", {"Host": host}).status_code == 200


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": f"https://127.0.0.1:{PORT}"}, 403),
        ({"Origin": "http://127.0.0.1:1"}, 403),
        ({"Origin": ""}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Sec-Fetch-Site": "none"}, 403),
        ({"Content-Type": "text/plain"}, 415),
        ({"Content-Type": "application/x-www-form-urlencoded"}, 415),
        ({"Content-Type": "multipart/form-data; boundary=x"}, 415),
        ({"Content-Type": ""}, 415),
    ],
)
def test_another_sites_write_is_refused(client: Client, headers: dict[str, str], status: int) -> None:
    assert ask(client, "POST", "/_dash-update-component", {**PAGES, **headers}, turn()).status_code == status


def test_a_write_that_does_not_say_where_it_comes_from_is_refused(client: Client) -> None:
    silent = {key: value for key, value in PAGES.items() if key not in {"Origin", "Sec-Fetch-Site"}}
    assert ask(client, "POST", "/_dash-update-component", silent, turn()).status_code == 403


@pytest.mark.parametrize("length", [str(MOST_BYTES + 1), "99999999999999999999", "-1", "1e3", "", "0x10", "١٢"])
def test_a_body_too_big_or_of_no_known_size_is_refused_unread(length: str) -> None:
    builder = EnvironBuilder(path="/_dash-update-component", method="POST", headers=PAGES)
    environ = builder.get_environ() | {"CONTENT_LENGTH": length}
    del environ["wsgi.input"]  # reading it would fail
    _, status, _ = run_wsgi_app(guarded(_never, Door(port=PORT)), environ)
    assert status.startswith("413")


def _never(environ: Any, start_response: Any) -> list[bytes]:
    raise AssertionError("the guard let it pass")


@pytest.mark.parametrize("mode", ["no-cors", "cors", "navigate"])
@pytest.mark.parametrize("path", ["/table/frames-worth-a-look.csv", "/_dash-layout", "/assets/look.css"])
def test_another_sites_page_can_embed_nothing(client: Client, path: str, mode: str) -> None:
    headers = {**OWN, "Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": mode, "Sec-Fetch-Dest": "iframe"}
    assert ask(client, "GET", path, headers).status_code == 403


def test_a_link_from_elsewhere_opens_the_page(client: Client) -> None:
    headers = {**OWN, "Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}
    assert ask(client, "GET", "/", headers).status_code == 200


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE", "CONNECT"])
def test_other_methods_do_nothing(client: Client, method: str) -> None:
    assert ask(client, method, "/", PAGES, b"{}").status_code in {404, 405}


@pytest.mark.parametrize(
    "path",
    [
        "/assets/../app.py", "/assets/%2e%2e/app.py", "/assets/..%2fapp.py", "/assets/%252e%252e/app.py",
        "/assets/..\\app.py", "/assets//etc/passwd", "/assets/%00", "/table/../../kit.csv", "/table/%2e%2e%2fkit.csv",
        "/table/nothing.csv", "/thumb/../../../etc/passwd", "/thumb/%2e%2e/kit.toml", "/thumb/x.webp", "/kit.toml",
        "/_dash-component-suites/dash/../../../etc/passwd", "/_mcp", "/console", "/.env", "/etc/passwd",
    ],
)  # fmt: skip
def test_no_path_leads_out(client: Client, path: str) -> None:
    answer = ask(client, "GET", path, OWN)
    assert answer.status_code == 404, answer.text[:200]
    for secret in ("root:", "create_app", "[[bodies]]", "Traceback"):
        assert secret not in answer.text


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"[]", b"null", b'"x"', b"{}", b'{"output": "page.children"}', b"\xff\xfe", b"[" * 50_000,
     turn(pathname="/../../etc/passwd"), turn(search="?lens=" + "x" * 100_000),
     turn(search="?" + "lens=a&" * 20_000), turn(pathname="<script>alert(1)</script>")],
    ids=range(13),
)  # fmt: skip
@pytest.mark.filterwarnings("ignore")
def test_nonsense_gives_no_traceback(client: Client, body: bytes) -> None:
    answer = ask(client, "POST", "/_dash-update-component", PAGES, body)
    assert "Traceback" not in answer.text
    assert 'File "' not in answer.text


def test_every_answer_carries_the_headers(client: Client) -> None:
    for path, headers in [("/", OWN), ("/nowhere", OWN), ("/", {"Host": "evil.example"}), ("/assets/look.css", OWN)]:
        answer = ask(client, "GET", path, headers)
        policy = answer.headers["Content-Security-Policy"]
        script = next(part for part in policy.split("; ") if part.startswith("script-src"))
        assert "unsafe" not in script
        assert "http" not in policy
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "no-referrer"


def test_inline_scripts_of_the_page_are_all_named_by_the_policy(client: Client) -> None:
    answer = ask(client, "GET", "/", OWN)
    assert answer.headers["Content-Security-Policy"].count("'sha256-") == answer.text.count(
        '<script id="_dash-renderer"'
    )
    assert "http://" not in answer.text.replace("http://www.w3.org", "")
    assert "https://" not in answer.text


@pytest.fixture(scope="module")
def shared() -> Client:
    served = behind_the_guard(create_app(three_row_desk()), PORT, key=TestWithAKey.KEY, host="studio.lan")
    return Client(served, use_cookies=False)


class TestWithAKey:
    KEY = "open-sesame"
    COOKIE = f"steadykeep-key-{PORT}"

    def own(self, host: str = "192.0.2.7") -> dict[str, str]:
        return {"Host": f"{host}:{PORT}", "Cookie": f"{self.COOKIE}={self.KEY}"}

    @pytest.mark.parametrize(
        "path", ["/", "/?key=", "/?key=wrong", "/?key=open-sesam", "/?key=open-sesame1", "/?key=%ff",
                 "/?key=wrong&key=x",
                 "/?Key=open-sesame", "/_dash-layout", "/table/log.csv", "/picture/small/0-0.webp", "/assets/look.css",
                 "/open-sesame", "//?key=%6fpen"],
    )  # fmt: skip
    def test_without_it_nothing_is_shown(self, shared: Client, path: str) -> None:
        answer = ask(shared, "GET", path, {"Host": f"192.0.2.7:{PORT}"})
        assert answer.status_code == 401
        assert "Set-Cookie" not in answer.headers
        assert self.KEY not in answer.text

    @pytest.mark.parametrize("cookie", [f"{COOKIE}=wrong", f"{COOKIE}=", ";;=;", f"{COOKIE}=\u00e9", f"other={KEY}",
                                        f"steadykeep-key-1={KEY}"])  # fmt: skip
    def test_a_wrong_cookie_does_not_help(self, shared: Client, cookie: str) -> None:
        environ = EnvironBuilder(path="/", base_url=f"http://192.0.2.7:{PORT}").get_environ() | {"HTTP_COOKIE": cookie}
        _, status, _ = run_wsgi_app(shared.application, environ)
        assert status.startswith("401")

    @pytest.mark.parametrize("header", ["Authorization", "X-Key", "Referer", "Origin"])
    def test_nowhere_else_is_it_taken_from(self, shared: Client, header: str) -> None:
        given = {"Host": f"192.0.2.7:{PORT}", header: f"http://192.0.2.7:{PORT}/?key={self.KEY}"}
        assert ask(shared, "GET", "/", given).status_code == 401

    def test_a_write_brings_it_in_the_cookie_alone(self, shared: Client) -> None:
        origin = {
            "Origin": f"http://192.0.2.7:{PORT}",
            "Sec-Fetch-Site": "same-origin",
            "Content-Type": PAGES["Content-Type"],
        }
        bare = {"Host": f"192.0.2.7:{PORT}", **origin}
        assert ask(shared, "POST", f"/_dash-update-component?key={self.KEY}", bare, turn()).status_code == 401
        assert ask(shared, "POST", "/_dash-update-component", self.own() | origin, turn()).status_code == 200
        foreign = self.own() | origin | {"Origin": "http://evil.example", "Sec-Fetch-Site": "cross-site"}
        assert ask(shared, "POST", "/_dash-update-component", foreign, turn()).status_code == 403

    def test_it_is_brought_once_and_leaves_the_address(self, shared: Client) -> None:
        answer = ask(shared, "GET", f"/?key={self.KEY}", {"Host": f"192.0.2.7:{PORT}"})
        assert (answer.status_code, answer.headers["Cache-Control"]) == (200, "no-store")
        assert 'content="0;url=/"' in answer.text
        assert self.KEY not in answer.text
        assert answer.headers["Referrer-Policy"] == "no-referrer"
        cookie, *attributes = answer.headers["Set-Cookie"].split("; ")
        assert {"HttpOnly", "SameSite=Strict"} <= set(attributes)
        assert ask(shared, "GET", "/", {"Host": f"192.0.2.7:{PORT}", "Cookie": cookie}).status_code == 200

    @pytest.mark.parametrize("host", ["192.0.2.7", "[2001:db8::7]", "127.0.0.1", "studio.lan", "STUDIO.lan"])
    def test_by_its_addresses_and_the_name_it_is_served_under(self, shared: Client, host: str) -> None:
        assert ask(shared, "GET", "/", self.own(host)).status_code == 200

    @pytest.mark.parametrize(
        "host", ["evil.example", "192.0.2.7.evil.example", "studio.lan.evil.example", "[::1", "0x7f.1", "2130706433",
                 "192.0.2.7:80", "a@192.0.2.7", ""],
    )  # fmt: skip
    def test_a_rebound_name_is_refused_even_with_the_key(self, shared: Client, host: str) -> None:
        assert ask(shared, "GET", "/", self.own(host)).status_code == 421
        assert ask(shared, "GET", f"/?key={self.KEY}", {"Host": f"{host}:{PORT}"}).status_code == 421
