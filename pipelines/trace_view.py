"""How a traced code is shown on the terminal: one titled table after the other, in the look of ``why``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pipelines.onecar import Section
from pipelines.trace_rows import Facts

_MOST_PLACES = 4


def sections(found: Facts) -> Iterator[Section]:
    """Return what to print of a traced code.

    Args:
        found: What ``trace.trace`` returned.
    """
    car = found["car"]
    named = " ".join(word for word in (car["make"], car["model"]) if word) or "make and model unknown"
    stock = "in stock" if car["in_stock"] else "not in stock"
    lines = [f"{named}, {stock}; {_places(car['rows']) or 'not in the stock list'}", *_standing(found)]
    yield Section(f"{found['code']} on {found['vehicle']}, as the report of {found['report']} has it", lines)
    yield _scans(found["scans"])
    yield _jobs(found["jobs"])
    yield _counted("Families", ("family", "role"), found["families"])
    yield _counted("Rules that name it", ("antecedent", "consequent", "verdict"), found["rules"])
    yield _parts(found["part_results"])
    yield from _lines(found["shortlist"])
    yield _files(found["files"])


def _standing(found: Facts) -> Iterator[str]:
    open_code, mask = found["open"], found["looked_past"]
    if open_code:
        status = open_code["status"] or "no status"
        yield f"open: first seen {open_code['first_seen']}, last {open_code['last_seen']}, {status}"
    else:
        yield "not among the open codes of cars in stock"
    if mask:
        until = f" until {mask['until']}" if mask["until"] else ""
        yield f"looked past{until}: {mask['reason']}; {_places(mask['rows']) or 'learned from the jobs below'}"
    else:
        yield "counted, not looked past"


def _places(rows: Sequence[Facts]) -> str:
    """Say where rows stand; a row that the archived file no longer shows says so."""
    said = [
        fact["place"]
        + ("" if fact["found"] else " (not found there any more)")
        + (f" (also {', '.join(fact['also_in'])})" if fact["also_in"] else "")
        for fact in rows[:_MOST_PLACES]
    ]
    more = len(rows) - _MOST_PLACES
    return "; ".join([*said, *([f"and {more} more rows"] if more > 0 else [])])


def _km(distance: float | None) -> str:
    return "" if distance is None else f"{distance:.0f}"


def _scans(scans: Sequence[Facts]) -> Section:
    rows = [
        (
            scan["scanned_at"][:16],
            _km(scan["odometer_km"]),
            str(len(scan["modules_read"])),
            scan["code_is"],
            scan["status"] or "",
            _places(scan["rows"]),
        )
        for scan in scans
    ]
    head = ("scan", "km", "modules read", "the code is", "status", "said by")
    return Section("Scans of this car", [] if rows else ["none"], head, rows, (1, 2))


def _jobs(jobs: Sequence[Facts]) -> Section:
    rows = [
        (
            job["done_at"],
            job["job"],
            ", ".join(job["work"]),
            job["outcome"] or "was not there before it",
            _km(job["km"]),
            _places(job["rows"]),
        )
        for job in jobs
    ]
    head = ("day", "job", "work", "the code afterwards", "km", "said by")
    return Section("Jobs on this car", [] if rows else ["none"], head, rows, (4,))


def _counted(title: str, names: tuple[str, ...], facts: Sequence[Facts]) -> Section:
    rows = [
        (
            *(str(fact[name]).replace(";", ", ") for name in names),
            str(fact["cars"]),
            "yes" if fact["this_car_counts"] else "no",
        )
        for fact in facts
    ]
    return Section(title, [] if rows else ["none"], (*names, "cars", "this car among them"), rows, (len(names),))


def _parts(facts: Sequence[Facts]) -> Section:
    rows = [
        (fact["part"], fact["family"], fact["job"], fact["outcome"], f"{fact['cleared']} of {fact['jobs']} cleared")
        for fact in facts
    ]
    head = ("part", "family", "this car's job", "outcome", "all such jobs")
    return Section("Jobs of this car among what repairs did", [] if rows else ["none"], head, rows)


def _lines(shortlist: Sequence[Facts]) -> Iterator[Section]:
    if not shortlist:
        yield Section("Lines of the list that name it", ["none"])
    for row in shortlist:
        chance = "" if row["chance"] is None else f"chance {row['chance']:.0%}, "
        between = f"{row['chance_low']:.0%} to {row['chance_high']:.0%}, " if row["chance_low"] is not None else ""
        cost = "?" if row["total_cost"] is None else f"{row['total_cost']:.2f}"
        jobs = f"{row['jobs_cleared'] or 0} of {row['jobs'] or 0} jobs cleared"
        lines = [
            f"{chance}{between}cost {cost}, {jobs}",
            f"clears {row['clears'] or 'nothing'}; leaves {row['leaves'] or 'nothing'}",
        ]
        if row["price"]:
            lines.append(f"price from {row['price']['from']}: {_places(row['price']['rows'])}")
        visits = [
            (
                visit["done_at"],
                visit["vehicle"],
                visit["job"],
                visit["counts_as"] or "nothing, its end is not known",
                _km(visit["km"]),
                _places(visit["rows"]),
            )
            for visit in row["visits"]
        ]
        lines.append("past visits with this part alone:" if visits else "no past visit with this part alone")
        head = ("day", "vehicle", "job", "counts as", "km", "said by")
        yield Section(f"Line {row['rank']} of the list: {row['what']}", lines, head, visits, (4,))


def _files(files: Sequence[Facts]) -> Section:
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
