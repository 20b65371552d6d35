"""The outgoing tables by name: what one row is, and one sentence on each column."""

from __future__ import annotations

from pipelines.outgoing_kinds import KIND_WORDS, Column, Kind, Table

__all__ = ["CAR_CHANGES", "FAMILY_CHANGES", "KIND_WORDS", "TABLES", "Column", "Kind", "Table"]

FAMILY_CHANGES = ("new", "growing", "fading", "steady", "vanished")
CAR_CHANGES = ("new", "off", "other try")


def _key(name: str, doc: str, kind: Kind = Kind.TEXT, *allowed: str) -> Column:
    return Column(name, kind, doc, required=True, allowed=allowed)


def _text(name: str, doc: str, *allowed: str) -> Column:
    return Column(name, Kind.TEXT, doc, allowed=allowed)


def _share(name: str, doc: str) -> Column:
    return Column(name, Kind.FRACTION, doc)


def _interval(name: str, of: str, level: str) -> tuple[Column, Column]:
    return (
        _share(f"{name}_low", f"Lower end of the {level} interval of {of}."),
        _share(f"{name}_high", f"Upper end of the {level} interval of {of}."),
    )


def _measure(name: str, doc: str) -> Column:
    return Column(name, Kind.MEASURE, doc)


def _money(name: str, doc: str) -> Column:
    return Column(name, Kind.MONEY, doc)


def _count(name: str, doc: str) -> Column:
    return Column(name, Kind.COUNT, doc)


_SHORTLIST = Table(
    "One row per car in stock with open codes and thing to try, in the order to try them.",
    (
        _key("vehicle", "Stock number of the car."),
        _text("make", "Make of the car."),
        _text("model", "Model of the car."),
        _key("rank", "1 is what to try first on this car.", Kind.COUNT),
        _text("part", "The part to work on; blank where the car is to be handed over or only looked at again."),
        _text("position", "Where the part sits, if the car has more than one."),
        _key(
            "action",
            "What to do: replace, repair, recheck (record, erase, drive, scan again) or specialist (hand it over).",
            Kind.TEXT,
            *("replace", "repair", "recheck", "specialist"),
        ),
        _text("or_else", "Parts that the evidence cannot tell from this one, separated by semicolons."),
        _share(
            "chance",
            "Chance, if the rows above did not do it, that this clears its codes for good; 1 for a specialist.",
        ),
        *_interval("chance", "chance", "90 %"),
        _money("part_cost", "Price of the part; blank where neither price book nor own repairs know it."),
        _money("labour_cost", "Own labour at the workspace's hourly rate."),
        _money("total_cost", "Part and labour together; labour that nobody knows counts 0."),
        _money("expected_cost", "Expected cost of following this car's list from this row to its end."),
        _text("clears", "Codes expected to clear, as module:code, separated by semicolons."),
        _text("leaves", "Open codes that it is not expected to clear, separated by semicolons."),
        _count("jobs", "Past jobs with this part alone that the chance rests on."),
        _count("jobs_cleared", "How many of those jobs cleared the codes."),
        _text(
            "basis",
            "The weakest ground of the chance: own repairs, codes that come together, or the code's own name.",
            *("repairs", "pattern", "code"),
        ),
        Column("cheap", Kind.BOOLEAN, "True where the total cost is within the workspace's limit."),
        _text(
            "inspection",
            "Whether these codes can light a lamp that is an item of the periodic inspection: lamp, note or none.",
            *("lamp", "note", "none"),
        ),
        _text("caution", "What to mind at this work; blank where there is nothing beyond the usual."),
        _text("check_first", "How to prove the part faulty before buying it."),
    ),
)

_FAMILIES = Table(
    "One row per family: codes that show up on the same cars more often than chance and the model mix explain.",
    (
        _key("family", "Name of the family."),
        _count("size", "Number of codes in it."),
        _count("vehicles", "Cars that showed at least two of its codes together."),
        _key("codes", "Its codes, as module:code, separated by semicolons."),
        _text("root", "The code that the others follow; blank where the evidence is level or disagrees."),
        _text("knock_on", "The codes that follow, separated by semicolons."),
        _measure("strength", "How tightly the codes hold together; larger is tighter."),
        Column("q_value", Kind.SMALL, "Largest corrected error share among the pairs that hold the family together."),
        _text("best_part", "The part with the best proven clear rate (highest lower end)."),
        _share("best_part_rate", "Share of that part's known jobs that cleared the family."),
        *_interval("best_part", "best_part_rate", "95 %"),
        _count("jobs", "Known jobs with that part alone."),
        _share("erase_rate", "Share of known erase-only jobs after which the family stayed away."),
    ),
)

_RULES = Table(
    "One row per rule that holds up: cars with the codes on the left tend to show the code on the right.",
    (
        _key("antecedent", "Codes on the left, separated by semicolons."),
        _key("consequent", "Code on the right."),
        _count("vehicles", "Cars that showed all of them together."),
        _share("support", "Share of all observations that showed all of them."),
        _share("confidence", "Share of the observations with the left side that showed the right side too."),
        *_interval("confidence", "confidence", "95 %"),
        _measure("lift", "Confidence over the right side's own share; 1 is what chance gives."),
        _measure("leverage", "Support above what chance gives."),
        _measure("conviction", "How much rarer a miss is than chance gives; blank where there was no miss."),
        _measure("odds_ratio", "Odds ratio within model line; blank where it has no finite value."),
        _measure("odds_low", "Lower end of its 95 % interval."),
        _measure("odds_high", "Upper end of its 95 % interval; blank where it has no finite value."),
        Column("p_value", Kind.SMALL, "Chance of so many together if nothing linked them within any model line."),
        Column("q_value", Kind.SMALL, "The same, corrected for how many pairs were tried."),
        _key("verdict", "confirmed or likely.", Kind.TEXT, "confirmed", "likely"),
    ),
)

