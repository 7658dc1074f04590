"""The words of the help page. Names and keys of actions are taken from the actions themselves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape
from typing import Final

from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenu

from app.sketch.setting_words import QUESTIONS
from app.sketch.translate import tr
from app.window.actions import Actions
from app.window.status import HINTS

_HERE: Final = "\x1a"
"""Stands in a sentence where an action is named."""


_WIDTHS: Final = {2: (32, 68), 3: (32, 20, 48)}
"""Of the columns, in per cent: alike in all tables."""


def help_html(actions: Actions) -> str:
    """The whole page, as rich text."""
    parts = [
        _heading(tr("How the bench is used"), 1),
        _heading(tr("The first minute")),
        _list(
            tr("Drag the anchor, the large ring in the patch. The wedges of the fan follow your hand."),
            tr(
                "Where a wedge’s side gets too short it is hatched, with its figure and the limit. "
                "Move on, and it heals."
            ),
            _named(tr("When the patch fits, print its template: {action}.", action=_HERE), actions.template),
            _named(
                tr("Whatever you do can be taken back: {action}. Esc leaves a drag.", action=_HERE),
                actions.undo,
            ),
        ),
        _heading(tr("The five modes")),
        _list(
            *(f"<b>{_both(action)}</b>. {escape(tr(HINTS[name]))}" for name, action in actions.modes.items())
        ),
        _paragraph(
            tr(
                "Lengths are typed as you write them: 4 3/8, 4-3/8, 3/8\", 2' 6 1/2, 11 cm, 4.375. "
                "Arrow keys move what is chosen; with Ctrl in smaller steps. With Ctrl held nothing catches "
                "the hand. The wheel and Shift with the arrows move the view, Ctrl with the wheel zooms."
            )
        ),
        _heading(tr("Curved sides, and holes")),
        _list(
            tr(
                "The small ring in the middle of a side pulls the side into a curve; pull it back between "
                "the corners, and the side is straight again."
            ),
            _named(
                tr(
                    "{action} leaves a hole in the patch free of stitches; its corners and sides are dragged "
                    "as the others are.",
                    action=_HERE,
                ),
                actions.cut_hole,
            ),
        ),
        _heading(tr("From a photo")),
        _list(
            _named(
                tr(
                    "{action} opens a photo of the quilt top; one can also be dropped here, or pasted.",
                    action=_HERE,
                ),
                actions.open_photo,
            ),
            tr(
                "Click the corners of a block, or of a sheet of paper that lies on the cloth, and say how "
                "large it is: the photo is squared up to its true size."
            ),
            _named(
                tr(
                    "{action} shows a further place that you know; at each place stands how far it misses.",
                    action=_HERE,
                ),
                actions.add_place,
            ),
            _named(tr("{action} shows or hides it beneath the patches.", action=_HERE), actions.show_photo),
            tr("Lay the cloth flat, and stand above its middle: what rises or hangs is seen out of place."),
        ),
        _heading(tr("From the cloth into the plan")),
        _list(
            _named(
                tr(
                    "{action} makes a patch of sides and diagonals, and names the wrong measure.",
                    action=_HERE,
                ),
                actions.tape,
            ),
            _named(
                tr("{action} makes patches of what blocks leave in their frame.", action=_HERE),
                actions.leftover,
            ),
            _named(
                tr("{action} asks how long one side is where a file does not say.", action=_HERE),
                actions.import_,
            ),
        ),
        _heading(tr("Good anchors, and several fans")),
        _list(
            _named(
                tr("{action} lists the best anchors, each with its score.", action=_HERE), actions.suggest
            ),
            _named(
                tr(
                    "{action} lays signs under the fan: the larger one is, the better an anchor it is.",
                    action=_HERE,
                ),
                actions.anchor_map,
            ),
            tr(
                "More anchors, each with its fan, are added in the settings; the canvas says in which order "
                "the fans are stitched, and where the path starts."
            ),
        ),
        _heading(tr("Walk, and the cloth in your hands")),
        _paragraph(
            _named(
                tr(
                    "Where the cloth is turned under the machine, {action} draws in a corner how it lies "
                    "just then; you sit at the foot of that picture, and stitch towards yourself.",
                    action=_HERE,
                ),
                actions.turned_cloth,
            ),
        ),
        _heading(tr("Fingers")),
        _paragraph(
            tr(
                "On a screen that feels fingers, one finger does all that the mouse does; two move the view, "
                "and zoom it as they part."
            )
        ),
        _heading(tr("Findings")),
        _list(
            tr(
                "A problem, cross-hatched with a filled triangle: it will not be seen, or cannot be stitched."
            ),
            tr("A caution, hatched one way with a hollow triangle: it can be stitched, and may disappoint."),
            tr("A note, with a dot: worth knowing."),
            tr("A click on a finding shows its place. Its remedy is one click more, and undo takes it back."),
        ),
        _heading(tr("Tries")),
        _paragraph(
            _named(
                tr("{action} keeps the anchor and the settings as they are, to come back to.", action=_HERE),
                actions.keep_try,
            ),
            _named(
                tr("A click on a try brings it back; {action} shows all of them side by side.", action=_HERE),
                actions.compare_tries,
            ),
        ),
        _heading(tr("How it will look")),
        _paragraph(
            _named(
                tr(
                    "{action} shows cloth and thread in their colours, the thread at its true width.",
                    action=_HERE,
                ),
                actions.quilted,
            ),
            tr("Choose them in the settings, under “How will it look?”."),
        ),
        _heading(tr("Printing")),
        _list(
            _named(
                tr(
                    "{action} prints patches at their true size over as many sheets as it takes, and shows "
                    "the sheets laid over the patch before.",
                    action=_HERE,
                ),
                actions.template,
            ),
            _named(
                tr("{action} is one page to mark from with a ruler alone.", action=_HERE),
                actions.marking_card,
            ),
            _named(
                tr("{action} has the order of the wedges, to lie beside the machine.", action=_HERE),
                actions.stitching_card,
            ),
            tr("Print at 100 %, not fitted to the page. Measure both squares with a ruler before you mark."),
        ),
        _heading(tr("Cautions")),
        _list(
            tr("Test your pen on a scrap, and see that it washes out, before you mark the top."),
            tr(
                "Rulers at the machine need a ruler foot and must be made for it. Stop with the needle down "
                "before you move the ruler or your hands; keep fingers clear of the needle."
            ),
            tr("Cut away from yourself, and close the rotary blade whenever you put it down."),
            tr("The manual of your machine comes before anything said here."),
        ),
        _heading(tr("All settings")),
        *_settings(),
        _heading(tr("Everything in the menus, and its keys")),
        *_menus(actions),
    ]
    return "\n".join(parts)


def plain(action: QAction) -> str:
    """What the action is called, without access key and keys."""
    text = action.text().split("\t")[0]
    return text.replace("&&", "\0").replace("&", "").replace("\0", "&").rstrip("…")


def keys_of(action: QAction) -> str:
    """Its keys as they stand on the keyboard, or nothing."""
    native = QKeySequence.SequenceFormat.NativeText
    keys = [key.toString(native) for key in action.shortcuts()]
    keys += action.text().split("\t")[1:]
    return tr(" or ").join(keys)


# ----------------------------------------------------------------------------------------------------


def _menus(actions: Actions) -> Iterator[str]:
    for menu in actions.menus:
        yield _heading(menu.title().replace("&", ""), 3)
        yield _table((plain(action), keys_of(action), action.whatsThis()) for action in _actions_of(menu))


def _settings() -> Iterator[str]:
    """What stands beside each in the settings."""
    for question in QUESTIONS:
        yield _heading(tr(question.title), 3)
        yield _table((tr(setting.name).replace("&", ""), tr(setting.about)) for setting in question.settings)


def _table(rows: Iterable[tuple[str, ...]]) -> str:
    lines = "".join(
        "<tr>"
        + "".join(
            f"<td width='{wide}%'>{escape(cell)}</td>"
            for cell, wide in zip(row, _WIDTHS[len(row)], strict=True)
        )
        + "</tr>"
        for row in rows
    )
    return f"<table cellspacing='0' cellpadding='4' width='100%'>{lines}</table>"


def _actions_of(menu: QMenu) -> Iterator[QAction]:
    for action in menu.actions():
        inner = action.menu()
        if isinstance(inner, QMenu):
            yield from _actions_of(inner)
        elif not action.isSeparator():
            yield action


def _both(action: QAction) -> str:
    keys = keys_of(action)
    name = escape(plain(action))
    return f"{name} ({escape(keys)})" if keys else name


def _named(sentence: str, action: QAction) -> str:
    """``sentence`` with the action's name and keys where it has ``_HERE``."""
    return escape(sentence, quote=False).replace(_HERE, f"<b>{_both(action)}</b>")


def _heading(text: str, level: int = 2) -> str:
    return f"<h{level}>{escape(text)}</h{level}>"


def _paragraph(*sentences: str) -> str:
    return f"<p>{' '.join(sentences)}</p>"


def _list(*sentences: str) -> str:
    return "<ul>" + "".join(f"<li>{sentence}</li>" for sentence in sentences) + "</ul>"
