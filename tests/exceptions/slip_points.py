"""Loads the app with a question at the beginning of each of its functions: is this where one slips?

So an error arises where and as one of ours would, and no function is changed while the program runs.
Imports nothing of the app, which must come afterwards.
"""

from __future__ import annotations

import ast
import builtins
import sys
from collections.abc import Callable, Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from types import CodeType, ModuleType
from typing import Any

_NAME = "slip_of_ours"
_slipping: tuple[CodeType, Callable[[], BaseException]] | None = None


def install() -> None:
    """From now on what is imported of the app has its questions."""
    if not any(isinstance(each, _Finder) for each in sys.meta_path):
        assert "app" not in sys.modules
        setattr(builtins, _NAME, _ask)
        sys.meta_path.insert(0, _Finder())


def slip_in(code: CodeType | None, error: Callable[[], BaseException]) -> None:
    """The next call of ``code``, or no call, raises ``error()``, whose work it is to ask for no more."""
    global _slipping
    _slipping = None if code is None else (code, error)


def _ask() -> None:
    if _slipping is not None and sys._getframe(1).f_code is _slipping[0]:
        raise _slipping[1]()


class _Questions(ast.NodeTransformer):
    def _function(self, node: Any) -> Any:
        self.generic_visit(node)
        asked = ast.Expr(ast.Call(ast.Name(_NAME, ast.Load()), [], []))
        for each in ast.walk(asked):
            ast.copy_location(each, node.body[0])
        node.body.insert(1 if ast.get_docstring(node) is not None else 0, asked)
        return node

    visit_FunctionDef = visit_AsyncFunctionDef = _function  # noqa: N815

    def visit_Lambda(self, node: ast.Lambda) -> ast.Lambda:
        self.generic_visit(node)
        asked = ast.Call(ast.Name(_NAME, ast.Load()), [], [])
        node.body = ast.BoolOp(ast.Or(), [asked, node.body])  # it answers None
        ast.fix_missing_locations(node)
        return node


class _Loader(SourceFileLoader):
    def path_stats(self, path: Any) -> Any:
        raise OSError("neither read from the cache nor written there")

    def source_to_code(self, data: Any, path: Any, *, _optimization: int = -1) -> CodeType:
        return compile(_Questions().visit(ast.parse(data, path)), path, "exec", dont_inherit=True)


class _Finder(MetaPathFinder):
    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        if name != "app" and not name.startswith("app."):
            return None
        spec = PathFinder.find_spec(name, path, target)
        if spec is not None and isinstance(spec.loader, SourceFileLoader):
            spec.loader = _Loader(spec.loader.name, spec.loader.path)
        return spec
