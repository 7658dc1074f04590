"""Fixtures shared by all tests."""

from __future__ import annotations

import os

# before Qt or numpy is imported anywhere: no screen, and no idle threads of a linear algebra library
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
