"""Feed every reader damaged files by the hundred thousand: no crash, no hang, each row read or refused with its place.

    python -m tests.studies.fuzz_readers [inputs] [seed]

Prints what was fed and what came of it; ends with 1 at the first broken promise, whose input is kept as
``fuzz_failure.bin``.  Not a test: it takes minutes.
"""

from __future__ import annotations

import faulthandler
import io
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

import openpyxl
import polars as pl

from pipelines.errors import BatchError, InputFileError
from pipelines.ingest.mapping_draft import draft_file
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import Mapping, load_mapping, load_mappings
from pipelines.reading.read_table import Reading, read_table
from pipelines.reading.recognise import read_file, read_mapped
from pipelines.settings import Settings

ROOT = Path(__file__).parents[2]
ZONE = ZoneInfo("Europe/Berlin")
# Time on the processor, which a busy machine does not stretch; one that waits for ever ends the run with its place.
SECONDS, WAITING = 10.0, 300.0
MAPPINGS = load_mappings(ROOT / "fixtures")
SCRAPS = (
    *(b'"', b'""', b"\n", b"\r", b"\r\n", b",", b";", b"\t", b"|", b"\0", b"\xff", b"\xef\xbb\xbf", b"\xff\xfe", b"PK"),
    *(
        b"{",
        b"}",
        b"[",
        b"]",
        b":",
        b"null",
        b"1e999",
        b"-0",
        b"NaN",
        b"\\u0000",
        b"\\ud800",
        b"P0420",
        b"U3000",
        b"59 02 FF",
    ),
    *(
        b"=1+1",
        b"<script>",
        b"2026-02-30",
        b"99.99.9999",
        b"\xe2\x80\xa8",
        b"\x0c",
        b"(",
        b"[ECM]",
        b"43 01",
        b"7F 19 78",
    ),
)
ANSWERS = b"""\
vehicle: A1
scanned_at: 2026-03-01T09:00
link: can
7E8 59 02 FF 03 01 00 2F 04 20 00 08
7E9 43 02 07 41 00 00
7EA 7F 19 78
7E8 41 01 81 07 65 04
"""

