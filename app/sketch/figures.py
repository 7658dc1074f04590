"""Figures beside their limits: rounding makes neither of the two look like the other, nor like nothing."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from app.sketch.translate import tr
from geometry.units import LengthStyle, format_length

_FINER: Final = {LengthStyle.EIGHTHS: LengthStyle.SIXTEENTHS}
"""Where eighths are too coarse the tape's sixteenths are read; a quilter has no thousandths."""


def compared(mm: float, sign: str, limit: float, style: LengthStyle) -> str:
    """``3/16 in < 1/4 in``, ``under 1/16 in < 1/4 in``, ``just under 1/4 in``; ``sign`` is ``<`` or ``>``."""
    mm = max(mm, 0.0)  # where the wobble takes more than there is
    figure = _figure(mm, limit, style)
    return _just(mm, limit, style) if figure is None else f"{figure} {sign} {_length(limit, style)}"


def beside_limit(mm: float, limit: float, style: LengthStyle) -> str:
    """The figure alone: ``3/16 in``, ``under 1/16 in``, ``just under 1/4 in``, ``just over 4 in``."""
    return _figure(mm, limit, style) or _just(mm, limit, style)


def more_than_nothing(mm: float, style: LengthStyle) -> str:
    """A length of more than nothing, which is never written as nothing."""
    for each in _styles(style):
        if _length(mm, each) != _length(0.0, each):
            return _length(mm, each)
    return _length(mm, style) if mm <= 0 else _under(style)


def _figure(mm: float, limit: float, style: LengthStyle) -> str | None:
    """None where it reads like ``limit``."""
    against = _length(limit, style)
    for each in _styles(style):
        figure = _length(mm, each)
        is_nothing = mm > 0 and figure == _length(0.0, each)
        if figure not in (against, _length(limit, each)) and not is_nothing:
            return figure
    return _under(style) if is_nothing else None


def _just(mm: float, limit: float, style: LengthStyle) -> str:
    against = _length(limit, style)
    return tr("just under {limit}", limit=against) if mm < limit else tr("just over {limit}", limit=against)


def _under(style: LengthStyle) -> str:
    finest = _styles(style)[-1]
    return tr("under {step}", step=_length(finest.step, finest))


def _styles(style: LengthStyle) -> tuple[LengthStyle, ...]:
    """``style`` and the one that it falls back on."""
    return (style, _FINER[style]) if style in _FINER else (style,)


@lru_cache(maxsize=1024)
def _length(mm: float, style: LengthStyle) -> str:
    return format_length(mm, style)
