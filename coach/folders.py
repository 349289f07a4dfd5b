"""Where things of the coach lie on this machine: what is kept, what is typed, settings.

On Linux the folders of the XDG Base Directory Specification; elsewhere what is usual there.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import platformdirs

NAME = "lampcoach"


class NoHome(RuntimeError):  # noqa: N818  (it is a circumstance)
    """No home folder is known, and nothing else names the folder."""


def data() -> Path:
    """The folder of the store. Raises NoHome."""
    return _own(platformdirs.user_data_path, "XDG_DATA_HOME", ".local/share")


def state() -> Path:
    """The folder of what may be lost without harm: the lines typed. Raises NoHome."""
    return _own(platformdirs.user_state_path, "XDG_STATE_HOME", ".local/state")


def config() -> Path:
    """The folder of the settings. Raises NoHome."""
    return _own(platformdirs.user_config_path, "XDG_CONFIG_HOME", ".config")


def _own(named: Callable[..., Path], variable: str, usual: str) -> Path:
    """The user's folder. A variable that is no absolute path counts as not set, as the specification
    wants it; some versions of the library take it all the same."""
    given = os.environ.get(variable, "")
    try:
        path = Path.home() / usual / NAME if given and not Path(given).is_absolute() else named(NAME, False)
    except RuntimeError as missing:
        raise NoHome("no home folder is known") from missing
    if not path.is_absolute():
        raise NoHome("no home folder is known")
    return path
