"""A length or a count being typed on the canvas."""

from __future__ import annotations

import re
from dataclasses import dataclass

_BEGINS = frozenset("0123456789.,½¼¾⅛⅜⅝⅞⅓⅔")
_CONTINUES = _BEGINS | frozenset("/-⁄ '\"″′incmft")


@dataclass(frozen=True, slots=True)
class Typed:
    """What is typed so far, and what is wrong with it since the last Enter."""

    text: str = ""
    wrong: str = ""

    def takes(self, text: str, *, minus: bool = False) -> bool:
        """Whether ``text`` can come next: what begins a length, and after it the letters of a unit too.

        ``minus``: a length may begin with one, so that it can be refused in words and not read without it.
        """
        begins = _BEGINS | {"-"} if minus else _BEGINS
        return bool(text) and all(character in (_CONTINUES if self.text else begins) for character in text)

    def with_text(self, text: str) -> Typed:
        """One more."""
        return Typed(self.text + text)

    def words(self, unit: str) -> str:
        """As it is shown, with the unit in which it will be read where none was typed."""
        return f"{self.text}▏" if re.search("[a-z'\"″′]", self.text) else f"{self.text}▏{unit}"

    def shorter(self) -> Typed:
        """One less."""
        return Typed(self.text[:-1])
