"""The calls: commands and options, and one line about a wrong one."""

from __future__ import annotations

import argparse
import os
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple, NoReturn

from app import __version__

if TYPE_CHECKING:
    from geometry.units import LengthStyle, Unit

PROGRAM = "wedgewright"
KINDS = ("lines", "marks", "both")
MARK_SHAPES = ("circle", "cross")
CARD_KINDS = ("marking", "stitching", "plan", "tries")
COMMANDS = {
    "fit": "Fit a fan of wedges into each patch and report it.",
    "anchors": "Suggest anchors for each patch, best first.",
    "template": "Write the true-size template of each patch.",
    "tape": "Find the shape of each patch from tape measures, and which of them is off.",
    "leftover": "Find the spaces between blocks, and which of them are the same.",
    "card": "Write what is printed beside the template: marking card, stitching card, plan sheet, tries.",
}

_ABOUT = "Fill an odd-shaped space of a quilt top with a fan of wedges."
_NO_TERMINAL = 80  # columns
_NEGATIVE_VALUE = re.compile(r"-[.\d]")


class CallError(Exception):
    """A call that cannot be understood; the text is the one line to show."""


class Call(NamedTuple):
    """What a call asks for. ``command`` is one of ``COMMANDS``, or ``open``.

    A named tuple, as all of the command line's records: making the class takes a quarter of the time of a
    frozen dataclass, and every call pays it.
    """

    command: str
    files: tuple[str, ...]
    patches: tuple[str, ...] = ()
    anchors: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()
    """``name=value`` each, as typed."""
    layers: tuple[str, ...] = ()
    unit: Unit | None = None
    px: bool = False
    """An SVG drawing has 96 px to the inch."""
    size: str | None = None
    split: bool = False
    accept_changed: bool = False
    style: LengthStyle | None = None
    json: bool = False
    output: str = ""
    paper: str | None = None
    kind: str = "both"
    mirrored: bool = False
    no_echoes: bool = False
    no_numbers: bool = False
    arrows: bool = False
    copies: str = "1"
    separate: bool = False
    margin: str | None = None
    cutter: bool = False
    mark_shape: str = "circle"
    mark_size: str | None = None
    dpi: str | None = None
    frame: str | None = None
    rows: str | None = None
    columns: str | None = None
    step: str | None = None
    turns: str | None = None


def read_call(arguments: Sequence[str]) -> Call:
    """The call that ``arguments`` make. Raises ``CallError``; ``SystemExit`` after --help and --version."""
    if arguments and arguments[0] in COMMANDS:
        command = arguments[0]
        values = vars(_command(command).parse_args(_negative_values_joined(arguments[1:])))
        return Call(
            command=command,
            files=(values.pop("file"),),
            patches=tuple(values.pop("patches", ())),
            anchors=tuple(values.pop("anchors", ())),
            settings=tuple(values.pop("settings", ())),
            layers=tuple(values.pop("layers", ())),
            px=values["unit"] == "px",
            unit=None if values["unit"] == "px" else values["unit"],
            **{name: value for name, value in values.items() if name != "unit"},
        )
    return Call(command="open", files=tuple(_opening().parse_args(arguments).files))


