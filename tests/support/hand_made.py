"""Dealers made by hand, a story at a time: cars of the past with what was done to them, and cars that stand there now.

A past car is scanned, gets its parts, is erased, driven and scanned again, then sold.  Codes are ``(module, code)``,
``(module, code, status)`` or ``(module, code, status, text)``; without a status they are active.  Parts are names, or
``(name, position)``.  Modules without a code were read and stored none.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

import polars as pl

from pipelines.batch.weekly import run_week
from pipelines.workspace import Workspace
from tests.support.small_dealer import AS_OF, Rows, workspace

Code = tuple[str, ...]
Part = str | tuple[str, str]
Line = dict[str, object]

MODULES = ("ECM", "ABS", "BCM", "TCM", "IPC", "SRS")
PRICES = (
    ("ignition coil", 45, 20), ("boost hose", 35, 40), ("battery", 110, 20), ("wheel speed sensor", 40, 45),
    ("camshaft sensor", 38, 30), ("intake air temperature sensor", 22, 15), ("fuel cap", 15, 2),
    ("oxygen sensor", 80, 40), ("thermostat", 45, 90), ("coolant temperature sensor", 25, 30), ("alternator", 220, 90),
    ("belt buckle", 120, 40), ("injector", 180, 60), ("mass air flow sensor", 90, 15), ("egr valve", 160, 80),
    ("glow plug", 18, 40), ("door lock", 70, 60), ("steering angle sensor", 150, 60), ("catalytic converter", 420, 90),
)  # fmt: skip
"""Part, its price, and the minutes that changing it takes."""


class HandMade:
    """One dealer's files, filled story by story.

    Args:
        seed: Draws days and distances, nothing else.
    """

    def __init__(self, seed: int = 1) -> None:
        self._rng = random.Random(seed)
        self._stock: Rows = []
        self._scans: Rows = []
        self._repairs: Rows = []
        self._buys: dict[str, str] = {}

    def buys(self, part: str, name: str) -> None:
        """Write into the price book who supplies a part."""
        self._buys[part] = name

    def car(self, vehicle: str = "NEW", make: str = "Corvane", model: str = "Alder", **more: object) -> str:
        """Put a car into stock."""
        self._stock.append({"vehicle": vehicle, "make": make, "model": model, **more})
        return vehicle

    def scan(self, vehicle: str, day: str, km: int, codes: Sequence[Code], modules: Sequence[str] = MODULES) -> None:
        """Scan a car: its codes, and an empty list of each other module."""
        row = {"vehicle": vehicle, "scanned_at": f"{day}T09:00", "odometer": km}
        for module, code, *more in codes:
            status, text = [*more, *("active", "")[len(more) :]][:2]
            self._scans.append({**row, "module": module, "code": code, "status": status, "text": text})
        silent = [module for module in modules if module not in {code[0] for code in codes}]
        self._scans += [{**row, "module": module, "code": ""} for module in silent]

    def job(self, vehicle: str, day: str, km: int, parts: Sequence[Part], supplier: str = "") -> None:
        """Fit parts, if any, and erase the codes."""
        row = {"vehicle": vehicle, "job": f"J{len(self._repairs)}", "done_at": f"{day}T12:00", "odometer": km}
        for part in parts:
            name, place = (part, "") if isinstance(part, str) else part
            self._repairs.append({**row, "action": "replace", "part": name, "position": place, "supplier": supplier})
        self._repairs.append({**row, "action": "erase"})

    def past(
        self,
        times: int,
        codes: Sequence[Code],
        parts: Sequence[Part],
        left: Sequence[Code] = (),
        km: int = 300,
        make: str = "Corvane",
        model: str = "Alder",
        supplier: str = "",
        days: tuple[int, int] = (0, 250),
    ) -> None:
        """So many cars came with these codes, got these parts, had ``left`` when driven ``km`` since, and were sold."""
        for _ in range(times):
            vehicle = self.car(f"C{len(self._stock)}", make, model, sold_on="2026-11-01")
            day = date(2026, 1, 5) + timedelta(days=self._rng.randint(*days))
            odometer = self._rng.randint(60, 180) * 1000
            self.scan(vehicle, str(day), odometer, codes)
            self.job(vehicle, str(day + timedelta(days=1)), odometer, parts, supplier)
            self.scan(vehicle, str(day + timedelta(days=9)), odometer + km, left)

    def now(
        self, *codes: Code, vehicle: str = "NEW", make: str = "Corvane", model: str = "Alder", **more: object
    ) -> None:
        """A car stands there with these codes."""
        self.car(vehicle, make, model, **more)
        self.scan(vehicle, "2026-11-20", 80_000, codes)

    def workspace(self, folder: Path) -> Workspace:
        """Write the files into a new workspace's inbox."""
        prices = [
            {"part": part, "part_cost": cost, "labour_minutes": minutes, "supplier": self._buys.get(part, "")}
            for part, cost, minutes in PRICES
        ]
        tables = {"stock": self._stock, "scans": self._scans, "repairs": self._repairs, "parts": prices}
        return workspace(folder, **{name: rows for name, rows in tables.items() if rows})

    def lists(self, folder: Path) -> dict[str, list[Line]]:
        """Run the week and return the rows of each car's list, in order."""
        place = self.workspace(folder)
        run_week(place, AS_OF)
        rows = pl.read_csv(place.reports / "2026-W48" / "shortlist.csv", infer_schema_length=None).sort("rank")
        found: dict[str, list[Line]] = {}
        for row in rows.iter_rows(named=True):
            found.setdefault(str(row["vehicle"]), []).append(row)
        return found
