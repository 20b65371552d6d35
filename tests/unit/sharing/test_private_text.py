"""What must not go out is found in any text, by kind and by list; what a mechanic needs is left."""

from __future__ import annotations

import csv
import itertools
import unicodedata
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipelines.batch.weekly import run_week
from pipelines.sharing.column_policies import shipped_wordings
from pipelines.sharing.private_text import PrivateText
from pipelines.sharing.share import share
from tests.support.small_dealer import workspace


@pytest.mark.parametrize(
    ("text", "struck"),
    [
        ("sensor of K-1004, left", "sensor of …, left"),
        ("k1004", "…"),
        ("K 1004/Smith & Sons", "…/…"),
        ("smith  and sons", "smith  and sons"),
        ("bank 1, K-100", "bank 1, K-100"),
        ("cylinder 12, bank 1", "cylinder …, bank 1"),
        ("Ｋ－１００４ and K\u200b-1004", "… and …"),
        ("Circuit, wheel speed sensor", "Circuit, wheel speed sensor"),
        ("=HYPERLINK(1)", "HYPERLINK(1)"),
        ("", ""),
    ],
)
def test_names_in_a_text_are_struck_out_whatever_stands_between_their_words(text, struck) -> None:
    finder = PrivateText(["K-1004", "Smith & Sons", "12", "wheel speed sensor"], ["Wheel Speed Sensor"])
    assert finder.struck(text) == struck


@given(st.text(alphabet="K1004abc -.", max_size=30))
def test_no_name_is_left_in_any_text(text) -> None:
    left = PrivateText(["K-1004"]).struck(text)
    words = "".join(letter if letter.isalnum() else " " for letter in left).casefold().split()
    assert "k1004" not in words
    assert ("k", "1004") not in itertools.pairwise(words)


# Invented people; numbers out of ranges that are kept for fiction, or plainly made up.  The forms of plates, phone and
# account numbers are common practice, no source.
STOCK = ("K-1004", "Z9", "7Q", "L-2191", "B 77", "X")
VINS = ("1M8GDM9AXKP042788", "WWWZZZ1KZAW987654")
SUPPLIERS = ("Hendrik & Daughters", "Grünbaum Autoteile GmbH", "Łukasz", "O'Malley Spares")
JOBS = ("INV-77812", "R3", "2026/0415")
OWN = ("Petronella", "blue house", "Dr. Øystein Bø", "Zq")
PEOPLE = ("Olga", "Meier-Schulte", "Fitzgerald", "Wójcik", "Nguyen", "Oyelaran", "d'Anjou", "Ibrahimović")
TITLES = ("Mr", "Frau", "customer", "Kunde:", "owner")
BY_KIND = {
    "mail address": [
        *("olga.p@example.com", "OLGA@EXAMPLE.COM", "o.p+cars@mail.example.org", "olga (at) example (dot) com"),
        *("olga[at]example[dot]com", "olga at example dot com", "olga @ example.com", "o_p-1@sub.example.co.uk"),
        *("olga{at}example.de", "olga＠example.com"),
    ],
    "phone number": [
        *("+49 170 5550123", "0170/5550123", "0170-555 01 23", "(0170) 5550123", "+44 7700 900123", "07700 900123"),
        *("07700900123", "(555) 555-0123", "555-555-0123", "+1 555 555 0123", "1-555-555-0123", "0049 170 5550123"),
        *("+33 6 55 50 12 34", "06.55.50.12.34", "06 55 50 12 34", "+31 6 5550 1234", "tel 55501", "Tel.: 555 01 23"),
        *("phone no. 555-0123", "call 5550123", "mobile: 555 0123", "whatsapp +48 555 501 234", "fax 030-5550123"),
        *("rang 5550123", "Handy 0170 5550123", "+48 555 501 234", "020 7946 0123", "030 / 555 01 23"),
    ],
    "plate": [
        *("K-AB 1234", "M-XY 99E", "HH-Z 1H", "B AB 123", "AB12 CDE", "AB12CDE", "A123 BCD", "AB-123-CD", "12-ABC-3"),
        *("AB-12-CD", "1-ABC-23", "12-AB-CD", "1234 BCD", "1234BCD", "WX 12345", "WX1234A", "1A2 3456", "ZH 123 456"),
        *("ABC 12D", "ABC-123", "AB 12 345", "1ABC234", "2-ABC-345", "W 12345 X", "GD 123 AB", "plate 7XQ", "reg. X7"),
        *("Kennzeichen kx 77", "licence plate ABC 1", "Kfz AB77"),
    ],
    "bank account": ["DE89 3704 0044 0532 0130 00", "GB29NWBK60161331926819", "FR14 2004 1010 0505 0001 3M02 606"],
    "web address": ["www.example.com/olga", "https://example.com/?c=olga", "@olga_cars"],
    "long number": ["5550123456", "987654", "4111111111111111"],
    "address": [
        "Lindenstraße 12a",
        "Hauptstr. 7",
        "Langer Weg 3",
        "221 Elm Street",
        "7 Rose Lane",
        "12b, Old Mill Road",
    ],
}
# Words of the seeds above that tell nobody.
PLAIN = {
    *("example", "plate", "phone", "kennzeichen", "licence", "mobile:", "whatsapp", "handy", "call", "rang"),
    *("daughters", "autoteile", "gmbh", "spares", "street", "lane", "road", "langer", "tel.:", "tel"),
}


