"""``calibrate``: the photographer's own hand, and the best setting of a pairing."""

from __future__ import annotations

import dataclasses
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from auditor.audit.calibration_series import SettingPlan, SettingResult, result_words
from auditor.cli.card import PaperSize
from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.cards import shutter_words
from auditor.model.workspace import open_workspace
from auditor.pipeline.calibrating import calibrate_hand, write_hand
from auditor.pipeline.setting_tests import pairing_to_test, plan_setting, read_setting, write_plan, write_setting
from auditor.wording import counted

__all__ = ["WriteTo", "register"]


class WriteTo(StrEnum):
    """What a setting test is believed to have measured."""

    LENS = "lens"
    BODY = "body"


def register(app: typer.Typer) -> None:
    """Add the commands."""
    calibrate = typer.Typer(help="Fit your own hand; test a setting.", no_args_is_help=True)
    app.add_typer(calibrate, name="calibrate")
    _register_hand(calibrate)
    _register_setting(calibrate)


def _register_hand(calibrate: typer.Typer) -> None:
    @calibrate.command(epilog="Example: steadykeep calibrate hand ~/steadykeep --body one --write")
    def hand(
        workspace: Folder = Path(),
        body: Annotated[
            str | None, typer.Option(help="Body, id in the kit.", show_default="the one with most judged frames")
        ] = None,
        write: Annotated[
            bool, typer.Option("--write", help="Write what the frames could tell into settings.toml and kit.toml.")
        ] = False,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Fit your shake and the body's stops.

        To the frames you kept and rejected.
        """
        voice = Voice(as_json, quiet)
        opened = open_workspace(workspace)
        report = calibrate_hand(opened, body)
        fit = report.fit
        voice.say(
            f'Body "{report.body}": {counted(fit.frames, "frame")}, {fit.off} of them with the stabiliser off;'
            f" bursts make them worth {fit.effective_frames:.0f}."
        )
        for sentence in report.words:
            voice.say(f"  {sentence}")
        for reason, count in report.left_out.items():
            voice.say(f"Left out: {counted(count, 'frame')}, {reason}.")
        changed = write_hand(opened, report) if write else ()
        for path in changed:
            voice.say(f"Written: {path}")
        if write and not changed:
            voice.warn("Nothing was written: the frames could not tell.")
        voice.document(
            {
                "body": report.body,
                **dataclasses.asdict(fit),
                "left_out": report.left_out,
                "words": report.words,
                "written": [str(path) for path in changed],
            }
        )


def _register_setting(calibrate: typer.Typer) -> None:
    @calibrate.command(epilog="Example: steadykeep calibrate setting --lens orla-50 --adapter m42-reducer --distance 3")
    def setting(  # noqa: PLR0913  (each is an option of the command)
        lens: Annotated[str, typer.Option(help="Lens, id in the kit.")],
        distance: Annotated[float, typer.Option(min=0.05, help="Sensor to target, m.")],
        workspace: Folder = Path(),
        adapter: Annotated[str, typer.Option(help="Adapter; several joined by +, lens side first.")] = "",
        body: Annotated[str, typer.Option(help="Body, id in the kit.", show_default="the only one that fits")] = "",
        settings: Annotated[int, typer.Option(min=3, max=25, help="How many different settings.")] = 11,
        frames: Annotated[int, typer.Option(min=2, max=20, help="Frames at each.")] = 6,
        paper: Annotated[PaperSize, typer.Option(help="Paper to print the plan on.")] = PaperSize.A4,
        read: Annotated[
            str | None,
            typer.Option(metavar="CSV|FOLDER", help="Read the test: the filled-in table, or its folder in an archive."),
        ] = None,
        write: Annotated[
            WriteTo | None, typer.Option(help="With --read: write the answer into kit.toml, for the lens or the body.")
        ] = None,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Plan or read a test of a setting.

        Without --read it plans one: a sheet to print and a table to fill in.
        """
        voice = Voice(as_json, quiet)
        opened = open_workspace(workspace)
        pairing = pairing_to_test(opened, lens, adapter, body)
        plan = plan_setting(opened, pairing, distance, series=(settings, frames))
        if read is None:
            _say_plan(voice, plan, write_plan(plan, opened.folder, paper=paper.value))
            return
        found = read_setting(opened, plan, read)
        changed = write_setting(opened, found, write.value) if write else None
        _say_result(voice, found, changed)


def _say_plan(voice: Voice, plan: SettingPlan, written: tuple[Path, Path]) -> None:
    voice.say(
        f"{plan.name} at {plan.distance_m:g} m: {len(plan.frames)} frames around {plan.predicted_mm:.1f} mm at"
        f" {shutter_words(plan.exposure_time_s)}, in random order."
    )
    voice.say(f"To print: {written[0]}")
    voice.say(f"To fill in: {written[1]}, then: --read {written[1].name}")
    voice.document(
        {
            "pairing": plan.name,
            "distance_m": plan.distance_m,
            "predicted_mm": plan.predicted_mm,
            "exposure_time_s": plan.exposure_time_s,
            "frames": [dataclasses.asdict(frame) for frame in plan.frames],
            "written": [str(path) for path in written],
        }
    )


def _say_result(voice: Voice, found: SettingResult, changed: Path | None) -> None:
    for sentence in result_words(found):
        voice.say(sentence)
    if changed:
        voice.say(f"Written: {changed}")
    voice.document(
        {
            "pairing": found.plan.name,
            "distance_m": found.plan.distance_m,
            "predicted_mm": found.plan.predicted_mm,
            **dataclasses.asdict(found.reading),
            "gain": found.gain,
            "lens_setting_mm": found.lens_setting_mm,
            "stops_at_least": found.stops_at_least,
            "words": result_words(found),
            "written": str(changed) if changed else None,
        }
    )
