"""Hostile requests to what writes into kit.toml and settings.toml: each fails safely and leaves both as they were."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from werkzeug.test import Client

from auditor.pipeline.kit_editing import stamped_entry
from dashboards.app import create_app
from dashboards.guard import MOST_BYTES
from dashboards.serve import behind_the_guard
from dashboards.watched import workspace_desk
from tests.dashboards.test_guard import PAGES, PORT

FILES = ("kit.toml", "settings.toml", "log.csv")


@pytest.fixture(scope="module")
def folder(sample_workspace: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    copy = tmp_path_factory.mktemp("hostile") / "workspace"
    shutil.copytree(sample_workspace, copy, ignore=shutil.ignore_patterns("archive"))
    return copy


@pytest.fixture(scope="module")
def client(folder: Path) -> Client:
    return Client(behind_the_guard(create_app(workspace_desk(folder)), PORT))


def pressed(
    folder: Path, typed: Any = "99", name: Any = "price", table: str = "lenses", kind: str = "kit-save"
) -> bytes:
    """What the page sends when a form's button is pressed."""
    found = stamped_entry(folder, "lenses", "hale-85")
    assert found is not None
    button = {"entry": "hale-85", "kind": kind, "stamp": found[1], "table": table}
    field = {"kind": "kit-field", "name": name}
    told = {
        "output": "",
        "outputs": [
            {"id": "kit-form", "property": "children"},
            {"id": "kit-said", "property": "children"},
            {"id": "audit-age", "property": "children"},
            [{"id": field, "property": "error"}],
        ],
        "inputs": [
            [{"id": button, "property": "n_clicks", "value": 1}],
            [],
            {"id": {"kind": "kit-undo"}, "property": "n_clicks", "value": None},
        ],
        "state": [
            [{"id": field, "property": "value", "value": typed}],
            [{"id": field, "property": "id", "value": field}],
        ],
        "changedPropIds": [f"{json.dumps(button, sort_keys=True, separators=(',', ':'))}.n_clicks"],
    }
    return json.dumps(told).encode()


def callback_named(client: Client, folder: Path) -> bytes:
    """Return the press as this app knows it; the library adds a digest to an output that several callbacks share."""
    listed = client.get("/_dash-dependencies", headers={"Host": f"127.0.0.1:{PORT}"}).json
    own = next(one["output"] for one in listed if "kit-form.children" in one["output"])
    told = json.loads(pressed(folder))
    told["output"] = own
    for given, part in zip(told["outputs"], own.strip(".").split("..."), strict=False):
        if isinstance(given, dict):
            given["property"] = part.rsplit(".", 1)[1]
    return json.dumps(told).encode()


def held(folder: Path) -> list[bytes]:
    return [(folder / name).read_bytes() for name in FILES]


def post(client: Client, body: bytes, **headers: str) -> Any:
    more = {name.replace("_", "-"): value for name, value in headers.items()}
    return client.post("/_dash-update-component", headers={**PAGES, **more}, data=body)


def test_the_press_itself_is_understood(client: Client, folder: Path):
    before = held(folder)
    answer = post(client, callback_named(client, folder))
    assert answer.status_code == 200, answer.text[:300]
    assert "Changed in kit.toml: hale-85 (price)." in answer.text
    assert held(folder) != before
    for name, content in zip(FILES, before, strict=True):
        (folder / name).write_bytes(content)


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Origin": "http://evil.example"}, 403), ({"Origin": "null"}, 403), ({"Sec_Fetch_Site": "cross-site"}, 403),
        ({"Host": "evil.example"}, 421), ({"Content_Type": "text/plain"}, 415),
    ],
)  # fmt: skip
def test_another_sites_press_writes_nothing(client: Client, folder: Path, headers: dict[str, str], status: int):
    before = held(folder)
    assert post(client, callback_named(client, folder), **headers).status_code == status
    assert held(folder) == before


def test_a_press_too_big_is_refused_unread(client: Client, folder: Path):
    before = held(folder)
    body = callback_named(client, folder)
    assert post(client, body + b" " * (MOST_BYTES + 1 - len(body))).status_code == 413
    assert held(folder) == before


