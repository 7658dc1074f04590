"""The plans that were worked on last, remembered from one day to the next."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Final

from PySide6.QtCore import QSettings

_KEY: Final = "files/recent"
_MOST: Final = 8


def recent_plans() -> list[Path]:
    """The last first; those that are gone are left out."""
    stored = QSettings().value(_KEY, [])
    names = [stored] if isinstance(stored, str) else list(stored or [])  # type: ignore[call-overload]
    return [path for name in names if (path := _read(str(name))).is_file()]


def remember_plan(path: Path) -> None:
    """Put ``path`` first."""
    path = path.absolute()
    others = [other for other in recent_plans() if other != path]
    QSettings().setValue(_KEY, [_written(each) for each in (path, *others)][:_MOST])


def _written(path: Path) -> str:
    """In ASCII where Qt would drop what is no UTF-8 in the name."""
    name = str(path)
    return name if _is_text(name) else json.dumps(name)


def _read(stored: str) -> Path:
    try:
        return Path(json.loads(stored) if stored.startswith('"') else stored)
    except ValueError:
        return Path(stored)


def _is_text(name: str) -> bool:
    return name.isascii() or not any("\ud800" <= letter <= "\udfff" for letter in name)
