"""The drawn dealers: the same for the same seed, as strong as their settings say, readable, true to their truth."""

from collections import Counter
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from tests.studies.worlds import (
    KINDS,
    Dealer,
    draw_dealer,
    facts_of,
    inbox_of,
    price_book,
    write_inbox,
)
from tests.studies.worlds.codes import generic_codes, modules
from tests.studies.worlds.faults import BY_NAME, PARTS
from tests.studies.worlds.naming import part_of
from tests.studies.worlds.people import Chooser, draw_mechanics
from tests.studies.worlds.workshop import DRIFTS, DRIFTS_FROM, JobRow

PASSING = {"low voltage", "old stored", "unplugged"}


@pytest.fixture(scope="module")
def full() -> Dealer:
    return draw_dealer(KINDS["full"], 300, seed=71)


@pytest.fixture(scope="module")
def clean() -> Dealer:
    return draw_dealer(KINDS["clean"], 120, seed=72)


def rejects(folder: Path) -> int:
    """Refused cells of a whole inbox, by the project's own reader."""
    from pipelines.reading.file_check import check_file  # noqa: PLC0415
    from pipelines.settings import load_settings  # noqa: PLC0415

    settings = load_settings(folder / "knockon.toml")
    checks = [check_file(path, settings) for path in sorted((folder / "inbox").rglob("*.csv"))]
    assert [check.refused for check in checks if check.refused] == []
    return sum(check.rejects.height for check in checks)


def test_the_same_seed_draws_the_same_dealer_and_another_one_another():
    first, again, other = (draw_dealer(KINDS["full"], 60, seed) for seed in (71, 71, 73))
    assert inbox_of(again) == inbox_of(first)
    assert again.truth == first.truth
    assert inbox_of(other) != inbox_of(first)


