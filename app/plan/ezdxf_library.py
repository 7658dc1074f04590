"""ezdxf, loaded where it is used: it takes a quarter of a second."""

from __future__ import annotations

import json
import logging
import os
import re
import sys
from configparser import ConfigParser
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
from types import ModuleType
from typing import Final

_CACHE: Final = "XDG_CACHE_HOME"
_READ: Final = "read"
_VERSION: Final = re.compile(r"^CURRENT_CACHE_VERSION\D*(\d+)", re.MULTILINE)


def load_ezdxf() -> ModuleType:
    """The module ``ezdxf``.

    Left alone, its import reads every font of the machine, which takes seconds on some, and keeps their list
    in the user's home. It reads such a list where it finds one: it is shown an empty one, as nothing that is
    read or written here has letters. It also reads settings of its own, from the user's home and from the
    folder that a call is made from, and dies of damaged ones: it is shown none. Raises ``OSError`` where
    there is no room for the list.
    """
    if (loaded := sys.modules.get("ezdxf")) is not None:
        return loaded
    # What it finds odd in a file it would say on standard error, in its own words.
    logging.getLogger("ezdxf").setLevel(logging.CRITICAL + 1)
    before = os.environ.get(_CACHE)
    with TemporaryDirectory(prefix="wedgewright-") as folder:
        fonts = Path(folder) / "ezdxf" / "font_manager_cache.json"
        fonts.parent.mkdir()
        fonts.write_text(json.dumps({"version": _fonts_version(), "font-faces": []}), encoding="utf-8")
        os.environ[_CACHE] = folder
        setattr(ConfigParser, _READ, lambda *_, **__: [])  # hides the one that it inherits
        try:
            import ezdxf
        finally:
            delattr(ConfigParser, _READ)
            if before is None:
                del os.environ[_CACHE]
            else:
                os.environ[_CACHE] = before
    return ezdxf


def _fonts_version() -> int:
    """Of the list of fonts that the installed release reads: it takes no other, and only its source says
    which.
    """
    spec = find_spec("ezdxf")
    for folder in (spec.submodule_search_locations or ()) if spec else ():
        source = Path(folder) / "fonts" / "font_manager.py"
        if source.is_file() and (found := _VERSION.search(source.read_text(encoding="utf-8"))):
            return int(found[1])
    return 0
