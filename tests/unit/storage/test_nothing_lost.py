"""Whatever was loaded, undone, kept, restored and cut off in between: the tables are those of the archive's files."""

from __future__ import annotations

import os
import random
import shutil
from contextlib import suppress
from datetime import date
from pathlib import Path

import pytest

from pipelines.errors import BatchError
from pipelines.reading.layouts import LAYOUTS
from pipelines.settings import load_settings
from pipelines.storage.file_archive import archived
from pipelines.storage.restore import restore
from pipelines.storage.session import opened
from pipelines.storage.snapshots import snapshots, write_snapshot
from pipelines.storage.undo import taken_in, undo
from pipelines.workspace import Workspace
from tests.support.keepers import SCAN, cars, dealer, files_in, held, put, run
from tests.support.small_dealer import Rows

OPERATIONS = 16
QUICK = 6
"""How many the quick test draws."""


class CutError(BaseException):
    """The plug was pulled."""


class Fate:
    """Draws what happens to a workspace; the same seed draws the same."""

    def __init__(self, seed: int, place: Workspace) -> None:
        self.rng, self.place, self.number = random.Random(seed), place, 0
        self.settings = load_settings(place.settings_file)

    def load(self) -> None:
        for _ in range(self.rng.randint(1, 3)):
            table = self.rng.choice(["scans", "repairs", "stock", "stock", "parts"])
            self.number += 1
            put(self.place, f"{table}/{self.rng.choice('ab')}-{self.number}.csv", self.rows(table))
        run(self.place, snapshot=self.rng.random() < 0.5)

    def rows(self, table: str) -> Rows:
        """Return some rows out of few, so that files hold rows of each other, and of themselves twice."""
        few = range(self.rng.randint(1, 4))
        if table == "scans":
            return [{**SCAN, "code": self.rng.choice(["P0301", "P0302", "P0303", "no code"])} for _ in few]
        if table == "repairs":
            days = self.rng.choices(["2026-03-02", "2026-03-03", "soon"], k=len(few))
            return [{"vehicle": "A1", "job": "J", "done_at": day, "action": "erase"} for day in days]
        if table == "parts":
            return [{"part": self.rng.choice("xy"), "part_cost": self.rng.choice([1, 2])} for _ in few]
        return [row for _ in few for row in cars(**{self.rng.choice(["A1", "A2"]): self.rng.choice(["Alder", "Six"])})]

    def undo(self) -> None:
        with opened(self.place) as warehouse:
            files = taken_in(warehouse)
            if not files:
                return
            file = self.rng.choice(files)
            target = file.run if file.run and self.rng.random() < 0.3 else file.sha256
            # A run cut off before its file was archived has to be finished first: undo says so and changes nothing.
            with suppress(BatchError):
                undo(self.place, self.settings, warehouse, target)
                return
        run(self.place)
        with opened(self.place) as warehouse:
            if target in {name for file in taken_in(warehouse) for name in (file.run, file.sha256)}:
                undo(self.place, self.settings, warehouse, target)

    def keep(self) -> None:
        with opened(self.place) as warehouse:
            write_snapshot(self.place, warehouse, date(2026, 11, 23), "asked")

    def restore(self) -> None:
        kept = snapshots(self.place)
        if kept:
            restore(self.place, self.rng.choice(kept).name)

    def put_back(self) -> None:
        """Put what was undone into the inbox again."""
        for path in sorted(self.place.rejected.rglob("*.csv"))[:2]:
            path.replace(self.place.inbox / path.parent.name / path.name)

    def next(self, monkeypatch: pytest.MonkeyPatch) -> str:
        work = self.rng.choice([self.load, self.load, self.undo, self.undo, self.keep, self.restore, self.put_back])
        cut = self.rng.randint(1, 6) if self.rng.random() < 0.4 else 0
        with monkeypatch.context() as patch:
            patch.setattr(os, "replace", pulled_at(cut))
            try:
                work()
            except CutError:
                return f"{work.__name__}, cut off at move {cut}"
        return work.__name__


def pulled_at(number: int):
    """Return a ``replace`` that ends the run instead of its so-and-so-many-th move."""
    replace, moves = os.replace, []

    def counted(source: Path, target: Path) -> None:
        moves.append(source)
        if len(moves) == number:
            raise CutError
        replace(source, target)

    return counted


@pytest.mark.parametrize(
    ("seed", "operations"),
    [(0, QUICK), *(pytest.param(seed, OPERATIONS, marks=pytest.mark.slow) for seed in range(6))],
)
def test_the_tables_are_those_of_the_files_in_the_archive(tmp_path, seed, operations, monkeypatch):
    place, fresh = dealer(tmp_path / "a"), dealer(tmp_path / "b")
    fate = Fate(seed, place)
    story = [fate.next(monkeypatch) for _ in range(operations)]
    run(place)
    with opened(place) as warehouse:
        files = taken_in(warehouse)
    assert len(files_in(place.archive)) == len(files), story
    for file in files:
        path = archived(place, LAYOUTS[file.layout], file.sha256)
        assert path is not None, story
        shutil.copy(path, fresh.inbox / file.name)
        run(fresh)
    assert held(place, without=("run",)) == held(fresh, without=("run",)), story
    assert files_in(place.inbox) == [], story
