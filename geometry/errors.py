"""The one family of errors that Wedgewright raises on purpose."""

from __future__ import annotations


class WedgewrightError(Exception):
    """Something the user gave cannot be used.

    Carries what is wrong, where, and what to do next, so that every door (window, command line,
    tests) can show the same one sentence. ``str(error)`` is that sentence, on one line.
    """

    def __init__(self, what: str, *, where: str = "", do: str = "") -> None:
        self.what = what
        self.where = where
        self.do = do
        super().__init__(what)

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        if self.do:
            text = f"{text}; {self.do}"
        return " ".join(text.split())


class LengthError(WedgewrightError):
    """A length that cannot be read, or is out of range."""


class PatchError(WedgewrightError):
    """An outline that cannot be a patch."""


class AnchorError(WedgewrightError):
    """An anchor that no fan can start from."""


class SettingsError(WedgewrightError):
    """A setting of the wrong kind or out of range."""
