"""A workspace that took in two files: made once, and copied for each test that changes it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pipelines.workspace import Workspace


@pytest.fixture(scope="session")
def taken_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Such a workspace, to be copied: two codes of a scan, and a car in stock."""
    from tests.support.keepers import cars, dealer, scans, taken  # noqa: PLC0415 - other tests start without them

    place = dealer(tmp_path_factory.mktemp("taken_in"))
    taken(place, scans_1=scans("P0301", "P0302"), stock_1=cars(A1="Alder"))
    return place.root


@pytest.fixture
def two_files(taken_in: Path, tmp_path: Path) -> Workspace:
    """A copy of it in the test's own folder."""
    shutil.copytree(taken_in, tmp_path, dirs_exist_ok=True)
    return Workspace.open(tmp_path)
