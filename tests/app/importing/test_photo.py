"""Files that should be photos: refused in one sentence before anything is decoded."""

from __future__ import annotations

import os
import tracemalloc
from pathlib import Path

import pytest

from app.importing import ImportingError, photo
from app.importing.photo import MAX_BYTES, MAX_PIXELS, read_photo
from tests.photos import heic_header, jpeg_header, png_header, small_jpeg

pytestmark = pytest.mark.usefixtures("qapp")


def _refusal(path: Path) -> str:
    with pytest.raises(ImportingError) as caught:
        read_photo(path)
    sentence = str(caught.value)
    assert path.name in sentence
    assert "\n" not in sentence
    assert caught.value.do
    return sentence


@pytest.mark.parametrize("name", ["a.jpg", "a.JPEG", "ü 日本 ' 🪡.jpg", "-dash.jpg"])
def test_read(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(small_jpeg(64, 48))
    data, header = read_photo(path)
    assert data == path.read_bytes()
    assert (header.width, header.height) == (64, 48)


@pytest.mark.parametrize(
    ("name", "data"),
    [("a.jpg", jpeg_header(10_100, 10_000)), ("a.png", png_header(10_100, 10_000)),
     ("a.heic", heic_header(10_100, 10_000))],
)  # fmt: skip
def test_101_million_pixels(tmp_path: Path, name: str, data: bytes) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    assert "101 million pixels" in _refusal(path)


def test_of_a_far_too_large_photo_only_the_start_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(jpeg_header(10_100, 10_000))
    os.truncate(path, MAX_BYTES)
    tracemalloc.start()
    try:
        assert "101 million" in _refusal(path)
        assert tracemalloc.get_traced_memory()[1] < MAX_BYTES // 16
    finally:
        tracemalloc.stop()


def test_100_million_pixels_are_read(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(jpeg_header(10_000, 10_000))
    assert read_photo(path)[1].pixels == MAX_PIXELS
    path.write_bytes(jpeg_header(10_000, 10_001))
    assert "101 million" in _refusal(path)


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.jpg", png_header(64, 48), "ends in .jpg, but it is a PNG"),
        ("a.png", jpeg_header(64, 48), "ends in .png, but it is a JPEG"),
        ("a.heic", jpeg_header(64, 48), "ends in .heic, but it is a JPEG"),
        ("a.jpg", b"<html><body>not found</body></html>", "neither JPEG, PNG nor HEIC"),
        ("a.jpg", b"", "is empty"),
        ("a.jpg", jpeg_header(64, 48)[:-1], "cut off"),
        ("a.png", png_header(64, 48)[:-5], "cut off"),
        ("a.gif", b"GIF89a", "no photo that is read"),
        ("a", b"GIF89a", "no photo that is read"),
    ],
)
def test_refused(tmp_path: Path, name: str, data: bytes, words: str) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    assert words in _refusal(path)


def test_folder_pipe_and_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "folder.jpg"
    folder.mkdir()
    assert "folder" in _refusal(folder)
    pipe = tmp_path / "pipe.jpg"
    os.mkfifo(pipe)
    assert "pipe" in _refusal(pipe)
    assert "no such file" in _refusal(tmp_path / "none.jpg")


def test_larger_than_any_photo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(small_jpeg(64, 48))
    monkeypatch.setattr(photo, "MAX_BYTES", path.stat().st_size)
    read_photo(path)
    monkeypatch.setattr(photo, "MAX_BYTES", path.stat().st_size - 1)
    assert "larger than any photo" in _refusal(path)
