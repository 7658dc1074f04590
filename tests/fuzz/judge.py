"""Whether one file keeps the promise, and counting many of them in worker processes."""

from __future__ import annotations

import gc
import hashlib
import io
import mmap
import os
import pickle
import random
import resource
import signal
import struct
import time
import traceback
import warnings
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout, suppress
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple

import numpy as np

from geometry import WedgewrightError
from tests.fuzz.mutate import damaged
from tests.fuzz.seeds import ENDINGS, LONG, WORDS, seeds

MEMORY = 2 << 30
"""Bytes of address space of a worker."""
CLOCK = 10
"""Seconds until a worker that does not answer is killed."""
CPU, GROWTH = 2.0, 500 << 20
"""Most seconds of processor time, and bytes that a worker grows by, for one file."""
VARIANTS = {"svg": 3, "dxf": 3, "text": 3, "wkt": 3, "tape": 2, "plan": 2, "photo": 1}
"""Ways in which each importer may be called."""

CRASHERS = Path(__file__).parent / "crashers"


class Escape(NamedTuple):
    """A file that broke the promise."""

    kind: str
    """What happened and where, without what differs from file to file."""
    words: str


def judge(importer: str, path: Path, variant: int) -> Escape | bool:
    """Read the file; True where it was read, False where it was refused as promised."""
    noise = io.StringIO()
    with redirect_stderr(noise), redirect_stdout(noise), warnings.catch_warnings(record=True) as warned:
        warnings.simplefilter("always")
        begun, before = time.process_time(), _peak()
        was_read = False
        try:
            _read(importer, path, variant)
            was_read = True
        except WedgewrightError as error:
            if escape := _bad_sentence(error, path):
                return escape
        except MemoryError:
            return Escape("MemoryError", f"more than {MEMORY >> 20} MiB")
        except BrokenError as error:
            return Escape(f"what was read: {str(error).split(':')[0]}", str(error))
        except Exception as error:
            return Escape(f"{type(error).__name__} {_place(error)}", traceback.format_exc(limit=-4))
        spent, grown = time.process_time() - begun, _peak() - before
    if warned:
        return Escape(f"warning {warned[0].filename}:{warned[0].lineno}", str(warned[0].message))
    if noise.getvalue():
        return Escape("printed", noise.getvalue()[:200])
    if spent > CPU:
        return Escape("slow", f"{spent:.1f} s")
    if grown > GROWTH:
        return Escape("large", f"{grown >> 20} MiB")
    return was_read


class BrokenError(Exception):
    """Something was read, and it is not what a reader may give."""


def _read(importer: str, path: Path, variant: int) -> None:
    if importer == "plan":
        _read_plan(path, accept_changed=bool(variant))
        return
    if importer == "photo":
        _read_photo(path)
        return
    from app.importing import import_file

    options: dict[str, object] = {
        "svg": ({}, {"unit": "px"}, {"size": 300.0}),
        "dxf": ({}, {"unit": "mm"}, {"unit": "in"}),
        "text": ({}, {"unit": "in"}, {"unit": "mm", "split": True}),
        "wkt": ({}, {"unit": "in"}, {"unit": "mm", "split": True}),
        "tape": ({}, {"unit": "in"}),
    }[importer][variant]
    imported = import_file(path, **options)  # type: ignore[arg-type]
    if not imported.patches:
        raise BrokenError("no patch")
    names = [name for name, _ in imported.patches]
    if len(set(names)) < len(names):
        raise BrokenError("a name twice")
    if not all(note and "\n" not in note for note in imported.notes):
        raise BrokenError(f"a note: {imported.notes!r}")
    # What the window does with it next: into the plan, and into its file.
    from app.plan.model import PlanPatch

    for name, patch in imported.patches:
        if not (np.isfinite(patch.outline).all() and patch.polygon.is_valid and patch.polygon.area > 0):
            raise BrokenError("no patch: not finite, not valid, or nothing in it")
        try:
            PlanPatch.of(name, patch, [patch.outline[0].tolist()])
        except WedgewrightError as error:
            raise BrokenError(f"does not go into a plan: {error}") from None


