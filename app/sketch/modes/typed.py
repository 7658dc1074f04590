"""A length or a count being typed on the canvas."""

from __future__ import annotations

from dataclasses import dataclass

_BEGINS = frozenset("0123456789.,½¼¾⅛⅜⅝⅞⅓⅔")
_CONTINUES = _BEGINS | frozenset("/-⁄ '\"″′incmft")


@dataclass(frozen=True, slots=True)
class Typed:
    """What is typed so far, and what is wrong with it since the last Enter."""

    text: str = ""
    wrong: str = ""

    def takes(self, text: str) -> bool:
        """Whether ``text`` can come next: what begins a length, and after it the letters of a unit too."""
        return bool(text) and all(character in (_CONTINUES if self.text else _BEGINS) for character in text)

    def with_text(self, text: str) -> Typed:
        """One more."""
        return Typed(self.text + text)

    def shorter(self) -> Typed:
        """One less."""
        return Typed(self.text[:-1])