# What no mapping of the fixtures uses: a mapping, and a file that it reads.
_TABLE = '[columns]\nmodule = "Unit"\ncode = "Code"\n'
MORE: dict[str, tuple[str, bytes]] = {
    "above.csv": (
        "format = 'table'\ndelimiter = ';'\n"
        "above = ['^Car (?<vehicle>\\S+) on (?<scanned_at>\\S+)$', '^Km (?<odometer>\\d+)$']\n"
        f"skip = '^Total'\n{_TABLE}",
        b"Car A1;on;2026-03-01\nKm;12\nUnit;Code\nECM;P0301\nABS;\n"
        b"Car A2 on 2026-03-02\nUnit;Code\nECM;P0171\nTotal;2\n",
    ),
    "A1_2026-03-01.csv": (
        "format = 'table'\nnames.file = '^(?<vehicle>[A-Z]\\d+)_(?<scanned_at>[0-9-]+)'\n" + _TABLE,
        b"Unit,Code\nECM,P0301\nABS,\n",
    ),
    "down.csv": (
        "format = 'table'\nfill_down = ['Car', 'Date']\n[columns]\nvehicle = 'Car'\nscanned_at = 'Date'\n"
        "module = 'Unit'\ncode = ['Now', 'Before']\n[states]\nNow = 'active'\nBefore = 'history'\n",
        b"Car,Date,Unit,Now,Before\nA1,2026-03-01,ECM,P0301,\n,,ABS,,C0035\nA2,2026-03-02,ECM,,\n",
    ),
    "tree.xml": (
        "format = 'xml'\n[columns]\nvehicle = 'a.scan[].car'\nscanned_at = 'a.scan[].at'\n"
        "module = 'a.scan[].unit[].name'\n"
        "code = 'a.scan[].unit[].code[]'\n",
        b"<a><scan car='A1' at='2026-03-01'><unit><name>ECM</name>"
        b"<code>P0301</code><code>P0171</code></unit></scan></a>",
    ),
    "keyed.json": (
        "format = 'json'\n[columns]\nvehicle = '[].car'\nscanned_at = '[].at'\nmodule = '[].units{}.name'\n"
        "code = '[].units{}.value[]'\n",
        b'[{"car": "A1", "at": "2026-03-01", "units": {"ECM": ["P0301", "P0171"], "ABS": []}}]',
    ),
    "spans.html": (
        "format = 'html'\n[codes]\nno_codes = ['clean']\n[columns]\nvehicle = 'Car'\nscanned_at = 'Date'\n"
        + _TABLE[10:],
        b"<table><tr><th>Car<th>Date<th>Unit<th>Code</tr><tr><td rowspan=2>A1<td rowspan=2>2026-03-01<td>ECM<td>P0301"
        b"<tr><td>ABS<td>clean</table>",
    ),
    "turned.csv": (
        "format = 'table'\nheader = 'first column'\n[columns]\nvehicle = 'Car'\nscanned_at = 'Date'\n" + _TABLE[10:],
        b"Car,A1,A1\nDate,2026-03-01,2026-03-01\nUnit,ECM,ABS\nCode,P0301,C0035\n",
    ),
    "two.csv": (
        "format = 'table'\nheader = 'two rows'\n[columns]\nvehicle = 'Car'\nscanned_at = 'Date'\n"
        "[wide]\n'ECM Code' = 'ECM'\n[wide_states]\n'ECM Code' = 'ECM State'\n",
        b",,ECM,\nCar,Date,Code,State\nA1,2026-03-01,P0301,active\nA2,2026-03-02,,\n",
    ),
    "bare.csv": (
        "format = 'table'\nheader = 'none'\n[columns]\nvehicle = 'column A'\nscanned_at = 'column B'\n"
        "module = 'column C'\ncode = 'column D'\n",
        b"A1,2026-03-01,ECM,P0301\nA2,2026-03-02,ABS,\n",
    ),
    "crosses.csv": (
        "format = 'table'\nflags.yes = ['x']\nflags.no = ['-']\nflags.columns.Now = 'active'\n"
        "[columns]\nvehicle = 'Car'\nscanned_at = 'Date'\n" + _TABLE[10:],
        b"Car,Date,Unit,Code,Now\nA1,2026-03-01,ECM,P0301,x\nA1,2026-03-01,ABS,C0035,-\n",
    ),
    "crossed.csv": (
        "format = 'table'\ncrossed = '^(?<module>\\w+) (?<code>[PCBU]\\w{4})$'\n"
        "[columns]\nvehicle = 'Car'\nscanned_at = 'Date'\n",
        b"Car,Date,ECM P0301,ABS C0035\nA1,2026-03-01,active,\nA2,2026-03-02,,pending\n",
    ),
    "each.csv": (
        "format = 'table'\n[codes]\neach = '(?:(?<module>[A-Z]+) )?(?<code>[PCBU][0-3][0-9A-F]{3})'\nclean = 'Ok'\n"
        "modules_between = ' '\n[columns]\nvehicle = 'Car'\nscanned_at = 'Date'\ncode = 'Codes'\n",
        b'Car,Date,Ok,Codes\nA1,2026-03-01,SRS BCM,"ECM P0301 P0171, ABS C0035"\nA2,2026-03-02,ECM,\n',
    ),
    "pairs.log": (
        "format = 'pairs'\n[columns]\nvehicle = 'car'\nscanned_at = 'at'\nmodule = 'ecu'\ncode = 'dtc'\n",
        b'at=2026-03-01 car=A1 ecu=ECM dtc=P0301\nat="2026-03-02 09:00" car=A2 ecu=ABS dtc=C0035\n',
    ),
    "scans.lines": (
        "format = 'lines'\nlines.cut = '^(?<day>\\S+) (?<car>\\S+): (?<rest>.*)$'\nlines.between = ';'\n"
        "lines.piece = '^(?<unit>\\w+) (?<codes>.*)$'\n[codes]\nseparator = ','\nno_codes = ['ok']\n"
        "[columns]\nvehicle = 'car'\nscanned_at = 'day'\nmodule = 'unit'\ncode = 'codes'\n",
        b"2026-03-01 A1: ECM P0301,P0171; ABS ok\n2026-03-02 A2: ABS C0035\n",
    ),
    "records.txt": (
        "format = 'records'\n[columns]\nvehicle = 'Car'\nscanned_at = 'Date'\nmodule = 'Unit'\ncode = 'Code'\n",
        b"Car: A1\nDate: 2026-03-01\nUnit: ECM\nCode: P0301\nCode: P0171\n\n"
        b"Car: A2\nDate: 2026-03-02\nUnit: ABS\nCode: C0035\n",
    ),
    "below.txt": (
        "format = 'text'\n[text]\nscan = '^Car (?<vehicle>\\S+) (?<scanned_at>\\S+)$'\nmodule = '^ (?<module>\\w+)$'\n"
        "code = '^  (?<code>[PCBU]\\w+)'\nbelow = '^   State: (?<status>\\w+)$'\nno_codes = '^  nothing$'\n",
        b"Car A1 2026-03-01\n ECM\n  P0301\n   State: active\n  P0171\n ABS\n  nothing\n",
    ),
}


