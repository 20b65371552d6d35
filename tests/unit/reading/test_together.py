"""Files read together are what each is alone, whatever stands in the others."""

import random
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from pipelines.errors import InputFileError
from pipelines.habits import Habits
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import load_mapping
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_file
from pipelines.reading.together import read_together

ZONE = ZoneInfo("Europe/Berlin")
HABITS = Habits()
SCANS = "vehicle,scanned_at,module,code,text"
MAPPING = """\
serves = ["m*.csv"]
format = "table"
delimiter = ";"
[columns]
vehicle = "Car"
scanned_at = "When"
module = "Unit"
code = "Fault"
"""
# One file each; every one is put among the others in every draw.
ODD = {
    "refused-cell.csv": f"{SCANS}\nS-1,2026-03-01 09:00,ECM,P0301,x\nS-1,yesterday,ECM,P0302,x\n",
    # The same scan and module as in refused-cell.csv: the gap there must not reach the list here.
    "same-scan.csv": f"{SCANS}\nS-1,2026-03-01 09:00,ECM,P0301,x\n",
    "no-code.csv": f"{SCANS}\nS-1,2026-03-01 09:00,ECM,what?,x\n",
    "quoted.csv": f'{SCANS}\nS-2,2026-03-01 09:00,ECM,P0301,"a, b"\n',
    "short-row.csv": f"{SCANS}\nS-2,2026-03-01 09:00,ECM\n",
    "blank-rows.csv": f"{SCANS}\n,,,,\nS-2,2026-03-01 09:00,ECM,P0301,x\n , ,,,\n",
    "nothing.csv": "",
    "header-alone.csv": f"{SCANS}\n",
    "lines-of-windows.csv": f"\ufeff{SCANS}\r\nS-3,2026-03-01T09:00Z,ECM, P0301 ,x\r\n",
    "days.csv": f"{SCANS}\nS-3,27.03.2026 09:00,ECM,P0301,x\n",
    "days-or-months.csv": f"{SCANS}\nS-3,07.03.2026 09:00,ECM,P0301,x\n",
    "semicolons.csv": f"{SCANS}\nS-4,2026-03-01,ECM,P0301,x\n".replace(",", ";"),
    "column-left-out.csv": f"{SCANS},shelf\nS-4,2026-03-01,ECM,P0301,x,7\n",
    "code-left-out.csv": f"{SCANS},second\nS-4,2026-03-01,ECM,P0301,x,P0303\n",
    "other-header.csv": "name,when\nS-4,2026-03-01\n",
    "twice.csv": f"{SCANS},code\nS-4,2026-03-01,ECM,P0301,x,P0302\n",
    "vin.csv": "vin,scanned_at,module,code\nunknown,2026-03-01,ECM,P0301\n1M8GDM9AXKP042787,2026-03-02,ECM,P0301\n",
    "vin-typed.csv": "vehicle,vin,scanned_at,module,code\nS,-,2026-03-01,ECM,\nS,1M8GDM9A1KP042788,2026-03-02,ECM,\n",
    "wordy.csv": f"{SCANS}\nS-5,2026-03-01,ECM,P0301 - misfire,\n",
    "mapped.csv": "Car;When;Unit;Fault\nS-6;2026-03-01;ECM;P0301\n",
    "mapped-too.csv": "Car;When;Unit;Fault;More\nS-6;2026-03-02;ECM;P0301;P0305\n",
    "many-spoiled.csv": f"{SCANS}\n" + "S-7,never,ECM,P0301,x\n" * 4,
    "table.jsonl": '{"vehicle": "S-8", "scanned_at": "2026-03-01", "module": "ECM", "code": "P0301"}\n',
    "unknown-ending.doc": "what",
    "utf16.csv": f"{SCANS}\nS-9,2026-03-01,ECM,P0301,x\n".encode("utf-16"),
}


def told(outcome) -> object:
    """Return all that a reading says, or the error's own words."""
    if not isinstance(outcome, Reading):
        return type(outcome), str(outcome)
    return outcome.rows.rows(), outcome.rejects.rows(), outcome.notes, outcome.rows_read, outcome.account


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.slow) for seed in (1, 2))])
def test_what_is_read_together_is_what_each_file_is_alone(tmp_path: Path, seed: int) -> None:
    dice = random.Random(seed)
    for name, content in ODD.items():
        (tmp_path / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    for number in range(30):
        rows = "".join(
            f"S-{dice.randrange(4)},2026-03-0{dice.randrange(1, 4)} 09:00,{dice.choice(['ECM', 'ABS'])},"
            f"{dice.choice(['P0301', 'C0035', ''])},word {number}\n"
            for _ in range(dice.randrange(1, 5))
        )
        (tmp_path / f"plain-{number}.csv").write_text(f"{SCANS}\n{rows}", encoding="utf-8")
    mapping = tmp_path / "one.toml"
    mapping.write_text(MAPPING, encoding="utf-8")
    mappings = [load_mapping(mapping)]
    mapping.unlink()
    paths = [*tmp_path.iterdir(), tmp_path / "gone.csv"]
    dice.shuffle(paths)

    def alone(path: Path) -> object:
        try:
            return read_file(path, LAYOUTS["scans"], ZONE, mappings, HABITS)
        except (InputFileError, OSError) as error:
            return error

    together = read_together(paths, LAYOUTS["scans"], ZONE, mappings, HABITS)
    assert [told(outcome) for outcome in together] == [told(alone(path)) for path in paths]
    assert sum(isinstance(outcome, Reading) for outcome in together) >= 45
