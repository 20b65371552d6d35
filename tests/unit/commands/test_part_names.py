"""Names of parts that look alike: what is offered, what is not, and how an accepted one is merged by the next run."""

from __future__ import annotations

import csv
import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.vocabulary.likeness import alike_pairs, why_alike
from pipelines.batch.weekly import run_week
from pipelines.commands.cli import main
from pipelines.commands.part_names import LookAlike, accept, look_alikes
from pipelines.errors import BatchError
from pipelines.ingest.normalise import normalise_spellings
from pipelines.storage.warehouse import Warehouse
from tests.support.small_dealer import Rows, load, workspace


def jobs(part: str, times: int, vehicle: str = "A1") -> Rows:
    shared = {"vehicle": vehicle, "done_at": "2026-03-02T10:00", "action": "replace", "part": part}
    return [{**shared, "job": f"{part} {number}"} for number in range(times)]


PRICES: Rows = [
    {"part": "ignition coil", "also_called": "coil pack", "part_cost": 38.5, "labour_minutes": 20, "supplier": "=Own"},
    {"part": "purge valve", "part_cost": 30},
    {"part": "purge valves kit", "part_cost": 60},
]
REPAIRS: Rows = [
    *jobs("ignition coyl", 2),
    *jobs("Ignition-Coil", 3),
    *jobs("coil ignition", 1),
    *jobs("front wheel sensor", 2),
    *jobs("rear wheel sensor", 2),
]


@pytest.fixture
def dealer(tmp_path):
    place = workspace(tmp_path, parts=PRICES, repairs=REPAIRS)
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
    return place


@pytest.mark.parametrize(
    ("first", "second", "why"),
    [
        ("ignition coil", "ignition coyl", "one letter apart"),
        ("ignition coil", "ignition coill", "one letter apart"),
        ("ignition coil", "ignitoin coil", "one letter apart"),
        ("brake disc", "brake disk", "one letter apart"),
        ("spark plug", "sparkplug", "the same letters, parted in another place"),
        ("coil ignition", "ignition coils", "the same words in another order"),
        ("coolant temperature sensor", "coolant temprature sensr", "nearly the same letters"),
        ("front wheel sensor", "rear wheel sensor", None),
        ("wheel speed sensor left", "wheel speed sensor", None),
        ("lambda sensor 1", "lambda sensor 2", None),
        ("upstream lambda sensor 1", "upstream lambda sensor 12", None),
        ("fuse", "fuze", None),
        ("alternator", "starter", None),
        ("crank sensor", "crash sensor", None),
    ],
)
def test_which_names_look_alike(first, second, why):
    assert why_alike(first, second) == why
    assert why_alike(second, first) == why


@given(st.text("abcdefgh", min_size=6, max_size=12), st.data())
def test_any_single_slip_of_a_letter_is_seen(name, data):
    place = data.draw(st.integers(0, len(name) - 1))
    slips = [
        name[:place] + name[place + 1 :],
        name[:place] + "x" + name[place:],
        name[:place] + "x" + name[place + 1 :],
    ]
    slips.append(name[:place] + name[place : place + 2][::-1] + name[place + 2 :])
    for slip in slips:
        if slip != name:
            assert why_alike(name, slip) == "one letter apart"
            assert list(alike_pairs([name, slip])) == [(*sorted((name, slip)), "one letter apart")]


def test_pairs_are_found_among_many_names_as_by_comparing_all_with_all():
    names = [
        "oil pump",
        "oil pumpe",
        "pump oil",
        "water pump",
        "water pmup",
        "waterpump x",
        "relay",
        "a very long part name",
    ]
    slow = {
        (*sorted((first, second)), why)
        for place, first in enumerate(names)
        for second in names[place + 1 :]
        if (why := why_alike(first, second))
    }
    assert list(alike_pairs(names)) == sorted(slow)
    assert len(slow) == 5


def test_look_alikes_come_with_jobs_and_a_proposal_and_nothing_is_merged(dealer):
    assert look_alikes(dealer) == [
        LookAlike("ignition coyl", "ignition coil", 2, 3, "one letter apart", "coil pack;ignition coyl"),
        LookAlike("coil ignition", "ignition coil", 1, 3, "the same words in another order", "coil pack;coil ignition"),
        LookAlike("coil ignition", "ignition coyl", 1, 2, "nearly the same letters", "coil ignition"),
    ]
    with Warehouse(dealer.database) as warehouse:
        normalise_spellings(warehouse)
        spelled = dict(warehouse.fetch("spelling.parts").iter_rows())
    assert spelled["ignition coyl"] == "ignition coyl"


