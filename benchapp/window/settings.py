"""What the window remembers between starts: look, last file, recent files, places of windows.

An ini file in the system's folder for settings; nothing about engines or samples is kept there.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import platformdirs
from PySide6.QtCore import QSettings

RECENT = 8


@lru_cache(maxsize=1)
def settings_file() -> Path:
    """Where the settings are kept."""
    return Path(platformdirs.user_config_dir("race-oil-bench", appauthor=False)) / "window.ini"


def data_folder() -> Path:
    """Where the demo bench file is built."""
    return Path(platformdirs.user_data_dir("race-oil-bench", appauthor=False))


def settings() -> QSettings:
    """The settings, to read and to write."""
    return QSettings(str(settings_file()), QSettings.Format.IniFormat)


def text(key: str, default: str = "") -> str:
    """One remembered text."""
    return str(settings().value(key, default))


def flag(key: str, default: bool = False) -> bool:
    """One remembered yes or no."""
    return text(key, "1" if default else "0") in ("1", "true")


def number(key: str, default: float) -> float:
    """One remembered number; the default where what is there is none."""
    try:
        return float(text(key, str(default)))
    except ValueError:
        return default


def keep(key: str, value: object) -> None:
    """Remembers one value."""
    store = settings()
    store.setValue(key, "1" if value is True else "0" if value is False else value)
    store.sync()


def recent() -> list[str]:
    """Bench files opened lately and still there, newest first."""
    held = settings().value("recent", [])
    paths = [held] if isinstance(held, str) else list(held or [])
    return [path for path in map(str, paths) if path and Path(path).is_file()]


def remember_file(path: str) -> None:
    """Puts a bench file at the head of the recent ones and makes it the last one."""
    full = str(Path(path).absolute())
    keep("recent", [full, *[known for known in recent() if known != full]][:RECENT])
    keep("last", full)