_PART_RESULTS = Table(
    "One row per part and family: what jobs with that part alone did to the family, beside what erasing alone did.",
    (
        _key("part", "The part."),
        _key("family", "The family of codes."),
        _count("jobs", "Jobs with this part alone whose outcome is known."),
        _count("cleared", "How many of them cleared the whole family."),
        _share("rate", "Cleared over jobs."),
        *_interval("rate", "rate", "95 %"),
        _count("erase_jobs", "Erase-only jobs on the same family whose outcome is known."),
        _count("erase_cleared", "How many of those stayed clear."),
        _share("erase_rate", "Erase-only cleared over erase-only jobs; blank where there were none."),
        _measure("gain", "Rate above erase_rate."),
        _measure("gain_low", "Lower end of its 95 % interval."),
        _measure("gain_high", "Upper end of its 95 % interval."),
        _count("returned", "Jobs after which at least one code of the family came back."),
        Column("median_days_to_return", Kind.DAYS, "Half of the returns took no longer than this."),
        _text("suppliers", "Supplier with cleared/jobs, separated by semicolons."),
    ),
)

_OUTCOMES = Table(
    "One row per past job and code that was present before it: what became of the code.",
    (
        _key("vehicle", "Stock number of the car."),
        _key("job", "The job."),
        _key("module", "Control module."),
        _key("code", "The code, as module:code."),
        _key(
            "outcome",
            "cleared, returned, unproven (gone, but not driven enough to tell) or unread (the module did not answer).",
            Kind.TEXT,
            *("cleared", "returned", "unproven", "unread"),
        ),
        Column("km_proven", Kind.KM, "Distance driven since, over which the outcome is proven."),
    ),
)

_OPEN_CODES = Table(
    "One row per car in stock and code that is open on it.",
    (
        _key("vehicle", "Stock number of the car."),
        _key("module", "Control module."),
        _key("code", "The code, as module:code."),
        Column("first_seen", Kind.DATE, "Day of the first scan that showed it."),
        Column("last_seen", Kind.DATE, "Day of the latest scan that showed it."),
        _text("status", "What the module last said of it: active, pending, confirmed, permanent, history or its byte."),
        _text("background", "Why the code is looked past; blank where it counts."),
        _text("family", "The families it belongs to, separated by semicolons."),
    ),
)

_REJECTS = Table(
    "One row per value that was refused on reading, with its place and why.",
    (
        _key("file", "The file, below the inbox."),
        _count("row", "Line in the file; blank where the whole file was refused."),
        _text("column", "The column; blank where the whole row or file was refused."),
        _text("value", "What stood there."),
        _key("why", "What was wanted, and what happened to the rest."),
    ),
)

_FAMILY_CARS = Table(
    "One row per family and car that showed at least two of its codes together.",
    (
        _key("family", "The family."),
        _key("vehicle", "Stock number of the car."),
        _text("line", "Make and model of the car; lines with few cars stand together as other."),
        Column("first_seen", Kind.DATE, "First day on which two of the codes showed together."),
        Column("last_seen", Kind.DATE, "Last day on which they did."),
    ),
)

_FAMILY_WEEKS = Table(
    "One row per family and week in which a car first showed it.",
    (
        _key("family", "The family."),
        _key("week", "The week's Monday.", Kind.DATE),
        _key("vehicles", "Cars that first showed the family in this week.", Kind.COUNT),
    ),
)

_FAMILY_CHANGES = Table(
    "One row per family now or at the report before: what became of it. No rows where there is no earlier report.",
    (
        _text("family", "Its name now; blank where it is gone."),
        _text("before", "Its name at the report before; blank where it is new."),
        _key("change", "new, growing, fading, steady or vanished.", Kind.TEXT, *FAMILY_CHANGES),
        _count("vehicles", "Cars that show it now."),
        _count("vehicles_before", "Cars that showed it at the report before."),
        _text("came", "Cars that show it now and did not before, separated by semicolons."),
        _text("left", "Cars that showed it before and do not count to it now, separated by semicolons."),
    ),
)

_CAR_CHANGES = Table(
    "One row per car whose place on the list changed since the report before. No rows where there is no earlier one.",
    (
        _key("vehicle", "Stock number of the car."),
        _key("change", "new on the list, off the list, or another first try.", Kind.TEXT, *CAR_CHANGES),
        _text("first_try", "What to try first now: action, part and position; blank where it is off the list."),
        _text("first_try_before", "The same at the report before; blank where it was not on the list."),
    ),
)

TABLES: dict[str, Table] = {
    "shortlist": _SHORTLIST,
    "families": _FAMILIES,
    "rules": _RULES,
    "part_results": _PART_RESULTS,
    "outcomes": _OUTCOMES,
    "open_codes": _OPEN_CODES,
    "family_cars": _FAMILY_CARS,
    "family_weeks": _FAMILY_WEEKS,
    "family_changes": _FAMILY_CHANGES,
    "car_changes": _CAR_CHANGES,
    "rejects": _REJECTS,
}
