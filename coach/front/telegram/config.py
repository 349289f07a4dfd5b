"""The bot's settings: a small TOML file in the user's config folder, and environment variables over it.

    token_file   a file (mode 0600) that holds the bot's token        COACH_TELEGRAM_TOKEN: the token itself
    allow        numbers of the people or groups that may use the bot; empty: everybody
    per_minute   messages a person may send a minute (60), with burst at once (40)
    theme        colours of the pictures: "dim" (default) spares night vision, or "light"
    zone         the zone of the boat's clock, such as America/New_York (default: this machine's)
    api          where the Bot API is (default: Telegram's own)        COACH_TELEGRAM_API
    timeout_s    how long an answer of Telegram is waited for (10)
    [webhook]    url, listen (127.0.0.1), port (8443), secret; without it the bot polls
                 the secret may come from COACH_TELEGRAM_SECRET

The file is telegram.toml in ~/.config/lampcoach, or COACH_TELEGRAM_CONFIG, or --config.
"""

from __future__ import annotations

import re
import stat
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field, SecretStr, ValidationError, field_validator

TOKEN = re.compile(r"\d{4,}:[\w-]{30,}")
_SECRET = re.compile(r"[A-Za-z0-9_-]{16,256}")


class ConfigError(OSError):
    """A setting that cannot be used: which, why, and what to do, in one line without any secret."""


class Webhook(BaseModel):
    """Where Telegram brings updates to, and where we listen for them (behind a proxy that speaks TLS)."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    url: str
    listen: str = "127.0.0.1"
    port: int = Field(8443, ge=1, le=65535)
    secret: SecretStr = SecretStr("")


class Config(BaseModel):
    """All settings, checked."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    token: SecretStr = SecretStr("")
    token_file: Path | None = None
    allow: frozenset[int] = frozenset()
    per_minute: float = Field(60, gt=0)
    burst: int = Field(40, ge=1)
    theme: Literal["dim", "light"] = "dim"
    zone: str | None = None
    api: str = "https://api.telegram.org"
    timeout_s: float = Field(10, gt=0)
    webhook: Webhook | None = None

    @field_validator("zone")
    @classmethod
    def _known(cls, name: str | None) -> str | None:
        if name is not None:
            try:
                ZoneInfo(name)
            except (KeyError, OSError, ValueError) as error:
                raise ValueError("is no zone; write one such as America/New_York") from error
        return name


def load(path: Path | None, environment: Mapping[str, str]) -> Config:
    """The settings from file and environment. Raises ConfigError."""
    named = path or (Path(found) if (found := environment.get("COACH_TELEGRAM_CONFIG")) else None)
    given = _read(named or _default(environment), must_be_there=named is not None)
    if "token" in given:
        raise ConfigError("the token does not belong into the settings file. Name a token_file instead.")
    if api := environment.get("COACH_TELEGRAM_API"):
        given["api"] = api
    if (secret := environment.get("COACH_TELEGRAM_SECRET")) and isinstance(given.get("webhook"), dict):
        given["webhook"]["secret"] = secret
    try:
        config = Config.model_validate(given)
    except ValidationError as error:
        raise ConfigError("; ".join(_plain(fault) for fault in error.errors(include_input=False))) from None
    return config.model_copy(update={"token": SecretStr(_token(config, environment))})


def require_secret(webhook: Webhook) -> str:
    """The webhook's secret. Raises ConfigError unless it is long and of the signs that are allowed."""
    secret = webhook.secret.get_secret_value()
    if not _SECRET.fullmatch(secret):
        raise ConfigError("webhook.secret: write 16 to 256 letters, digits, - and _, drawn by chance.")
    return secret


def _default(environment: Mapping[str, str]) -> Path:
    folder = Path(environment.get("XDG_CONFIG_HOME", ""))
    return (folder if folder.is_absolute() else Path.home() / ".config") / "lampcoach" / "telegram.toml"


def _read(path: Path, *, must_be_there: bool) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        if must_be_there:
            raise ConfigError(f"{path}: there is no such file.") from error
        return {}
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise ConfigError(f"{path}: it cannot be read as TOML: {error}") from error


def _token(config: Config, environment: Mapping[str, str]) -> str:
    token = environment.get("COACH_TELEGRAM_TOKEN", "").strip()
    if not token and config.token_file is not None:
        token = _token_in(config.token_file.expanduser())
    if not TOKEN.fullmatch(token):
        what = "does not look like a token" if token else "is missing"
        raise ConfigError(f"the bot's token {what}. Put it into COACH_TELEGRAM_TOKEN or a token_file.")
    return token


def _token_in(path: Path) -> str:
    try:
        mode = path.stat().st_mode
        if stat.S_IMODE(mode) & 0o077:
            raise ConfigError(f"{path}: others may read the token. Run: chmod 600 {path}")
        return path.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        if isinstance(error, ConfigError):
            raise
        raise ConfigError(f"{path}: the token cannot be read from it.") from error


def _plain(fault: Any) -> str:
    return f"{'.'.join(str(part) for part in fault['loc'])}: {fault['msg']}"
