"""The README's pictures: one command makes every one of them."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from tests.pictures import FOLDER

ROOT = FOLDER.parents[1]


def named_in(text: str) -> set[str]:
    """Files in ``FOLDER`` that ``text`` shows as pictures."""
    place = FOLDER.relative_to(ROOT).as_posix()
    return set(re.findall(rf"!\[[^]]+\]\({place}/([^)]+)\)", text))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder with the pictures, made by the command."""
    folder = tmp_path_factory.mktemp("pictures")
    home = tmp_path_factory.mktemp("home")
    call = [sys.executable, "-m", "tests.pictures", str(folder)]
    subprocess.run(call, cwd=ROOT, check=True, capture_output=True, env={**os.environ, "HOME": str(home)})
    assert not list(home.rglob("*.conf")), "the user's own preferences are left alone"
    return folder


def test_the_command_makes_what_the_readme_shows_and_nothing_else(made: Path) -> None:
    shown = named_in((ROOT / "README.md").read_text(encoding="utf-8"))
    assert {path.name for path in made.iterdir()} == shown
    assert {path.name for path in FOLDER.iterdir()} == shown


def test_the_pictures_show_something_and_those_that_are_kept_are_like_them(made: Path) -> None:
    """In the share of each tenth of grey; where another font is used, letters move by a little."""
    for path in made.iterdir():
        with Image.open(path) as new, Image.open(FOLDER / path.name) as kept:
            assert sum(count > 0 for count in new.convert("L").histogram()) > 20, path.name
            assert new.size == kept.size, path.name
            shares = [
                [sum(image.convert("L").histogram()[low : low + 26]) for low in range(0, 256, 26)]
                for image in (new, kept)
            ]
        apart = sum(abs(one - other) for one, other in zip(*shares, strict=True))
        assert apart < 0.03 * new.width * new.height, path.name