def _formatter(prog: str) -> argparse.HelpFormatter:
    """Asked for at every option; argparse's own way to the width loads all of Python's archive formats."""
    try:
        columns = os.get_terminal_size().columns
    except OSError:
        columns = _NO_TERMINAL
    return argparse.RawDescriptionHelpFormatter(prog, width=columns - 2)


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one line, without a page of usage before it."""

    def error(self, message: str) -> NoReturn:
        raise CallError(f"{message}; see {self.prog} --help")

    def add_repeated(self, option: str, metavar: str, *, dest: str, what: str) -> None:
        """An option that may be given several times: ``dest`` is the list of its values."""
        self.add_argument(option, action="append", default=[], dest=dest, metavar=metavar, help=what)


def _opening() -> _Parser:
    lines = [f"  {name:<10}{about}" for name, about in COMMANDS.items()]
    parser = _Parser(
        PROGRAM,
        usage=f"{PROGRAM} [FILE …]\n       {PROGRAM} {{{','.join(COMMANDS)}}} FILE …",
        description=f"{_ABOUT} Without a command: open the sketchpad, with each FILE.",
        epilog="\n".join(["without a window:", *lines, f"\n{PROGRAM} COMMAND --help tells more."]),
        formatter_class=_formatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"{PROGRAM} {__version__}")
    parser.add_argument("files", nargs="*", metavar="FILE", help="a plan, or a file with outlines")
    return parser


def _command(name: str) -> _Parser:
    from geometry.units import UNITS, LengthStyle

    parser = _Parser(
        f"{PROGRAM} {name}",
        description=COMMANDS[name],
        epilog="exit status: 0 it fits, 1 a problem was found, 2 the input or the call was wrong",
        formatter_class=_formatter,
        allow_abbrev=False,
    )
    if name == "tape":
        parser.add_argument("file", metavar="FILE", help="tape measures (.tape)")
        parser.add_argument("--unit", choices=UNITS, help="the unit of lengths that come without one")
        parser.add_argument("--json", action="store_true", help="the shapes as JSON, in mm")
        return parser
    parser.add_argument(
        "file", metavar="FILE", help="a plan (.wedgeplan) or outlines (.svg, .dxf, .txt, .csv, .wkt, .tape)"
    )
    parser.add_repeated(
        "--patch", "NAME", dest="patches", what="only this patch; may be given again for more"
    )
    if name not in ("anchors", "leftover"):
        parser.add_repeated(
            "--anchor",
            "WHERE",
            dest="anchors",
            what="X,Y with units (2 in, 3 1/4 in), or middle, best, side:N, corner:N; by default the "
            "plan's own, else middle; may be given again for a second fan",
        )
    parser.add_repeated(
        "--set",
        "NAME=VALUE",
        dest="settings",
        what="a setting, such as edge-margin=1/4in; may be given again for more",
    )
    parser.add_argument(
        "--unit",
        choices=(*UNITS, "px"),
        help="the unit of lengths that come without one; px: an SVG drawing has 96 pixels to the inch",
    )
    parser.add_argument(
        "--size", metavar="LENGTH", help="how wide or high a drawing is, whichever is more: 12in, 30 cm"
    )
    parser.add_repeated(
        "--layer", "NAME", dest="layers", what="of a DXF drawing only this layer; may be given again for more"
    )
    parser.add_argument(
        "--split", action="store_true", help="take an outline that crosses itself as several patches"
    )
    parser.add_argument(
        "--accept-changed",
        action="store_true",
        help="take a plan that something other than Wedgewright has changed",
    )
    parser.add_argument(
        "--style",
        choices=[style.value for style in LengthStyle],
        help="how lengths are written (default: by the unit, else as the file, else in inches)",
    )
    if name in ("template", "card"):
        parser.add_argument(
            "--paper",
            metavar="NAME",
            help="letter, legal, tabloid, a4, a3, or a size such as 13x19in; by default what your country "
            "prints on",
        )
    if name == "template":
        parser.add_argument(
            "-o", "--output", required=True, metavar="OUT", help="file to write: .pdf, .svg, .dxf or .png"
        )
        parser.add_argument("--kind", choices=KINDS, default="both", help="what to print (default: both)")
        parser.add_argument("--mirrored", action="store_true", help="to mark from the back")
        parser.add_argument("--no-echoes", action="store_true", help="leave the echoes out")
        parser.add_argument("--no-numbers", action="store_true", help="leave the wedges' numbers out")
        parser.add_argument("--arrows", action="store_true", help="show which way the stitch path runs")
        parser.add_argument("--copies", default="1", metavar="N", help="of each patch (default: 1)")
        parser.add_argument(
            "--separate", action="store_true", help="each patch on a sheet of its own, even if several fit"
        )
        parser.add_argument(
            "--margin",
            metavar="LENGTH",
            help="what the printer leaves unprinted on each side (default: 1/2 in)",
        )
        parser.add_argument(
            "--cutter",
            action="store_true",
            help=".svg: what a stencil cutter cuts, each line once, without fills (.dxf is always so)",
        )
        parser.add_argument(
            "--mark-shape",
            choices=MARK_SHAPES,
            default="circle",
            help="how a cutter cuts a mark (default: circle)",
        )
        parser.add_argument("--dpi", metavar="N", help=".png: dots per inch, 72 to 1200 (default: 300)")
        parser.add_argument(
            "--mark-size", metavar="LENGTH", help="how wide a cutter cuts a mark (default: 1/8 in)"
        )
    elif name == "leftover":
        parser.add_argument("-o", "--output", default="", metavar="OUT", help="plan to write (.wedgeplan)")
        parser.add_argument(
            "--frame",
            metavar="NAME|SIZE",
            help="which outline is the frame (default: the largest); with --rows its size, such as 60x80in",
        )
        parser.add_argument(
            "--rows", metavar="N", help="place the file's outlines again and again, as one block"
        )
        parser.add_argument("--columns", metavar="N", help="so many side by side")
        parser.add_argument(
            "--step",
            metavar="SIZE",
            help="from one block to the next, such as 13x13in (default: side by side)",
        )
        parser.add_argument(
            "--turns", metavar="DEGREES", help='clockwise, row by row and repeated: "0 90, 180 270"'
        )
        parser.add_argument("--json", action="store_true", help="the spaces as JSON, in mm")
    elif name == "card":
        parser.add_argument("--kind", choices=CARD_KINDS, required=True, help="which card")
        parser.add_argument(
            "-o", "--output", required=True, metavar="OUT", help="file to write: .pdf, or .png for one page"
        )
    else:
        what = "the whole fit" if name == "fit" else "the suggestions"
        parser.add_argument("--json", action="store_true", help=f"{what} as JSON, in mm")
    return parser


def _negative_values_joined(arguments: Sequence[str]) -> list[str]:
    """``--anchor -1in,2in`` as ``--anchor=-1in,2in``: argparse takes the value for an option."""
    joined: list[str] = []
    for argument in arguments:
        if joined and joined[-1] in {"--anchor", "--set"} and _NEGATIVE_VALUE.match(argument):
            joined[-1] += f"={argument}"
        else:
            joined.append(argument)
    return joined
