"""Each fault of disk, lock, clock and file is named with its place, nothing is lost, and the next run goes on."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from pipelines.batch.weekly import intake_notes
from pipelines.commands.cli import main
from pipelines.errors import DamagedError, WorkspaceError
from pipelines.reading import together
from pipelines.storage.session import opened
from pipelines.storage.storage_errors import database_error, disk_errors
from pipelines.storage.warehouse import Warehouse
from tests.support.keepers import SCAN, dealer, files_in, held, put, run, scans, taken

ROOT = Path(__file__).parents[3]
SLOW = pytest.mark.slow
posix = pytest.mark.skipif(os.name == "nt", reason="limits and rights of a process are set otherwise on Windows")


def child(code: str, *words: object) -> subprocess.CompletedProcess[str]:
    """Run some lines in a process of their own, where a limit or a lock does not touch this one."""
    command = [sys.executable, "-c", code, *map(str, words)]
    paths = os.pathsep.join([str(ROOT), str(ROOT / "tests")])
    environment = {**os.environ, "PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(command, env=environment, capture_output=True, text=True, timeout=300, check=False)


# Takes the inbox in and ends the run; what goes wrong is printed as the command line prints it.
RUN = """
import sys
from pathlib import Path
from pipelines.errors import BatchError
from tests.support.keepers import run
from pipelines.workspace import Workspace
try:
    print(len(run(Workspace.open(Path(sys.argv[1])), snapshot=True).loaded))
except BatchError as error:
    sys.exit(f"knockon: {error}")
"""
# No file may grow beyond so many bytes: what a full disk is to a process, without a disk of its own.
LIMITED = "import resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]),) * 2)" + RUN


@pytest.mark.slow
@posix
@pytest.mark.parametrize("limit", [1_000, pytest.param(2_000_000, marks=SLOW)])
def test_a_full_disk_is_named_and_the_next_run_goes_on(tmp_path, limit):
    place = dealer(tmp_path / "dealer")
    if limit > 1_000:
        taken(place, scans_1=scans("P0301"))
    before, each = (held(place), 4000) if limit > 1_000 else ({}, 40)  # rows of a file
    for number in range(6):
        rows = [{**SCAN, "text": f"{row * 7919 % 1000003:x}" * 20, "vehicle": f"{number}-{row}"} for row in range(each)]
        put(place, f"scans/big-{number}.csv", rows)
    done = child(LIMITED, place.root, limit)
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert "knockon: the disk is full: " in done.stderr
    assert ". Files taken in so far stay taken in, the others wait in the inbox, " in done.stderr
    assert "Make room and run it again; it goes on where it stopped." in done.stderr
    assert len(files_in(place.archive)) + len(files_in(place.inbox)) == 6 + bool(before)
    run(place)
    assert len(held(place)["raw.scans"]) == 6 * each + bool(before)
    assert files_in(place.inbox) == []


@pytest.mark.slow
@posix
def test_a_new_database_that_a_full_disk_cuts_off_takes_no_place(tmp_path):
    # The log of changes fits, the database that is written from it when the file is closed does not.
    place = dealer(tmp_path / "dealer")
    put(place, "scans/1.csv", scans("P0301"))
    done = child(LIMITED, place.root, 100_000)
    assert "knockon: the disk is full: " in done.stderr
    assert not place.database.exists()
    run(place)
    assert list(place.root.glob(".*.new*")) == []
    assert len(held(place)["raw.scans"]) == 1


# A superuser may write everywhere, until that one right is given away (capset of Linux; CAP_DAC_OVERRIDE is number 1).
BOUND = """
import ctypes, os
if os.getuid() == 0:
    head = (ctypes.c_uint32 * 2)(0x20080522, 0)
    held = (ctypes.c_uint32 * 6)()
    ctypes.CDLL(None).capget(head, held)
    held[0] &= ~2
    held[1] &= ~2
    assert ctypes.CDLL(None).capset(head, held) == 0
