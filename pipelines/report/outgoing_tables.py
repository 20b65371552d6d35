"""The declaration of every outgoing table: what one row is, what each column holds, and one sentence on it.

The tables stand in the order in which they are listed.
"""

from __future__ import annotations

from pipelines.report.outgoing_columns import Column, Kind, Table, count, interval, key, measure, money, share, text

_SHORTLIST = Table(
    "One row per car in stock with open codes and thing to try, in the order to try them.",
    (
        key("vehicle", "Stock number of the car."),
        text("make", "Make of the car."),
        text("model", "Model of the car."),
        key("rank", "1 is what to try first on this car.", Kind.COUNT),
        text("part", "The part to work on; blank where nothing is to be worked on."),
        text("position", "Where the part sits, if the car has more than one."),
        key(
            "action",
            "What to do: replace, repair, recheck (record, erase, drive, scan again), specialist (hand it over) or "
            "leave (nothing to fit: no fault sets these codes, or they may stay).",
            Kind.TEXT,
            *("replace", "repair", "recheck", "specialist", "leave"),
        ),
        text("or_else", "Parts that the evidence cannot tell from this one, separated by semicolons."),
        share(
            "chance",
            "Chance, if the rows above did not do it, that this clears its codes for good; 1 for a specialist, blank "
            "where codes are left.",
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
    "One row per group: codes that show up on the same cars more often than chance and the model mix explain.",
    (
        key("family", "Name of the group."),
        count("size", "Number of codes in it."),
        count("vehicles", "Cars that showed at least two of its codes together."),
        key("codes", "Its codes, as module:code, separated by semicolons."),
        text("root", "The code that the others follow; blank where the evidence is level or disagrees."),
        text("knock_on", "The codes that follow, separated by semicolons."),
        measure("strength", "How tightly the codes hold together; larger is tighter."),
        Column("q_value", Kind.SMALL, "Largest corrected error share among the pairs that hold the group together."),
        text("best_part", "The part with the best proven clear rate (highest lower end)."),
        share("best_part_rate", "Share of that part's known jobs that cleared the group."),
        *interval("best_part", "best_part_rate", "90 %"),
        count("jobs", "Known jobs with that part alone."),
        share("erase_rate", "Share of known erase-only jobs after which the group stayed away."),
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

_VERDICT_WEEKS = Table(
    "One row per confirmed rule: since which report it stands.",
    (
        key("antecedent", "Codes on the left, separated by semicolons."),
        key("consequent", "Code on the right."),
        key("since", "Week of the report that confirmed it.", Kind.TEXT),
    ),
)

_PART_RESULTS = Table(
    "One row per part and group: what jobs with that part alone did to the group, beside what erasing alone did.",
    (
        key("part", "The part."),
        key("family", "The group of codes."),
        count("jobs", "Jobs with this part alone whose outcome is known."),
        count("cleared", "How many of them cleared the whole group."),
        share("rate", "Cleared over jobs."),
        *interval("rate", "rate", "90 %"),
        count("erase_jobs", "Erase-only jobs on the same group whose outcome is known."),
        count("erase_cleared", "How many of those stayed clear."),
        share("erase_rate", "Erase-only cleared over erase-only jobs; blank where there were none."),
        measure("gain", "Rate above erase_rate."),
        measure("gain_low", "Lower end of its 90 % interval."),
        measure("gain_high", "Upper end of its 90 % interval."),
        count("returned", "Jobs after which at least one code of the group came back."),
        Column("median_days_to_return", Kind.DAYS, "Half of the returns took no longer than this."),
        text("suppliers", "Supplier with cleared/jobs, separated by semicolons."),
    ),
)

_OUTCOMES = Table(
    "One row per past job and code that was present before it: what became of the code.",
    (
        key("vehicle", "Stock number of the car."),
        key("job", "The job; those with no scan between them are one, named by the first that did work."),
        key("module", "Control module."),
        key("code", "The code, as module:code."),
        key(
            "outcome",
            "cleared, returned, recurred (proven gone, and back much later as a new fault), unproven (not seen to "
            "act again, but too little driven or read whole to tell) or unread (the module did not answer).",
            Kind.TEXT,
            *("cleared", "returned", "recurred", "unproven", "unread"),
        ),
        Column("km_proven", Kind.KM, "Distance driven since, over which the outcome is proven."),
        share("cleared_chance", "Chance that the cause is gone, at even odds before: what was learned from it."),
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
        text("background", "Why the code is left alone; blank where it counts."),
        text("family", "The groups it belongs to, separated by semicolons."),
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

_FAMILY_CARS = Table(
    "One row per group and car that showed at least two of its codes together.",
    (
        key("family", "The group."),
        key("vehicle", "Stock number of the car."),
        text("line", "Make and model of the car; lines with few cars stand together as other."),
        Column("first_seen", Kind.DATE, "First day on which two of the codes showed together."),
        Column("last_seen", Kind.DATE, "Last day on which they did."),
    ),
)

_FAMILY_WEEKS = Table(
    "One row per group and week in which a car first showed it.",
    (
        key("family", "The group."),
        key("week", "The week's Monday.", Kind.DATE),
        key("vehicles", "Cars that first showed the group in this week.", Kind.COUNT),
    ),
)

_FAMILY_CHANGES = Table(
    "One row per group now or at the report before: what became of it. No rows where there is no earlier report.",
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
        key("change", "new on the list, off the list, or another first step.", Kind.TEXT, *("new", "off", "other try")),
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
        count("judged", "Visits of which it is proven in the end whether the part that the list names first was it."),
        measure("brier", "Mean squared gap between their chances and what happened: 0 is perfect, 0.25 a coin's toss."),
        count("cuts", "How often was learned anew on the way."),
        share("reserve", "Of the chance that the likeliest answer is wrong, the share kept for other causes."),
    ),
)

_RELIABILITY = Table(
    "One row per tenth of the chance: what was promised on past visits, and how often it held.",
    (
        key("tenth", "1 is a chance up to 10 %, 10 one from 90 %.", Kind.COUNT),
        share("predicted", "Mean chance of its visits."),
        share("observed", "Share of them in which the codes stayed away."),
        Column("low", Kind.FRACTION, "Lower end of the 90 % interval of observed."),
        Column("high", Kind.FRACTION, "Upper end of the 90 % interval of observed."),
        count("n", "Visits."),
    ),
)

_STANDING = Table(
    "One row per group of codes that no fault seems to set on a car, taken or proposed to be taken for that.",
    (
        text("vehicle", "Stock number of the car; blank for every car of the make."),
        text("make", "Make of the cars; blank where the stock list does not say."),
        key("codes", "The codes, as module:code, separated by semicolons."),
        count("cars", "Cars that show them."),
        count("erases_survived", "Erases and repairs after which they were there again."),
        key(
            "kind",
            "standing (equipment, coding, a quirk) or passing (an erase alone ends them).",
            Kind.TEXT,
            *("standing", "passing"),
        ),
        key(
            "state",
            "proposed (yours to decide), accepted (left alone) or declared (named in your background file).",
            Kind.TEXT,
            *("proposed", "accepted", "declared"),
        ),
        text("reason", "Why."),
    ),
)

_LEDGER = Table(
    "One row per job on a car that stood on an earlier list: what its first line promised, and what came of it.",
    (
        key("month", "First day of the month in which the job was done.", Kind.DATE),
        key("vehicle", "Stock number of the car."),
        key("job", "The job; those with no scan between them are one, named by the first that did work."),
        key("list_week", "The week of the list that stood then."),
        key("first_try", "What its first line said."),
        key("followed", "True where the job did that.", Kind.BOOLEAN),
        share("chance", "The chance that the list gave."),
        text("outcome", "What came of it; blank where it was not followed.", *("worked", "came back", "not proven")),
        money("part_cost", "What the part cost; blank where the job does not say."),
        money("labour_cost", "Own labour at the workspace's hourly rate; blank where the job does not say."),
        text("supplier", "Who delivered the part."),
    ),
)

TABLES: dict[str, Table] = {
    "shortlist": _SHORTLIST,
    "families": _FAMILIES,
    "rules": _RULES,
    "verdict_weeks": _VERDICT_WEEKS,
    "part_results": _PART_RESULTS,
    "outcomes": _OUTCOMES,
    "open_codes": _OPEN_CODES,
    "family_cars": _FAMILY_CARS,
    "family_weeks": _FAMILY_WEEKS,
    "family_changes": _FAMILY_CHANGES,
    "car_changes": _CAR_CHANGES,
    "worse_parts": _WORSE_PARTS,
    "backtest": _BACKTEST,
    "reliability": _RELIABILITY,
    "standing": _STANDING,
    "ledger": _LEDGER,
    "rejects": _REJECTS,
}