def test_the_command_lists_them_and_ends_with_0(dealer, capsys):
    assert main(["parts", str(dealer.root)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[:3] == [
        "ignition coyl (2 jobs) looks like ignition coil (3 jobs): one letter apart",
        '  proposal: part "ignition coil", also_called "coil pack;ignition coyl"',
        '  accept:   --accept "ignition coyl=ignition coil"',
    ]
    assert lines[-1] == "3 pairs; nothing was merged."


def test_two_parts_of_the_price_book_get_no_proposal(tmp_path, capsys):
    place = workspace(tmp_path, parts=[{"part": "door lock"}, {"part": "door lokc"}])
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
    assert main(["parts", str(tmp_path)]) == 0
    assert capsys.readouterr().out.splitlines()[:2] == [
        "door lokc (0 jobs) looks like door lock (0 jobs): one letter apart",
        "  both are parts of the price book; take one out there if they are one",
    ]


@pytest.mark.slow
def test_an_accepted_name_is_merged_by_the_next_run_and_prices_are_kept(dealer, capsys):
    choices = ["--accept", "ignition coyl=IGNITION COIL", "--accept", "coil ignition=ignition coil"]
    assert main(["parts", str(dealer.root), *choices]) == 0
    path = dealer.inbox / "parts" / "accepted-1.csv"
    assert capsys.readouterr().out.splitlines()[0] == f"wrote {path}"
    with path.open(encoding="utf-8", newline="") as handle:
        assert list(csv.DictReader(handle)) == [
            {
                "part": "ignition coil",
                "also_called": "coil pack;ignition coyl;coil ignition",
                "part_cost": "38.5",
                "labour_minutes": "20",
                "check_minutes": "",
                "supplier": "=Own",
                "opening": "",
                "opening_minutes": "",
                "check_misses": "",
                "check_false_alarms": "",
            }
        ]
    assert accept(dealer, ["front wheel sensor=rear wheel sensor"]).name == "accepted-2.csv"
    run_week(dealer, date(2026, 11, 23))
    assert look_alikes(dealer) == []
    with Warehouse(dealer.database) as warehouse:
        book = warehouse.query("select part, part_cents, labour_minutes from marts.parts where part like 'ign%'").rows()
        spelled = dict(warehouse.fetch("spelling.parts").iter_rows())
    assert book == [("ignition coil", 3850, 20.0)]
    assert {spelled[name] for name in ("ignition coyl", "Ignition-Coil", "coil ignition")} == {"ignition coil"}
    assert spelled["front wheel sensor"] == "rear wheel sensor"


@pytest.mark.parametrize(
    ("choice", "message"),
    [
        ("ignition coyl", "--accept 'ignition coyl': expected SPELLING=PART. Nothing was written."),
        ("=ignition coil", "--accept '=ignition coil': expected SPELLING=PART. Nothing was written."),
        (
            "ignition coyl=ignition koil",
            "--accept 'ignition coyl=ignition koil': no price book row or repair names 'ignition koil'; near it: "
            "ignition coil, ignition coyl, Ignition-Coil. Nothing was written.",
        ),
        (
            "zzz=purge valve",
            "--accept 'zzz=purge valve': no price book row or repair names 'zzz'. Nothing was written.",
        ),
        (
            "Ignition-Coil=ignition coil",
            "--accept 'Ignition-Coil=ignition coil': both are ignition coil already. Nothing was written.",
        ),
        (
            "purge valve=ignition coil",
            "--accept 'purge valve=ignition coil': purge valve is a part of the price book itself; take its row out "
            "there first. Nothing was written.",
        ),
    ],
)
def test_a_choice_that_cannot_be_is_refused_and_nothing_is_written(dealer, choice, message):
    with pytest.raises(BatchError, match=re.escape(message)):
        accept(dealer, ["coil ignition=ignition coil", choice])
    assert list((dealer.inbox / "parts").iterdir()) == []


def test_a_workspace_without_data_is_told_what_to_do_first(tmp_path, capsys):
    (tmp_path / "inbox").mkdir()
    assert main(["parts", str(tmp_path)]) == 1
    assert capsys.readouterr().err == (
        f"knockon: {tmp_path} has no data yet; run 'knockon weekly' first. Nothing was done.\n"
    )
