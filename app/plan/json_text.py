"""Reading JSON that may come from anywhere: every flaw is an error with its line and column.

Stricter than the standard library, which takes NaN, numbers that overflow, a key twice, and halves of
surrogate pairs, and which runs out of stack on deep nesting.
"""

from __future__ import annotations

import json
import math
import re
from typing import Any, NoReturn

from geometry.errors import WedgewrightError

_MAX_DEPTH = 64
"""Brackets within brackets. A plan needs 7; the standard library breaks at some hundreds."""

_MAX_DIGITS = 400
"""A float64 written out in full has 309 digits before the point."""

_MAX_SCAN = 4_000_000
"""Characters. In longer texts a flaw is refused without its place, which would take many seconds to find."""


class JsonTextError(WedgewrightError):
    """Bytes that are no sound JSON; ``where`` is the line and column."""


def parse_json(data: bytes) -> Any:
    """The value that ``data``, JSON in UTF-8, stands for. Raises ``JsonTextError``."""
    try:
        # An editor may have put a byte order mark in front.
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        byte = error.start - data.rfind(b"\n", 0, error.start)
        raise JsonTextError("this byte is not UTF-8 text", where=f"line {line}, byte {byte}") from error
    if not text.strip():
        raise JsonTextError("the file is empty")
    try:
        if _SURROGATE.search(text):
            _scan(text)
        return json.loads(
            text,
            parse_constant=_refuse,
            parse_float=_finite,
            parse_int=_not_endless,
            object_pairs_hook=_no_key_twice,
        )
    except json.JSONDecodeError as error:
        what = "it breaks off here" if error.pos >= len(text.rstrip()) else "this is not as JSON is written"
        raise JsonTextError(what, where=_place(text, error.pos)) from error
    except (_FlawError, RecursionError) as error:
        _scan(text)
        raise JsonTextError("numbers, names or brackets that no plan has") from error


# --- as the standard library reads ------------------------------------------------------------------


class _FlawError(Exception):
    """Something that ``json.loads`` would let pass; ``_scan`` says what and where."""


def _refuse(word: str) -> NoReturn:
    raise _FlawError(word)


def _finite(number: str) -> float:
    value = float(number)
    return _refuse(number) if math.isinf(value) else value


def _not_endless(number: str) -> int:
    return _refuse(number) if len(number) > _MAX_DIGITS else int(number)


def _no_key_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    return _refuse("a key twice") if len(found) < len(pairs) else found


# --- finding the place of a flaw --------------------------------------------------------------------

_TOKEN = re.compile(
    r"""
    (?P<string>"(?:[^"\\]++|\\.)*+"?)(?P<colon>[ \t\r\n]*+:)?   # possessive: one pass, whatever comes
    | (?P<open>[\[{]) | (?P<close>[\]}])
    | (?P<number>-?+[0-9][0-9.eE+-]*+)
    | (?P<word>-?+[A-Za-z]++)
    """,
    re.VERBOSE | re.DOTALL,
)
_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")


def _scan(text: str) -> None:
    """Raise ``JsonTextError`` at the first of the flaws that ``json.loads`` would let pass."""
    if len(text) > _MAX_SCAN:
        return
    keys: list[set[str]] = [set()]
    for token in _TOKEN.finditer(text):
        kind = token.lastgroup
        if kind == "open":
            if len(keys) > _MAX_DEPTH:
                raise JsonTextError("too many brackets within brackets", where=_place(text, token.start()))
            keys.append(set())
        elif kind == "close":
            if len(keys) > 1:
                keys.pop()
        elif kind == "number":
            if _overflows(token[0]):
                raise JsonTextError("this number is too large", where=_place(text, token.start()))
        elif kind == "word":
            if token[0] not in {"true", "false", "null"}:
                raise JsonTextError(f"“{token[0][:20]}” is no value", where=_place(text, token.start()))
        else:
            _scan_string(text, token, keys[-1])


def _scan_string(text: str, token: re.Match[str], keys: set[str]) -> None:
    string = token["string"]
    try:
        value = json.loads(string) if "\\" in string else string[1:-1]
    except json.JSONDecodeError:
        return  # reading the whole says where
    if any("\ud800" <= character <= "\udfff" for character in value):
        raise JsonTextError("half a character stands in this text", where=_place(text, token.start()))
    if token["colon"]:
        if value in keys:
            place = _place(text, token.start())
            raise JsonTextError(f"“{value[:40]}” stands here a second time", where=place)
        keys.add(value)


def _overflows(number: str) -> bool:
    if len(number) > _MAX_DIGITS:
        return True
    try:
        return math.isinf(float(number))
    except ValueError:
        return False  # malformed: reading the whole says where


def _place(text: str, position: int) -> str:
    line = text.count("\n", 0, position) + 1
    return f"line {line}, column {position - text.rfind(chr(10), 0, position)}"