def _read_photo(path: Path) -> None:
    """As the window does it, under a name that its first bytes deserve."""
    from app.importing import named
    from app.importing.photo import read_photo
    from app.plan.photo import LONGEST_SIDE, Photo
    from app.plan.photo_header import PhotoKind, kind_of
    from app.window.photo_decoding import as_jpeg, decoded

    endings = {PhotoKind.JPEG: ".jpg", PhotoKind.HEIC: ".heic"}
    photo = path.with_suffix(endings.get(kind_of(path.read_bytes()) or PhotoKind.PNG, path.suffix))
    path.rename(photo)
    try:
        data, header = read_photo(photo)
        if header.kind is PhotoKind.HEIC and find_spec("pi_heif") is None:
            return
        with named(photo):
            kept = Photo(data=as_jpeg(decoded(data, header)))
    finally:
        photo.rename(path)
    if max(kept.width, kept.height) > LONGEST_SIDE:
        raise BrokenError(f"not as it is kept: {kept.width} × {kept.height}")


def _read_plan(path: Path, *, accept_changed: bool) -> None:
    from app.plan.plan_file import encode, read_plan

    plan = read_plan(path, accept_changed=accept_changed)
    if not accept_changed and encode(plan) not in _known_plans():
        raise BrokenError("another plan: damaged, and nothing was said")


_plans: set[bytes] = set()


def _known_plans() -> set[bytes]:
    """Every sound seed as it is written."""
    if not _plans:
        from app.plan.plan_file import encode, read_plan

        for data in seeds("plan"):
            with suppress(WedgewrightError):
                path = Path(f"/proc/self/fd/{_unlinked(data)}")
                _plans.add(encode(read_plan(path)))
    return _plans


def _unlinked(data: bytes) -> int:
    handle = os.memfd_create("plan")
    os.write(handle, data)
    return handle


def _bad_sentence(error: WedgewrightError, path: Path) -> Escape | None:
    sentence = str(error)
    if error.what and path.stem in error.where and "\n" not in sentence and len(sentence) < 1000:
        return None
    return Escape(f"no sentence {_place(error)}", sentence)


def _place(error: BaseException) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "site-packages" not in frame.filename] or frames
    return f"{Path(ours[-1].filename).name}:{ours[-1].lineno}"


def _peak() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def _forget_peak() -> None:
    with suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5")


# --- many, in a process of their own ----------------------------------------------------------------


def mutant(importer: str, seed: int, number: int, largest: int = LONG) -> tuple[bytes, int]:
    """Mutation ``number``, always the same, and the way in which it is read."""
    sound = seeds(importer, largest)
    chance = random.Random(f"{importer} {seed} {number}")
    first = sound[int(len(sound) * chance.random() ** 3)]  # those made for it come first, and most often
    data = damaged(first, chance, sound, WORDS[importer])
    return data, chance.randrange(VARIANTS[importer])


@dataclass(slots=True)
class Count:
    """What became of many files."""

    importer: str
    done: int = 0
    read: int = 0
    """Files in which something was found in spite of the damage."""
    escapes: dict[str, tuple[int, int, str]] = field(default_factory=dict)
    """By kind: how often, the number of the first, and its words."""
    seconds: float = 0.0

    @property
    def escaped(self) -> int:
        """Files that broke the promise."""
        return sum(often for often, _, _ in self.escapes.values())

    def add(self, number: int, escape: Escape) -> None:
        often, first, words = self.escapes.get(escape.kind, (0, number, escape.words))
        self.escapes[escape.kind] = (often + 1, first, words)


def run(
    importer: str, count: int, folder: Path, *, seed: int = 0, largest: int = LONG, until: float | None = None
) -> Count:
    """Judge mutations 0 to ``count``; a worker that dies is replaced. ``until``: ``time.monotonic()``."""
    total = Count(importer)
    begun = time.monotonic()
    seeds(importer, largest)  # read once, before anything is forked
    load(importer, folder)
    at = mmap.mmap(-1, 16)
    first = 0
    while first < count and (until is None or time.monotonic() < until):
        at[:8] = struct.pack("q", first)
        reading, writing = os.pipe()
        child = os.fork()
        if not child:
            os.close(reading)
            _work(importer, range(first, count), folder, seed, largest, at, writing, until)
        os.close(writing)
        for number, escape in _answers(reading):
            total.add(number, escape)
        _, status = os.waitpid(child, 0)
        reached, total.read = struct.unpack("qq", at[:16])
        if status:  # it died of the file that it was reading
            kind = signal.Signals(os.WTERMSIG(status)).name if os.WIFSIGNALED(status) else "died"
            total.add(reached, Escape(kind, f"more than {CLOCK} s, or killed"))
            reached += 1
        first = reached
        total.done = first
    total.seconds = time.monotonic() - begun
    return total