def frequencies(dealer: Dealer) -> dict[str, tuple[int, int, float]]:
    """For each mechanism how often it happened, of how many chances, and the share that the settings say."""
    s, cars, lives = dealer.settings, list(dealer.cars.values()), list(dealer.lives.values())
    scans, jobs = dealer.scans, dealer.jobs
    causes = [(life, cause) for life in lives for cause in life.causes]
    broken = [(life, c) for life, c in causes if c.kind in ("part", "loom") and c.behind is None]
    killers = [
        (life, c) for life, c in broken if c.part in BY_NAME and BY_NAME[c.part].kills in _parts_on(dealer, life)
    ]
    rows = [(job, row) for job in jobs for row in job.rows if row.action == "replace"]
    drifts = dealer.today - timedelta(days=s.days * (1 - DRIFTS_FROM) - 1)
    early = [row for job, row in rows if job.at < drifts - timedelta(days=2)]
    worse = [row for job, row in rows if job.at > drifts and row.supplier == DRIFTS]
    plain = [row for _, row in rows if not row.written.startswith("new ")]
    settled = [job for job in jobs if job.at < dealer.today - timedelta(days=7)]
    after = {(scan.vehicle, scan.at) for scan in scans if scan.purpose == "after"}
    unseen = [
        j for j in settled if not any(v == j.vehicle and j.at < at < j.at + timedelta(days=6.1) for v, at in after)
    ]
    first_jobs = {job.vehicle: job for job in reversed(jobs)}.values()
    sold = [car for car in cars if car.sold and car.sold < dealer.today - timedelta(days=410)]
    returned = {scan.vehicle for scan in scans if scan.purpose == "return"}
    quirky = [life for life in lives if life.car.line.quirk]
    asked = Counter(scan.asked for scan in scans)
    past_codes = sum(len(scan.found) for scan in scans if scan.vehicle not in dealer.truth)
    told = {(f.module, f.code, scan.make) for scan in scans for f in scan.found}
    share_of_texts = {"none": 0.0, "half": 0.5, "all": 1.0}[s.texts]
    return {
        "equipment": (sum(bool(c.equipment) for c in cars), len(cars), s.equipment),
        "declared": (sum(c.declared for c in cars), sum(bool(c.equipment) for c in cars), s.declared),
        "low_voltage": (sum(c.low_voltage for c in cars), len(cars), s.low_voltage),
        "seller_erases": (sum(c.seller_erased for c in cars), len(cars), s.seller_erases),
        "old_stored": (sum(c.old_stored for c in cars), len(cars), s.old_stored),
        "sound": (sum(life.bought_with == 0 for life in lives), len(lives), s.sound),
        "two_faults": (sum(life.bought_with == 2 for life in lives), len(lives), s.two_faults),
        "unknown": (sum(c.kind == "unknown" for _, c in causes), len(lives), s.unknown),
        "looms": (sum(c.kind == "loom" for _, c in broken), len(broken), s.looms),
        "chains": (sum(c.behind is not None for _, c in causes), len(killers), s.chains),
        "intermittent": (sum(c.intermittent for _, c in causes), len(broken) + len(_behind(causes)), s.intermittent),
        "quirk": (sum(any(c.kind == "quirk" for c in life.causes) for life in quirky), len(quirky), s.quirk),
        "silent": (sum(len(x.silent) for x in scans), sum(len(x.silent) + len(x.read) for x in scans), s.silent),
        "partial": (sum(x.partial for x in scans), len(scans), s.partial),
        "second_tool": (sum(x.tool == "pocket" for x in scans), len(scans), s.second_tool),
        "stored_only": (asked["stored"], len(scans), s.stored_only),
        "pending_only": (asked["pending"], len(scans), s.pending_only),
        "refused": (len(inbox_of(dealer).refused), past_codes, s.refused),
        "twice": (sum(x.twice for x in scans), len(scans), s.twice),
        "no_distance": (sum(x.km is None for x in scans), len(scans), s.no_distance),
        "wrong_clock": (sum(x.shown_at != x.at for x in scans), len(scans), s.wrong_clock),
        "erase_first": (sum(j.note.startswith("erased") for j in first_jobs), len(first_jobs), s.erase_first),
        "no_scan_after": (len(unseen), len(settled), s.no_scan_after),
        "late": (sum(j.at != j.logged_at for j in jobs), len(jobs), s.late),
        "logged_twice": (sum(j.twice for j in jobs), len(jobs), s.logged_twice),
        "unplugged": (sum(j.unplugged for j in jobs), sum(bool(j.way) for j in jobs), s.unplugged),
        "alias": (sum(row.written != row.part for row in plain), len(plain), s.alias),
        "free_text": (len(rows) - len(plain), len(rows), s.free_text),
        "wrong_place": (sum(r.misplaced for _, r in rows), sum(_has_places(r) for _, r in rows), s.wrong_place),
        "bad_new": (sum(not row.good for row in early), len(early), s.bad_new),
        "drift": (sum(not row.good for row in worse), len(worse), s.drift),
        "short_lived": (sum(r.lasts_km is not None for _, r in rows), len(rows), s.short_lived),
        "comes_back": (sum(car.vehicle in returned for car in sold), len(sold), s.comes_back),
        "texts": (sum(bool(dealer.world.book.text(*key)) for key in told), len(told), share_of_texts),
    }  # fmt: skip


def _parts_on(dealer: Dealer, life) -> set[str]:
    return {part.name for part in dealer.world.weights(life.car, 6)[0]}


def _has_places(row: JobRow) -> bool:
    return len(BY_NAME[row.part].places) > 1


def _behind(causes: list) -> list:
    return [cause for _, cause in causes if cause.behind is not None]


def test_every_mechanism_is_as_frequent_as_the_settings_say(full: Dealer):
    """Each within the 99.9 % binomial range of its share."""
    for name, (hits, chances, share) in frequencies(full).items():
        low, high = binom.interval(0.999, chances, share)
        assert chances > 15, name
        assert low <= hits <= high, (name, hits, chances, share)


def test_what_is_switched_off_does_not_happen(clean: Dealer):
    on = {"sound", "two_faults", "declared", "second_tool", "seller_erases", "texts"}
    happened = {name: hits for name, (hits, _, share) in frequencies(clean).items() if not share and name not in on}
    assert len(happened) > 20
    assert set(happened.values()) == {0}
    told = {(found.module, found.code, scan.make) for scan in clean.scans for found in scan.found}
    assert all(clean.world.book.text(*key) for key in told)
    assert all(job.erased for job in clean.jobs if job.way)


