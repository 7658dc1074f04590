"""The house rules, each checked on the whole project, and each shown to fire on a planted violation."""

from __future__ import annotations

import ast
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    ".ci",
    ".gitignore",
    ".gitattributes",
    "app",
    "geometry",
    "sample_shapes",
    "tests",
}

ENGINE_LIBRARIES = {"numpy", "shapely", "geometry"}
# The engine reads no file, starts nothing and knows no clock.
NOT_IN_THE_ENGINE = {
    *("os", "io", "pathlib", "tempfile", "shutil", "subprocess", "socket", "time", "datetime", "random"),
    *("logging", "threading", "multiprocessing"),
}


def _pattern(*pieces: str) -> re.Pattern[str]:
    """Joined from pieces, so that this file does not hold what it forbids."""
    return re.compile("".join(pieces), re.IGNORECASE)


FORBIDDEN_TEXT = {
    "a package registry's address": _pattern(
        r"https?://[^\s)\"'<>]*(simple/|pack", r"ages|regis", r"try|pyth", r"onhosted|py", r"pi\.)"
    ),
    "a path of one machine": _pattern(
        r"(?<![\w.~$}-])/(wo", r"rk|fa", r"rm|ro", r"ot|t", r"mp|ho", r"me/\w+)/\w|\b[a-z]:\\us", r"ers\\\w"
    ),
    "a document that the work grew from": _pattern(
        r"\b(tran", r"scripts?|se", r"ed documents?|the se", r"ed)\b"
    ),
}


def _tracked(root: Path) -> list[str]:
    listing = subprocess.run(["git", "ls-files", "-z"], cwd=root, capture_output=True, check=True, text=True)
    return [name for name in listing.stdout.split("\0") if name]


def misplaced(root: Path) -> list[str]:
    """Tracked files that lie at the top level beyond the agreed list."""
    return [name for name in _tracked(root) if name.split("/")[0] not in TOP_LEVEL]


def forbidden_text(root: Path) -> list[str]:
    """Lines of tracked text files, and file names, that hold what nothing committed may hold."""
    found = []
    for name in _tracked(root):
        path = root / name
        if not path.is_file():  # deleted, not yet committed
            continue
        content = path.read_bytes()
        text = "" if b"\0" in content[:8000] else content.decode("utf-8", "replace")
        for number, line in enumerate([name, *text.splitlines()]):
            found += [
                f"{name}:{number}: {what}: {line.strip()[:120]}"
                for what, pattern in FORBIDDEN_TEXT.items()
                if pattern.search(line)
            ]
    return found


def engine_strays(root: Path) -> list[str]:
    """Imports of the engine that are neither its own, numpy, shapely, nor a pure part of Python's library."""
    allowed = (set(sys.stdlib_module_names) - NOT_IN_THE_ENGINE) | ENGINE_LIBRARIES
    return [
        f"{path.relative_to(root)}:{line}: {module}"
        for path in sorted((root / "geometry").rglob("*.py"))
        for line, module in _imports(path)
        if module.split(".")[0] not in allowed
    ]


def _imports(path: Path) -> Iterator[tuple[int, str]]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.lineno, node.module or "geometry"


def _run(root: Path, *command: str) -> tuple[int, str]:
    """Exit status and output of a tool of this environment, run in ``root``."""
    result = subprocess.run(
        [sys.executable, *command],
        cwd=root,
        capture_output=True,
        text=True,
        encoding="utf-8",
        errors="replace",
    )
    return result.returncode, result.stdout + result.stderr


def _contracts(root: Path) -> tuple[int, str]:
    return _run(
        root,
        "-c",
        "from importlinter.cli import lint_imports_command as run; run()",
        "--no-cache",
        "--no-logo",
    )


def _lint(root: Path) -> tuple[int, str]:
    return _run(root, "-m", "ruff", "check", "--no-cache", ".")


def _types(root: Path, *options: str) -> tuple[int, str]:
    return _run(root, "-m", "mypy", "--no-error-summary", *options)


# The project itself


def test_nothing_lies_at_the_top_level_beyond_the_agreed_list() -> None:
    assert misplaced(ROOT) == []


def test_nothing_committed_names_a_registry_a_machine_or_a_source_document() -> None:
    assert forbidden_text(ROOT) == []


def test_the_engine_imports_numpy_and_shapely_only() -> None:
    assert engine_strays(ROOT) == []


def test_imports_run_downward() -> None:
    status, output = _contracts(ROOT)
    assert status == 0, output


def test_ruff_is_content() -> None:
    status, output = _lint(ROOT)
    assert status == 0, output


def test_mypy_is_content() -> None:
    status, output = _types(ROOT)
    assert status == 0, output


