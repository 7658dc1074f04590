"""Wedgewright without a window, one function for each command, and the call that opens one.

Exit status: 0 it fits, 1 a problem was found, 2 the input or the call was wrong (one line on standard
error), 130 interrupted, 141 nobody reads the output any more. What a call does not use, it does not load:
everything heavy is imported in the function that needs it.
"""

from __future__ import annotations

import gc
import os
import sys
import warnings
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, TextIO

from app.cli.arguments import COMMANDS, Call, CallError, read_call

if TYPE_CHECKING:
    from pathlib import Path

# Before numpy is imported: starting its pool of threads takes as long as all the rest of the import, and
# no array here is large enough to use it.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

FITS, PROBLEM, REFUSED, INTERRUPTED, UNREAD = 0, 1, 2, 130, 141


def main(arguments: Sequence[str] | None = None) -> int:
    """Do what the call asks (``sys.argv`` by default) and return the exit status. Raises nothing."""
    if arguments is None:
        arguments = sys.argv[1:]
        gc.disable()  # a call makes no garbage worth looking for, and looking takes 3 % of a short one
        if not sys.warnoptions:
            warnings.simplefilter("ignore")  # standard error holds our one line, or nothing
    try:
        return _run(arguments)
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        return UNREAD
    except Exception as error:
        _complain(_sentence(error))
        return REFUSED


def _run(arguments: Sequence[str]) -> int:
    try:
        call = read_call(arguments)
    except SystemExit:  # --help and --version have printed
        _put("")
        return FITS
    doing = {
        "fit": _fit,
        "anchors": _anchors,
        "template": _template,
        "card": _card,
        "tape": _tape,
        "leftover": _leftover,
        "open": _open_sketchpad,
    }
    return doing[call.command](call)


def _fit(call: Call) -> int:
    from app.cli.tasks import work

    done = work(call)
    _remark(done.notes)
    if call.json:
        from app.report import report

        _put_json(report(done.fitted, done.style))
    else:
        from app.cli.table import table

        _put(table(done.fitted, done.style))
    return FITS if done.fits else PROBLEM


def _anchors(call: Call) -> int:
    from app.cli.anchors_task import suggested

    done = suggested(call)
    _remark(done.notes)
    if call.json:
        _put_json(done.report())
    else:
        from app.cli.anchors_table import anchors_table

        _put(anchors_table(done))
    return FITS if done.fits else PROBLEM


def _template(call: Call) -> int:
    from app.cli.tasks import dots_per_inch, template_options, work
    from app.exporting.template import write_template

    target = _target(call)
    options, dots = template_options(call), dots_per_inch(call)
    done = work(call)
    fits = [(each.name, each.fit) for each in done.fitted]
    told = write_template(target, fits, options, style=done.style, dots_per_inch=dots)
    _remark((*done.notes, *told))
    _put(f"{target}\n")
    return FITS if done.fits else PROBLEM


def _card(call: Call) -> int:
    from app.cli.card_task import written

    target = _target(call)
    done = written(call, target)
    _remark(done.notes)
    _put(f"{target}\n")
    return FITS if done.fits else PROBLEM


def _tape(call: Call) -> int:
    from app.cli.tape_task import shapes, tape_table

    found = shapes(call)
    if call.json:
        _put_json(found.report())
    else:
        _put(tape_table(found))
    return FITS if found.agree else PROBLEM


def _leftover(call: Call) -> int:
    from app.cli.leftover_task import spaces, spaces_table

    if call.output:
        _target(call)
    done = spaces(call)
    _remark(done.notes)
    if call.json:
        _put_json(done.report())
    else:
        _put(spaces_table(done))
    return FITS


def _target(call: Call) -> Path:
    """The file to write, which must not be the one that is read."""
    from pathlib import Path

    source, target = Path(call.files[0]), Path(call.output)
    if target.exists() and source.exists() and target.samefile(source):
        raise CallError(f"“{target.name}”: this is the file that is read; give another name after -o")
    return target


def _open_sketchpad(call: Call) -> int:
    for file in call.files:
        if not os.path.exists(file):
            raise CallError(f"“{file}”: there is no such file; {_instead_of(file)}")
    from app.window.start import run

    return run(call.files)


def _instead_of(missing: str) -> str:
    from difflib import get_close_matches

    near = get_close_matches(missing, COMMANDS, n=1)
    return f"did you mean wedgewright {near[0]}?" if near else "look whether it was moved or renamed"


def _put_json(report: Mapping[str, object]) -> None:
    import json

    _put(json.dumps(report, ensure_ascii=False, allow_nan=False) + "\n", "utf-8")


def _put(text: str, encoding: str | None = None) -> None:
    """Write to standard output and see it through: in ``encoding`` exactly, or in the terminal's own."""
    stream = sys.stdout
    if stream is None:  # closed by the caller
        return
    try:
        if encoding is None:
            encoding = stream.encoding or "utf-8"
        stream.flush()
        stream.buffer.write(text.encode(encoding, "replace"))
        stream.buffer.flush()
    except OSError as error:
        _forget(stream)
        if isinstance(error, BrokenPipeError):
            raise
        why = f"cannot be written ({error.strerror}); free space, or choose another place"
        raise CallError(f"standard output: {why}") from None


def _forget(stream: TextIO) -> None:
    """What is still in the buffer would fail once more, with a traceback, when Python ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _remark(notes: Sequence[str]) -> None:
    """What was not taken over as it stands, on standard error: a program may read standard output."""
    for note in notes:
        _complain(f"note: {note}")


def _complain(sentence: str) -> None:
    """One line on standard error, whatever stands in the names that it repeats."""
    if sys.stderr is not None:
        line = " ".join(sentence.split())
        line = "".join(character if character.isprintable() else "?" for character in line)
        try:
            sys.stderr.write(f"wedgewright: {line}\n")
            sys.stderr.flush()
        except OSError:  # nobody reads it; the status still says how it ended
            _forget(sys.stderr)


def _sentence(error: Exception) -> str:
    errors = sys.modules.get("geometry.errors")  # not loaded: nothing can have raised one
    if isinstance(error, CallError) or (errors is not None and isinstance(error, errors.WedgewrightError)):
        return str(error)
    place = error.__traceback__
    while place is not None and place.tb_next is not None:
        place = place.tb_next
    where = f" at {os.path.basename(place.tb_frame.f_code.co_filename)}:{place.tb_lineno}" if place else ""
    what = f"{type(error).__name__}{where}: {error}"
    return f"Wedgewright met something it did not expect: {what}; please report"
