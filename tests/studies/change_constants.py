"""Which numbers of the program does no test hold?

    python -m tests.studies.change_constants analysis/diagnosis [analysis/evidence ...] [NAME ...]

takes every number in the module-level constants of a room, makes it smaller and larger by half (whole numbers by one at
least), runs the unit tests of the room with it, and prints each change that no test noticed.  With names only those
constants are changed.  The checkout is never edited: the tests' own plugin reads the changed number from the
environment.  Not a test: a room takes many minutes.
"""

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from tests.studies.changed_constant import ROOT

AT_ONCE = 2
NO_RESULT = {
    "RUN": "visits laid out at once: the same answer in more or fewer pieces",
    "AT_ONCE": "pairs in one array: the same answer in more or fewer pieces",
    "CELLS": "numbers in one array: the same answer in more or fewer pieces",
    "PORTION": "pairs in one array: the same answer in more or fewer pieces",
    "EXACT_BELOW": "from where a tail is added up anew: the same answer to nine digits",
    "BLOCK": "numbers in one array: the same answer in more or fewer pieces",
    **dict.fromkeys(
        ("HALF", "WORD", "ROOM", "CAR_BITS", "DAY_BITS", "DAY_ZERO"),
        "bits of packed numbers: the same answer as long as what is packed fits",
    ),
    **dict.fromkeys(
        ("SCREEN_Z", "FIT_FROM", "FIT_IS_OFF", "FINEST"),
        "from where a pair is spared the exact test: the same verdicts as testing every pair",
    ),
    **dict.fromkeys(("SURE_CARS", "SURE_P"), "links that no draw can lose are not drawn for: the same share"),
    "_GRID": "cells of a numerical integral: a finer grid gives the same to the digits that are kept",
    "_POWER": "their spacing, which the integral allows for",
}
"""Constants that no result may depend on, by name, and why; they are not changed."""


@dataclass(frozen=True, kw_only=True)
class Change:
    """One number made another.

    Attributes:
        path: The module, from the root of the checkout.
        name: The constant.
        line, column: Where the number stands.
        old, new: The number, and what it is made.
    """

    path: str
    name: str
    line: int
    column: int
    old: float
    new: float

    def __str__(self) -> str:
        """Say what is changed and where."""
        return f"{self.path}:{self.line} {self.name}: {self.old} -> {self.new}"


def changes(room: str) -> Iterator[Change]:
    """Yield every change of every number in the module-level constants of a room.

    Args:
        room: A folder, from the root of the checkout.
    """
    for path in sorted((ROOT / room).rglob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            for name, value in _constants(node):
                for number in ast.walk(value):
                    if isinstance(number, ast.Constant) and type(number.value) in (int, float):
                        place = path.relative_to(ROOT).as_posix()
                        for new in halved(number.value):
                            yield Change(
                                path=place, name=name, line=number.lineno, column=number.col_offset,
                                old=number.value, new=new,
                            )  # fmt: skip


def _constants(node: ast.stmt) -> Iterator[tuple[str, ast.expr]]:
    """Yield name and value of each constant that a statement sets; constants are written in capitals."""
    targets = node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
    value = node.value if isinstance(node, ast.Assign | ast.AnnAssign) else None
    for target in targets:
        pairs = [(target, value)]
        if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple):
            pairs = list(zip(target.elts, value.elts, strict=True))
        for named, given in pairs:
            if isinstance(named, ast.Name) and named.id.isupper() and given is not None:
                yield named.id, given


def halved(number: float) -> list[float]:
    """Return the number less and more by half: whole ones rounded, and by one at least; none for 0.0."""
    if isinstance(number, int):
        return [min(number - 1, round(number / 2)), max(number + 1, round(number * 1.5))]
    return [number / 2, number * 1.5] if number else []


def noticed(change: Change) -> bool:
    """Tell whether any unit test of the change's room fails with it.

    Raises:
        RuntimeError: The tests could not be run.
    """
    room = ROOT / "tests" / "unit" / Path(change.path).parts[1]
    # The likeliest to notice are run alone first: most changes need no more.
    likely = [*sorted(room.glob(f"test_{Path(change.path).stem}*.py")), *sorted(room.glob("test_golden*.py"))]
    return any(_fails(change, tests) for tests in (likely, [room]) if tests)


def _fails(change: Change, tests: list[Path]) -> bool:
    """Tell whether any of some tests fails with a change."""
    told = f"{change.path}:{change.line}:{change.column}:{change.new!r}"
    done = subprocess.run(
        [
            *(sys.executable, "-m", "pytest", "-x", "-q", "-p", "tests.studies.changed_constant"),
            *("-p", "no:cacheprovider", "-p", "no:randomly", *map(str, tests)),
        ],
        cwd=ROOT,
        env=os.environ | {"CHANGED_CONSTANT": told, "PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    # 1: a test failed; 2 and 3: not even collected, as an import failed with the changed number.
    if done.returncode not in (0, 1, 2, 3) or "no number at" in done.stdout + done.stderr:
        raise RuntimeError(f"{change}: pytest ended with {done.returncode}\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
    return done.returncode != 0


def main(words: list[str]) -> None:
    """Print which changes no test notices, and how many were tried."""
    rooms = [word.rstrip("/") for word in words if "/" in word]
    names = {word for word in words if "/" not in word}
    tried = [
        change
        for room in rooms
        for change in changes(room)
        if change.name not in NO_RESULT and (not names or change.name in names)
    ]
    lost = 0
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for change, seen in zip(tried, pool.map(noticed, tried), strict=True):
            lost += not seen
            print(f"{'noticed    ' if seen else 'NOT NOTICED'} {change}", flush=True)
    print(f"{len(tried)} changes, {lost} that no test notices")


if __name__ == "__main__":
    main(sys.argv[1:])
