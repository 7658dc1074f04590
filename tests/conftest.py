"""Fixtures shared by all tests."""

from __future__ import annotations

import os

from hypothesis import settings

# before Qt or numpy is imported anywhere: no screen, and no idle threads of a linear algebra library
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Usually an example may take 200 ms, which a machine that does much else takes for the quickest one.
settings.register_profile("wedgewright", deadline=None)
settings.load_profile("wedgewright")
