"""Names of parts that look alike: what is offered, what is not, and how an accepted one is merged by the next run."""

from __future__ import annotations

import csv
import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.vocabulary.likeness import alike_pairs, why_alike
from analysis.vocabulary.parts import canonical_parts
from pipelines.batch.part_names import LookAlike, answer, look_alikes
from pipelines.batch.weekly import run_week
from pipelines.commands.cli import main
from pipelines.errors import BatchError
from pipelines.ingest.normalise import normalise_spellings
from pipelines.ingest.own_words import own_words
from pipelines.storage.warehouse import Warehouse
from tests.support.small_dealer import Rows, build, load, workspace


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
        ("wheel speed sensor FR", "wheel speed sensor", None),
        ("door lock LH", "door lock RH", None),
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
        LookAlike("ignition coyl", "ignition coil", 2, 3, "one letter apart"),
        LookAlike("coil ignition", "ignition coil", 1, 3, "the same words in another order"),
        LookAlike("coil ignition", "ignition coyl", 1, 2, "nearly the same letters"),
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
        '  one part:  --accept "ignition coyl=ignition coil"',
        '  two parts: --apart "ignition coyl=ignition coil"',
    ]
    assert lines[-1] == "3 pairs; nothing was merged."


@pytest.mark.slow
def test_an_accepted_name_is_merged_by_the_next_run_and_prices_are_kept(dealer, capsys):
    choices = ["--accept", "ignition coyl=IGNITION COIL", "--accept", "coil ignition=ignition coil"]
    assert main(["parts", str(dealer.root), *choices]) == 0
    path = dealer.root / "part_names.csv"
    assert capsys.readouterr().out.splitlines()[0] == f"wrote {path}"
    with path.open(encoding="utf-8", newline="") as handle:
        assert [tuple(row.values()) for row in csv.DictReader(handle)] == [
            ("ignition coyl", "ignition coil", "yes"),
            ("coil ignition", "ignition coil", "yes"),
        ]
    answer(dealer, ["front wheel sensor=rear wheel sensor"], [])
    run_week(dealer, date(2026, 11, 23))
    assert look_alikes(dealer) == []
    with Warehouse(dealer.database) as warehouse:
        book = warehouse.query("select part, part_cents, labour_minutes from marts.parts where part like 'ign%'").rows()
        spelled = dict(warehouse.fetch("spelling.parts").iter_rows())
    assert book == [("ignition coil", 3850, 20.0)]
    assert {spelled[name] for name in ("ignition coyl", "Ignition-Coil", "coil ignition")} == {"ignition coil"}
    assert spelled["front wheel sensor"] == "rear wheel sensor"


def test_two_parts_are_not_asked_about_again_until_they_are_said_to_be_one(dealer):
    answer(dealer, [], ["ignition coyl=ignition coil"])
    assert ("ignition coyl", "ignition coil") not in [(one.spelling, one.part) for one in look_alikes(dealer)]
    answer(dealer, ["Ignition coyl=ignition coil"], [])
    rows = (dealer.root / "part_names.csv").read_text(encoding="utf-8").splitlines()
    assert rows == ["name,part,same", "Ignition coyl,ignition coil,yes"], "the latest answer alone counts"


def test_two_rows_of_the_price_book_are_one_part_where_the_dealer_says_so(tmp_path):
    place = workspace(tmp_path, parts=[{"part": "door lock", "part_cost": 20}, {"part": "door lokc", "part_cost": 30}])
    with Warehouse(place.database) as warehouse:
        load(place, warehouse)
    answer(place, ["door lokc=door lock"], [])
    with Warehouse(place.database) as warehouse:
        book = build(warehouse, marts=("parts",), own=own_words(place.root)[0])["parts"]
    assert book.select("part", "part_cents").rows() == [("door lock", 3000)], "one part, as its latest row has it"


def test_a_name_said_to_mean_another_which_means_a_third_is_the_third():
    names, _ = canonical_parts(
        [], [("a lamp", 1), ("b lamp", 1), ("c lamp", 1)], [("a lamp", "b lamp"), ("b lamp", "c lamp")]
    )
    assert names == dict.fromkeys(("a lamp", "b lamp", "c lamp"), "c lamp")


def test_names_said_to_mean_each_other_end_somewhere():
    names, _ = canonical_parts([], [("a lamp", 2), ("b lamp", 1)], [("a lamp", "b lamp"), ("b lamp", "a lamp")])
    assert names == dict.fromkeys(("a lamp", "b lamp"), "a lamp"), "one part all the same"


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
    ],
)
def test_a_choice_that_cannot_be_is_refused_and_nothing_is_written(dealer, choice, message):
    with pytest.raises(BatchError, match=re.escape(message)):
        answer(dealer, ["coil ignition=ignition coil", choice], [])
    assert not (dealer.root / "part_names.csv").exists()


def test_a_workspace_without_data_is_told_what_to_do_first(tmp_path, capsys):
    (tmp_path / "inbox").mkdir()
    assert main(["parts", str(tmp_path)]) == 1
    assert capsys.readouterr().err == (
        f"knockon: {tmp_path} has no data yet; run 'knockon weekly' first. Nothing was done.\n"
    )
