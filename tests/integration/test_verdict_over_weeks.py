"""What one week confirmed, and the looks that it spent, are what the next week goes on from."""

from __future__ import annotations

from datetime import timedelta

import polars as pl
import pytest

from pipelines.batch.weekly import run_week, verdict_history
from pipelines.storage.model_store import ModelStore
from pipelines.storage.warehouse import Warehouse
from tests.support.hand_made import HandMade
from tests.support.small_dealer import AS_OF


@pytest.mark.slow
def test_a_verdict_stands_since_the_week_that_gave_it(tmp_path):
    dealer = HandMade()
    dealer.past(8, [("ECM", "P0351"), ("ECM", "P0301")], ["ignition coil"])
    dealer.past(8, [("ABS", "C0031")], [("wheel speed sensor", "front left")])
    dealer.now(("ECM", "P0351"))
    place = dealer.workspace(tmp_path / "dealer")
    for weeks in (0, 1):
        run_week(place, AS_OF + timedelta(weeks=weeks))
    with Warehouse(place.database) as warehouse:
        history = verdict_history("2026-W50", ModelStore(warehouse).before("2026-W50"))
    # No car came in the second week: it looks at nothing anew and spends nothing.
    assert history.looks["week"].to_list() == ["2026-W48"]
    told = pl.read_csv(place.reports / "2026-W49" / "verdict_weeks.csv")
    assert set(told["since"]) == {"2026-W48"}
