"""A list of repairs that says in a column whether codes were erased: its week is built, and the job knows it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from pipelines.batch.weekly import run_week
from pipelines.report.new_workspace import init_workspace
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

MAPPING = """serves = ["*.csv"]
format = "table"
table = "repairs"
[erased]
column = "Erased?"
yes = ["y"]
[constants]
action = "replace"
[columns]
vehicle = "Car"
job = ["Car", "Day"]
done_at = "Day"
part = "Fitted"
"""
REPAIRS = "Day,Car,Fitted,Erased?\n2026-11-03,K-211,ignition coil,y\n2026-11-04,K-214,door loom,n\n"
STOCK = "vehicle,make,model\nK-211,Corvane,Alder\nK-214,Tesmar,Heron\n"
SCANS = (
    "vehicle,scanned_at,module,code\nK-211,2026-11-02T09:00,ECM,P0301\nK-211,2026-11-05T09:00,ECM,\n"
    "K-214,2026-11-02T09:00,ECM,P0171\n"
)


def test_a_row_that_says_erased_is_a_part_and_an_erase_of_one_job(tmp_path: Path):
    init_workspace(tmp_path)
    (tmp_path / "mappings").mkdir()
    (tmp_path / "mappings" / "jobs.toml").write_text(MAPPING, encoding="utf-8")
    for table, text in (("repairs", REPAIRS), ("stock", STOCK), ("scans", SCANS)):
        (tmp_path / "inbox" / table / "a.csv").write_text(text, encoding="utf-8")
    workspace = Workspace.open(tmp_path)
    run_week(workspace, date(2026, 11, 23))
    with Warehouse(workspace.database) as warehouse:
        jobs = warehouse.query("select vehicle, erased from marts.jobs order by vehicle").rows()
        rows = warehouse.query("select row, nth, action from raw.repairs order by row, nth").rows()
    assert jobs == [("K-211", True), ("K-214", False)]
    assert rows == [(2, 1, "replace"), (2, 2, "erase"), (3, 1, "replace")]