@pytest.mark.parametrize(
    "typed", ["x" * 1_000_000, "\ud800", "a\u0000b", {"a": 1}, ["x"], 12, None, "nan", "1e999", "-1"], ids=range(10)
)
@pytest.mark.filterwarnings("ignore")
def test_what_no_form_sends_writes_nothing(client: Client, folder: Path, typed: Any):
    before = held(folder)
    told = json.loads(callback_named(client, folder))
    told["state"][0][0]["value"] = typed
    answer = post(client, json.dumps(told).encode())
    assert "Traceback" not in answer.text
    assert held(folder) == before


@pytest.mark.parametrize("table", ["__class__", "bodies", "../../etc", "", "<script>"])
@pytest.mark.filterwarnings("ignore")
def test_another_table_writes_nothing(client: Client, folder: Path, table: str):
    before = held(folder)
    told = json.loads(callback_named(client, folder))
    told["inputs"][0][0]["id"]["table"] = table
    told["changedPropIds"] = [
        f"{json.dumps(told['inputs'][0][0]['id'], sort_keys=True, separators=(',', ':'))}.n_clicks"
    ]
    assert "Traceback" not in post(client, json.dumps(told).encode()).text
    assert held(folder) == before


def calibration_pressed(client: Client, button: dict[str, str], search: str = "") -> bytes:
    """What the calibration's page sends when one of its buttons is pressed."""
    listed = client.get("/_dash-dependencies", headers={"Host": f"127.0.0.1:{PORT}"}).json
    own = next(one["output"] for one in listed if "calibration-said.children" in one["output"])
    said, age = own.strip(".").split("...")
    places = {"hand-write": 0, "test-write": 1}
    inputs: list[Any] = [[], [], {"id": {"kind": "calibration-undo"}, "property": "n_clicks", "value": None}]
    if button["kind"] in places:
        inputs[places[button["kind"]]] = [{"id": button, "property": "n_clicks", "value": 1}]
    told = {
        "output": own,
        "outputs": [
            {"id": "calibration-said", "property": said.rsplit(".", 1)[1]},
            {"id": "audit-age", "property": age.rsplit(".", 1)[1]},
        ],
        "inputs": inputs,
        "state": [[], [], {"id": "address", "property": "search", "value": search}],
        "changedPropIds": [f"{json.dumps(button, sort_keys=True, separators=(',', ':'))}.n_clicks"],
    }
    return json.dumps(told).encode()


HAND = {"kind": "hand-write", "body": "one", "stamp": "0" * 16}


def test_a_press_that_shows_what_is_not_so_is_understood_and_refused(client: Client, folder: Path):
    before = held(folder)
    answer = post(client, calibration_pressed(client, HAND))
    assert answer.status_code == 200, answer.text[:300]
    assert "changed meanwhile, nothing was written" in answer.text
    assert held(folder) == before


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Origin": "http://evil.example"}, 403),
        ({"Sec_Fetch_Site": "cross-site"}, 403),
        ({"Host": "evil.example"}, 421),
    ],
)
def test_another_sites_press_writes_no_hand(client: Client, folder: Path, headers: dict[str, str], status: int):
    before = held(folder)
    assert post(client, calibration_pressed(client, HAND), **headers).status_code == status
    assert held(folder) == before


@pytest.mark.parametrize(
    ("button", "search"),
    [
        (HAND | {"body": "../../etc/passwd"}, ""), (HAND | {"body": "<script>"}, "?on=<script>"),
        ({"kind": "test-write", "what": "lens", "stamp": "x"}, "?pairing=one/hale-85/m42-plain&folder=../../etc"),
        ({"kind": "test-write", "what": "__class__", "stamp": "x"}, "?pairing=%00&distance=1e999"),
        ({"kind": "test-write", "what": "body", "stamp": "x"}, "?" + "pairing=a&" * 5000),
    ],
    ids=range(5),
)  # fmt: skip
@pytest.mark.filterwarnings("ignore")
def test_a_nonsense_press_writes_nothing(client: Client, folder: Path, button: dict[str, str], search: str):
    before = held(folder)
    answer = post(client, calibration_pressed(client, button, search))
    assert answer.status_code == 200
    assert "Traceback" not in answer.text
    assert held(folder) == before