def respelled(name: str) -> set[str]:
    """Return how else people write a name or number."""
    return {
        *(name, name.lower(), name.upper(), name.replace("-", ""), name.replace("-", " "), name.replace(" ", "_")),
        *(name.replace("-", "–"), f"{name}.", f"({name})", f"{name}/2 doors"),
        "".join(chr(ord(sign) + 0xFEE0) if "!" <= sign <= "~" else sign for sign in name),
    }


def leaks() -> list[tuple[str, str, str]]:
    """Return kind, what is written, and what of it must not be found again."""
    found = [("own list", said, name) for name in (*STOCK, *JOBS, *OWN, *SUPPLIERS) for said in respelled(name)]
    for vin in VINS:
        found += [("vehicle number", said, vin) for said in (vin, vin.lower(), f"{vin[:3]} {vin[3:9]} {vin[9:]}")]
        found += [("vehicle number", f"ends in {vin[-n:]}", vin[-n:]) for n in (6, 7, 8)]
    found.append(("vehicle number", "2G1WF52E359123457", "2G1WF52E359123457"))
    parts = ("Hendrik", "Grünbaum", "Gruenbaum", "Grunbaum", "Malley", "Lukasz", "Oystein")
    found += [("part of a name", part, part) for part in parts]
    found += [("person", f"{title} {name}", name) for title, name in itertools.product(TITLES, PEOPLE)]
    found.append(("person named in a note", "seen by Tamsin", "Tamsin"))
    return found + [(kind, said, said) for kind, listed in BY_KIND.items() for said in listed]


LEAKS = leaks()


def bare(text: str) -> str:
    """Return letters and digits alone, in one spelling."""
    return "".join(sign for sign in unicodedata.normalize("NFKC", text).casefold() if sign.isalnum())


def traces(secret: str) -> list[str]:
    """Return what tells a secret: all of it, its digits where they are many, each longer word of it."""
    digits = "".join(sign for sign in secret if sign.isdigit())
    words = [word for word in secret.replace("@", " ").replace(".", " ").split() if word.casefold() not in PLAIN]
    return [bare(secret), *([digits] if len(digits) > 4 else []), *(bare(word) for word in words if len(word) > 4)]


def left_in(out: str, secret: str) -> bool:
    """Tell whether a text still tells a secret: as a word, or, where it is long enough, anywhere in it."""
    words = {bare(word) for word in out.split()}
    return any(trace in words or (len(trace) > 4 and trace in bare(out)) for trace in traces(secret))


def finder() -> PrivateText:
    return PrivateText(
        [*STOCK, *JOBS, *VINS, *(vin[-n:] for vin in VINS for n in (6, 7, 8))],
        ["alternator", "Corvane", "ABS"],
        people=[*SUPPLIERS, *OWN],
        texts=["customer Tamsin rang twice"],
        vocabulary=shipped_wordings(),
    )


def test_there_are_at_least_200_leaks_of_ten_kinds() -> None:
    assert len({said for _, said, _ in LEAKS}) >= 200
    assert len({kind for kind, _, _ in LEAKS}) >= 10


@pytest.mark.parametrize("text", ["{}", "Circuit low, {} said so", "wheel speed sensor {}", "{}, left", "see {}!"])
def test_no_leak_is_left_in_any_text(text) -> None:
    found = finder()
    told = [(kind, said, found.struck(text.format(said)), secret) for kind, said, secret in LEAKS]
    assert [(kind, said, out) for kind, said, out, secret in told if left_in(out, secret)] == []


@pytest.mark.parametrize(
    "text",
    [
        "Wheel speed sensor, front left: circuit open",
        "P0420 catalyst efficiency below threshold, bank 1",
        "P0300-00, U0100-87 and C0045-08",
        "3000 RPM, 12.45 V, 0x7E8, 85 %",
        "Seen on 2026-11-23 at 08:15, 12345 km",
        "Driver door module, passenger window",
        "Lost communication with ECM",
        "position 4 of 6, 0.05 mm",
    ],
)
def test_what_a_mechanic_needs_is_left(text) -> None:
    assert finder().struck(text) == text


