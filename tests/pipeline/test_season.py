from __future__ import annotations

import math
import re
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pandas as pd
import pytest

from auditor.corrections import pdf
from auditor.corrections.pdf import find_browser, print_to_pdf
from auditor.corrections.season_report import season_html
from auditor.errors import InputError, MissingExtra
from auditor.model.workspace import open_workspace
from auditor.pipeline.auditing import joined_table
from auditor.pipeline.exporting import frames_with_measures
from auditor.pipeline.season import season_of, write_season
from tests.measures import write_measures


@pytest.fixture(scope="module")
def frames(sample_workspace: Path) -> pd.DataFrame:
    return joined_table(open_workspace(sample_workspace))


class Words(HTMLParser):
    """The words of a page, and what it would fetch."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []
        self.fetched: list[str] = []

    def handle_data(self, data: str) -> None:
        self.said.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.fetched += [f"{tag} {value}" for name, value in attrs if name in {"src", "href"}]


def words_of(page: str) -> Words:
    words = Words()
    words.feed(page)
    return words


def test_the_counts_are_those_of_the_table(frames: pd.DataFrame, sample_workspace: Path) -> None:
    season = season_of(frames, open_workspace(sample_workspace).kit)
    mine = frames[frames["captured_at"].dt.year == 2026]
    assert (season.year, season.frames) == (2026, len(mine))
    assert season.judged == mine["kept"].notna().sum()
    assert season.kept == (mine["kept"] == True).sum()  # noqa: E712  (a missing truth is neither)
    assert season.wrong == mine["setting_verdict"].isin(["too-short", "too-long"]).sum()
    assert sum(sum(month.values()) for month in season.verdicts) == season.frames
    assert sum(sum(months) for months in season.use.values()) == season.frames
    assert season.lenses["frames"].sum() == mine["lens"].notna().sum()
    assert season.trips["frames"].sum() == mine["trip"].notna().sum()
    assert season.causes["frames"].sum() == season.wrong


def test_what_a_keeper_cost(frames: pd.DataFrame, sample_workspace: Path) -> None:
    kit = open_workspace(sample_workspace).kit
    season = season_of(frames, kit)
    for row in season.lenses.to_dict("records"):
        lens = next(lens for lens in kit.lenses if lens.name == row["name"])
        assert lens.acquired
        years = (pd.Timestamp(2026, 12, 31) - pd.Timestamp(lens.acquired)).days / 365.25
        assert row["years"] == pytest.approx(years)
        assert row["keeper_price"] == pytest.approx(lens.price / years / row["kept"])


def test_a_lens_without_price_or_keepers_has_no_price_a_keeper(frames: pd.DataFrame, sample_workspace: Path) -> None:
    kit = open_workspace(sample_workspace).kit
    bare = kit.model_copy(
        update={"lenses": tuple(lens.model_copy(update={"price": None, "acquired": None}) for lens in kit.lenses[1:])}
    )
    season = season_of(frames.assign(kept=pd.array([False] * len(frames), dtype="boolean")), bare)
    assert season.lenses["keeper_price"].isna().all()
    assert season.lenses["years"].isna().all()
    page = season_html(season)
    assert kit.lenses[0].id in page  # it left the kit: its id stands for it


def test_the_page_says_it_all_and_needs_nothing_else(frames: pd.DataFrame, sample_workspace: Path) -> None:
    page = season_html(season_of(frames, open_workspace(sample_workspace).kit))
    words = words_of(page)
    assert words.fetched == []
    assert "http" not in page.replace("http-equiv", "")
    assert "<script" not in page
    said = " ".join(words.said)
    for heading in ("The season 2026", "Which lens, when", "What was kept", "Settings", "Trips", "What it cost"):
        assert heading in said
    assert "A rate is not proof" in said


def test_the_plan_stands_in_the_report_with_its_reasons_and_the_caution(sample_workspace: Path, tmp_path: Path) -> None:
    opened = open_workspace(sample_workspace)
    season = write_season(opened, tmp_path / "season.html")
    assert [name for name, _, _ in season.plan] == [lens.name for lens in opened.kit.lenses if lens.sold is None]
    said = " ".join(words_of((tmp_path / "season.html").read_text(encoding="utf-8")).said)
    assert "What to keep" in said
    assert season.plan_caution
    for text in (season.plan_caution, *(reason for _, _, reasons in season.plan for reason in reasons)):
        assert text in said


def test_text_of_the_user_is_text(frames: pd.DataFrame, sample_workspace: Path) -> None:
    kit = open_workspace(sample_workspace).kit
    bad = "<img src=x onerror=alert(1)>"
    lenses = tuple(lens.model_copy(update={"name": f"{bad} {lens.id}", "currency": bad}) for lens in kit.lenses)
    page = season_html(season_of(frames.assign(trip=bad), kit.model_copy(update={"lenses": lenses})))
    assert words_of(page).fetched == []
    assert "<img" not in page


def test_a_year_in_which_nothing_was_judged_or_wrong(frames: pd.DataFrame, sample_workspace: Path) -> None:
    kit = open_workspace(sample_workspace).kit
    plain = frames.head(5).assign(
        kept=pd.array([None] * 5, dtype="boolean"), setting_verdict="right", lens=None, body=None, trip=None
    )
    season = season_of(plain.astype({"lens": "str", "trip": "str", "body": "str"}), kit)
    assert math.isnan(season.stops_lost)
    said = " ".join(words_of(season_html(season)).said)
    assert "No frame of this season was judged" in said
    assert "stops of stabiliser lost" not in said
    assert "Lens not known" in said


def test_another_year_says_which_there_are(frames: pd.DataFrame, sample_workspace: Path) -> None:
    kit = open_workspace(sample_workspace).kit
    with pytest.raises(InputError, match="no frame of 2019"):
        season_of(frames, kit, 2019)
    timeless = frames.assign(captured_at=pd.Series(pd.NaT, index=frames.index, dtype="datetime64[us]"))
    with pytest.raises(InputError, match="no frame has a time"):
        season_of(timeless, kit)


def test_the_report_is_written_whole_and_never_into_the_archive(sample_workspace: Path, tmp_path: Path) -> None:
    workspace = open_workspace(sample_workspace)
    target = tmp_path / "season.html"
    season = write_season(workspace, target)
    assert target.read_text(encoding="utf-8") == season_html(season)
    for refused in (tmp_path / "season.doc", sample_workspace / "archive" / "season.html"):
        with pytest.raises(InputError, match="nothing was exported"):
            write_season(workspace, refused)
        assert not refused.exists()


@pytest.mark.browser
def test_the_report_prints_on_pages(sample_workspace: Path, tmp_path: Path) -> None:
    if find_browser() is None:
        pytest.skip("no browser of the Chromium family on this system")
    target = tmp_path / "season.pdf"
    write_season(open_workspace(sample_workspace), target)
    content = target.read_bytes()
    assert content.startswith(b"%PDF-")
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", content)) <= 6


def test_without_a_browser_it_is_said_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("STEADYKEEP_CHROMIUM", raising=False)
    monkeypatch.setattr(pdf.shutil, "which", lambda _name: None)
    with pytest.raises(MissingExtra, match=r"\.html"):
        print_to_pdf("<p>")


def test_a_browser_that_fails_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STEADYKEEP_CHROMIUM", "/no/such/browser")
    with pytest.raises(InputError, match="/no/such/browser did not print"):
        print_to_pdf("<p>")

    def hangs(*_: object, **__: object) -> None:
        raise subprocess.TimeoutExpired("browser", 1)

    monkeypatch.setattr(pdf.subprocess, "run", hangs)
    with pytest.raises(InputError, match="TimeoutExpired"):
        print_to_pdf("<p>")


def test_what_was_sharp_has_its_own_section_once_frames_were_measured(own_workspace: Path, tmp_path: Path) -> None:
    workspace = open_workspace(own_workspace)
    target = tmp_path / "season.html"
    write_season(workspace, target)
    assert "What was sharp" not in target.read_text()

    measures = write_measures(workspace)
    season = write_season(workspace, target)
    page = words_of(target.read_text())
    told = " ".join(page.said)
    assert "What was sharp" in told
    assert "An estimate: about one answer in twenty is wrong" in told
    joined = frames_with_measures(workspace)
    mine = joined[(joined["captured_at"].dt.year == season.year) & joined["lens"].notna()]
    assert season.lenses["sharp"].sum() == (mine["blur_kind"] == "sharp").sum()
    assert season.lenses["never_measured"].sum() == mine["blur_kind"].isna().sum()
    both = mine[mine["kept"].notna() & (mine["blur_kind"] == "sharp")]
    assert f"{(both['kept'] == False).sum()} were sharp but not kept" in told  # noqa: E712  (none is missing here)
    assert len(measures) < len(joined)
