"""Damage to the bytes of a file, drawn at random; the same chance gives the same damage."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Sequence

_NUMBER = re.compile(rb"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
EXTREMES = (
    b"0", b"-0", b"-1", b"1", b"2", b"1e308", b"-1e308", b"1.7976931348623157e308", b"1e400", b"-1e400",
    b"1e-300", b"5e-324", b"1e9", b"-1e9", b"1e17", b"NaN", b"-NaN", b"Infinity", b"-inf", b"2147483647",
    b"2147483648", b"-2147483649", b"4294967296", b"99999999999999999999", b"9" * 400, b"0.1", b"1e-7",
    b"1000", b"1e6", b"00012", b"1.", b".", b"-", b"+", b"", b"1 1", b"0x10", b"1,5", b"\xd9\xa3",
)  # fmt: skip
"""What stands in the place of a number; the last is a digit that is none of ASCII's."""

_LONGEST = 300_000
"""Bytes of a damaged file; doubled again and again it would only get slower."""


def damaged(data: bytes, chance: random.Random, others: Sequence[bytes], words: Sequence[bytes]) -> bytes:
    """``data`` after one to six changes; pieces come from ``others``, and ``words`` from the format."""
    for _ in range(chance.choice((1, 1, 1, 2, 2, 3, 6))):
        change = chance.choices(_CHANGES, _WEIGHTS)[0]
        data = change(data, chance, others, words)[:_LONGEST]
    return data


def _flip(data: bytes, chance: random.Random, others: Sequence[bytes], words: Sequence[bytes]) -> bytes:
    if not data:
        return b"\x00"
    flipped = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 8))):
        flipped[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    return bytes(flipped)


def _piece(data: bytes, chance: random.Random) -> tuple[int, int]:
    """Where a piece begins and ends: of lines, or of bytes; mostly short."""
    begin = chance.randrange(len(data) + 1)
    end = min(len(data), begin + int(2 ** chance.uniform(0, 11)))
    if chance.random() < 0.5:
        begin, end = data.rfind(b"\n", 0, begin) + 1, data.find(b"\n", end) + 1 or len(data)
    return begin, end


def _delete(data: bytes, chance: random.Random, others: Sequence[bytes], words: Sequence[bytes]) -> bytes:
    begin, end = _piece(data, chance)
    return data[:begin] + data[end:]


def _double(data: bytes, chance: random.Random, others: Sequence[bytes], words: Sequence[bytes]) -> bytes:
    begin, end = _piece(data, chance)
    return data[:begin] + data[begin:end] * chance.choice((2, 2, 3, 50)) + data[end:]


def _move(data: bytes, chance: random.Random, others: Sequence[bytes], words: Sequence[bytes]) -> bytes:
    begin, end = _piece(data, chance)
    rest = data[:begin] + data[end:]
    at = chance.randrange(len(rest) + 1)
    return rest[:at] + data[begin:end] + rest[at:]


def _splice(data: bytes, chance: random.Random, others: Sequence[bytes], words: Sequence[bytes]) -> bytes:
    other = chance.choice(others)
    begin, end = _piece(other, chance)
    at, to = _piece(data, chance)
    return data[:at] + other[begin:end] + data[to if chance.random() < 0.5 else at :]


def _number(data: bytes, chance: random.Random, others: Sequence[bytes], words: Sequence[bytes]) -> bytes:
    found = list(_NUMBER.finditer(data))
    if not found:
        return data
    for match in sorted(
        chance.sample(found, min(len(found), chance.choice((1, 1, 2, 5)))), key=_end, reverse=True
    ):
        data = data[: match.start()] + chance.choice(EXTREMES) + data[match.end() :]
    return data


def _end(match: re.Match[bytes]) -> int:
    return match.end()


def _one_number(data: bytes, chance: random.Random, others: Sequence[bytes], words: Sequence[bytes]) -> bytes:
    """The same number in all its places."""
    found = _NUMBER.findall(data)
    return data.replace(chance.choice(found), chance.choice(EXTREMES)) if found else data


def _cut(data: bytes, chance: random.Random, others: Sequence[bytes], words: Sequence[bytes]) -> bytes:
    return data[: chance.randrange(len(data) + 1)]


def _word(data: bytes, chance: random.Random, others: Sequence[bytes], words: Sequence[bytes]) -> bytes:
    """A word of the format for another, or between."""
    word = chance.choice(words)
    standing = [each for each in words if each in data]
    if standing and chance.random() < 0.7:
        old = chance.choice(standing)
        places = [match.start() for match in re.finditer(re.escape(old), data)]
        at = chance.choice(places)
        return data[:at] + word + data[at + len(old) :]
    at = chance.randrange(len(data) + 1)
    return data[:at] + word + data[at:]


_CHANGES: tuple[Callable[[bytes, random.Random, Sequence[bytes], Sequence[bytes]], bytes], ...] = (
    _flip, _delete, _double, _move, _splice, _number, _one_number, _cut, _word,
)  # fmt: skip
_WEIGHTS = (2, 2, 2, 1, 2, 4, 1, 1, 4)