# Planted violations


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the sources, with their configuration, to plant violations in."""
    for name in ("app", "geometry"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


@pytest.fixture
def repository(tmp_path: Path) -> Path:
    subprocess.run(["git", "init", "-q"], cwd=tmp_path, check=True)
    return tmp_path


def _track(repository: Path, name: str, text: str) -> None:
    path = repository / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    subprocess.run(["git", "add", "-f", "--", name], cwd=repository, check=True)


def test_a_stray_at_the_top_level_is_found(repository: Path) -> None:
    _track(repository, "app/fine.py", "")
    _track(repository, "requirements.lock", "")
    _track(repository, "docs/page.md", "")
    assert misplaced(repository) == ["docs/page.md", "requirements.lock"]


@pytest.mark.parametrize(
    "planted",
    [
        "see https://" + "registry." + "example.org/thing",
        "index-url = https://" + "py" + "pi.example/simple/",
        'OPEN = "/' + 'work/main/plan"',
        "cd /" + "tmp/abc",
        "/" + "home/ada/plan",
        "C:\\Us" + "ers\\ada",
        "as the Tran" + "script says",
        "from the se" + "ed document",
    ],
)
def test_forbidden_text_is_found(repository: Path, planted: str) -> None:
    _track(repository, "app/fine.py", "PAGE = 'https://example.org/'  # ../shared/corpora, app/" + "root/x\n")
    assert forbidden_text(repository) == []
    _track(repository, "app/planted.py", f"first\n{planted}\n")
    found = forbidden_text(repository)
    assert len(found) == 1
    assert found[0].startswith("app/planted.py:2: ")


def test_a_forbidden_file_name_is_found(repository: Path) -> None:
    _track(repository, "tests/the tran" + "script.txt", "")
    assert len(forbidden_text(repository)) == 1


@pytest.mark.parametrize(
    "planted", ["import PySide6.QtCore", "from app import plan", "import time", "def f():\n import scipy"]
)
def test_a_stray_import_of_the_engine_is_found(tmp_path: Path, planted: str) -> None:
    (tmp_path / "geometry").mkdir()
    module = tmp_path / "geometry" / "planted.py"
    module.write_text(
        "import math\nimport numpy as np\nfrom shapely import Polygon\nfrom geometry import fan\n"
    )
    assert engine_strays(tmp_path) == []
    module.write_text(planted)
    assert len(engine_strays(tmp_path)) == 1


PLANTED_IMPORTS = [
    ("geometry/planted_a.py", "import app.plan", "geometry.planted_a -> app.plan"),
    ("geometry/planted_b.py", "def f():\n    import PySide6", "geometry.planted_b -> PySide6"),
    ("app/plan/planted.py", "import PySide6.QtCore", "app.plan.planted -> PySide6"),
    ("app/sketch/planted.py", "from PySide6 import QtGui", "app.sketch.planted -> PySide6"),
    ("app/importing/planted.py", "import shiboken6", "app.importing.planted -> shiboken6"),
    ("app/plan/planted_b.py", "import app.sketch", "app.plan.planted_b -> app.sketch"),
    ("app/sketch/planted_b.py", "import app.exporting", "app.sketch.planted_b -> app.exporting"),
    ("app/exporting/planted.py", "import app.window.start", "app.exporting.planted -> app.window.start"),
    ("app/exporting/planted_b.py", "import app.importing", "app.exporting.planted_b -> app.importing"),
    ("app/window/planted.py", "import app.cli", "app.window.planted -> app.cli"),
    ("app/planted.py", "", "- app.planted"),
]


def test_every_planted_import_breaks_its_contract(copy: Path) -> None:
    status, output = _contracts(copy)
    assert status == 0, output
    for name, text, _ in PLANTED_IMPORTS:
        (copy / name).write_text(text)
    status, output = _contracts(copy)
    assert status == 1
    assert [chain for _, _, chain in PLANTED_IMPORTS if chain not in output] == [], output


@pytest.mark.parametrize(
    "door", ["import PySide6", "from app.window import planted", "import app.exporting.planted"]
)
def test_the_command_line_has_no_other_way_to_qt(copy: Path, door: str) -> None:
    (copy / "app/window/planted.py").write_text("import PySide6")
    (copy / "app/exporting/planted.py").write_text("import PySide6")
    with (copy / "app/cli/__init__.py").open("a") as file:
        file.write(f"\n\ndef planted() -> None:\n    {door}\n")
    status, output = _contracts(copy)
    assert status == 1
    assert "app.cli is not allowed to import PySide6" in output


def test_ruff_and_mypy_fire(tmp_path: Path) -> None:
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    for package in ("app", "geometry"):
        (tmp_path / package).mkdir()
        (tmp_path / package / "__init__.py").write_text('"""A package."""\n')
    assert _lint(tmp_path)[0] == 0
    assert _types(tmp_path)[0] == 0
    (tmp_path / "geometry" / "planted.py").write_text("import os\n\ndef f(x):\n    return x\n")
    status, output = _lint(tmp_path)
    assert status == 1
    assert "F401" in output
    assert "D103" in output
    status, output = _types(tmp_path)
    assert status == 1
    assert "no-untyped-def" in output


# What is promised to be one and the same


def readme_lines() -> list[str]:
    """The lines of README.md to paste on Debian: the first two fenced blocks marked ``bash``."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    return [block.strip() for block in re.findall(r"^```bash\n(.*?)^```", text, re.DOTALL | re.MULTILINE)][:2]


def test_the_readme_holds_two_single_lines() -> None:
    lines = readme_lines()
    assert len(lines) == 2
    for line in lines:
        assert "\n" not in line
        assert subprocess.run(["bash", "-n", "-c", line]).returncode == 0


def test_ci_runs_the_second_line_of_the_readme() -> None:
    commands = [
        line
        for line in (ROOT / ".ci/run").read_text(encoding="utf-8").splitlines()
        if line and not line.startswith("#")
    ]
    assert commands[1:] == [readme_lines()[1]]
    assert shlex.split(commands[0])[0] == "cd"
