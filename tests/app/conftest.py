"""What the app's tests share."""

from __future__ import annotations

import pytest

from app.cli import main
from tests.app.calls import Run


@pytest.fixture
def run(capfd: pytest.CaptureFixture[str]) -> Run:
    """Call the program."""

    def call(*arguments: object) -> tuple[int, str, str]:
        status = main([str(argument) for argument in arguments])
        out, err = capfd.readouterr()
        return status, out, err

    return call
