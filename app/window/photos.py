"""How a photo comes into the plan: from a file, dropped, or from the clipboard."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QMimeData, QObject, Signal
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QWidget

from app.importing import named, shown_name
from app.importing.photo import PHOTO_ENDINGS, read_photo
from app.sketch import photo_changes
from app.sketch.translate import tr
from app.window.dialogs import Dialogs
from app.window.session import Session
from geometry import WedgewrightError


def is_photo(path: Path) -> bool:
    """Whether its ending says so."""
    return path.suffix.lower() in PHOTO_ENDINGS


class Photos(QObject):
    """Opens photos over one window."""

    opened = Signal()
    """The plan has another photo."""
    noted = Signal(str)

    def __init__(self, session: Session, dialogs: Dialogs, window: QWidget) -> None:
        super().__init__(window)
        self._session, self._dialogs, self._window = session, dialogs, window

    def open(self, path: Path | None = None) -> None:
        """The photo at ``path``, or at the place that is asked for."""
        path = path or self._dialogs.photo_to_open()
        if path is not None:
            self._lay(lambda: self._from_file(path))

    def take(self, paths: Sequence[Path]) -> None:
        """The first of ``paths``, which were dropped."""
        if paths:
            self.open(paths[0])
        if len(paths) > 1:
            name = shown_name(os.fspath(paths[0]))
            self.noted.emit(tr("One photo at a time: “{name}” was opened, the others were not", name=name))

    def paste(self, held: QMimeData | None) -> None:
        """The picture, or the file of one, that ``held`` holds; None where who copied it has ended."""
        paths = [Path(url.toLocalFile()) for url in held.urls() if url.isLocalFile()] if held else []
        photos = [path for path in paths if is_photo(path)]
        image = held.imageData() if held and held.hasImage() else None
        if photos:
            self.take(photos)
        elif isinstance(image, QImage) and not image.isNull():
            from app.window.photo_decoding import as_jpeg, beside

            self._lay(lambda: beside(lambda: as_jpeg(image), self._window))
        else:
            self._dialogs.tell(tr("There is no picture on the clipboard: copy one first"))

    def _from_file(self, path: Path) -> bytes | None:
        from app.window.photo_decoding import for_plan

        data, _ = read_photo(path)
        with named(path):
            return for_plan(data, self._window)

    def _lay(self, make: Callable[[], bytes | None]) -> None:
        try:
            data = make()
            if data is None:
                return
            self._session.do(photo_changes.open_photo(self._session.plan, data))
        except WedgewrightError as error:
            self._dialogs.tell(str(error))
            return
        self.opened.emit()
