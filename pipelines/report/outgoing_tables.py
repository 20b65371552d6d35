"""The outgoing tables by name: what one row is, and one sentence on each column."""

from __future__ import annotations

from pipelines.report.outgoing_kinds import (
    KIND_WORDS,
    Column,
    Kind,
    Table,
    count,
    interval,
    key,
    measure,
    money,
    share,
    text,
)
from pipelines.report.outgoing_watch import OVER_TIME

__all__ = ["KIND_WORDS", "TABLES", "Column", "Kind", "Table"]

_SHORTLIST = Table(
    "One row per car in stock with open codes and thing to try, in the order to try them.",
    (
        key("vehicle", "Stock number of the car."),
        text("make", "Make of the car."),
        text("model", "Model of the car."),
        key("rank", "1 is what to try first on this car.", Kind.COUNT),
        text("part", "The part to work on; blank where the car is to be handed over or only looked at again."),
        text("position", "Where the part sits, if the car has more than one."),
        key(
            "action",
            "What to do: replace, repair, recheck (record, erase, drive, scan again) or specialist (hand it over).",
            Kind.TEXT,
            *("replace", "repair", "recheck", "specialist"),
        ),
        text("or_else", "Parts that the evidence cannot tell from this one, separated by semicolons."),
        share(
            "chance",
            "Chance, if the rows above did not do it, that this clears its codes for good; 1 for a specialist.",
        ),
        *interval("chance", "chance", "90 %"),
        money("part_cost", "Price of the part; blank where neither price book nor own repairs know it."),
        money("labour_cost", "Own labour at the workspace's hourly rate."),
        money("total_cost", "Part and labour together; labour that nobody knows counts 0."),
        money("expected_cost", "Expected cost of following this car's list from this row to its end."),
        text("clears", "Codes expected to clear, as module:code, separated by semicolons."),
        text("leaves", "Open codes that it is not expected to clear, separated by semicolons."),
        count("jobs", "Past jobs with this part alone that the chance rests on."),
        count("jobs_cleared", "How many of those jobs cleared the codes."),
        text(
            "basis",
            "The weakest ground of the chance: own repairs, codes that come together, or the code's own name.",
            *("repairs", "pattern", "code"),
        ),
        Column("cheap", Kind.BOOLEAN, "True where the total cost is within the workspace's limit."),
        text(
            "inspection",
            "Whether these codes can light a lamp that is an item of the periodic inspection: lamp, note or none.",
            *("lamp", "note", "none"),
        ),
        text("caution", "What to mind at this work; blank where there is nothing beyond the usual."),
        text("check_first", "How to prove the part faulty before buying it."),
    ),
)

_FAMILIES = Table(
    "One row per family: codes that show up on the same cars more often than chance and the model mix explain.",
    (
        key("family", "Name of the family."),
        count("size", "Number of codes in it."),
        count("vehicles", "Cars that showed at least two of its codes together."),
        key("codes", "Its codes, as module:code, separated by semicolons."),
        text("root", "The code that the others follow; blank where the evidence is level or disagrees."),
        text("knock_on", "The codes that follow, separated by semicolons."),
        measure("strength", "How tightly the codes hold together; larger is tighter."),
        Column("q_value", Kind.SMALL, "Largest corrected error share among the pairs that hold the family together."),
        text("best_part", "The part with the best proven clear rate (highest lower end)."),
        share("best_part_rate", "Share of that part's known jobs that cleared the family."),
        *interval("best_part", "best_part_rate", "95 %"),
        count("jobs", "Known jobs with that part alone."),
        share("erase_rate", "Share of known erase-only jobs after which the family stayed away."),
    ),
)

_RULES = Table(
    "One row per rule that holds up: cars with the codes on the left tend to show the code on the right.",
    (
        key("antecedent", "Codes on the left, separated by semicolons."),
        key("consequent", "Code on the right."),
        count("vehicles", "Cars that showed all of them together."),
        share("support", "Share of all observations that showed all of them."),
        share("confidence", "Share of the observations with the left side that showed the right side too."),
        *interval("confidence", "confidence", "95 %"),
        measure("lift", "Confidence over the right side's own share; 1 is what chance gives."),
        measure("leverage", "Support above what chance gives."),
        measure("conviction", "How much rarer a miss is than chance gives; blank where there was no miss."),
        measure("odds_ratio", "Odds ratio within model line; blank where it has no finite value."),
        measure("odds_low", "Lower end of its 95 % interval."),
        measure("odds_high", "Upper end of its 95 % interval; blank where it has no finite value."),
        Column("p_value", Kind.SMALL, "Chance of so many together if nothing linked them within any model line."),
        Column("q_value", Kind.SMALL, "The same, corrected for how many pairs were tried."),
        key("verdict", "confirmed or likely.", Kind.TEXT, "confirmed", "likely"),
    ),
)

_PART_RESULTS = Table(
    "One row per part and family: what jobs with that part alone did to the family, beside what erasing alone did.",
    (
        key("part", "The part."),
        key("family", "The family of codes."),
        count("jobs", "Jobs with this part alone whose outcome is known."),
        count("cleared", "How many of them cleared the whole family."),
        share("rate", "Cleared over jobs."),
        *interval("rate", "rate", "95 %"),
        count("erase_jobs", "Erase-only jobs on the same family whose outcome is known."),
        count("erase_cleared", "How many of those stayed clear."),
        share("erase_rate", "Erase-only cleared over erase-only jobs; blank where there were none."),
        measure("gain", "Rate above erase_rate."),
        measure("gain_low", "Lower end of its 95 % interval."),
        measure("gain_high", "Upper end of its 95 % interval."),
        count("returned", "Jobs after which at least one code of the family came back."),
        Column("median_days_to_return", Kind.DAYS, "Half of the returns took no longer than this."),
        text("suppliers", "Supplier with cleared/jobs, separated by semicolons."),
    ),
)

_OUTCOMES = Table(
    "One row per past job and code that was present before it: what became of the code.",
    (
        key("vehicle", "Stock number of the car."),
        key("job", "The job."),
        key("module", "Control module."),
        key("code", "The code, as module:code."),
        key(
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
        key("vehicle", "Stock number of the car."),
        key("module", "Control module."),
        key("code", "The code, as module:code."),
        Column("first_seen", Kind.DATE, "Day of the first scan that showed it."),
        Column("last_seen", Kind.DATE, "Day of the latest scan that showed it."),
        text("status", "What the module last said of it: active, pending, confirmed, permanent, history or its byte."),
        text("background", "Why the code is looked past; blank where it counts."),
        text("family", "The families it belongs to, separated by semicolons."),
    ),
)

_REJECTS = Table(
    "One row per value that was refused on reading, with its place and why.",
    (
        key("file", "The file, below the inbox."),
        count("row", "Line in the file; blank where the whole file was refused."),
        text("column", "The column; blank where the whole row or file was refused."),
        text("value", "What stood there."),
        key("why", "What was wanted, and what happened to the rest."),
    ),
)

TABLES: dict[str, Table] = {
    "shortlist": _SHORTLIST,
    "families": _FAMILIES,
    "rules": _RULES,
    "part_results": _PART_RESULTS,
    "outcomes": _OUTCOMES,
    "open_codes": _OPEN_CODES,
    **OVER_TIME,
    "rejects": _REJECTS,
}
