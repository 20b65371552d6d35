"""What the diagnosis room takes in, and the list it hands on."""

from dataclasses import dataclass, field
from typing import Annotated

import polars as pl

from analysis.texts.formatter import PLAIN, Formatter

FIRST_CODES = dict.fromkeys(("vehicle", "make", "line", "code"), pl.String) | {
    "erased_km": pl.Float64,
    "tells": pl.Boolean,
}
STOCK_ERASES = {"vehicle": pl.String, "km": pl.Float64} | dict.fromkeys(("own", "tells", "monitors_ready"), pl.Boolean)
PART_SUPPLIERS = dict.fromkeys(("part", "supplier"), pl.String)
JOB_CHECKS = dict.fromkeys(("vehicle", "job", "part", "position"), pl.String) | {"done_at": pl.Datetime}
RETURN_DISTANCES = {"code": pl.String, "return_km": pl.Float64}


def _no_rows(columns: str) -> pl.DataFrame:
    return pl.DataFrame(schema=dict.fromkeys(columns.split(), pl.String))


_Jobs = Annotated[pl.DataFrame, "job_id vehicle job make line done_at parted_at erased"]
_JobParts = Annotated[pl.DataFrame, "job_id work part position action supplier part_cents labour_minutes"]
_JobModules = Annotated[pl.DataFrame, "job_id module"]
_Outcomes = Annotated[
    pl.DataFrame,
    "job_id vehicle job module code background awake outcome km_proven km_to_return lik_gone lik_still",
]


@dataclass(frozen=True, kw_only=True)
class DiagnosisFrames:
    """The cars in stock, the past jobs and what is known about parts and codes.

    Attributes:
        stock: One row per vehicle in stock.
        open_codes: One row per vehicle and open code.
        open_modules: One row per vehicle and module read since its last job.
        jobs: One row per past job.
        job_parts: One row per job, part and position.
        job_modules: One row per job and module read before it.
        outcomes: One row per job and code present before it.
        codes: One row per code.
        parts: One row per part.
        cautions: Reference: what to beware of beside a fix.
        first_checks: Reference: what to look at first.
        inspection: Reference: what the periodic inspection says of a code.
        trade_words: Reference: what the trade calls a thing; without rows every word stands for itself.
        generic_codes: Reference: the standard codes, those that no car has shown too.
        first_codes: One row per vehicle and code that it showed before its first job, an empty code where none.
        first_modules: One row per vehicle and module that was read before its first job.
        car_modules: One row per vehicle and module that it has, answered or not.
        stock_erases: One row per vehicle in stock, with what is known of its last erase.
        part_suppliers: One row per part that somebody supplies, and who does.
        return_distances: One row per code that came back after a job, an empty code for all together.
        job_checks: One row per vehicle, job and part that was inspected in it.
    """

    stock: Annotated[pl.DataFrame, "vehicle make model line"]
    open_codes: Annotated[pl.DataFrame, "vehicle module code first_seen last_seen status background"]
    open_modules: Annotated[pl.DataFrame, "vehicle module"]
    jobs: _Jobs
    job_parts: _JobParts
    job_modules: _JobModules
    outcomes: _Outcomes
    codes: Annotated[pl.DataFrame, "code module short make text component points_at network"]
    parts: Annotated[
        pl.DataFrame,
        "part also_called part_cents labour_minutes check_minutes opening opening_minutes check_misses "
        "check_false_alarms price_source positions",
    ]
    cautions: Annotated[pl.DataFrame, "words modules codes follows system caution"]
    first_checks: Annotated[pl.DataFrame, "words check_first"]
    inspection: Annotated[pl.DataFrame, "countries module code inspection"]
    trade_words: Annotated[pl.DataFrame, "kind word means"] = field(default_factory=lambda: _no_rows("kind word means"))
    generic_codes: Annotated[pl.DataFrame, "code component"] = field(default_factory=lambda: _no_rows("code component"))
    first_codes: Annotated[pl.DataFrame, "vehicle make line erased_km tells code"] = field(
        default_factory=lambda: pl.DataFrame(schema=FIRST_CODES)
    )
    first_modules: Annotated[pl.DataFrame, "vehicle module"] = field(default_factory=lambda: _no_rows("vehicle module"))
    car_modules: Annotated[pl.DataFrame, "vehicle module"] = field(default_factory=lambda: _no_rows("vehicle module"))
    stock_erases: Annotated[pl.DataFrame, "vehicle km own tells monitors_ready"] = field(
        default_factory=lambda: pl.DataFrame(schema=STOCK_ERASES)
    )
    part_suppliers: Annotated[pl.DataFrame, "part supplier"] = field(
        default_factory=lambda: pl.DataFrame(schema=PART_SUPPLIERS)
    )
    return_distances: Annotated[pl.DataFrame, "code return_km"] = field(
        default_factory=lambda: pl.DataFrame(schema=RETURN_DISTANCES)
    )
    job_checks: Annotated[pl.DataFrame, "vehicle job part position done_at"] = field(
        default_factory=lambda: pl.DataFrame(schema=JOB_CHECKS)
    )


@dataclass(frozen=True, kw_only=True)
class Costs:
    """What work costs at this dealer.

    Attributes:
        labour_rate_cents: Labour, cents per hour.
        specialist_cents: Handing a car over until it is fixed, flat and all in, cents.
        cheap_limit_cents: A fix up to this total counts as cheap, cents.
        country: Two letters; chooses the periodic inspection.
        road_test_km: Distance after an erase that counts as a test, km.
        least_chance: No car's first line fits a part straight away with less chance than this.
        inspection_only: Codes that the periodic inspection does not look at may stay.
        formatter: How the dealer writes money and distances.
    """

    labour_rate_cents: int
    specialist_cents: int
    cheap_limit_cents: int
    country: str
    road_test_km: float
    least_chance: float = 0.25
    inspection_only: bool = False
    formatter: Formatter = PLAIN


@dataclass(frozen=True, kw_only=True)
class PastElsewhere:
    """The past jobs of another dealer, from a set that he shared: the same frames as his own, vehicles by other names.

    Attributes:
        jobs: One row per past job.
        job_parts: One row per job, part and position.
        job_modules: One row per job and module read before it.
        outcomes: One row per job and code present before it.
    """

    jobs: _Jobs
    job_parts: _JobParts
    job_modules: _JobModules
    outcomes: _Outcomes


@dataclass(frozen=True)
class Shortlist:
    """The fixes to try.

    Attributes:
        rows: The columns of ``shortlist.csv`` in order, money in cents, sorted by vehicle and rank.
        notes: Plain sentences for the report.
    """

    rows: pl.DataFrame
    notes: list[str]