def test_second_parts_are_fitted_as_often_as_said_or_less_where_nothing_else_comes_to_mind(full: Dealer):
    fitted = [sum(row.action in ("replace", "repair") for row in job.rows) for job in full.jobs if job.way]
    low, high = binom.interval(0.999, len(fitted), full.settings.two_at_once)
    assert low / 3 <= sum(count == 2 for count in fitted) <= high


def test_cold_months_bring_more_of_the_faults_of_the_cold(full: Dealer):
    car = next(iter(full.cars.values()))
    parts, winter = full.world.weights(car, 1)
    _, summer = full.world.weights(car, 7)
    gains = {part.name: w / s for part, w, s in zip(parts, winter, summer, strict=True)}
    assert max(gains, key=gains.get) in {part.name for part in PARTS if part.cold == 3.0}


@pytest.mark.parametrize("sharing", ["all", "groups", "none"])
def test_makes_share_the_maker_numbers_as_the_settings_say(sharing: str):
    world = draw_dealer(replace(KINDS["full"], sharing=sharing, clashes=0), 0, seed=5, judged=0).world
    book, makes = world.book, ["Halvet", "Brunmar", "Tiskano", "Orrelin"]
    own = [spec for specs in book.specs.values() for spec in specs if not spec.standard]
    same = {pair: sum(book.code(s, makes[0]) == book.code(s, makes[pair]) for s in own) / len(own) for pair in (1, 2)}
    assert same[1] == 1 if sharing == "all" else same[1] < 0.2
    assert same[2] == 1 if sharing != "none" else same[2] < 0.2


def test_a_make_can_use_a_standard_code_for_another_part():
    book = draw_dealer(replace(KINDS["full"], clashes=6), 0, seed=6, judged=0).world.book
    stolen = [spec for specs in book.specs.values() for spec in specs if spec.make]
    assert stolen
    for spec in stolen:
        owners = [
            s
            for specs in book.specs.values()
            for s in specs
            if s.key == spec.key and s.part != spec.part and not s.make
        ]
        assert any(book.says(owner, spec.make) == 0 for owner in owners)


def test_parts_name_only_standard_codes_and_modules_of_the_reference():
    codes = {
        code
        for p in PARTS
        for code in (*p.codes, *(c for some in p.placed for c in some), *(c for _, c in p.elsewhere))
    }
    assert codes <= set(generic_codes())
    assert {part.home for part in PARTS} <= set(modules())
    assert {part.kills for part in PARTS if part.kills} <= set(BY_NAME)


@pytest.mark.slow
def test_the_reader_refuses_only_what_was_drawn_to_be_refused(full: Dealer, clean: Dealer, tmp_path: Path):
    assert rejects_of(clean, tmp_path / "clean") == (0, 0)
    found, drawn = rejects_of(full, tmp_path / "full")
    assert found == drawn > 0


def rejects_of(dealer: Dealer, folder: Path) -> tuple[int, int]:
    return_rows = write_inbox(dealer, folder)
    return rejects(folder), len(return_rows.refused)


def test_no_row_of_a_judged_car_is_spoilt_and_the_plain_ways_see_no_spoilt_row():
    dealer = draw_dealer(replace(KINDS["full"], refused=0.4), 40, seed=12)
    inbox = inbox_of(dealer)
    assert len(inbox.refused) > 20
    assert not {row["vehicle"] for row in inbox.refused} & set(dealer.truth)
    seen = {code.code for codes in facts_of(inbox, price_book(dealer.world)).last.values() for code in codes}
    assert seen
    assert not any("O" in code.split(":")[1].split("@")[0] for code in seen)


def test_who_measures_is_right_more_often_than_who_goes_by_the_codes(clean: Dealer):
    ended = {way: [bool(job.ended) for job in clean.jobs if job.way == way] for way in ("measure", "named")}
    share = {way: sum(hits) / len(hits) for way, hits in ended.items()}
    assert len(ended["measure"]) > 0.3 * sum(map(len, ended.values()))
    # Five draws of this dealer: 438 of 442 jobs ended who measured, 398 of 448 who went by the codes.
    assert share["measure"] > 0.9
    assert share["measure"] > share["named"] > 0.5


