"""Everyday lists of repairs and of stock, headed as workshops head them, are read with the proposals alone.

The headings are common practice, no source; what each file holds was written down beside it.
"""

import polars as pl
import pytest

from pipelines.errors import SettingsError
from pipelines.ingest.mapping_draft import draft_of, read_by
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.settings import Settings

SETTINGS = Settings(time_zone="Africa/Johannesburg")
REPAIRS = [
    ["Repairs done", "", "", "", "", "", ""],
    ["Date", "Car", "What we fitted", "Part £", "Mins", "Erased?", "Who"],
    ["03.11.2026", "K211", "ignition coil", "48.50", "35", "ja", "Ines"],
    ["14.11.2026", "K214", "door loom", "39.90", "50", "nein", "Odo"],
    ["14.11.2026", "K214", "window motor", "61", "25", "y", "Odo"],
    ["15.11.2026", "K214", "battery", "94", "20", "y", "Odo"],
]


def drafted(path, answers=()):
    draft = draft_of(path, dict(answers))
    return draft, read_by(path, draft, SETTINGS)


def repairs(folder, rows=REPAIRS):
    path = folder / "repairs november.csv"
    path.write_text("\n".join(";".join(row) for row in rows), encoding="utf-8")
    return path


def test_a_column_that_says_erased_gives_its_visit_an_erase_beside_the_part(tmp_path):
    draft, reading = drafted(repairs(tmp_path))
    assert not draft.open
    rows = reading.rows.select("row", "vehicle", "action", "part", pl.col("part_cost").cast(pl.Float64)).rows()
    assert rows == [
        (3, "K211", "replace", "ignition coil", 48.5),
        (3, "K211", "erase", None, None),
        (4, "K214", "replace", "door loom", 39.9),
        (5, "K214", "replace", "window motor", 61.0),
        (5, "K214", "erase", None, None),
        (6, "K214", "replace", "battery", 94.0),
        (6, "K214", "erase", None, None),
    ]
    assert not reading.rejects.height


def test_a_visit_with_two_parts_was_erased_once(tmp_path):
    rows = [[*row[:5], "y", "Odo"] if row[1] == "K214" else row for row in REPAIRS]
    _, reading = drafted(repairs(tmp_path, rows))
    assert [row[1] for row in reading.rows.filter(action="erase").select("row", "vehicle").rows()] == [
        "K211",
        "K214",
        "K214",
    ]


def test_no_erase_is_made_up_where_the_answer_is_no(tmp_path):
    draft, reading = drafted(repairs(tmp_path), {"erased.column": "no"})
    assert reading.rows["action"].to_list() == ["replace"] * 4
    assert "erased" not in draft.tables


def test_a_column_with_other_words_than_yes_and_no_is_not_taken_for_one(tmp_path):
    rows = [*REPAIRS, ["16.11.2026", "K219", "thermostat", "31", "75", "later", "Ines"]]
    draft, reading = drafted(repairs(tmp_path, rows))
    assert "erased" not in draft.tables
    assert set(reading.rows["action"]) == {"replace"}


def test_where_no_heading_says_that_parts_were_put_in_new_it_is_asked(tmp_path):
    rows = [[name if name != "What we fitted" else "Part" for name in row] for row in REPAIRS]
    draft = draft_of(repairs(tmp_path, rows), {})
    (asked,) = draft.open
    assert asked.key == "columns.action"
    assert "=replace" in asked.choices
    _, reading = drafted(repairs(tmp_path, rows), {"columns.action": "=replace"})
    assert reading.rows.filter(action="replace").height == 4


@pytest.mark.parametrize(
    ("line", "word"), [('column = "Erased?"', "needs both column and yes"), ('yes = ["ja"]', "needs both")]
)
def test_half_of_what_says_erased_is_refused_with_its_place(tmp_path, line, word):
    path = tmp_path / "half.toml"
    path.write_text(
        f'serves = ["*.csv"]\nformat = "table"\ntable = "repairs"\n[erased]\n{line}\n'
        '[columns]\nvehicle = "Car"\njob = "Date"\ndone_at = "Date"\naction = "Work"\n',
        encoding="utf-8",
    )
    with pytest.raises(SettingsError, match=word):
        load_mapping(path)


STOCK = [
    "Stk,Chassis,Make,Model,Yr,Colour,In on,Paid £,Asking £",
    'K211,VMRKTGXLB33112579,Velmora,Tarn,2012,blue,10/10/2026,"2,350","3,450"',
    'K214,ZST53PNXYY4187613,Ostrand,Heron,2013,grey,21/10/2026,"2,745","3,845"',
    'K217,W9BSCNGFNTV442910,Quilby,Dash,2014,red,22/10/2026,"3,140","4,240"',
]


def test_a_stock_list_with_short_headings_gives_number_day_and_price(tmp_path):
    path = tmp_path / "stock.csv"
    path.write_text("\n".join(STOCK), encoding="utf-8")
    draft, reading = drafted(path)
    assert not draft.open
    assert reading.rows.select("vehicle", "model_year", "asking_price").rows() == [
        ("K211", "2012", "3450"),
        ("K214", "2013", "3845"),
        ("K217", "2014", "4240"),
    ]
    assert [str(day) for day in reading.rows["bought_on"]] == ["2026-10-10", "2026-10-21", "2026-10-22"]


def test_a_mark_that_may_be_either_is_asked_about_by_what_each_answer_makes_of_it(tmp_path):
    path = tmp_path / "stock.csv"
    path.write_text("\n".join([*STOCK[:2], STOCK[2].replace('"2,745","3,845"', "2745,3845")]), encoding="utf-8")
    (asked,) = draft_of(path, {}).open
    assert asked.key == "decimal"
    assert asked.means == {".": ". so that 3,450 is 3450", ",": ", so that 3,450 is 3.450"}