"""


@pytest.mark.slow
@posix
@pytest.mark.parametrize(
    "closed", [".", *(pytest.param(name, marks=SLOW) for name in (".knockon", "archive/scans", "knockon.duckdb"))]
)
def test_a_folder_that_may_not_be_written_is_named(tmp_path, closed):
    place = dealer(tmp_path / "dealer")
    taken(place, scans_1=scans("P0301"))
    put(place, "scans/2.csv", scans("P0302"))
    before = held(place)
    paths = [place.root, *place.root.rglob("*")]
    for path in paths:
        path.chmod(0o777 if path.is_dir() else 0o666)
    target = place.root / closed
    target.chmod(0o555 if target.is_dir() else 0o444)
    if closed == ".knockon":
        (target / "lock").chmod(0o444)
    done = child(BOUND + RUN, place.root)
    for path in paths:
        path.chmod(0o777 if path.is_dir() else 0o666)
    assert "Traceback" not in done.stderr
    if closed == "archive/scans":
        assert (done.returncode, done.stdout) == (0, "1\n"), "its rows are in, the file waits where it is"
        assert files_in(place.inbox) == ["scans/2.csv"]
        assert run(place).skipped == ["scans/2.csv"]
    else:
        assert done.returncode == 1
        assert f"knockon: {target}" in done.stderr
        assert " may not be written (" in done.stderr
        assert "Give your user the right to write in the workspace, and run it again." in done.stderr
        assert held(place) == before
        run(place)
    assert len(held(place)["raw.scans"]) == 2
    assert files_in(place.inbox) == []


HOLD = """
import sys, duckdb
con = duckdb.connect(sys.argv[1])
print("open", flush=True)
sys.stdin.read()
"""


def test_a_database_that_another_program_holds_is_named(tmp_path):
    place = dealer(tmp_path)
    taken(place, scans_1=scans("P0301"))
    put(place, "scans/2.csv", scans("P0302"))
    command = [sys.executable, "-c", HOLD, str(place.database)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "open\n"
        with pytest.raises(
            WorkspaceError, match=r"knockon\.duckdb is in use by another program \(.*, process \d+\)\. Close it there"
        ):
            run(place)
        holder.communicate()
    assert files_in(place.inbox) == ["scans/2.csv"]
    assert len(run(place).loaded) == 1


BUSY = "knockon: another run is using {}; wait until it ends or close its window. Nothing was run.\n"


@pytest.mark.slow
def test_of_two_programs_at_once_one_runs_and_one_says_so(tmp_path):
    with opened(dealer(tmp_path)):
        command = "import sys; from pipelines.commands.cli import main; sys.exit(main())"
        done = child(command, "weekly", tmp_path, "--engine", "plain")
    assert (done.returncode, done.stderr) == (1, BUSY.format(tmp_path))


def test_of_two_runs_at_once_one_runs_and_one_says_so(tmp_path, capsys):
    place = dealer(tmp_path)
    put(place, "scans/1.csv", scans("P0301"))
    with opened(place):
        assert main(["weekly", str(tmp_path), "--engine", "plain"]) == 1
        assert main(["undo", str(tmp_path)]) == 1
        assert main(["backup", str(tmp_path)]) == 1
        assert main(["restore", str(tmp_path)]) == 1
    assert capsys.readouterr().err == BUSY.format(tmp_path) * 4
    assert files_in(place.inbox) == ["scans/1.csv"]
    assert len(run(place).loaded) == 1


def test_the_lock_of_a_run_that_was_killed_holds_nobody_up(tmp_path):
    place = dealer(tmp_path)
    code = "import os, sys; from pathlib import Path; from pipelines.workspace import Workspace\n"
    code += "with Workspace.open(Path(sys.argv[1])).lock(): os._exit(9)"
    assert child(code, tmp_path).returncode == 9
    assert run(place).loaded == []


def test_a_file_that_grows_while_it_is_read_waits_for_the_next_run(tmp_path, monkeypatch):
    place = dealer(tmp_path)
    path = put(place, "scans/1.csv", scans("P0301"))
    read = together.check_cells

    def read_while_it_grows(*about):
        reading = read(*about)
        with path.open("a", encoding="utf-8") as handle:
            handle.write("A1,2026-03-01T09:00,ECM,P0302\n")
        return reading

    with monkeypatch.context() as growing:
        growing.setattr(together, "check_cells", read_while_it_grows)
        done = run(place)
    assert done.busy == [
        "scans/1.csv: another program was still writing it while it was read. Nothing of it was taken in; it stays in "
        "the inbox for the next run."
    ]
    assert held(place)["raw.files"] == []
    [file] = run(place).loaded
    assert file.rows_loaded == 2


def test_what_a_writer_adds_after_the_file_was_taken_in_comes_in_too(tmp_path):
    place = dealer(tmp_path)
    with put(place, "scans/1.csv", scans("P0301")).open("a", encoding="utf-8") as writer:
        run(place)
        writer.write("A1,2026-03-01T09:00,ECM,P0302\n")
    done = run(place)
    assert (done.again, [file.rows_loaded for file in done.loaded]) == (["scans/1.csv"], [1])
    assert len(files_in(place.archive)) == 2  # as it was taken in, and as it is now
    assert run(place).again == []
    assert len(held(place)["raw.scans"]) == 2


def test_a_clock_that_was_set_back_is_said_and_loses_nothing(tmp_path):
    place = dealer(tmp_path)
    put(place, "scans/1.csv", scans("P0301"))
    run(place, date(2026, 11, 23))
    put(place, "scans/2.csv", scans("P0302"))
    run(place, date(2026, 1, 5))
    with Warehouse(place.database) as warehouse:
        assert intake_notes(warehouse, "2026-W48", []) == []
        assert intake_notes(warehouse, "2026-W02", []) == [
            "this report is for 2026-W02, but files came in for 2026-W48 already; if you did not choose the day "
            "yourself, set this computer's clock right and run it again. Nothing of the later report was changed"
        ]
    assert len(held(place)["raw.scans"]) == 2


@pytest.mark.parametrize(
    "how", [*(pytest.param(how, marks=pytest.mark.slow) for how in ("cut", "overwritten")), "empty", "text"]
)
def test_a_damaged_database_is_named_with_the_way_back(tmp_path, how):
    place = dealer(tmp_path)
    put(place, "scans/1.csv", [{**SCAN, "vehicle": f"A{number}"} for number in range(5000)])
    run(place, snapshot=True)
    whole = place.database.read_bytes()
    middle = whole.find(b"A2500")
    damage = {
        "cut": whole[: 1 << 15],
        "overwritten": whole[: middle - 1000] + bytes(2000) + whole[middle + 1000 :],
        "empty": b"",
        "text": b"no database" * 1000,
    }
    place.database.write_bytes(damage[how])
    put(place, "scans/2.csv", scans("P0302"))
    with pytest.raises(DamagedError, match=r"is damaged or no database \(.*\)\. It was left as it is, and so were the"):
        run(place, snapshot=True)
    assert main(["restore", str(tmp_path)]) == 0
    run(place)
    assert len(held(place)["raw.scans"]) == 5001
    assert len(files_in(place.archive)) == 2


def test_what_is_no_fault_of_disk_or_file_is_not_dressed_up_as_one():
    assert database_error(Path("k.duckdb"), "Binder Error: column x not found") is None


def test_memory_that_runs_out_is_told_with_what_to_do():
    told = database_error(Path("k.duckdb"), "Out of Memory Error: could not allocate block of size 256.0 KiB\n\nmore")
    assert str(told) == (
        "memory ran out while the tables of k.duckdb were made. Files taken in so far stay taken in, the others wait "
        "in the inbox, and the earlier reports stand as they were. Close other programs and run it again."
    )


@pytest.mark.slow
def test_a_table_larger_than_memory_goes_to_disk_beside_the_database(tmp_path):
    with Warehouse(tmp_path / "k.duckdb") as warehouse:
        warehouse.execute("set memory_limit = '100MB'; set threads = 1")
        long = "select i, repeat(md5(i::varchar), 8) as text from range(400000) as numbers(i)"
        # A whole sort of 100 MB of text does not fit into the limit.
        warehouse.execute(f"create temp table a as select i, row_number() over (order by text) as place from ({long})")
        assert warehouse.number("select max(place) from a") == 400_000
        assert (
            warehouse.number(
                "select count(*) from duckdb_settings() where name = 'temp_directory' and value = $place",
                {"place": f"{tmp_path / 'k.duckdb'}.tmp"},
            )
            == 1
        )
        assert (tmp_path / "k.duckdb.tmp").is_dir()


def test_a_file_that_cannot_be_read_for_another_reason_is_named():
    words = r"^/a/b could not be read or written \(Is a directory\)\. Files taken in so far stay taken in, .* Run it"
    with pytest.raises(WorkspaceError, match=words), disk_errors(Path("/w")):
        raise IsADirectoryError(21, "Is a directory", "/a/b")
