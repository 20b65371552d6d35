"""Before buying: what will it cost to clear the car that this scan shows?

The scan is read as ever, but loaded into a copy of the database that is thrown away.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import polars as pl

from analysis.diagnosis.appraise import Appraisal, appraise
from analysis.diagnosis.decision.appraisal import chance_above, mean_cost, nearest_quantile, quantile
from analysis.diagnosis.engine import CarDiagnosis, DiagnosisModel
from analysis.diagnosis.inference.posterior import Car
from analysis.diagnosis.unproven import further
from analysis.diagnosis.unseen import WORTH_SAYING
from pipelines.batch.one_scan import ScannedCar, diagnose_scan
from pipelines.errors import InputFileError
from pipelines.reading.layouts import LAYOUTS
from pipelines.reading.mapping.mapping_file import load_mappings
from pipelines.reading.read_table import Reading
from pipelines.reading.recognise import read_file
from pipelines.report.sections import Section, list_section
from pipelines.settings import Settings, load_settings
from pipelines.storage.file_archive import content_hash
from pipelines.storage.file_loader import LoadedFile, load_file
from pipelines.storage.session import reading as reading_copy
from pipelines.storage.warehouse import Warehouse
from pipelines.workspace import Workspace

CAR = "this car"
_SHOWN = 5
_TOLD = (0.5, 0.9)
"""The totals are told that come nearest to half of such cars and to nine in ten, each with its own share."""


@dataclass(frozen=True, kw_only=True)
class Bid:
    """What a highest sensible bid is reckoned from.

    Attributes:
        asking: What the dealer will ask for the car, money.
        margin: What is to be left of that, money.
        risk: Share of such cars that may cost more to clear than the bid allows for.
    """

    asking: float
    margin: float
    risk: float


@dataclass(frozen=True)
class Told:
    """What there is to say of a car before it is bought.

    Attributes:
        sections: What to print.
        costs: What clearing it costs, and how often: cost in cents and share, ascending, the shares summing to 1.
        cost: The one of the sections that says it; None where there is nothing to clear.
    """

    sections: list[Section]
    costs: pl.DataFrame
    cost: Section | None = None


def appraisal(
    workspace: Workspace,
    path: Path,
    make: str | None,
    model: str | None,
    limit: float | None,
    *,
    bid: Bid | None = None,
    read: Reading | None = None,
) -> Told:
    """Return what it will cost to clear the car that a scan file shows.

    Args:
        workspace: Its past repairs, prices and settings are used; nothing in it is changed.
        path: A file of scans of one car, of any kind that the inbox takes.
        make: The car's make, so that its maker's own codes are understood; None where it is not known.
        model: The model; None where it is not known.
        limit: Money; None for the settings' cost of a specialist.
        bid: What the highest sensible bid is to be reckoned from; None: it is not asked for.
        read: The file's rows, where somebody has read it; None: it is read as the inbox reads it.

    Returns:
        What to print, and the costs behind it.

    Raises:
        BatchError: The file cannot be read, holds no row or several cars; or another run is going on.
    """
    settings = load_settings(workspace.settings_file)
    reading = _of_one_car(path, _read(workspace, path, settings) if read is None else read)
    as_of = date.fromisoformat(str(reading.rows["scanned_at"].max())[:10])
    with reading_copy(workspace) as warehouse:
        found = diagnose_scan(
            workspace,
            settings,
            as_of,
            warehouse,
            vehicle=CAR,
            load=lambda copy: _load(copy, path, reading, make, model),
        )
    most = settings.specialist_cost if limit is None else limit
    costs = appraise(found.model, CAR, found.past)
    cost = _cost(costs, most, settings.currency)
    sections = [*_appraised(found, costs, cost, bid, settings)]
    return Told([_about(found, path, reading, make), *sections], costs.costs, cost if cost in sections else None)


def _read(workspace: Workspace, path: Path, settings: Settings) -> Reading:
    if not path.is_file():
        found = "is a folder" if path.is_dir() else "is not there"
        raise InputFileError(f"{path} {found}; expected a file with the scan of one car. Nothing was loaded.")
    try:
        reading = read_file(path, LAYOUTS["scans"], settings.zone, load_mappings(workspace.root))
    except OSError as error:
        raise InputFileError(f"{path}: could not be opened ({error.strerror or error}). Nothing was loaded.") from error
    return reading


def _of_one_car(path: Path, reading: Reading) -> Reading:
    if reading.rows.is_empty():
        why = "".join(f" {line}." for line in _refused(reading)[:1])
        raise InputFileError(
            f"{path}: expected a row with vehicle or vin, time, module and code; none of its {reading.rows_read} "
            f"rows could be read.{why} Nothing was loaded."
        )
    cars = cars_in(reading)
    if len(cars) > 1:
        named = ", ".join(str(car) for car in cars[:_SHOWN])
        raise InputFileError(f"{path}: expected the scans of one car, found {len(cars)}: {named}. Nothing was loaded.")
    return reading


def cars_in(reading: Reading) -> list[str]:
    """Return the cars that some scans are of, sorted: their stock numbers, else their vehicle numbers."""
    return [str(car) for car in reading.rows.select(pl.coalesce("vehicle", "vin").unique().sort()).to_series()]


def _refused(reading: Reading) -> list[str]:
    lines = reading.rejects.select("row", "column", "value", "why").iter_rows()
    return [f"row {row}, {column or 'the whole row'}: {value!r}: {why}" for row, column, value, why in lines]


def _load(warehouse: Warehouse, path: Path, reading: Reading, make: str | None, model: str | None) -> None:
    """Put the scan into the copy under a name that no car of the dealer has, and the car into its stock."""
    rows = reading.rows.with_columns(pl.lit(CAR).alias("vehicle"), pl.lit(None, pl.String).alias("vin"))
    load_file(warehouse, LoadedFile(path.name, "scans", content_hash(path), ""), rows, reading.rejects)
    told = {"vehicle": CAR, "make": make, "model": model}
    columns = [column.name for column in LAYOUTS["stock"].kept]
    stock = pl.DataFrame({name: [told.get(name)] for name in columns}, schema=dict.fromkeys(columns, pl.String))
    numbered = stock.with_columns(row=pl.lit(2, pl.Int64))
    load_file(warehouse, LoadedFile(CAR, "stock", CAR, ""), numbered, reading.rejects.clear())


def _about(one: ScannedCar, path: Path, reading: Reading, make: str | None) -> Section:
    mine = one.facts["open_codes"].filter(pl.col("vehicle") == CAR)
    read = one.facts["open_modules"].filter(pl.col("vehicle") == CAR).height
    codes = "1 open code" if mine.height == 1 else f"{mine.height} open codes"
    lines, start = [f"{read} modules were read; {codes}"], f"{CAR}: "
    masked = mine.filter(pl.col("background").is_not_null()).sort("code")
    lines += [f"left alone {code}: {why}" for code, why in masked.select("code", "background").iter_rows()]
    if make is None and mine["code"].str.ends_with("@unknown").any():
        lines.append("some codes are the maker's own: --make lets past repairs of that make speak to them")
    refused = _refused(reading)
    lines += [f"refused: {line}" for line in refused[:_SHOWN]]
    lines += [f"and {len(refused) - _SHOWN} more refused cells"] if len(refused) > _SHOWN else []
    lines += [note.removeprefix(start) for note in one.notes if note.startswith(start)]
    if one.facts["jobs"].is_empty():
        lines.append("from code texts only: no repair is known here yet")
    return Section(f"{path.name}: loaded nowhere, only looked at", lines)


def _appraised(
    one: ScannedCar, found: Appraisal, cost: Section, bid: Bid | None, settings: Settings
) -> Iterator[Section]:
    unproven = _unproven(found, settings)
    if unproven:
        yield Section("Not proven yet", unproven)
    if found.diagnosis is None and chance_above(found.costs, 0) < WORTH_SAYING:
        yield Section("Cost to clear it: 0.00", ["No open code asks for a repair; what no scan shows is not in this."])
        yield from _bid(found, bid, settings.currency)
        return
    yield cost
    yield from _bid(found, bid, settings.currency)
    if found.car is not None and found.diagnosis is not None:
        yield list_section(one.rows, settings.currency)
        yield _unexplained(one.model, found.car, found.diagnosis)


def _unproven(found: Appraisal, settings: Settings) -> list[str]:
    """Say what the scan cannot show, and how far to drive before one tells; nothing where it shows what there is."""
    hidden, tell = found.unseen, settings.formatter.distance
    lines = []
    if hidden.km is not None and hidden.more_km > 0:
        more = further(hidden.km, hidden.km + hidden.more_km)
        lines.append(f"codes were erased {tell(hidden.km)} ago: a code that is missing is not known to be gone")
        lines.append(f"drive {tell(more)} more and scan again before you buy: nine of ten faults show by then")
    elif hidden.km is None and hidden.chance >= WORTH_SAYING and not hidden.unread:
        lines.append(
            "the scan does not tell how far ago codes were erased: one that is missing is not known to be gone"
        )
    if hidden.unread:
        lines.append(f"not read, so nothing is known of them: {', '.join(hidden.unread)}")
    if lines and hidden.chance >= WORTH_SAYING:
        chance, mean = f"{hidden.chance:.0%}", f"{mean_cost(hidden.costs) / 100:.2f}"
        lines.append(f"as your own cars came in, something hides in {chance} of such cars: {mean} of the mean below")
    return lines


def _cost(found: Appraisal, limit: float, currency: str) -> Section:
    costs, diagnosis = found.costs, found.diagnosis
    rows = [
        *(
            (f"{kept:.0%} of such cars cost at most", f"{total / 100:.2f}")
            for total, kept in dict.fromkeys(nearest_quantile(costs, share) for share in _TOLD)
        ),
        ("mean", f"{found.mean / 100:.2f}"),
        (f"chance of more than {limit:.2f}", f"{chance_above(costs, round(limit * 100)):.0%}"),
    ]
    lines = ["following the list below, and handing over what is left; what no scan shows is not in this"]
    if found.unseen.chance >= WORTH_SAYING:
        lines = ["following the list below, handing over what is left, and so for what may hide"]
    if diagnosis is None:
        lines = ["the drive and the scan that tell, and what they may bring to light"]
    return Section(f"Cost to clear it, in {currency}", lines, ("", ""), rows, (1,))


def _bid(found: Appraisal, bid: Bid | None, currency: str) -> Iterator[Section]:
    """Say what to offer at most, where it was asked."""
    if bid is None:
        return
    worst = quantile(found.costs, 1 - bid.risk) / 100
    most = bid.asking - bid.margin - worst
    held = f"{1 - chance_above(found.costs, worst * 100 + 0.5):.0%} of such cars cost {worst:.2f} at most to clear"
    left = f"{bid.asking:.2f} asked, {bid.margin:.2f} to be left of it"
    if most <= 0:
        yield Section("Highest bid: none", [f"{left}; {held}: nothing is left to bid"])
        return
    yield Section(f"Highest bid, in {currency}: {most:.2f}", [f"{left}; {held}"])


def _unexplained(model: DiagnosisModel, car: Car, diagnosis: CarDiagnosis) -> Section:
    told = diagnosis.posterior.explained if diagnosis.posterior.parts else [False] * len(car.codes)
    texts = dict(model.frames.codes.select("code", "text").iter_rows())
    blank = [model.codes[d] for d, yes in zip(car.codes, told, strict=True) if not yes]
    rows = [(code, texts[code] or "") for code in sorted(blank)]
    return Section("Explained by no known part", [] if rows else ["none"], ("code", "text") if rows else (), rows)