def test_what_ships_with_the_program_is_left_whole() -> None:
    found = PrivateText(["1", "2", "bank"], vocabulary=shipped_wordings())
    assert {text: found.struck(text) for text in shipped_wordings()} == {
        text: unicodedata.normalize("NFKC", text) for text in shipped_wordings()
    }


def test_what_is_left_is_told_the_rarest_first() -> None:
    told = list(finder().left_over({"Sensor seen at Barnaby": 1, "wheel speed sensor": 9, "XQ12, 4711": 3}))
    assert ("Barnaby", "name or word that is in no list", 1) in told
    assert ("XQ12", "letters and digits", 3) in told
    assert ("4711", "number", 3) in told
    assert not {"wheel", "sensor", "Sensor"} & {word for word, _, _ in told}
    assert [rows for _, _, rows in told] == sorted(rows for _, _, rows in told)


@pytest.mark.slow
def test_a_set_with_every_leak_in_every_free_column_tells_none(tmp_path) -> None:
    said = list(dict.fromkeys(said for _, said, _ in LEAKS))
    cars = [STOCK[k % len(STOCK)] for k in range(len(said))]
    scans = [
        {"vehicle": car, "scanned_at": "2026-10-01T09:00", "module": f"box {text}", "code": "C0031", "text": text}
        for car, text in zip(cars, said, strict=True)
    ]
    repairs = [
        {"vehicle": car, "job": JOBS[k % 3], "done_at": "2026-10-10", "action": "replace", "part": f"hose {text}",
         "position": f"left {text}", "supplier": SUPPLIERS[k % 4], "note": "customer Tamsin rang twice"}
        for k, (car, text) in enumerate(zip(cars, said, strict=True))
    ]  # fmt: skip
    stock = [
        {"vehicle": name, "vin": VINS[k] if k < 2 else "", "make": f"Corvane {said[k]}", "model": f"Alder {said[-k]}",
         "modifications": f"tow bar {said[k]}"}
        for k, name in enumerate(STOCK)
    ]  # fmt: skip
    parts = [{"part": f"valve {text}", "also_called": f"tap {text}", "opening": f"cover {text}"} for text in said[::7]]
    background = [{"vehicle": STOCK[0], "module": f"unit {text}", "reason": text} for text in said[::5]]
    place = workspace(
        tmp_path / "dealer", scans=scans, repairs=repairs, stock=stock, parts=parts, background=background
    )
    (place.root / "private.txt").write_text("# not to go out\n" + "\n".join(OWN) + "\n", encoding="utf-8")
    run_week(place, date(2026, 11, 23))
    done = share(place, tmp_path / "out")
    assert done.rows["scans"] > 200
    assert set(done.struck) >= {"own list", "plate", "phone number", "mail address", "person", "vehicle number"}
    cells = free_cells(done.folder)
    assert len(cells) > 50
    assert [(kind, text, cell) for kind, text, secret in LEAKS for cell in cells if left_in(cell, secret)] == []
    report = (done.folder / "left.txt").read_text(encoding="utf-8")
    assert f"{done.struck['plate']} plate" in report
    assert not left_in(report, "Petronella")


def free_cells(folder: Path) -> set[str]:
    """Return every cell of the columns that people write in, without the marks that keep two apart."""
    free = ("module", "text", "part", "also_called", "opening", "position", "make", "model", "modifications", "reason")
    cells = set()
    for path in (folder / "inbox").rglob("*.csv"):
        with path.open(encoding="utf-8", newline="") as handle:
            rows = list(csv.DictReader(handle))
        cells |= {row[name].rpartition(" N-")[0] or row[name] for row in rows for name in free if row.get(name)}
    return cells


@pytest.mark.slow
def test_parts_that_lost_their_numbers_are_still_two(tmp_path) -> None:
    work = {"vehicle": "1", "job": "J-9", "action": "replace"}
    place = workspace(
        tmp_path / "dealer",
        scans=[{"vehicle": "1", "scanned_at": "2026-10-01T09:00", "module": "ABS", "code": "C0031"}],
        stock=[{"vehicle": name, "make": "Corvane", "model": "Alder"} for name in ("1", "2")],
        repairs=[{**work, "done_at": f"2026-10-1{k}", "part": f"coil {k}"} for k in (1, 2)],
    )
    run_week(place, date(2026, 11, 23))
    done = share(place, tmp_path / "out")
    with (done.folder / "inbox" / "repairs" / "repairs.csv").open(encoding="utf-8", newline="") as handle:
        parts = {row["part"] for row in csv.DictReader(handle)}
    assert len(parts) == 2
    assert all(part.startswith("coil … N-") for part in parts)
