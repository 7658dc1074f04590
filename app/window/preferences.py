"""What the user prefers, remembered from one day to the next and no part of any plan."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, replace
from typing import Final

import msgspec
from PySide6.QtCore import QLocale, QSettings

from app.exporting.options import TemplateOptions
from app.exporting.sheets import PAPERS, Paper, paper_of_territory
from geometry import Settings, WedgewrightError
from geometry.units import LengthStyle

_STYLE: Final = "preferences/lengths"
_PAPER: Final = "preferences/paper"
_SETTINGS: Final = "preferences/settings"
_TEMPLATE: Final = "print/template"
_RESOLUTION: Final = "print/dots per inch"
_USUAL_RESOLUTION: Final = 300
_ANCHOR_MAP: Final = "canvas/anchor map"
_TURNED_CLOTH: Final = "walk/turned cloth"
_OPEN: Final = "settings/open"
_OPEN_AT_FIRST: Final = ("gather", "distance", "end")

_INCH_TERRITORIES: Final = frozenset(["", "US", "PR", "GU", "VI", "AS", "MP", "UM"])
"""The United States and what belongs to them; and the system that does not say where it is, as the trade
counts in inches."""


def style_of_territory(code: str) -> LengthStyle:
    """How lengths are written in a country, by its two letters (ISO 3166)."""
    return LengthStyle.EIGHTHS if code.upper() in _INCH_TERRITORIES else LengthStyle.CM


def style() -> LengthStyle:
    """How lengths are shown: as was chosen last, else as in the country that the system is set to."""
    stored = str(QSettings().value(_STYLE, ""))
    return LengthStyle(stored) if stored in set(LengthStyle) else style_of_territory(_territory())


def store_style(style: LengthStyle) -> None:
    """Show lengths so from the next start on."""
    QSettings().setValue(_STYLE, style.value)


def paper() -> Paper:
    """What the user prints on: as was chosen, else as in the country that the system is set to."""
    stored = str(QSettings().value(_PAPER, ""))
    return PAPERS[stored] if stored in PAPERS else paper_of_territory(_territory())


def store_paper(name: str) -> None:
    """Print on the paper of that name, one of ``PAPERS``."""
    QSettings().setValue(_PAPER, name)
    _keep(replace(template_options(), paper=None))  # no longer on a size of one's own


def template_options() -> TemplateOptions:
    """As the last template was printed, but one copy. Without a ``paper`` of one's own it is ``paper()``."""
    try:
        return msgspec.json.decode(str(QSettings().value(_TEMPLATE, "{}")), type=TemplateOptions)
    except (msgspec.MsgspecError, WedgewrightError):
        return TemplateOptions()  # spoilt from outside


def store_template_options(options: TemplateOptions) -> None:
    """Print the next template so; copies are of one print, and do not come back."""
    _keep(replace(options, paper=template_options().paper, copies=1))
    if options.paper is not None:
        store_print_paper(options.paper)


def print_paper() -> Paper:
    """What everything is printed on: the size of one's own that was chosen last, else ``paper()``."""
    return template_options().paper or paper()


def store_print_paper(paper: Paper) -> None:
    """Print everything on ``paper`` from now on, be it one that is known or of a size of one's own."""
    if paper.name.lower() in PAPERS:
        store_paper(paper.name.lower())
    else:
        _keep(replace(template_options(), paper=paper))


def _keep(options: TemplateOptions) -> None:
    QSettings().setValue(_TEMPLATE, msgspec.json.encode(options).decode())


def resolution() -> int:
    """Dots per inch of the last picture."""
    stored = str(QSettings().value(_RESOLUTION, ""))
    return int(stored) if stored.isdecimal() else _USUAL_RESOLUTION


def store_resolution(dots_per_inch: int) -> None:
    """Offer so many for the next picture."""
    QSettings().setValue(_RESOLUTION, dots_per_inch)


def usual_settings() -> Settings:
    """What a new patch starts with: the trade's values, and in their place those that the user chose."""
    try:
        return msgspec.json.decode(str(QSettings().value(_SETTINGS, "{}")), type=Settings)
    except (msgspec.MsgspecError, WedgewrightError):
        return Settings()  # spoilt from outside: the trade's values are always right


def store_usual_settings(settings: Settings) -> None:
    """Start new patches with ``settings``. Only what differs from the trade's values is kept."""
    usual = asdict(Settings())
    own = {name: value for name, value in asdict(settings).items() if value != usual[name]}
    QSettings().setValue(_SETTINGS, msgspec.json.encode(own).decode())


def open_groups() -> set[str]:
    """The groups of settings that are open, by their keys."""
    stored = QSettings().value(_OPEN, None)
    return set(_OPEN_AT_FIRST if stored is None else str(stored).split())


def store_open_groups(keys: Iterable[str]) -> None:
    """Open these groups, and no others, at the next start."""
    QSettings().setValue(_OPEN, " ".join(sorted(keys)))


def anchor_map() -> bool:
    """Whether the anchor map lies under the fan."""
    return bool(QSettings().value(_ANCHOR_MAP, False, type=bool))


def store_anchor_map(shown: bool) -> None:
    """Show it so at the next start."""
    QSettings().setValue(_ANCHOR_MAP, shown)


def turned_cloth() -> bool:
    """Whether a walk shows how the cloth lies under a sit-down machine.

    It does at first: which way the cloth is turned next is the hardest to picture, and the patch itself, with
    its letters and numbers, stays as it is on the bench.
    """
    return bool(QSettings().value(_TURNED_CLOTH, True, type=bool))


def store_turned_cloth(shown: bool) -> None:
    """Show it so at the next start."""
    QSettings().setValue(_TURNED_CLOTH, shown)


def _territory() -> str:
    code = QLocale.territoryToCode(QLocale.system().territory())
    return code if len(code) == 2 and code != "ZZ" else ""
