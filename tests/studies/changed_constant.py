"""A pytest plugin that runs the tests with one number of the program changed; no file is touched.

The environment variable ``CHANGED_CONSTANT`` says which one, as ``path:line:column:value``: the number that stands at
that place of that module is read as the value.  ``tests.studies.change_constants`` sets it.
"""

import ast
import os
import sys
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import spec_from_file_location
from pathlib import Path
from types import CodeType

ROOT = Path(__file__).parents[2]


class ChangedLoader(SourceFileLoader):
    """Compiles a module with one number in it changed, past any cache of bytecode."""

    def __init__(self, fullname: str, path: str, place: tuple[int, int], value: float):
        """Remember what to change: ``place`` is line and column of the number, as ``ast`` counts them."""
        super().__init__(fullname, path)
        self.place, self.value = place, value

    def get_code(self, fullname: str) -> CodeType:
        """Return the changed module's code.

        Raises:
            LookupError: No number stands at the place.
        """
        path = self.get_filename(fullname)
        tree = ast.parse(Path(path).read_text(encoding="utf-8"))
        found = [
            node
            for node in ast.walk(tree)
            if isinstance(node, ast.Constant) and (node.lineno, node.col_offset) == self.place
        ]
        if len(found) != 1 or not isinstance(found[0].value, int | float):
            raise LookupError(f"{path}: no number at line and column {self.place}")
        found[0].value = self.value
        return compile(tree, path, "exec")


class ChangedFinder(MetaPathFinder):
    """Finds the one module that is to be changed."""

    def __init__(self, changed: str):
        """Read ``path:line:column:value``."""
        path, line, column, value = changed.rsplit(":", 3)
        self.path = ROOT / path
        self.name = ".".join(Path(path).with_suffix("").parts)
        self.place, self.value = (int(line), int(column)), ast.literal_eval(value)

    def find_spec(self, fullname: str, path: object, target: object = None) -> ModuleSpec | None:
        """Return the changed module where it is asked for."""
        if fullname != self.name:
            return None
        loader = ChangedLoader(fullname, str(self.path), self.place, self.value)
        return spec_from_file_location(fullname, self.path, loader=loader)


if "CHANGED_CONSTANT" in os.environ:
    finder = ChangedFinder(os.environ["CHANGED_CONSTANT"])
    if finder.name in sys.modules:
        raise ImportError(f"{finder.name} was imported before its number could be changed")
    sys.meta_path.insert(0, finder)