def more(folder: Path) -> dict[str, Mapping]:
    """Write the mappings of ``MORE`` and return each by the name of its file."""
    found = {}
    for place, (name, (text, _)) in enumerate(MORE.items()):
        path = folder / f"more{place}.toml"
        path.write_text(f"serves = ['{name}']\n{text}", encoding="utf-8")
        found[name] = load_mapping(path)
    return found


def seeds(folder: Path) -> dict[str, bytes]:
    """Return one good file of every kind."""
    found = {path.name: path.read_bytes() for path in (ROOT / "fixtures" / "exports").iterdir()}
    rows = pl.read_csv(ROOT / "fixtures" / "exports" / "scans.csv", infer_schema=False)
    out = io.BytesIO()
    rows.write_parquet(out)
    found["scans.parquet"] = out.getvalue()
    out = io.BytesIO()
    rows.write_ndjson(out)
    found["scans.jsonl"] = out.getvalue()
    found["answers.hex"] = ANSWERS
    return found | {name: content for name, (_, content) in MORE.items()}


def damage(dice: random.Random, content: bytes) -> bytes:
    """Return a file with a few places spoiled."""
    made = bytearray(content)
    for _ in range(dice.choice((1, 1, 2, 3, 8))):
        at, length = dice.randrange(len(made) + 1), dice.choice((0, 1, 1, 2, 5, 30, 200))
        kind = dice.randrange(5)
        if kind == 0:
            put = dice.randbytes(dice.choice((1, 2, 8)))
        elif kind == 1:
            put = bytes(made[at : at + length]) * dice.choice((2, 3, 50))
        elif kind == 2:
            put, length = dice.choice(SCRAPS) * dice.choice((1, 1, 1, 40)), dice.choice((0, 0, 1, 4))
        elif kind == 3:
            put = b""
        else:
            put, length = bytes([made[at] ^ (1 << dice.randrange(8))]) if at < len(made) else b"", 1
        made[at : at + length] = put
    if dice.random() < 0.03:
        del made[dice.randrange(len(made) + 1) :]
    return bytes(made)