def load(importer: str, folder: Path) -> None:
    """All that reading loads, so that no worker has to, and none counts it."""
    path = folder / f"warm{ENDINGS[importer]}"
    path.write_bytes(seeds(importer)[0])
    for variant in range(VARIANTS[importer]):
        judge(importer, path, variant)
    path.unlink()


def _work(
    importer: str,
    numbers: range,
    folder: Path,
    seed: int,
    largest: int,
    at: mmap.mmap,
    writing: int,
    until: float | None,
) -> None:
    status = 3
    with suppress(BaseException):
        signal.signal(signal.SIGALRM, signal.SIG_DFL)  # a handler would wait for the library to return
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        path = folder / f"mutant{ENDINGS[importer]}"
        with os.fdopen(writing, "wb") as out:
            for number in numbers:
                at[:8] = struct.pack("q", number)
                if until is not None and time.monotonic() > until:
                    break
                data, variant = mutant(importer, seed, number, largest)
                path.write_bytes(data)
                signal.alarm(CLOCK)
                before = _peak()
                answer = judge(importer, path, variant)
                signal.alarm(0)
                if _peak() - before > 20 << 20:
                    gc.collect()
                    _forget_peak()
                if isinstance(answer, Escape):
                    pickle.dump((number, answer), out)
                    out.flush()
                elif answer:
                    at[8:16] = struct.pack("q", struct.unpack("q", at[8:16])[0] + 1)
            else:
                at[:8] = struct.pack("q", numbers.stop)
        status = 0
    os._exit(status)


def _answers(reading: int) -> Iterator[tuple[int, Escape]]:
    with os.fdopen(reading, "rb") as answers:
        while True:
            try:
                yield pickle.load(answers)
            except (EOFError, pickle.UnpicklingError):
                return


def apart(importer: str, data: bytes, folder: Path, variant: int) -> Escape | bool:
    """``judge`` in a process of its own, that may die of it."""
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        os.close(reading)
        with suppress(BaseException):
            resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
            signal.signal(signal.SIGALRM, signal.SIG_DFL)
            path = folder / f"apart{ENDINGS[importer]}"
            path.write_bytes(data)
            signal.alarm(CLOCK)
            answer = judge(importer, path, variant)
            with os.fdopen(writing, "wb") as out:
                pickle.dump(answer, out)
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as answer:
        said = answer.read()
    _, status = os.waitpid(child, 0)
    if said:
        told: Escape | bool = pickle.loads(said)
        return told
    kind = signal.Signals(os.WTERMSIG(status)).name if os.WIFSIGNALED(status) else "died"
    return Escape(kind, f"more than {CLOCK} s, or killed")


def smaller(data: bytes, still: Callable[[bytes], bool], tries: int = 300) -> bytes:
    """As little of ``data`` as still does it: halves are left out, then quarters, and so on."""
    piece = max(len(data) // 2, 1)
    while piece and tries > 0:
        at = 0
        while at < len(data) and tries > 0:
            less = data[:at] + data[at + piece :]
            tries -= 1
            if still(less):
                data = less
            else:
                at += piece
        piece //= 2
    return data


def keep(importer: str, data: bytes, variant: int, kind: str, folder: Path) -> Path:
    """Write a smaller form of what escaped among the crashers, for the suite to read for ever."""

    def still(less: bytes) -> bool:
        found = apart(importer, less, folder, variant)
        return isinstance(found, Escape) and found.kind == kind

    tries = 20 if kind in ("slow", "SIGALRM", "large", "MemoryError") else 300
    data = smaller(data, still, tries)
    name = f"{importer}-{hashlib.sha256(data).hexdigest()[:10]}{ENDINGS[importer]}"
    CRASHERS.mkdir(exist_ok=True)
    path = CRASHERS / name
    path.write_bytes(data)
    return path
