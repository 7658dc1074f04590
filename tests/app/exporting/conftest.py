from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _application(qapp: object) -> None:
    """The one application of the whole run: an exporter alone would make another kind of its own."""
