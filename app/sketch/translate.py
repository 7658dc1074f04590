"""Every word on screen, on paper and in messages goes through ``tr`` or ``tr_n``. No Qt."""

from __future__ import annotations

import gettext

_translations = gettext.NullTranslations()


def install(translations: gettext.NullTranslations | None) -> None:
    """Use ``translations`` from now on; None is the English of the source."""
    global _translations
    _translations = translations or gettext.NullTranslations()


def tr(text: str, **values: object) -> str:
    """``text`` in the user's language, ``{name}`` replaced by ``values``."""
    return _filled(_translations.gettext(text), text, values)


def tr_n(one: str, many: str, count: int, **values: object) -> str:
    """``one`` or ``many`` in the user's language, by its rules for ``count``; ``{count}`` is filled in."""
    source = one if count == 1 else many
    return _filled(_translations.ngettext(one, many, count), source, {"count": count, **values})


def _filled(text: str, source: str, values: dict[str, object]) -> str:
    try:
        return text.format(**values)
    except (KeyError, IndexError, ValueError):
        # A slip of the translator (a misspelt place holder) costs the translation, not the message.
        return source.format(**values)
