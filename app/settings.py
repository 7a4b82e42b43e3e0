"""Settings, read once from the environment and never changed afterwards."""

import datetime as dt
import os
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

MINIMUM_SECRET_LENGTH = 32


class SettingsError(ValueError):
    """The environment does not describe a safe server; the text says what to set."""


@dataclass(frozen=True)
class Settings:
    """Everything the server needs to know of its surroundings."""

    database_url: str
    secret_key: str
    demo: bool = False
    secure_cookies: bool = True
    loopback: bool = False
    public_address: str = ""
    today: dt.date | None = None
    """The demo's own calendar day; None means the machine's."""

    def __post_init__(self) -> None:
        if len(self.secret_key) < MINIMUM_SECRET_LENGTH:
            raise SettingsError(
                f"STRINGCOURSE_SECRET must have at least {MINIMUM_SECRET_LENGTH} characters; "
                'make one with: python3 -c "import secrets; print(secrets.token_hex(32))"'
            )


def data_folder(environment: Mapping[str, str] = os.environ) -> Path:
    """Folder of the embedded database: STRINGCOURSE_DATA, or a folder of the user's own."""
    named = environment.get("STRINGCOURSE_DATA")
    return Path(named) if named else Path.home() / ".stringcourse"


def shipped_folder(name: str) -> Path:
    """A folder that travels with the program: within an installed package, beside it in the tree."""
    package = Path(str(resources.files("app")))
    return package / name if (package / name).is_dir() else package.parent / name


def embedded_url(path: Path) -> str:
    """Address of an embedded database file."""
    return f"sqlite:///{path}"


def from_environment(environment: Mapping[str, str] = os.environ) -> Settings:
    """Settings of a server.

    Raises SettingsError if STRINGCOURSE_SECRET is missing or short.
    """
    url = environment.get("STRINGCOURSE_DATABASE") or embedded_url(
        data_folder(environment) / "school.db"
    )
    return Settings(
        database_url=url,
        secret_key=environment.get("STRINGCOURSE_SECRET", ""),
        secure_cookies=environment.get("STRINGCOURSE_PLAIN_HTTP") != "1",
        public_address=environment.get("STRINGCOURSE_PUBLIC_ADDRESS", "").rstrip("/"),
    )
