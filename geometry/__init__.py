"""Wedgewright's engine: patch + anchor + settings -> fit. Pure computation on numpy and shapely."""

from geometry.errors import AnchorError, LengthError, PatchError, SettingsError, WedgewrightError
from geometry.fit import Fit, fit
from geometry.patch import Patch
from geometry.settings import Settings

__all__ = [
    "AnchorError",
    "Fit",
    "LengthError",
    "Patch",
    "PatchError",
    "Settings",
    "SettingsError",
    "WedgewrightError",
    "fit",
]
