"""The plan file: ``{"wedgeplan": 1, "checksum": "…", "plan": {…}}``, JSON, UTF-8, millimetres.

The checksum is the SHA-256 over the version and the plan in one fixed spelling (keys sorted, no blanks), so
that a changed digit shows and a changed line break does not.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

import msgspec

from app.plan.atomic import WriteError, atomic_write, previous_path
from app.plan.json_text import JsonTextError, parse_json
from app.plan.model import THREAD_WIDTH, Plan, PlanError, PlanPatch
from geometry.errors import WedgewrightError
from geometry.patch import Place
from geometry.settings import Settings

SUFFIX: Final = ".wedgeplan"
VERSION: Final = 1
MAX_BYTES: Final = 32 * 1024 * 1024
"""Larger files are refused unread, and never written: a million corners take about as much, a photo a few."""

MAX_COMMAS: Final = 2_000_000
"""As ``MAX_BYTES``, for files full of short values; each corner brings two."""

Body = dict[str, Any]

_LEFT_OUT: Final[Mapping[str, Any]] = {"tries": (), "cloth": "", "thread": "", "thread_width": THREAD_WIDTH}
"""Fields of a patch that came later, and the value at which the file does without them: an older Wedgewright
then reads it."""

_LEFT_OUT_OF_PLAN: Final = ("unit_style", "photo")
"""Fields of the plan itself that the file does without where they hold nothing."""

MIGRATIONS: Final[Mapping[int, Callable[[Body], Body]]] = {}
"""Step n turns the plan of a file of version n into one of version n + 1; no number is left out."""


class PlanFileError(WedgewrightError):
    """A plan file that cannot be read or written."""


class ChangedOutside(PlanFileError):  # noqa: N818 - a question to the user more than an error
    """The plan is sound, but something other than Wedgewright has changed it since it was saved."""


def read_plan(path: Path, *, accept_changed: bool = False) -> Plan:
    """Read and check the plan at ``path``.

    Raises ``ChangedOutside`` where the plan is sound but not as it was saved, unless ``accept_changed``;
    ``PlanFileError`` for everything else that is wrong, naming the place in the file.
    """
    try:
        return _plan_of(_whole(_bytes_of(path)), accept_changed=accept_changed)
    except PlanFileError as error:
        place = _short(error.where)
        where = f"“{path.name}”, {place}" if place else f"“{path.name}”"
        raise type(error)(_short(error.what), where=where, do=error.do or _other_copy(path)) from error


def write_plan(path: Path, plan: Plan) -> str:
    """Save ``plan`` at ``path``, wholly or not at all, and keep the version before (``previous_path``).

    Returns the file's ``fingerprint``. Raises ``PlanFileError``; what stood at ``path`` is then untouched.
    """
    try:
        data = encode(plan)
        if _too_large(data):
            raise PlanFileError(
                "not saved: the plan has more than a million corners",
                where=f"“{path.name}”",
                do="spread its patches over two plans",
            )
        atomic_write(path, data, keep_previous=True)
    except WriteError as error:
        raise PlanFileError(error.what, where=error.where, do=error.do) from error
    return hashlib.sha256(data).hexdigest()


def fingerprint(path: Path) -> str | None:
    """What the file at ``path`` holds, in 64 letters; None where there is none to read.

    Two files of one fingerprint hold the same bytes; the time of a file is no part of it, as copying and
    touching change that alone.
    """
    try:
        if not path.is_file():
            return None
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except (OSError, ValueError):
        return None


def encode(plan: Plan) -> bytes:
    """The bytes of the file; one patch to a line, so that two versions are easy to compare."""
    body: Body = msgspec.to_builtins(plan)
    for name in _LEFT_OUT_OF_PLAN:
        if body[name] is None:
            del body[name]
    patches = body.pop("patches")
    for patch in patches:
        for name, usual in _LEFT_OUT.items():
            if patch[name] == usual:
                del patch[name]
    head = json.dumps(body, ensure_ascii=False)[:-1]
    lines = ",\n".join(json.dumps(patch, ensure_ascii=False, allow_nan=False) for patch in patches)
    body["patches"] = patches
    text = (
        f'{{"wedgeplan": {VERSION},\n"checksum": "{_checksum(VERSION, body)}",\n'
        f'"plan": {head}, "patches": [\n{lines}\n]}}}}\n'
    )
    return text.encode()


def encode_parts(plan: Plan) -> tuple[bytes, dict[str, bytes]]:
    """The plan but for its photo, in a twentieth of the time of ``encode``; and the photo, by its SHA-256.

    For whoever keeps many plans with one photo, and sees to a checksum.
    """
    photo, told, parts = plan.photo, Body(), dict[str, bytes]()
    if photo is not None:
        told = {name: getattr(photo, name) for name in photo.__struct_fields__ if name != "data"}
        told["key"] = photo.key
        parts[photo.key] = photo.data
    bare = msgspec.structs.replace(plan, photo=None)
    return msgspec.json.encode({"wedgeplan": VERSION, "photo": told, "plan": bare}), parts


def decode_parts(text: bytes, parts: Mapping[str, bytes]) -> Plan:
    """The plan that ``encode_parts`` took apart, of this or an older version. Raises ``PlanFileError``."""
    whole = _whole(text)
    told = whole.pop("photo", None)
    body = whole.get("plan")
    if told and isinstance(body, dict):
        data = parts[told.pop("key")]
        body["photo"] = {**told, "data": base64.b64encode(data).decode()}
    return _plan_of(whole, accept_changed=True)


def migrate(
    body: Body,
    version: int,
    *,
    newest: int = VERSION,
    steps: Mapping[int, Callable[[Body], Body]] = MIGRATIONS,
) -> Body:
    """``body`` of a file of ``version``, brought step by step to ``newest``."""
    for step in range(version, newest):
        body = steps[step](body)
    return body


# ----------------------------------------------------------------------------------------------------


def _bytes_of(path: Path) -> bytes:
    try:
        # Asked first: opening a pipe would wait for ever.
        if path.is_dir():
            raise PlanFileError("this is a folder", do="choose a plan file in it")
        if path.exists() and not path.is_file():
            raise PlanFileError("this is a device or a pipe, no file", do="choose a plan file")
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise PlanFileError("there is no such file", do="look whether it was moved or renamed") from None
    except (OSError, ValueError) as error:
        why = (getattr(error, "strerror", None) or str(error)).lower()
        raise PlanFileError(f"the file cannot be read: {why}", do="look whether you may read it") from error
    if _too_large(data):
        raise PlanFileError(
            "larger than any plan, which has a million corners at most", do="choose a plan file"
        )
    return data


def _too_large(data: bytes) -> bool:
    return len(data) > MAX_BYTES or data.count(b",") > MAX_COMMAS


def _whole(data: bytes) -> Body:
    try:
        whole = parse_json(data)
    except JsonTextError as error:
        raise PlanFileError(f"damaged or no plan: {error.what}", where=error.where) from error
    if not isinstance(whole, dict) or "wedgeplan" not in whole:
        raise PlanFileError(
            "this is no plan: “wedgeplan” is missing at its beginning", do="choose a plan file"
        )
    return whole


def _plan_of(whole: Body, *, accept_changed: bool) -> Plan:
    version = whole["wedgeplan"]
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise PlanFileError("the version is not 1 or a later whole number", where="“wedgeplan”")
    if version > VERSION:
        raise PlanFileError(
            f"made by a newer Wedgewright (plan version {version}; this one reads up to {VERSION})",
            do="update Wedgewright",
        )
    unknown = sorted(whole.keys() - {"wedgeplan", "checksum", "plan"})
    if unknown:
        raise PlanFileError(f"“{unknown[0]}” is not part of a plan file")
    body = whole.get("plan")
    if not isinstance(body, dict):
        raise PlanFileError("the plan itself is missing", where="“plan”")
    plan = _checked(migrate(body, version))
    if not accept_changed and whole.get("checksum") != _checksum(version, body):
        raise ChangedOutside(
            "changed outside Wedgewright since it was saved, or damaged",
            do="open it as changed if you know of the change, or open another copy",
        )
    return plan


def _checked(body: Body) -> Plan:
    """``body`` as a plan whose every patch can be fitted."""
    try:
        plan = msgspec.convert(body, Plan)
        _check_settings_known(body)
    except msgspec.ValidationError as error:
        raise _worded(str(error), body) from error
    except PlanFileError:
        raise
    except WedgewrightError as error:  # from Settings, PlanPatch or Plan
        raise PlanFileError(error.what, where=_with_patch(error, body), do=error.do) from error
    for patch in plan.patches:
        try:
            shape = patch.patch()
        except WedgewrightError as error:
            where = f"patch “{patch.name}”" + (f", {error.where}" if error.where else "")
            raise PlanFileError(error.what, where=where, do=error.do) from error
        for number, anchor in enumerate(patch.anchors, start=1):
            if shape.locate(anchor) is Place.OUTSIDE:
                raise PlanFileError(
                    f"the anchor at x {anchor[0]:.6g}, y {anchor[1]:.6g} mm lies outside the patch",
                    where=f"patch “{patch.name}”" + (f", anchor {number}" if len(patch.anchors) > 1 else ""),
                    do="move it into the patch",
                )
    return plan


def _check_settings_known(body: Body) -> None:
    """Misspelt settings; msgspec passes over what a dataclass does not know."""
    known = {field.name for field in fields(Settings)}
    for number, patch in enumerate(body.get("patches", ())):
        held = {f"$.patches[{number}]": patch}
        held |= {f"$.patches[{number}].tries[{n}]": kept for n, kept in enumerate(patch.get("tries", ()))}
        for place, holder in held.items():
            for name in holder.get("settings", {}):
                if name not in known:
                    raise PlanFileError(
                        f"there is no setting “{name}”", where=_place_in_words(f"{place}.settings", body)
                    )


def _with_patch(error: WedgewrightError, body: Body) -> str:
    """Where ``error`` arose; settings do not know whose they are, so each patch is tried by itself."""
    for number, patch in enumerate(body.get("patches", ())):
        try:
            msgspec.convert(patch, PlanPatch)
        except PlanError as found:
            return found.where or _place_in_words(f"$.patches[{number}]", body)
        except WedgewrightError as found:
            return f"{_place_in_words(f'$.patches[{number}]', body)}, {found.where}"
    return error.where


def _checksum(version: int, body: Body) -> str:
    text = json.dumps(
        [version, body], sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False
    )
    return hashlib.sha256(text.encode()).hexdigest()


def _short(words: str) -> str:
    """Names, and what stands in place of one, may be as long as the file."""
    return words if len(words) <= _LONGEST_WORDS else f"{words[:_LONGEST_WORDS]}…"


_LONGEST_WORDS: Final = 300


def _other_copy(path: Path) -> str:
    previous = previous_path(path)
    if previous.is_file():
        return f"open the version before it, “{previous.name}”"
    return "open another copy of the plan"


# --- msgspec's sentences in a quilter's words -------------------------------------------------------

_AT = re.compile(r"^(?P<what>.*?)(?: - at `(?P<path>[^`]*)`)?$", re.DOTALL)
_STEP = re.compile(r"\.(?P<key>\w+)|\[(?P<index>\d+)\]")
_KINDS = {
    "float": "a number",
    "int": "a whole number",
    "str": "text",
    "array": "a list",
    "object": "a group of named values",
    "bool": "true or false",
    "null": "nothing",
    "bytes": "a photo as text",
}
_SENTENCES: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"^Expected `array` of length (\d+), got (\d+)$"), "{0} values belong here, not {1}"),
    (re.compile(r"^Expected `(\w+)`, got `(\w+)`$"), "{0} belongs here, not {1}"),
    (re.compile(r"^Object missing required field `(\w+)`$"), "“{0}” is missing"),
    (re.compile(r"^Object contains unknown field `(.*)`$"), "“{0}” is not part of a plan"),
    (re.compile(r"^Invalid enum value '?(.*?)'?$"), "“{0}” is none of the possible values"),
    (re.compile(r"^Invalid base64 encoded string$"), "the text that stands for the photo is damaged"),
    (re.compile(r"^(?:Number|Integer).* out of range$"), "the number is too large"),
)


def _worded(message: str, body: Body) -> PlanFileError:
    match = _AT.match(message)
    what, path = (match["what"], match["path"]) if match else (message, None)
    for pattern, sentence in _SENTENCES:
        found = pattern.match(what)
        if found:
            what = sentence.format(*(_KINDS.get(word, word) for word in found.groups()))
            break
    return PlanFileError(what, where=_place_in_words(path or "$", body))


def _place_in_words(path: str, body: Body) -> str:
    """``$.patches[0].outline[2][1]`` as ``patch 1 “Star kite”, outline, point 3, y``."""
    words: list[str] = []
    steps = [step["key"] or int(step["index"]) for step in _STEP.finditer(path)]
    value: Any = body
    for before, step in zip(["", *steps], steps, strict=False):
        value = _inside(value, step)
        if isinstance(step, str):
            words.append("" if step in {"patches", "tries"} else step.replace("_", " "))
        elif before in {"patches", "tries"}:
            name = _inside(value, "name")
            kind = "patch" if before == "patches" else "try"
            words.append(f"{kind} {step + 1}" + (f" “{name}”" if isinstance(name, str) else ""))
        elif before == "holes":
            words[-1] = f"hole {step + 1}"
        elif before in {"outline", "anchors"} or words[-1].startswith("hole "):
            words.append(f"point {step + 1}")
        elif words[-1].startswith("point ") and step < 2:
            words.append("xy"[step])
        else:
            words.append(f"entry {step + 1}")
    return ", ".join(word for word in words if word)


def _inside(value: Any, step: str | int) -> Any:
    try:
        return value[step]
    except (TypeError, KeyError, IndexError):
        return None
