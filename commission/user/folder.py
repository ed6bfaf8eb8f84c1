"""Where this user's files live: one private folder for settings, one for data.

`COMMISSION_HOME` overrides both; otherwise the platform's own places are used.
"""

from __future__ import annotations

import os
from pathlib import Path

VARIABLE = "COMMISSION_HOME"
NAME = "commission"


def config_folder() -> Path:
    """Where what the user entered once is kept: people and instruments. It may not exist yet."""
    given = _given()
    if given is not None:
        return given
    from platformdirs import user_config_path

    return user_config_path(NAME, appauthor=False)


def data_folder() -> Path:
    """Where the program keeps what it made for the user: copied samples, recent jobs."""
    given = _given()
    if given is not None:
        return given
    from platformdirs import user_data_path

    return user_data_path(NAME, appauthor=False)


def samples_folder() -> Path:
    """Where samples are copied to before they are worked on."""
    return data_folder() / "samples"


def make_private(folder: Path) -> Path:
    """Make a folder that only this user can enter, and return it; one that exists is left alone.

    Raises CouldNotWrite.
    """
    from commission.host import PRIVATE_FOLDER, could_not_write

    try:
        folder.mkdir(mode=PRIVATE_FOLDER, parents=True, exist_ok=True)
    except OSError as error:
        raise could_not_write(folder, error) from error
    return folder


def _given() -> Path | None:
    text = os.environ.get(VARIABLE, "").strip()
    return Path(text).expanduser().absolute() if text else None
