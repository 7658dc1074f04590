"""The text that is being read: where in it something stands, and how much was read of it."""

from __future__ import annotations

import unicodedata
from typing import Final

from app.importing import ImportingError
from app.sketch.translate import tr

MAX_CORNERS: Final = 50_000
"""Most corners in a file; the most detailed outlines have some thousands."""
MAX_OUTLINES: Final = 2_000
"""Most outlines in a file, holes counted too; and most patches that a file gives."""
MAX_LINES: Final = 2 * MAX_CORNERS
"""Most lines in a file: a corner each, with names and empty lines between."""

_LONGEST_QUOTE = 40
_LONGEST_NAME = 80


class Source:
    """A text with its lines. Positions count characters from 0; lines and columns count from 1."""

    def __init__(self, text: str) -> None:
        """Raises ``ImportingError`` where the text has more than ``MAX_LINES``."""
        self.text = text.replace("\r\n", "\n").replace("\r", "\n")
        self._corners = 0
        self._outlines = 0
        self._counted = (0, 1)
        """Up to which position lines were counted, and which line that is in."""
        if self.text.count("\n") >= MAX_LINES:
            raise ImportingError(
                tr("holds more than {limit} lines", limit=MAX_LINES),
                do=tr("leave out empty lines, and corners that lie close together"),
            )

    def line(self, position: int) -> int:
        """Number of the line in which ``position`` lies. Fast where asked for in the text's order."""
        start, line = self._counted if position >= self._counted[0] else (0, 1)
        line += self.text.count("\n", start, position)
        self._counted = (position, line)
        return line

    def place(self, position: int) -> str:
        """Line and column, in words."""
        column = position - self.text.rfind("\n", 0, position)
        return tr("line {line}, column {column}", line=self.line(position), column=column)

    def error(self, position: int, what: str, do: str) -> ImportingError:
        """What is wrong at ``position``, to be raised."""
        return ImportingError(what, where=self.place(position), do=do)

    def count(self, corners: int, position: int) -> None:
        """So many corners more stand at ``position``. Raises where that makes more than ``MAX_CORNERS``."""
        self._corners += corners
        if self._corners > MAX_CORNERS:
            raise self.error(
                position,
                tr("the file holds more than {limit} corners", limit=MAX_CORNERS),
                tr("leave out corners that lie close together"),
            )

    def count_outline(self, position: int) -> None:
        """One more outline or hole begins at ``position``. Raises where that makes more than
        ``MAX_OUTLINES``.
        """
        self._outlines += 1
        if self._outlines > MAX_OUTLINES:
            raise self.error(
                position,
                tr("the file holds more than {limit} outlines and holes", limit=MAX_OUTLINES),
                tr("split it into smaller files"),
            )


class Names:
    """Gives each patch a name of its own: a number follows where others have it already."""

    def __init__(self) -> None:
        self._taken: dict[str, int] = {}

    def own(self, name: str) -> str:
        """``name``, or ``name (2)`` where it is taken."""
        own = name
        while own in self._taken:
            self._taken[name] += 1
            own = f"{name} ({self._taken[name]})"
        self._taken[own] = 1
        return own


def plain_name(text: str) -> str:
    """``text`` as a patch can be called: on one line, short, no control characters; perhaps empty."""
    words = " ".join(text[:_LONGEST_NAME].split())
    return "".join(letter for letter in words if unicodedata.category(letter) not in ("Cc", "Cs"))


def quoted(text: str) -> str:
    """``text`` on one line, short enough for a sentence."""
    plain = " ".join(text[: 4 * _LONGEST_QUOTE].split())
    return f"“{plain[:_LONGEST_QUOTE]}{'…' if len(text.strip()) > _LONGEST_QUOTE else ''}”"