def test_the_cheapest_is_fitted_by_who_goes_by_price_and_what_worked_by_who_remembers(full: Dealer):
    # The car with the most codes: several parts are named.
    scan = max(full.scans, key=lambda scan: len(scan.found))
    life, found = full.lives[scan.vehicle], scan.found
    person = draw_mechanics(full.world, np.random.default_rng(1))[0]

    def chosen(way: str) -> set[str]:
        world = replace(full.world, settings=replace(full.settings, people=((way, 1.0),)))
        rngs = [np.random.default_rng(i) for i in range(40)]
        choices = [Chooser(world).choose(person, life, list(found), set(), rng)[0] for rng in rngs]
        return {choice[0] for choice in choices if choice}

    named = chosen("named")
    assert len(named) > 1
    costs = price_book(full.world)
    assert chosen("cheapest") == {min(named, key=costs.total)}
    dearest = max(named, key=costs.total)
    person.remember(life.car.make, list(found), [dearest])
    assert chosen("worked") == {dearest}


def test_every_code_of_the_files_has_a_cause(full: Dealer):
    for scan in full.scans:
        known = {cause.name for cause in full.lives[scan.vehicle].causes} | PASSING
        for found in scan.found:
            assert found.causes, (scan.vehicle, found)
            assert found.causes <= known, (scan.vehicle, found)


def test_judged_cars_stand_in_stock_with_the_codes_of_their_truth_and_no_repair(full: Dealer):
    inbox = inbox_of(full)
    facts = facts_of(inbox, price_book(full.world))
    unsold = {row["vehicle"] for row in inbox.stock if not row["sold_on"]}
    repaired = {row["vehicle"] for row in inbox.repairs}
    latest = {scan.vehicle: scan for scan in full.scans}
    for vehicle, car in full.truth.items():
        assert vehicle in unsold - repaired
        if latest[vehicle].shown_at == latest[vehicle].at:
            shown = {code.code for code in facts.last[vehicle]}
            behind = any(s.shown_at != s.at for s in full.scans if s.vehicle == vehicle)
            assert behind or shown == set(car.shown)
        assert car.needed | car.passing | car.alone == set(car.shown)
        assert not car.needed & car.alone
        assert all(car.kept_by({fault.name}) for fault in car.faults)
        assert all(fault.codes & set(car.shown) for fault in car.faults)


def test_with_everything_declared_the_files_name_all_equipment_and_quirks(full: Dealer):
    inbox, plain = inbox_of(full, declared=True), inbox_of(full)
    fitted = sum(bool(car.equipment) for car in full.cars.values())
    assert sum(bool(row["modifications"]) for row in inbox.stock) == fitted
    assert sum(bool(row["modifications"]) for row in plain.stock) < fitted
    costs = price_book(full.world)
    open_codes = facts_of(inbox, costs).last
    left = {vehicle: {code.code for code in open_codes[vehicle]} & car.alone for vehicle, car in full.truth.items()}
    assert not any(left.values())
    assert plain.background == []


@pytest.mark.parametrize(
    ("written", "place", "read"),
    [
        ("coil pack", "cylinder 3", ("ignition coil", "cylinder 3")),
        ("new ABS sensor rear left fitted", "", ("wheel speed sensor", "rear left")),
        ("wiring ECM", "", ("wiring ECM", "")),
        ("Wheel speed sensor", "Front Left", ("wheel speed sensor", "front left")),
    ],
)
def test_parts_are_known_under_every_name(written: str, place: str, read: tuple[str, str]):
    assert part_of(written, place) == read


def test_every_name_of_every_part_is_its_own():
    for part in PARTS:
        for name in (part.name, *part.also):
            assert part_of(name)[0] == part.name, name


@pytest.mark.parametrize(("name", "value"), [("makes", 1), ("parts", 80), ("silent", 1.5), ("lines", 3)])
def test_settings_that_no_dealer_can_be_drawn_from_are_refused(name: str, value: float):
    with pytest.raises(ValueError, match=name if name != "lines" else "every make needs a line"):
        replace(KINDS["full"], **{name: value})


def test_a_dealer_whose_scans_show_nothing_has_no_cars_to_judge():
    with pytest.raises(ValueError, match="0 of 20 cars to judge"):
        draw_dealer(replace(KINDS["clean"], pending_only=1.0), 0, seed=1, judged=20)
