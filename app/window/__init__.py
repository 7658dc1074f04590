"""The bench: thin Qt around the sketch layer."""

import os

from app.window.overrides import guard_overrides

# Qt's raster engine hands every fill of many short rows to a pool of threads and waits for them, which takes
# four times as long as the fill of a wedge. Qt looks once, at its first such fill
# (``QGuiApplicationPrivate::qtGuiThreadPool`` in qtbase 6.11, src/gui/kernel/qguiapplication.cpp).
os.environ.setdefault("QT_NO_GUI_THREADPOOL", "1")
guard_overrides()
