"""A dealer of a few literal rows, for the tests of evidence and diagnosis."""

from dataclasses import dataclass, field, fields
from datetime import datetime, timedelta
from importlib.resources import files
from io import StringIO

import polars as pl

from analysis.diagnosis import Costs, DiagnosisFrames, DiagnosisModel, Shortlist, fit, shortlist
from analysis.diagnosis.inference.calibration import Calibration
from analysis.evidence import EvidenceFrames
from analysis.mining import Findings
from analysis.texts.formatter import Formatter
from tests.support.settled import settled

COSTS = Costs(
    labour_rate_cents=6000, specialist_cents=30000, cheap_limit_cents=6000, country="DE", road_test_km=40.0,
    formatter=Formatter("EUR"),
)  # fmt: skip
TEXT, NUMBER, WHOLE, WHEN, YES = pl.String, pl.Float64, pl.Int64, pl.Datetime, pl.Boolean
START = datetime(2026, 3, 2, 9)


def only_families(families: pl.DataFrame, members: pl.DataFrame) -> Findings:
    """Findings of which only the families matter; the rest is blank, whatever else mining reports."""
    blank = {item.name: [] if item.name == "notes" else pl.DataFrame() for item in fields(Findings)}
    return Findings(**(blank | {"families": families, "members": members}))


def reference(name: str) -> pl.DataFrame:
    """One of the shipped reference tables, as text."""
    return pl.read_csv(StringIO(files("sql").joinpath(f"reference/{name}.csv").read_text("utf-8")), infer_schema=False)


@dataclass
class Dealer:
    """Rows are added one by one; ``frames`` makes the tables."""

    rows: dict[str, list[tuple]] = field(default_factory=dict)
    families: list[tuple[str, list[str], str | None]] = field(default_factory=list)

    def _add(self, table: str, *rows: tuple) -> None:
        self.rows.setdefault(table, []).extend(rows)

    def code(
        self, key: str, text: str | None = None, component: str | None = None, points_at: str | None = None
    ) -> None:
        """Make a code known; U codes are network codes."""
        module, short = key.split(":")
        make = short.split("@")[1] if "@" in short else None
        short = short.split("@")[0]
        self._add("codes", (key, module, short, make, text, component, points_at, None, short.startswith("U"), 3))

    def part(
        self, name: str, cents: int | None = 2000, minutes: float | None = 30.0, also: str | None = None, **more
    ) -> None:
        """Put a part into the price book; more: check, opening, opening_minutes, misses and alarms."""
        work = (
            more.get("check"), more.get("opening"), more.get("opening_minutes"), more.get("misses"), more.get("alarms"),
        )  # fmt: skip
        self._add("parts", (name, also, cents, minutes, *work, "price book", None))

    def job(self, codes: dict[str, str], parts: tuple = (), make: str = "corvane", **more: object) -> int:
        """Add a job: the outcome of each code, the parts as name or (name, position, supplier); returns its id."""
        job = len(self.rows.get("jobs", [])) + 1
        vehicle = str(more.get("vehicle", f"old{job}"))
        done = START + timedelta(days=int(str(more.get("day", job))))
        erased = more.get("erased", True)
        self._add("jobs", (job, vehicle, f"J{job}", make, "line", done, done, None, erased, not parts))
        for part in parts:
            name, position, supplier = part if isinstance(part, tuple) else (part, "", None)
            self._add("job_parts", (job, name, position, "replace", supplier, 2000, 30.0))
        modules = {key.split(":")[0] for key in codes} | set(more.get("read", ()))
        self._add("job_modules", *((job, module) for module in sorted(modules)))
        km = float(more.get("km", 500.0))
        for key, outcome in codes.items():
            back = outcome == "returned"
            proven = km if outcome in ("cleared", "unproven") else None
            why = more.get("background")
            ends = (outcome, proven, 2.0 if back else None, 20.0 if back else None)
            self._add("outcomes", (job, vehicle, f"J{job}", key.split(":")[0], key, why, *ends))
        return job

    def check(self, part: str, vehicle: str, job: str, day: int, position: str = "") -> None:
        """Inspect a part in a job."""
        self._add("job_checks", (vehicle, job, part, position, START + timedelta(days=day)))

    def car(
        self, vehicle: str, codes: list[str], read: tuple[str, ...] = (), make: str | None = "corvane", **more
    ) -> None:
        """Put a car into stock with its open codes."""
        self._add("stock", (vehicle, make, "alder", "line"))
        state, why = more.get("status", "active"), more.get("background")
        self._add("open_codes", *((vehicle, key.split(":")[0], key, START, START, state, why) for key in codes))
        modules = {key.split(":")[0] for key in codes} | set(read)
        self._add("open_modules", *((vehicle, module) for module in sorted(modules)))

    def frames(self) -> DiagnosisFrames:
        """The tables as the marts hand them over."""
        tables = {name: self._frame(name) for name in SCHEMAS}
        return DiagnosisFrames(
            **tables, **{name: reference(name) for name in ("cautions", "first_checks", "inspection")}
        )

    def _frame(self, name: str) -> pl.DataFrame:
        table = pl.DataFrame(self.rows.get(name, []), schema=SCHEMAS[name], orient="row")
        return settled(table) if name == "outcomes" else table

    def past(self) -> EvidenceFrames:
        """The tables about past jobs."""
        names = ("jobs", "job_parts", "job_modules", "outcomes", "codes")
        return EvidenceFrames(**{name: self._frame(name) for name in names})

    def findings(self) -> Findings:
        """The families as mining gives them."""
        lists = pl.List(TEXT)
        families = pl.DataFrame(
            [(name, codes, root, [c for c in codes if c != root], 5, 0.5, 0.01) for name, codes, root in self.families],
            schema={"family": TEXT, "codes": lists, "root": TEXT, "knock_on": lists, "vehicles": WHOLE,
                    "strength": NUMBER, "q_value": NUMBER},
            orient="row",
        )  # fmt: skip
        members = pl.DataFrame(
            [
                (name, code, "root" if code == root else "member")
                for name, codes, root in self.families
                for code in codes
            ],
            schema={"family": TEXT, "code": TEXT, "role": TEXT},
            orient="row",
        )
        return only_families(families, members)

    def model(self, costs: Costs = COSTS, calibration: float | None = None) -> DiagnosisModel:
        """The fitted model; with a calibration of 0 there is no unknown-cause mass."""
        findings = self.findings()
        told = None if calibration is None else Calibration(calibration)
        return fit(self.frames(), findings.families, costs, told)

    def list(self, costs: Costs = COSTS, calibration: float | None = None) -> Shortlist:
        """The shortlist."""
        return shortlist(self.model(costs, calibration))


