"""A workspace: the photographer's three files and the store beside them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from auditor.errors import InputError, WorkspaceError
from auditor.model.kit import Kit, load_kit
from auditor.model.log import Log, load_log
from auditor.model.settings import Settings, load_settings

__all__ = ["KIT_FILE", "LOG_FILE", "SETTINGS_FILE", "Workspace", "open_workspace"]

KIT_FILE, LOG_FILE, SETTINGS_FILE = "kit.toml", "log.csv", "settings.toml"


@dataclass(frozen=True)
class Workspace:
    """The folder and what its files say."""

    folder: Path
    kit: Kit
    log: Log
    settings: Settings

    @property
    def store(self) -> Path:
        """Where the program keeps what it computed; may be deleted at any time."""
        return self.folder / "store"

    @property
    def archives(self) -> dict[str, Path]:
        """Archive folders by name; those behind URLs, which only the index reads, are left out."""
        return {name: Path(folder) for name, folder in self.archive_places.items() if "://" not in folder}

    @property
    def archive_places(self) -> dict[str, str]:
        """Folder or URL of each archive by name."""
        return dict(self.settings.archives)


def open_workspace(folder: Path) -> Workspace:
    """
    Read a workspace's three files.

    Raises
    ------
    WorkspaceError
        The folder is not a workspace, or several of its files are wrong (every problem at once).
    InputError
        One of its files is wrong.
    """
    if not (folder / KIT_FILE).is_file():
        raise WorkspaceError(
            f"{folder}: this is not a workspace, it has no {KIT_FILE}",
            [f"make one with: steadykeep init {folder} --archive FOLDER-OF-YOUR-PHOTOGRAPHS"],
        )
    errors: list[InputError] = []
    kit, settings = Kit(), Settings()
    try:
        kit = load_kit(folder / KIT_FILE)
    except InputError as error:
        errors.append(error)
    try:
        if (folder / SETTINGS_FILE).exists():
            settings = load_settings(folder / SETTINGS_FILE)
    except InputError as error:
        errors.append(error)
    if len(errors) == 1:
        raise errors[0]
    if errors:
        raise WorkspaceError(
            "nothing was computed", [line for error in errors for line in (error.headline, *error.problems)]
        )
    log = load_log(folder / LOG_FILE, kit)
    unknown = sorted({clock.body for clock in settings.clocks} - {body.id for body in kit.bodies})
    if unknown:
        known = ", ".join(body.id for body in kit.bodies) or "no body"
        raise WorkspaceError(
            f"{SETTINGS_FILE}: 1 problem, nothing was computed",
            [f'clocks: body "{name}" is not in the kit, which has {known}' for name in unknown],
        )
    return Workspace(folder, kit, log, settings)
