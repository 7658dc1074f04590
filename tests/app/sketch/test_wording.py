from __future__ import annotations

import gettext
from dataclasses import replace

import pytest

from app.sketch import translate
from app.sketch.translate import tr, tr_n
from app.sketch.wording import finding_text, finding_title, level_word, remedy_text, verdict
from geometry import Fit, Patch, Settings, fit
from geometry.findings import Code, Finding, Level, Remedy
from geometry.patch import RepairDetail
from geometry.units import LengthStyle

SQUARE = fit(Patch([(0, 0), (203.2, 0), (203.2, 203.2), (0, 203.2)]), (101.6, 101.6))
EIGHTHS, MM = LengthStyle.EIGHTHS, LengthStyle.MM
INCH = 25.4


def finding(code: Code, value: float, limit: float, **others: object) -> Finding:
    return Finding(code, Level.PROBLEM, (25.4, 50.8), value, limit, **others)  # type: ignore[arg-type]


CASES: list[tuple[Finding, str]] = [
    (
        finding(Code.SIDE_SHORT, INCH / 8, INCH / 4, wedge=1),
        "Wedge 1 ({span}): its side is 1/8 in long and would not be seen, 1/4 in is the least; "
        "move the anchor, or set fewer spans for that side",
    ),
    (
        finding(Code.WEDGE_THIN, INCH / 8, INCH / 4, wedge=1),
        "Wedge 1 ({span}): it is 1/8 in across and would not be seen, 1/4 in is the least; "
        "move the anchor so that it faces that side more squarely, or set fewer spans there",
    ),
    (
        # As the canvas has it: in eighths it would read as the limit.
        finding(Code.WEDGE_THIN, INCH * 0.19, INCH / 4, wedge=1),
        "Wedge 1 ({span}): it is 3/16 in across and would not be seen, 1/4 in is the least; "
        "move the anchor so that it faces that side more squarely, or set fewer spans there",
    ),
    (
        finding(Code.WEDGE_LOST, INCH / 2, INCH / 4, detail="A1-AB"),
        "From mark A1 to AB the anchor sees 1/2 in of the edge, and with a gap of 1/4 in to its neighbours "
        "no wedge is left; move the anchor, or make the gap smaller",
    ),
    (
        finding(Code.WEDGE_LOST, 0.4, INCH / 4),
        "Here the anchor sees under 1/16 in of the edge, and with a gap of 1/4 in to its neighbours "
        "no wedge is left; move the anchor, or make the gap smaller",
    ),
    (
        finding(Code.WOBBLE_RISK, INCH / 8, INCH / 4, wedge=1),
        "Wedge 1 ({span}): where the stitching wanders by 1/8 in on both sides, 1/8 in of its width is left, "
        "and 1/4 in is the least that is seen; mark it well and stitch it slowly, or move the anchor",
    ),
    (
        finding(Code.WOBBLE_RISK, -1, INCH / 4, wedge=1),
        "Wedge 1 ({span}): where the stitching wanders by 1/8 in on both sides, "
        "nothing of its width is left, and 1/4 in is the least that is seen; "
        "mark it well and stitch it slowly, or move the anchor",
    ),
    (
        finding(Code.OUT_OF_SIGHT, 0.124, 0.01),
        "12 % of the stitchable area is out of sight of the anchor; "
        "move the anchor to where it sees more, or add another",
    ),
    (
        finding(Code.OUT_OF_SIGHT, 0.004, 0.01),
        "Less than 1 % of the stitchable area is out of sight of the anchor; "
        "move the anchor to where it sees more, or add another",
    ),
    (
        finding(Code.NO_ROOM, INCH * 3 / 4, INCH),
        "No room to stitch: at its widest place the patch is 3/4 in wide, and the edge margin of 1/2 in "
        "is kept on both sides; make the edge margin smaller",
    ),
    (
        finding(Code.NO_ROOM, INCH / 8, INCH),
        "No room to stitch: at its widest place the patch is 1/8 in wide, too little for a wedge",
    ),
    (
        finding(Code.PINCHED, 0.3, 0.0),
        "The edge margin pinches off 30 % of the stitchable area, which stays empty; "
        "make the edge margin smaller, or put another anchor there",
    ),
    (
        finding(Code.CROWDED_ANCHOR, 32, 20),
        "32 passes of thread meet at the anchor, 20 is the most; raise the hold-back, or set fewer spans",
    ),
    (
        finding(Code.OPEN_AREA, INCH * 5, INCH * 4),
        "A circle 5 in wide stays without stitching, and the batting allows 4 in; "
        "add echoes, or set more spans",
    ),
    (
        finding(Code.OPEN_AREA, INCH * 4.01, INCH * 4),
        "A circle just over 4 in wide stays without stitching, and the batting allows 4 in; "
        "add echoes, or set more spans",
    ),
    (
        finding(Code.NEAR_CENTRE, INCH / 4, INCH),
        "The anchor is 1/4 in off the centre, which looks like a slip; "
        "put it on the centre, or at least 1 in away from it",
    ),
    (finding(Code.ECHO_DROPPED, 1, 3, wedge=1), "Wedge 1 ({span}): room for 1 of its 3 echoes"),
    (finding(Code.ECHO_DROPPED, 0, 1, wedge=1), "Wedge 1 ({span}): no room for its 1 echo"),
    (
        finding(Code.SIMPLIFIED, 3, 0, detail="repeated-points"),
        "3 corners that repeated the one before them were left out, at x 1 in, y 2 in; "
        "the shape is the same",
    ),
    (
        finding(Code.REPAIRED, 1, 0, detail="spike"),
        "1 spike without any width was taken off the outline, at x 1 in, y 2 in; see whether that is right",
    ),
    (
        finding(Code.REPAIRED, 1, 0, detail="not known"),
        "The outline was changed so that it can be stitched, at x 1 in, y 2 in; see whether that is right",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("given", "sentence"), CASES, ids=lambda case: getattr(case, "code", ""))
def test_every_finding_is_one_sentence(given: Finding, sentence: str) -> None:
    span = " to ".join(SQUARE.fans[0].wedges[0].span)
    assert finding_text(given, SQUARE, EIGHTHS) == sentence.replace("{span}", span)


def test_every_code_detail_and_level_has_words() -> None:
    assert {case.code for case, _ in CASES} == set(Code)
    assert len({finding_title(code) for code in Code}) == len(Code)
    other = finding_text(finding(Code.REPAIRED, 1, 0, detail="not known"), SQUARE, EIGHTHS)
    for detail in RepairDetail:
        for count in (1, 2):
            text = finding_text(finding(Code.REPAIRED, count, 0, detail=detail), SQUARE, EIGHTHS)
            assert text != other, detail
            assert "{" not in text
    assert [level_word(level) for level in Level] == ["problem", "caution", "note"]


@pytest.mark.parametrize("style", list(LengthStyle))
def test_figures_are_in_the_user_s_units_and_never_look_equal_to_the_limit(style: LengthStyle) -> None:
    for given, _ in CASES:
        text = finding_text(given, SQUARE, style)
        assert text
        assert "\n" not in text
        if style is MM and given.code in {Code.SIDE_SHORT, Code.OPEN_AREA, Code.NEAR_CENTRE}:
            assert " mm" in text
            assert " in is" not in text
    near = finding(Code.SIDE_SHORT, 0.3 * INCH - 1e-5, 0.3 * INCH, wedge=1)
    assert "its side is just under " in finding_text(near, SQUARE, style)
    tiny = finding(Code.WEDGE_THIN, 1e-5, INCH / 4, wedge=1)
    assert "it is under " in finding_text(tiny, SQUARE, style)


def test_the_engine_s_own_findings_are_worded() -> None:
    """From fits that have them: value, limit and detail are what the words take them for."""
    thin = fit(Patch([(0, 0), (400, 0), (400, 16), (0, 16)]), (2.0, 8.0), Settings(spans_per_side=6))
    texts = {found.code: finding_text(found, thin, EIGHTHS) for found in thin.findings}
    assert Code.WEDGE_THIN in texts or Code.WEDGE_LOST in texts
    ell = Patch([(0, 0), (300, 0), (300, 100), (100, 100), (100, 300), (0, 300)])
    hidden = fit(ell, (290.0, 10.0))
    assert any(
        "of the stitchable area is out of sight" in finding_text(f, hidden, EIGHTHS) for f in hidden.findings
    )
    none = fit(Patch([(0, 0), (300, 0), (300, 11), (0, 11)]), (10.0, 5.0))
    (text,) = [finding_text(f, none, MM) for f in none.findings]
    assert text.startswith(
        "No room to stitch: at its widest place the patch is 11 mm wide, and the edge margin of"
    )
    assert verdict(none) == "no wedges, 1 problem"
    shape = [(0, 0), (100, 0), (100, 45), (200, 45), (200, 0), (300, 0), (300, 100), (200, 100), (200, 55),
             (100, 55), (100, 100), (0, 100)]  # fmt: skip
    two = fit(Patch(shape), (50.0, 50.0))
    assert any("pinches off 50 % of" in finding_text(f, two, EIGHTHS) for f in two.findings)
    mended = fit(Patch([(0, 0), (0, 0), (100, 0), (150, 0), (100, 0), (100, 100), (0, 100)]), (50.0, 50.0))
    words = " ".join(finding_text(f, mended, EIGHTHS) for f in mended.findings)
    assert "1 corner that repeated" in words
    assert "1 spike" in words


REMEDIES: list[tuple[Remedy, str]] = [
    (Remedy({"side_spans": (("B", 1),)}), "One span on side B"),
    (Remedy({"side_spans": (("A", 3), ("B", 4))}), "3 spans on side A, 4 spans on side B"),
    (Remedy({"side_spans": (("A", 1), ("B", 1), ("C", 2))}), "At most 2 spans on 3 sides"),
    (Remedy({"removed_marks": (SQUARE.fans[0].marks[1].at,)}), "Remove mark A1"),
    (Remedy({"merge_thin": True}), "Merge thin wedges"),
    (Remedy({"merged_spans": (("A1", "AB"),)}), "Merge it with a neighbour"),
    (Remedy({"spans_per_side": 1}), "One span on every side"),
    (Remedy({"longest_span": INCH * 4}), "No span longer than 4 in"),
    (Remedy({"hold_back": INCH / 8}), "Hold-back of 1/8 in"),
    (Remedy({"edge_margin": INCH * 3 / 16}), "Edge margin of 3/16 in"),
    (Remedy({"gap": INCH / 8}), "Gap of 1/8 in"),
    (Remedy({"echo_count": 0}), "No echoes"),
    (Remedy({"echo_count": 1}), "One echo"),
    (Remedy({"echo_spacing": INCH * 3 / 16}), "Echoes 3/16 in apart"),
    (Remedy({"divide": True, "echo_count": 2}), "As many anchors as it takes, 2 echoes"),
    (Remedy(anchors=((INCH, INCH * 2),)), "Move the anchor to x 1 in, y 2 in"),
    (Remedy(anchors=((101.6, 101.6), (INCH, INCH * 2))), "Another anchor at x 1 in, y 2 in"),
]


@pytest.mark.parametrize(("remedy", "words"), REMEDIES, ids=[words for _, words in REMEDIES])
def test_every_remedy_says_what_it_does(remedy: Remedy, words: str) -> None:
    assert remedy_text(remedy, SQUARE, EIGHTHS) == words


def test_remedies_of_several_anchors_and_of_own_marks_are_worded() -> None:
    one, other, new = (INCH * 2, INCH * 2), (INCH * 6, INCH * 6), (INCH * 5, INCH * 6)
    two = fit(SQUARE.patch, [one, other])
    assert remedy_text(Remedy(anchors=(one,)), two, EIGHTHS) == "Remove the anchor at x 6 in, y 6 in"
    moved = "Move the anchor at x 6 in, y 6 in to x 5 in, y 6 in"
    assert remedy_text(Remedy(anchors=(one, new)), two, EIGHTHS) == moved
    added = "Another anchor at x 6 in, y 6 in"
    assert remedy_text(Remedy(anchors=(one, other)), two, EIGHTHS, anchors=(one,)) == added
    aside = fit(SQUARE.patch, (101.6, 105.0))
    centre = Remedy(anchors=(SQUARE.patch.centre,))
    assert remedy_text(centre, aside, EIGHTHS) == "Put the anchor on the centre"
    marked = fit(SQUARE.patch, (101.6, 101.6), Settings(own_marks=((50.0, 6.35), (120.0, 6.35))))
    name = next(mark.name for mark in marked.fans[0].marks if mark.at == pytest.approx((120.0, 6.35)))
    gone = Remedy({"own_marks": ((50.0, 6.35),)})
    assert remedy_text(gone, marked, EIGHTHS) == f"Remove mark {name}"


def with_findings(*levels: Level) -> Fit:
    return replace(
        SQUARE, prompt_findings=tuple(Finding(Code.SIDE_SHORT, level, (0, 0), 1, 2) for level in levels)
    )


def test_verdicts() -> None:
    problem, caution, note = Level.PROBLEM, Level.CAUTION, Level.NOTE
    assert verdict(SQUARE) == "8 wedges, fits"
    assert verdict(with_findings(problem, problem, caution)) == "8 wedges, 2 problems"
    assert verdict(with_findings(problem)) == "8 wedges, 1 problem"
    assert verdict(with_findings(caution, note)) == "8 wedges, fits with 1 caution"
    assert verdict(with_findings(note)) == "8 wedges, fits"
    one = replace(SQUARE, prompt_fans=(replace(SQUARE.fans[0], wedges=SQUARE.fans[0].wedges[:1]),))
    assert verdict(one) == "1 wedge, fits"


# --- translation ------------------------------------------------------------------------------------


class Shouting(gettext.NullTranslations):
    def gettext(self, message: str) -> str:
        return message.upper().replace("{WEDGES}", "{wedges}").replace("{PROBLEMS}", "{problems}")

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return "{count} three" if n == 3 else "{cuont} misspelt"


def test_a_translation_can_be_installed_and_its_slips_cost_no_message() -> None:
    translate.install(Shouting())
    try:
        assert tr("note") == "NOTE"
        assert tr_n("{count} wedge", "{count} wedges", 3) == "3 three"
        assert tr_n("{count} wedge", "{count} wedges", 1) == "1 wedge"
        assert tr_n("{count} wedge", "{count} wedges", 2) == "2 wedges"
        assert verdict(with_findings(*[Level.PROBLEM] * 3)) == "8 wedges, 3 three"
    finally:
        translate.install(None)
    assert tr("note") == "note"
