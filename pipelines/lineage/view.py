"""How a traced code is shown on the terminal: one titled table after the other, in the look of ``why``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from analysis.texts.action_text import in_vain
from analysis.texts.formatter import Formatter
from pipelines.lineage.source_rows import Record
from pipelines.report.sections import Section

_MOST_PLACES = 4


def sections(found: Record, formatter: Formatter) -> Iterator[Section]:
    """Return what to print of a traced code.

    Args:
        found: What ``trace.trace`` returned.
        formatter: How this dealer writes money, distances and days.
    """
    car = found["car"]
    named = " ".join(word for word in (car["make"], car["model"]) if word) or "make and model unknown"
    stock = "in stock" if car["in_stock"] else "not in stock"
    lines = [f"{named}, {stock}; {_places(car['rows']) or 'not in the stock list'}", *_standing(found, formatter)]
    yield Section(f"{found['code']} on {found['vehicle']}, as the report of {found['report']} has it", lines)
    yield _scans(found["scans"], formatter)
    yield _jobs(found["jobs"], formatter)
    yield _counted("Groups of codes", {"family": "group", "role": "role"}, found["families"])
    rule = ("antecedent", "consequent", "verdict")
    yield _counted("Rules that name it", dict(zip(rule, rule, strict=True)), found["rules"])
    yield _parts(found["part_results"])
    yield from _lines(found["shortlist"], formatter)
    yield _files(found["files"])


def _standing(found: Record, formatter: Formatter) -> Iterator[str]:
    open_code, mask = found["open"], found["looked_past"]
    if open_code:
        status = open_code["status"] or "no status"
        first, last = formatter.day(open_code["first_seen"]), formatter.day(open_code["last_seen"])
        yield f"open: first seen {first}, last {last}, {status}"
    else:
        yield "not among the open codes of cars in stock"
    failures = [scan["failure"] for scan in found["scans"] if scan["failure"]]
    if failures:
        yield f"its failure type says: {failures[-1]}"
    if mask:
        until = f" until {formatter.day(mask['until'])}" if mask["until"] else ""
        yield f"left alone{until}: {mask['reason']}; {_places(mask['rows']) or 'learned from the jobs below'}"
    else:
        yield "counted, not left alone"


def _places(rows: Sequence[Record]) -> str:
    """Say where rows stand; a row that the archived file no longer shows says so."""
    said = [
        fact["place"]
        + ("" if fact["found"] else " (not found there any more)")
        + (f" (also {', '.join(fact['also_in'])})" if fact["also_in"] else "")
        for fact in rows[:_MOST_PLACES]
    ]
    more = len(rows) - _MOST_PLACES
    return "; ".join([*said, *([f"and {more} more rows"] if more > 0 else [])])


def _driven(km: float | None, formatter: Formatter) -> str:
    return "" if km is None else f"{formatter.driven(km):.0f}"


def _scans(scans: Sequence[Record], formatter: Formatter) -> Section:
    rows = [
        (
            f"{formatter.day(scan['scanned_at'][:10])} {scan['scanned_at'][11:16]}",
            _driven(scan["odometer_km"], formatter),
            str(len(scan["modules_read"])),
            scan["code_is"],
            scan["status"] or "",
            _places(scan["rows"]),
        )
        for scan in scans
    ]
    head = ("scan", formatter.unit, "modules read", "the code is", "status", "said by")
    return Section("Scans of this car", [] if rows else ["none"], head, rows, (1, 2))


def _jobs(jobs: Sequence[Record], formatter: Formatter) -> Section:
    rows = [
        (
            formatter.day(job["done_at"]),
            job["job"],
            ", ".join(job["work"]),
            job["outcome"] or "was not there before it",
            _driven(job["km"], formatter),
            _places(job["rows"]),
        )
        for job in jobs
    ]
    head = ("day", "job", "work", "the code afterwards", formatter.unit, "said by")
    return Section("Jobs on this car", [] if rows else ["none"], head, rows, (4,))


def _counted(title: str, names: Mapping[str, str], facts: Sequence[Record]) -> Section:
    """Return facts with the cars that they count; ``names`` says which of a fact's values stand under which heading."""
    rows = [
        (
            *(str(fact[name]).replace(";", ", ") for name in names),
            str(fact["cars"]),
            "yes" if fact["this_car_counts"] else "no",
        )
        for fact in facts
    ]
    head = (*names.values(), "cars", "this car among them")
    return Section(title, [] if rows else ["none"], head, rows, (len(names),))


def _parts(facts: Sequence[Record]) -> Section:
    rows = [
        (fact["part"], fact["family"], fact["job"], fact["outcome"], f"{fact['cleared']} of {fact['jobs']} cleared")
        for fact in facts
    ]
    head = ("part", "group", "this car's job", "outcome", "all such jobs")
    return Section("Jobs of this car among what repairs did", [] if rows else ["none"], head, rows)


def _lines(shortlist: Sequence[Record], formatter: Formatter) -> Iterator[Section]:
    if not shortlist:
        yield Section("Lines of the list that name it", ["none"])
    for row in shortlist:
        lines = [
            ", ".join(_figures(row, formatter)),
            f"clears {row['clears'] or 'nothing'}; leaves {row['leaves'] or 'nothing'}",
        ]
        if row["price"]:
            lines.append(f"price from {row['price']['from']}: {_places(row['price']['rows'])}")
        if row["part"]:
            lines.append("past visits with this part alone:" if row["visits"] else "no past visit with this part alone")
        visits = [
            (
                formatter.day(visit["done_at"]),
                visit["vehicle"],
                visit["job"],
                visit["counts_as"] or "nothing, its end is not known",
                _driven(visit["km"], formatter),
                _places(visit["rows"]),
            )
            for visit in row["visits"]
        ]
        head = ("day", "vehicle", "job", "counts as", formatter.unit, "said by")
        yield Section(f"Line {row['rank']} of the list: {row['what']}", lines, head, visits, (4,))


def _figures(row: Record, formatter: Formatter) -> Iterator[str]:
    """Say chance, cost and past jobs of a line; a specialist's chance is no finding of the list and is left out."""
    if row["action"] != "specialist" and row["chance"] is not None:
        yield f"chance {row['chance']:.0%}"
        if row["chance_low"] is not None:
            yield f"{row['chance_low']:.0%} to {row['chance_high']:.0%}"
    yield f"cost {formatter.money(row['total_cost'])}"
    if row["jobs"]:
        why = in_vain(row["jobs"], row["jobs_cleared"], row["chance"])
        yield why or f"{row['jobs_cleared']} of {row['jobs']} jobs cleared"


def _files(files: Sequence[Record]) -> Section:
    rows = [
        (
            file["name"],
            file["loaded_for_week"],
            str(len(file["rows"])),
            file["state"],
            file["archived_as"] or file["sha256"],
        )
        for file in files
    ]
    head = ("file", "loaded for", "rows named", "now", "kept as")
    return Section("Files", (), head, rows, (2,))
