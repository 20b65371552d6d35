"""What the diagnosis room takes in, and the list it hands on."""

from dataclasses import dataclass
from typing import Annotated

import polars as pl

from analysis.texts.formatter import PLAIN, Formatter


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
    """

    stock: Annotated[pl.DataFrame, "vehicle make model line"]
    open_codes: Annotated[pl.DataFrame, "vehicle module code first_seen last_seen status background"]
    open_modules: Annotated[pl.DataFrame, "vehicle module"]
    jobs: Annotated[pl.DataFrame, "job_id vehicle job make line done_at parted_at erased"]
    job_parts: Annotated[pl.DataFrame, "job_id work part position action supplier part_cents labour_minutes"]
    job_modules: Annotated[pl.DataFrame, "job_id module"]
    outcomes: Annotated[
        pl.DataFrame,
        "job_id vehicle job module code background awake outcome km_proven km_to_return lik_gone lik_still",
    ]
    codes: Annotated[pl.DataFrame, "code module short make text component points_at network"]
    parts: Annotated[
        pl.DataFrame,
        "part also_called part_cents labour_minutes check_minutes opening opening_minutes price_source positions",
    ]
    cautions: Annotated[pl.DataFrame, "words modules codes follows system caution"]
    first_checks: Annotated[pl.DataFrame, "words check_first"]
    inspection: Annotated[pl.DataFrame, "countries module code inspection"]


@dataclass(frozen=True, kw_only=True)
class Costs:
    """What work costs at this dealer.

    Attributes:
        labour_rate_cents: Labour, cents per hour.
        specialist_cents: Handing a car over until it is fixed, flat and all in, cents.
        cheap_limit_cents: A fix up to this total counts as cheap, cents.
        country: Two letters; chooses the periodic inspection.
        road_test_km: Distance after an erase that counts as a test, km.
        formatter: How the dealer writes money and distances.
    """

    labour_rate_cents: int
    specialist_cents: int
    cheap_limit_cents: int
    country: str
    road_test_km: float
    formatter: Formatter = PLAIN


@dataclass(frozen=True)
class Shortlist:
    """The fixes to try.

    Attributes:
        rows: The columns of ``shortlist.csv`` in order, money in cents, sorted by vehicle and rank.
        notes: Plain sentences for the report.
    """

    rows: pl.DataFrame
    notes: list[str]
