"""What a week hands on: the tables that go out, what is told beside them, and what later questions start from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import polars as pl

from analysis import diagnosis, evidence, mining
from analysis.diagnosis.evaluation.backtest import Backtest
from analysis.evidence.clear_rates import family_results
from analysis.texts.notes import scan_every
from pipelines.batch.marts import Facts
from pipelines.batch.step import step
from pipelines.report import changes
from pipelines.storage.model_store import StoredRun

_MOST_WARNINGS = 20
_SEVERAL_MODULES = 3


@dataclass(frozen=True)
class WeekTables:
    """The tables of the report.

    Attributes:
        outgoing: Each outgoing table by name, unrounded.
        shown: What the page tells beside them: the codes' texts; what was seen, read and done on the listed cars.
        notes: Warnings of single rows and cars.
    """

    outgoing: Mapping[str, pl.DataFrame]
    shown: Mapping[str, pl.DataFrame]
    notes: list[str]

    @property
    def heights(self) -> dict[str, int]:
        """Rows of each outgoing table."""
        return {name: table.height for name, table in self.outgoing.items()}


@step("gather the tables")
def gather(
    facts: Facts,
    findings: mining.Findings,
    weighed: evidence.Evidence,
    past: Backtest,
    *,
    listed: diagnosis.Shortlist,
    standing: pl.DataFrame,
    before: StoredRun | None,
    promised: pl.DataFrame,
) -> WeekTables:
    """Put together what goes out, with what changed since the week before and what earlier lists had promised."""
    families = findings.members.group_by("code").agg(pl.col("family").sort().str.join(";"))
    going = {
        "shortlist": listed.rows,
        "families": family_results(findings.families, weighed),
        "rules": findings.rules,
        "verdict_weeks": findings.held,
        "part_results": weighed.part_results,
        "outcomes": facts["outcomes"],
        "open_codes": facts["open_codes"].join(families, on="code", how="left").sort("vehicle", "code"),
        "family_cars": findings.family_cars,
        "family_weeks": mining.family_weeks(findings.family_cars),
        "family_changes": changes.family_changes(findings.members, findings.family_cars, before),
        "car_changes": changes.car_changes(listed.rows, before),
        "worse_parts": weighed.worse_parts,
        "backtest": past.summary,
        "reliability": past.reliability,
        "standing": standing,
        "ledger": promised,
        "rejects": facts["rejects"].with_columns(
            pl.col("row").replace(0, None), pl.col("column", "value").replace("", None)
        ),
    }
    return WeekTables(going, _shown(facts, listed.rows), list(_row_notes(facts)))


def _shown(facts: Facts, shortlist: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """Return the texts of codes, what recurred, and the story of the listed cars, scan by scan and job by job."""
    listed = shortlist.select("vehicle").unique()
    return {
        "codes": facts["codes"],
        "recurred": facts["outcomes"]
        .filter(pl.col("outcome") == "recurred")
        .join(facts["job_parts"].select("job_id", "part", "position"), on="job_id", how="left"),
        "cars": facts["stock_details"].with_columns(
            scanned=pl.col("vehicle").is_in(facts["stock_readings"]["vehicle"].unique().implode()),
            waiting=pl.col("vehicle").is_in(facts["waiting"]["vehicle"].unique().implode()),
        ),
        "part_suppliers": facts["part_suppliers"],
        "seen": facts["stock_sightings"].join(listed, on="vehicle", how="semi"),
        "read": facts["stock_readings"].join(listed, on="vehicle", how="semi"),
        "work": facts["stock_work"].drop("work").join(listed, on="vehicle", how="semi"),
    }


def _row_notes(facts: Facts) -> Iterator[str]:
    warnings = facts["warnings"].sort("kind", "vehicle", "at", "detail")["detail"].to_list()
    yield from warnings[:_MOST_WARNINGS]
    if len(warnings) > _MOST_WARNINGS:
        yield f"and {len(warnings) - _MOST_WARNINGS} more warnings of these kinds"
    for vehicle in facts["waiting"].sort("vehicle")["vehicle"]:
        yield f"{vehicle}: codes were erased and no scan came after; drive it and scan again"
    yield from _hardly_read(facts["open_modules"])


def _hardly_read(open_modules: pl.DataFrame) -> Iterator[str]:
    """Say of which cars one module was read, where most cars have several: codes or none, little is known of them."""
    read = open_modules.group_by("vehicle").agg(pl.col("module").sort().first(), count=pl.len()).sort("vehicle")
    usual = sorted(read["count"])[read.height // 2] if read.height else 0
    lone = read.filter(pl.col("count") == 1)
    if lone.height and usual >= _SEVERAL_MODULES:
        yield scan_every(list(lone.select("vehicle", "module").iter_rows()), usual)


def learned(
    facts: Facts,
    findings: mining.Findings,
    weighed: evidence.Evidence,
    past: Backtest,
    *,
    listed: diagnosis.Shortlist,
    standing: pl.DataFrame,
    refused: pl.DataFrame,
) -> dict[str, pl.DataFrame]:
    """Return what later questions and the next week's comparison need, exact."""
    return {
        "families": findings.families,
        "members": findings.members,
        "family_cars": findings.family_cars,
        "rules": findings.rules,
        "looks": findings.looks,
        "held": findings.held,
        "part_results": weighed.part_results,
        "backtest": past.summary,
        "reliability": past.reliability,
        "shortlist": listed.rows,
        "open_codes": facts["open_codes"],
        "standing": standing,
        "refused": refused.select("vehicle", "make", "codes"),
        "notes": pl.DataFrame({"note": listed.notes}, schema={"note": pl.String}),
    }
