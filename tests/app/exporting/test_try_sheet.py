"""Tries on paper: every one is there with its figures, nothing runs off the sheet or over another."""

from __future__ import annotations

import io
from dataclasses import replace

import pdfplumber
import pytest

from app.exporting.paged import as_pdf
from app.exporting.sheets import PAPERS
from app.exporting.template import ExportError
from app.exporting.try_sheet import MOST_ON_A_SHEET, TrySheets
from app.sketch.try_words import try_figures
from app.sketch.wording import verdict
from geometry import Fit, Patch, Settings, fit
from geometry.units import LengthStyle

SQUARE = Patch([(0, 0), (203.2, 0), (203.2, 203.2), (0, 203.2)])


def tries(count: int) -> list[tuple[str, Fit]]:
    return [
        (f"Try {n + 1}", fit(SQUARE, (60.0 + 5 * n, 90.0), replace(Settings(), echo_count=n % 3)))
        for n in range(count)
    ]


def pdf_of(name: str, given: list[tuple[str, Fit]], paper: str) -> io.BytesIO:
    return io.BytesIO(as_pdf(TrySheets.of(name, given, PAPERS[paper], LengthStyle.EIGHTHS), name))


@pytest.mark.parametrize(
    ("count", "paper"),
    [
        # Each count on one paper, and by -m long on both.
        pytest.param(count, paper, marks=[] if number % 2 == at else [pytest.mark.long])
        for number, count in enumerate([1, 2, 4, 5, 9, 12])
        for at, paper in enumerate(["letter", "a4"])
    ],
)
def test_one_sheet_holds_every_try_with_its_figures(count: int, paper: str) -> None:
    given = tries(count)
    with pdfplumber.open(pdf_of("Pond corner", given, paper)) as pdf:
        (page,) = pdf.pages
        assert float(page.width) == pytest.approx(PAPERS[paper].width / 25.4 * 72, abs=1)
        words = page.extract_words()
        text = " ".join(word["text"] for word in words)
        for edge in (word for word in words):
            assert edge["x0"] >= 35
            assert edge["x1"] <= page.width - 35
            assert edge["top"] >= 35
            assert edge["bottom"] <= page.height - 30
        assert all(char["size"] >= 9 for char in page.chars)
    assert "Pond corner" in text
    assert "not to size" in text
    for name, made in given:
        assert name in text
        figures = dict(try_figures(made, LengthStyle.EIGHTHS))
        for what in figures if count < 3 else ("Narrowest side", "Out of sight"):
            assert text.count(f"{what}:") == count
            assert f"{what}: {figures[what]}" in text
        assert verdict(made) in text
    pictures = [rect for rect in page.rects if not rect["fill"] and abs(rect["width"] - rect["height"]) < 0.1]
    frames = [rect for rect in page.rects if not rect["fill"] and rect not in pictures]
    assert len(frames) == count
    assert min(rect["width"] for rect in pictures) > 60, "large enough to see the wedges"
    for one in frames:
        for other in frames:
            if one is not other:
                apart = (
                    one["x1"] < other["x0"] or other["x1"] < one["x0"]
                    or one["bottom"] < other["top"] or other["bottom"] < one["top"]
                )  # fmt: skip
                assert apart


def test_more_than_a_sheet_holds_go_on_the_next() -> None:
    with pdfplumber.open(pdf_of("Pond", tries(MOST_ON_A_SHEET + 1), "a4")) as pdf:
        first, second = pdf.pages
        assert f"Try {MOST_ON_A_SHEET}" in first.extract_text()
        assert f"Try {MOST_ON_A_SHEET + 1}" in second.extract_text()
        assert "sheet 2 of 2" in second.extract_text()


def test_no_try_is_refused_in_words() -> None:
    with pytest.raises(ExportError, match="keep one first"):
        pdf_of("Pond", [], "a4")
