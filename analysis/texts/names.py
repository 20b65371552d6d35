"""One list of what is called what: the same words on the page, on paper, in the workbook and on the terminal.

The key is the column's name in the outgoing tables; where a table means something else by it, the table stands before
it: ``rules.support``.
"""

from __future__ import annotations

CAR = "car"
DO = "do this"
CHANCE = "chance"
COST = "cost"
MINUTES = "minutes"
CLEARS = "what it clears"
MIND = "caution"
PART = "part"
CODE = "code"
FAMILY = "group"
FIRST_STEP = "first step"
LEAVE_ALONE = "Leave these alone?"
LEFT_ALONE = "left alone"
NOT_COUNTED = "Not counted"
WORKED_OUT = "How this is worked out"
SUPPLIER = "supplier"
MONTH = "month"

SHEETS = {
    "shortlist": "What to try",
    "part_results": "What parts cleared",
    "families": "Groups of codes",
    "rules": "Codes that come together",
    "verdict_weeks": "Confirmed since",
    "family_weeks": "Groups by week",
    "family_cars": "Cars of each group",
    "family_changes": "What changed, groups",
    "car_changes": "What changed, cars",
    "standing": LEAVE_ALONE.rstrip("?"),
    "backtest": "How far to trust this",
    "reliability": "Did the chances hold",
    "worse_parts": "Parts that got worse",
    "ledger": "Promised and done",
    "open_codes": "Open codes",
    "outcomes": "What became of codes",
    "rejects": "Refused",
}
"""The outgoing tables in the order of the page, each with the name of its sheet."""

COLUMNS = {
    "vehicle": CAR, "make": "make", "model": "model", "rank": "place", "part": PART, "position": "where",
    "action": "what to do", "or_else": "or else", "chance": CHANCE, "chance_low": "chance, at least",
    "chance_high": "chance, at most", "part_cost": "price of the part", "labour_cost": "labour",
    "total_cost": COST, "expected_cost": "cost from here to the end, where it comes to this, on average",
    "clears": CLEARS,
    "leaves": "what it leaves", "jobs": "own jobs", "jobs_cleared": "of these cleared", "basis": "rests on",
    "cheap": "within the limit", "inspection": "periodic inspection", "caution": MIND, "check_first": "check first",
    "family": FAMILY, "size": "codes in it", "vehicles": "cars", "codes": "codes", "root": "the code that leads",
    "knock_on": "codes that follow",
    "strength": "how tightly they hold", "q_value": "chance of luck, all looks counted",
    "best_part": "best part", "best_part_rate": "it cleared", "best_part_low": "it cleared, at least",
    "best_part_high": "it cleared, at most", "erase_rate": "erasing alone cleared", "antecedent": "with these codes",
    "consequent": "this one comes", "support": "share of all visits", "confidence": "share of those with the first",
    "confidence_low": "share, at least", "confidence_high": "share, at most", "lift": "times more often than by chance",
    "leverage": "share above chance", "conviction": "misses rarer than by chance, times",
    "odds_ratio": "times the odds",
    "odds_low": "times the odds, at least", "odds_high": "times the odds, at most",
    "p_value": "chance of luck, this pair alone",
    "verdict": "verdict", "since": "confirmed since",
    "cleared": "cleared", "rate": "share cleared", "rate_low": "share, at least",
    "rate_high": "share, at most", "erase_jobs": "erased only", "erase_cleared": "of these stayed clear",
    "gain": "better than erasing by", "gain_low": "better by, at least", "gain_high": "better by, at most",
    "returned": "came back", "median_days_to_return": "days until half had come back", "suppliers": "by supplier",
    "job": "job", "module": "module", "code": CODE, "outcome": "what came of it", "km_proven": "km proven",
    "cleared_chance": "chance that it is gone", "first_seen": "first seen", "last_seen": "last seen",
    "status": "status", "background": f"{LEFT_ALONE} because", "line": "model line", "week": "week from",
    "before": "its name before", "change": "change", "vehicles_before": "cars before", "came": "cars that came",
    "left": "cars that left", "first_try": FIRST_STEP, "first_try_before": f"{FIRST_STEP} before",
    "supplier": SUPPLIER, "others_returned": "others came back", "others": "other jobs", "warning": "warning",
    "n": "visits", "top1": "named first", "top3": "among the first three",
    "cost_vs_named": "cost against fitting what the code names",
    "cost_vs_fitted": "cost against fitting what was fitted most", "judged": "chances judged",
    "brier": "gap between chance and outcome, squared", "cuts": "times learned anew", "reserve": "kept for other "
    "causes",
    "tenth": "tenth", "predicted": "chance given", "observed": "stayed away", "low": "stayed away, at least",
    "high": "stayed away, at most", "cars": "cars", "erases_survived": "erases and repairs survived", "kind": "kind",
    "state": "state", "reason": "why", "month": MONTH, "list_week": "list of week", "followed": "followed",
    "file": "file", "row": "row", "column": "column", "value": "found", "why": "why",
    "worse_parts.jobs": "jobs looked at", "worse_parts.q_value": "chance that it is luck",
    "ledger.part_cost": "paid for the part", "ledger.labour_cost": "paid in labour",
}  # fmt: skip

REPAIRS = {
    "vehicle": CAR, "job": "job no.", "done_at": "day, time", "odometer": "mileage", "odometer_unit": "km or mi",
    "action": "what was done", "part": PART, "position": "where", "supplier": SUPPLIER, "part_cost": "price",
    "labour_minutes": MINUTES, "note": "note",
}  # fmt: skip
"""The columns of the repairs file in a mechanic's words."""

COUNTS = {
    "baskets": "times between two jobs with a reading",
    "codes_masked": f"codes {LEFT_ALONE}",
    "outcomes_cleared": "codes gone after a job",
    "outcomes_returned": "codes back after a job",
    "outcomes_recurred": "codes gone, and back much later as a new fault",
    "outcomes_unproven": "codes not proven gone yet",
    "outcomes_unread": "codes whose module was not read again",
    "rows_refused": "rows that could not be read",
    "codes_refused": "codes that could not be read",
    "files_refused": "files that could not be read",
}
"""The counts of a run whose names are not plain."""


def count(name: str) -> str:
    """Return what a count of a run is called."""
    return COUNTS.get(name, name.replace("_", " "))


def column(table: str, name: str) -> str:
    """Return what a column of an outgoing table is called.

    Args:
        table: Its table, for instance "shortlist".
        name: The column's name in the CSV file.
    """
    return COLUMNS.get(f"{table}.{name}", COLUMNS[name])
