"""ezdxf, loaded where it is used: it takes a quarter of a second."""

from __future__ import annotations

import logging
import os
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from types import ModuleType
from typing import Final

_CACHE: Final = "XDG_CACHE_HOME"
_NO_FONTS: Final = '{"version": 0, "font-faces": []}'


def load_ezdxf() -> ModuleType:
    """The module ``ezdxf``.

    Left alone, its import reads every font of the machine, which takes seconds on some, and keeps their list
    in the user's home. It reads such a list where it finds one: it is shown an empty one, as nothing that is
    read or written here has letters. Raises ``OSError`` where there is no room for that.
    """
    if (loaded := sys.modules.get("ezdxf")) is not None:
        return loaded
    # What it finds odd in a file it would say on standard error, in its own words.
    logging.getLogger("ezdxf").setLevel(logging.CRITICAL + 1)
    before = os.environ.get(_CACHE)
    with TemporaryDirectory(prefix="wedgewright-") as folder:
        fonts = Path(folder) / "ezdxf" / "font_manager_cache.json"
        fonts.parent.mkdir()
        fonts.write_text(_NO_FONTS, encoding="utf-8")
        os.environ[_CACHE] = folder
        try:
            import ezdxf
        finally:
            if before is None:
                del os.environ[_CACHE]
            else:
                os.environ[_CACHE] = before
    return ezdxf
