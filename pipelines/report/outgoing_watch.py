"""The outgoing tables that watch over time: families, cars, parts that got worse, and what past promises were worth."""

from __future__ import annotations

from pipelines.report.outgoing_kinds import Column, Kind, Table, count, key, measure, share, text

_FAMILY_CARS = Table(
    "One row per family and car that showed at least two of its codes together.",
    (
        key("family", "The family."),
        key("vehicle", "Stock number of the car."),
        text("line", "Make and model of the car; lines with few cars stand together as other."),
        Column("first_seen", Kind.DATE, "First day on which two of the codes showed together."),
        Column("last_seen", Kind.DATE, "Last day on which they did."),
    ),
)

_FAMILY_WEEKS = Table(
    "One row per family and week in which a car first showed it.",
    (
        key("family", "The family."),
        key("week", "The week's Monday.", Kind.DATE),
        key("vehicles", "Cars that first showed the family in this week.", Kind.COUNT),
    ),
)

_FAMILY_CHANGES = Table(
    "One row per family now or at the report before: what became of it. No rows where there is no earlier report.",
    (
        text("family", "Its name now; blank where it is gone."),
        text("before", "Its name at the report before; blank where it is new."),
        key(
            "change",
            "new, growing, fading, steady or vanished.",
            Kind.TEXT,
            *("new", "growing", "fading", "steady", "vanished"),
        ),
        count("vehicles", "Cars that show it now."),
        count("vehicles_before", "Cars that showed it at the report before."),
        text("came", "Cars that show it now and did not before, separated by semicolons."),
        text("left", "Cars that showed it before and do not count to it now, separated by semicolons."),
    ),
)

_CAR_CHANGES = Table(
    "One row per car whose place on the list changed since the report before. No rows where there is no earlier one.",
    (
        key("vehicle", "Stock number of the car."),
        key("change", "new on the list, off the list, or another first try.", Kind.TEXT, *("new", "off", "other try")),
        text("first_try", "What to try first now: action, part and position; blank where it is off the list."),
        text("first_try_before", "The same at the report before; blank where it was not on the list."),
    ),
)

_WORSE_PARTS = Table(
    "One row per part, or part from one supplier, whose codes come back clearly more often than they should.",
    (
        key("part", "The part."),
        text("supplier", "Who delivered it; blank where its latest jobs are held against those before."),
        count("returned", "Jobs after which its codes came back: the latest half, or those with this supplier's part."),
        count("jobs", "How many such jobs there were."),
        count("others_returned", "The same for the jobs before, or with parts from elsewhere."),
        count("others", "How many of those there were."),
        Column("q_value", Kind.SMALL, "Chance of such a difference by luck, corrected for how many were looked at."),
        key("warning", "The same in one sentence."),
    ),
)

_BACKTEST = Table(
    "One row: how the list would have done on past visits, each judged from earlier visits only.",
    (
        key("n", "Past visits whose single part cleared its codes.", Kind.COUNT),
        share("top1", "Share of them in which the list would have named that part first."),
        share("top3", "Share of them in which it would have been among the first three."),
        measure("cost_vs_named", "The list's cost until the car is fixed, over that of fitting what the code names."),
        measure("cost_vs_fitted", "The same over that of fitting what was fitted most for such codes before."),
        count("judged", "Visits in which the part that the list names first was fitted, and the outcome is proven."),
        measure("brier", "Mean squared gap between their chances and what happened: 0 is perfect, 0.25 a coin's toss."),
        count("cuts", "How often was learned anew on the way."),
        share("reserve", "Of the chance that the likeliest answer is wrong, the share set aside for other causes."),
    ),
)

_RELIABILITY = Table(
    "One row per tenth of the chance: what was promised on past visits, and how often it held.",
    (
        key("tenth", "1 is a chance up to 10 %, 10 one from 90 %.", Kind.COUNT),
        share("predicted", "Mean chance of its visits."),
        share("observed", "Share of them in which the codes stayed away."),
        Column("low", Kind.FRACTION, "Lower end of the 95 % interval of observed."),
        Column("high", Kind.FRACTION, "Upper end of the 95 % interval of observed."),
        count("n", "Visits."),
    ),
)

OVER_TIME: dict[str, Table] = {
    "family_cars": _FAMILY_CARS,
    "family_weeks": _FAMILY_WEEKS,
    "family_changes": _FAMILY_CHANGES,
    "car_changes": _CAR_CHANGES,
    "worse_parts": _WORSE_PARTS,
    "backtest": _BACKTEST,
    "reliability": _RELIABILITY,
}
