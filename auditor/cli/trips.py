"""``trips``: the trips, what went wrong in each, and the after-trip report."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Any

import typer

from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.whereabouts import sentence
from auditor.model.workspace import KIT_FILE, open_workspace
from auditor.pipeline.tripping import Trip, list_trips, write_trip_report
from auditor.wording import counted

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog='Example: steadykeep trips "Harbour week" ~/steadykeep --report harbour.html')
    def trips(
        name: Annotated[str, typer.Argument(help="Trip to report on.", show_default="list them all")] = "",
        workspace: Folder = Path(),
        report: Annotated[Path | None, typer.Option(help="Write the after-trip report to this HTML file.")] = None,
        places: Annotated[
            bool, typer.Option("--places", help="Say in the report where it was, to about 1 km.")
        ] = False,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        List the trips, or report on one.

        Tells what went wrong in each, and where it was as far as the frames tell.

        The report is one file that prints well: what was shot with what, where the setting was wrong and since when,
        what that probably cost, and what to do differently. It is made to be handed on: where the trip was it says
        only with --places.
        """
        voice = Voice(as_json, quiet)
        # Every other command takes its folder first: both orders are understood.
        if name and (Path(name) / KIT_FILE).is_file():
            name, workspace = "" if workspace == Path() else str(workspace), Path(name)
        opened = open_workspace(workspace)
        if report is not None:
            found = write_trip_report(opened, name, report, places=places)
            voice.say(f"{report}: {found.name}, {counted(found.frames, 'frame')}, {found.wrong} with a wrong setting.")
            if places:
                voice.say(
                    "It says where, to about a kilometre." if found.where else "No frame tells where it was made."
                )
            voice.document(
                {"trip": found.name, "report": report, "frames": found.frames, "setting_wrong": found.wrong,
                 "mistakes": len(found.stretches), "sharp_lost": found.sharp_lost, "where": found.where or None}
            )  # fmt: skip
            return
        listed = [trip for trip in list_trips(opened) if name in {"", trip.name}]
        _say(voice, listed)
        voice.document({"trips": [_values(trip) for trip in listed]})


def _say(voice: Voice, listed: list[Trip]) -> None:
    voice.table(
        ["Trip", "Mostly because", "First", "Last", "Frames", "Setting wrong", "Mistakes", "Stops lost", "Kept"],
        [
            [
                trip.name,
                trip.main_cause or "-",
                f"{trip.first:%Y-%m-%d}",
                f"{trip.last:%Y-%m-%d}",
                f"{trip.frames}",
                f"{trip.wrong}",
                f"{trip.mistakes}",
                f"{trip.stops_lost:.1f}" if math.isfinite(trip.stops_lost) else "-",
                f"{trip.kept} of {trip.judged}" if trip.judged else "not judged",
            ]
            for trip in listed
        ],
        left=2,
    )
    for trip in listed:
        if trip.places:
            voice.say(f"{trip.name}: {sentence(trip.places, trip.unplaced)}.")


def _values(trip: Trip) -> dict[str, Any]:
    return {
        "trip": trip.name,
        "first": trip.first,
        "last": trip.last,
        "frames": trip.frames,
        "setting_wrong": trip.wrong,
        "mistakes": trip.mistakes,
        "main_cause": trip.main_cause or None,
        "stops_lost_median": trip.stops_lost,
        "judged": trip.judged,
        "kept": trip.kept,
        "places": [
            {
                "name": place.name or None,
                "latitude_deg": place.latitude_deg,
                "longitude_deg": place.longitude_deg,
                "within_km": place.within_km,
                "frames": place.frames,
            }
            for place in trip.places
        ],
        "frames_without_place": trip.unplaced,
    }
