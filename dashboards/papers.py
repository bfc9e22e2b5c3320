"""What is made to be printed: the card, a trip's report, a setting test. Each is one page that opens by itself."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Callable
from typing import Literal

from flask import Flask, Response, abort, request

from auditor.corrections.card_sheet import card_sheet, card_table
from auditor.corrections.tables import write_table
from auditor.corrections.trip_report import report_html
from auditor.errors import SteadykeepError
from auditor.model.workspace import Workspace
from auditor.pipeline.carding import make_cards
from auditor.pipeline.setting_tests import plan_csv, plan_sheet
from auditor.pipeline.tripping import trip_report
from dashboards.desk import Desk
from dashboards.tested import plan_from

__all__ = ["PAPERS", "add_routes"]


def _card(paper: Literal["a4", "a5"]) -> Callable[[Workspace], Response]:
    def made(workspace: Workspace) -> Response:
        cards = make_cards(workspace, request.args.getlist("lens"))
        return _page(card_sheet(cards, paper=paper, day=dt.datetime.now().astimezone().date()))

    return made


def _card_csv(workspace: Workspace) -> Response:
    written = io.BytesIO()
    write_table(card_table(make_cards(workspace, request.args.getlist("lens"))), "csv", written)
    headers = {"Content-Disposition": 'attachment; filename="card.csv"', "Cache-Control": "no-store"}
    return Response(written.getvalue(), mimetype="text/csv", headers=headers)


def _trip(workspace: Workspace) -> Response:
    places = request.args.get("places") == "yes"
    return _page(report_html(trip_report(workspace, request.args.get("trip", ""), places=places)))


def _page(html: str) -> Response:
    return Response(html, mimetype="text/html", headers={"Cache-Control": "no-store"})


def _test(paper: Literal["a4", "a5"]) -> Callable[[Workspace], Response]:
    return lambda workspace: _page(plan_sheet(plan_from(workspace, request.args), paper=paper))


def _test_csv(workspace: Workspace) -> Response:
    headers = {"Content-Disposition": 'attachment; filename="setting-test.csv"', "Cache-Control": "no-store"}
    return Response(plan_csv(plan_from(workspace, request.args)), mimetype="text/csv", headers=headers)


PAPERS = {
    "card-a4.html": _card("a4"),
    "card-a5.html": _card("a5"),
    "card.csv": _card_csv,
    "trip.html": _trip,
    "setting-test-a4.html": _test("a4"),
    "setting-test-a5.html": _test("a5"),
    "setting-test.csv": _test_csv,
}
"""Every paper, by the name in its address."""


def add_routes(server: Flask, now: Callable[[], Desk]) -> None:
    """
    Let the server hand out the papers, each under ``/paper/<name>``.

    Parameters
    ----------
    server : Flask
    now : callable
        Returns the desk as it is.
    """

    @server.get("/paper/<name>")
    def paper(name: str) -> Response:
        workspace = now().workspace
        if name not in PAPERS or workspace is None:
            abort(404)
        try:
            return PAPERS[name](workspace)
        except SteadykeepError as error:
            return Response(str(error), status=404, mimetype="text/plain")