SCHEMAS: dict[str, dict[str, type[pl.DataType]]] = {
    "stock": dict.fromkeys(("vehicle", "make", "model", "line"), TEXT),
    "open_codes": {"vehicle": TEXT, "module": TEXT, "code": TEXT, "first_seen": WHEN, "last_seen": WHEN, "status": TEXT,
                   "background": TEXT},
    "open_modules": {"vehicle": TEXT, "module": TEXT},
    "jobs": {"job_id": WHOLE, "vehicle": TEXT, "job": TEXT, "make": TEXT, "line": TEXT, "done_at": WHEN,
             "parted_at": WHEN, "odometer": NUMBER, "erased": YES, "erase_only": YES},
    "job_parts": {"job_id": WHOLE, "part": TEXT, "position": TEXT, "action": TEXT, "supplier": TEXT,
                  "part_cents": WHOLE, "labour_minutes": NUMBER},
    "job_modules": {"job_id": WHOLE, "module": TEXT},
    "job_checks": {"vehicle": TEXT, "job": TEXT, "part": TEXT, "position": TEXT, "done_at": WHEN},
    "outcomes": {"job_id": WHOLE, "vehicle": TEXT, "job": TEXT, "module": TEXT, "code": TEXT, "background": TEXT,
                 "outcome": TEXT, "km_proven": NUMBER, "days_to_return": NUMBER, "km_to_return": NUMBER},
    "codes": {"code": TEXT, "module": TEXT, "short": TEXT, "make": TEXT, "text": TEXT, "component": TEXT,
              "points_at": TEXT, "role_hint": TEXT, "network": YES, "vehicles": WHOLE},
    "parts": {"part": TEXT, "also_called": TEXT, "part_cents": WHOLE, "labour_minutes": NUMBER, "check_minutes": NUMBER,
              "opening": TEXT, "opening_minutes": NUMBER, "check_misses": NUMBER,
              "check_false_alarms": NUMBER, "price_source": TEXT, "positions": TEXT},
}  # fmt: skip


def golden() -> Dealer:
    """The dealer whose numbers the golden tests pin: six codes, three parts, seven jobs, three cars."""
    shop = Dealer()
    shop.code("ABS:C0031", "wheel speed sensor")
    shop.code("ABS:C0044", "brake pressure sensor")
    shop.code("ABS:C0099")
    shop.code("ECM:P0500", "vehicle speed")
    shop.code("ECM:P0562", "battery voltage low", "battery")
    shop.code("IPC:U0121", "no messages", points_at="ABS")
    shop.part("battery", 8000, 15.0)
    shop.part("brake pressure sensor", 9000, 60.0)
    shop.part("wheel speed sensor", 5000, 30.0)
    sensor, pressure, battery = ("wheel speed sensor",), ("brake pressure sensor",), ("battery",)
    shop.job({"ABS:C0031": "cleared", "IPC:U0121": "cleared"}, sensor, read=("ECM",))
    shop.job({"ABS:C0031": "cleared", "ABS:C0099": "cleared"}, sensor, km=60.0)
    shop.job({"ABS:C0031": "returned"}, pressure, vehicle="twice", day=3)
    shop.job({"ABS:C0031": "cleared"}, sensor, vehicle="twice", day=9)
    shop.job({"ABS:C0044": "unproven", "ABS:C0031": "unproven"}, pressure, km=30.0, read=("IPC",))
    shop.job({"ECM:P0562": "cleared", "ECM:P0500": "returned"}, battery, make="brillon")
    shop.job({"ECM:P0562": "returned"}, battery, make="brillon", vehicle="again", day=12)
    shop.car("active", ["ABS:C0031", "IPC:U0121"], read=("ECM",))
    shop.car("stored", ["ABS:C0044", "ECM:P0500"], status="history")
    shop.car("again", ["ECM:P0562"], make="brillon", read=("ABS", "IPC"))
    return shop