def spoiled_book(dice: random.Random) -> bytes:
    """Return a whole workbook with odd cells in it."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Readings"
    header = ["Stock no.", "Date and time", "Km", "Unit", "Answer", "Code", "Type", "State", "Words"]
    for row in ([], [], [], header):
        sheet.append(row)
    odd = ["S-1", "2026-03-01 09:00", 1.5, True, "=1+1", None, "P0420", -1, 1e300, "x" * 300, "no", "<b>", "ECM", "Z"]
    for _ in range(dice.randrange(4)):
        sheet.append([dice.choice(odd) for _ in header])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def broken(reading: Reading) -> str | None:
    """Return which promise a reading breaks, or None."""
    if reading.rows.columns != ["row", *(column.name for column in LAYOUTS["scans"].kept)]:
        return "not the layout's columns"
    if reading.rejects.filter(pl.col("row").is_null() | (pl.col("why").fill_null("") == "")).height:
        return "a reject without its place or reason"
    if reading.rows.filter(pl.any_horizontal(pl.col("row", "scanned_at", "module").is_null())).height:
        return "a row that lacks what it must have"
    if reading.rows.height > reading.rows_read or (reading.rows_read > reading.rows.height) != bool(
        reading.rejects.height
    ):
        return "rows that are neither read nor refused"
    return None


def readers(folder: Path) -> dict[str, tuple[Callable[[Path], Reading], str]]:
    """Return each reader with the kind of file it is fed."""

    def own(path: Path) -> Reading:
        return read_table(path, LAYOUTS["scans"], ZONE)

    def chosen(path: Path) -> Reading:
        return read_file(path, LAYOUTS["scans"], ZONE, MAPPINGS)

    def by(mapping: Mapping) -> Callable[[Path], Reading]:
        return lambda path: read_mapped(path, mapping, ZONE)

    found: dict[str, tuple[Callable[[Path], Reading], str]] = {
        "own csv": (own, "scans.csv"),
        "own parquet": (own, "scans.parquet"),
        "own jsonl": (own, "scans.jsonl"),
        "raw answers": (own, "answers.hex"),
        "whichever fits": (chosen, ""),
    }
    names = {path.stem: path.name for path in (ROOT / "fixtures" / "exports").iterdir()}
    for mapping in MAPPINGS:
        stem = Path(mapping.name).stem
        found[f"mapping {stem} ({mapping.format})"] = (by(mapping), names[stem])
    for name, mapping in more(folder).items():
        found[f"mapping of {name}"] = (by(mapping), name)
    return found


def feed(dice: random.Random, reader: Callable[[Path], Reading], path: Path, content: bytes) -> str:
    """Read one input; return what came of it, ``broken`` first where a promise is broken."""
    path.write_bytes(content)
    begun = time.process_time()
    try:
        reading = reader(path)
        wrong = broken(reading)
        told = "read whole" if reading.rejects.is_empty() else "read in part"
    except InputFileError as error:
        wrong = None if str(error).startswith(str(path)) else f"a refusal that does not name the file: {error}"
        told = "refused"
    except Exception as error:
        wrong, told = f"a crash: {type(error).__name__}: {error}", ""
    if time.process_time() - begun > SECONDS:
        wrong = f"a hang: {time.process_time() - begun:.0f} seconds"
    return f"broken: {wrong}" if wrong else told


def feed_mapping(dice: random.Random, path: Path, texts: list[bytes]) -> str:
    """Read one spoiled mapping file."""
    path.write_bytes(damage(dice, dice.choice(texts)))
    try:
        load_mapping(path)
    except BatchError as error:
        return "refused" if "mappings/" in str(error) else f"broken: no place in {error}"
    except Exception as error:
        return f"broken: a crash: {type(error).__name__}: {error}"
    return "read whole"


def feed_draft(path: Path, content: bytes) -> str:
    """Draft a mapping of one spoiled file."""
    path.write_bytes(content)
    begun = time.process_time()
    try:
        "\n".join(draft_file(path, None, Settings())).encode()
        told = "drafted"
    except BatchError:
        told = "refused"
    except Exception as error:
        told = f"broken: a crash: {type(error).__name__}: {error}"
    return told if time.process_time() - begun < SECONDS else "broken: a hang"


def main() -> int:
    """Feed and count."""
    inputs = int(sys.argv[1]) if len(sys.argv) > 1 else 200_000
    dice = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    counts: dict[str, Counter[str]] = {}
    slowest, begun = 0.0, time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        good, found = seeds(folder), readers(folder)
        texts = [path.read_bytes() for path in sorted((ROOT / "fixtures" / "mappings").iterdir())]
        # Workbooks and drafts take many times as long as the others, so they come up less often.
        slow = {key for key in found if "xlsx" in key} | {"drafts"}
        turns = [key for key in [*found, "mapping files", "drafts"] for _ in range(1 if key in slow else 8)]
        for number in range(inputs):
            key = dice.choice(turns)
            faulthandler.dump_traceback_later(WAITING, exit=True)
            at = time.process_time()
            if key == "mapping files":
                told = feed_mapping(dice, folder / "m.toml", texts)
            elif key == "drafts":
                kind = dice.choice(sorted(name for name in good if not name.endswith((".xlsx", ".parquet"))))
                told = feed_draft(folder / kind, damage(dice, good[kind]))
            else:
                reader, kind = found[key]
                kind = kind or dice.choice(sorted(name for name in good if not name.endswith(".xlsx")))
                content = spoiled_book(dice) if "xlsx" in key and dice.random() < 0.5 else damage(dice, good[kind])
                told = feed(dice, reader, folder / kind, content)
            slowest = max(slowest, time.process_time() - at)
            counts.setdefault(key, Counter())[told] += 1
            if number % 10_000 == 9_999:
                print(f"{number + 1} inputs", file=sys.stderr, flush=True)
            if told.startswith("broken"):
                print(f"input {number}, {key}: {told}", flush=True)
                Path("fuzz_failure.bin").write_bytes(
                    (folder / (kind if key != "mapping files" else "m.toml")).read_bytes()
                )
                return 1
    for key, counted in counts.items():
        print(f"{key}: {counted.total()} inputs: " + ", ".join(f"{n} {told}" for told, n in sorted(counted.items())))
    print(f"{inputs} inputs in {time.monotonic() - begun:.0f} s, the slowest {slowest:.2f} s on the processor")
    print("no promise broken")
    return 0


if __name__ == "__main__":
    sys.exit(main())
