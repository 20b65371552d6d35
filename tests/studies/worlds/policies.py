"""The plain ways to make a list that the shortlist is held against; they see the files and nothing else.

Each tries parts until the specialist's fee is spent, leaves out what would not fit into it, and then hands over.
A list begins with a recheck where no code of the car fails now, as a careful mechanic would.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from tests.studies.worlds.codes import generic_codes, label
from tests.studies.worlds.faults import BY_NAME
from tests.studies.worlds.files import Inbox, Row
from tests.studies.worlds.naming import module_of, part_of, parts_in, place_in
from tests.studies.worlds.play import Step
from tests.studies.worlds.truth import PriceBook

Choice = tuple[str, str]
NEIGHBOURS = 15
LONGEST = timedelta(days=60)
"""A scan longer before a job says nothing of it."""
FAILS_NOW = {"", "active", "pending"}


@dataclass(frozen=True, kw_only=True)
class OpenCode:
    """One code of a car's scan: as the outgoing tables write it, its text, whether it fails now."""

    code: str
    text: str
    now: bool


@dataclass(frozen=True, kw_only=True)
class Visit:
    """One past job: the codes before it, what was fitted, and whether all of them were gone in the next scan.

    Attributes:
        gone: None where nobody scanned afterwards.
    """

    before: frozenset[str]
    fitted: frozenset[Choice]
    gone: bool | None


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What the files say: the last scan of each car, and the past visits."""

    last: dict[str, list[OpenCode]]
    visits: list[Visit]
    costs: PriceBook


def facts_of(inbox: Inbox, costs: PriceBook) -> Facts:
    """Gather the facts of an inbox."""
    make = {row["vehicle"]: row["make"] for row in inbox.stock}
    past = {(row["vehicle"], module_of(row["module"]), row["code"]) for row in inbox.background}
    refused = {id(row) for row in inbox.refused}
    scans: dict[str, dict[datetime, dict[str, OpenCode]]] = defaultdict(lambda: defaultdict(dict))
    for row in (row for rows in inbox.scans.values() for row in rows if id(row) not in refused):
        at = datetime.fromisoformat(row["scanned_at"])
        found = scans[row["vehicle"]][at]
        code, module = row.get("code", ""), module_of(row["module"])
        if code and (row["vehicle"], module, code) not in past:
            key = label(module, code, make[row["vehicle"]])
            found[key] = OpenCode(code=key, text=row["text"], now=_fails_now(row))
    last = {vehicle: list(of[max(of)].values()) for vehicle, of in scans.items()}
    return Facts(last=last, visits=_visits(inbox, scans), costs=costs)


def _fails_now(row: Row) -> bool:
    status = row.get("status", "")
    return bool(int(status, 16) & 1) if len(status) == 2 else status in FAILS_NOW


def _visits(inbox: Inbox, scans: dict[str, dict[datetime, dict[str, OpenCode]]]) -> list[Visit]:
    jobs: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in inbox.repairs:
        jobs[row["vehicle"], row["job"]].append(row)
    visits = []
    for (vehicle, _), rows in jobs.items():
        at = datetime.fromisoformat(rows[0]["done_at"])
        earlier = [time for time in scans[vehicle] if at - LONGEST <= time <= at]
        later = [time for time in scans[vehicle] if time > at]
        fitted = frozenset(part_of(row["part"], row["position"]) for row in rows if row["part"])
        if earlier and fitted:
            before = frozenset(scans[vehicle][max(earlier)])
            gone = not before & set(scans[vehicle][min(later)]) if later else None
            visits.append(Visit(before=before, fitted=fitted, gone=gone))
    return visits


Policy = Callable[[Facts, list[OpenCode]], Counter[Choice]]
"""From one car's codes to a score for each part and place."""


def code_book(facts: Facts, codes: list[OpenCode]) -> Counter[Choice]:
    """What the codes name: each code names the parts in its text and, of a standard code, in the code book."""
    votes: Counter[Choice] = Counter()
    awake = [code for code in codes if code.now] or codes
    for code in awake:
        book = generic_codes().get(code.code.split(":")[1].split("@")[0], {})
        told = f"{code.text} {book.get('component', '')}"
        place_told = f"{code.text} {book.get('description', '')}"
        votes.update({(part, place_in(place_told, part)) for part in parts_in(told) if part in facts.costs.parts})
    # Who knows the place from one code does not look at the others' as well.
    for (part, place), count in list(votes.items()):
        placed = [choice for choice in votes if choice[0] == part and choice[1]]
        if not place and placed:
            del votes[part, place]
            votes.update(dict.fromkeys(placed, count))
    return votes


def most_fitted(facts: Facts, codes: list[OpenCode]) -> Counter[Choice]:
    """What was fitted most often for the same codes; where never anything was, for codes of the same modules."""
    mine = {code.code for code in codes}
    homes = {code.split(":")[0] for code in mine}
    votes: Counter[Choice] = Counter()
    by_module: Counter[Choice] = Counter()
    for visit in facts.visits:
        same = len(visit.before & mine)
        votes.update(dict.fromkeys(visit.fitted, same) if same else {})
        if homes & {code.split(":")[0] for code in visit.before}:
            by_module.update(visit.fitted)
    return votes or by_module


def nearest_cases(facts: Facts, codes: list[OpenCode]) -> Counter[Choice]:
    """What ended the codes of the past visits whose codes are most alike (Jaccard), each voting by its likeness."""
    mine = {code.code for code in codes}
    cures = [visit for visit in facts.visits if visit.gone and visit.before]
    alike = [(len(visit.before & mine) / len(visit.before | mine), i) for i, visit in enumerate(cures)]
    votes: Counter[Choice] = Counter()
    for near, i in sorted(alike, reverse=True)[:NEIGHBOURS]:
        if near:
            for choice in cures[i].fitted:
                votes[choice] += near  # type: ignore[assignment]
    return votes


POLICIES: dict[str, Policy] = {"code_book": code_book, "most_fitted": most_fitted, "nearest": nearest_cases}


def lists_of(policy: Policy, facts: Facts, vehicles: Iterable[str]) -> dict[str, list[Step]]:
    """Return one policy's list for each car.

    Args:
        policy: One of ``POLICIES``.
        facts: Of the dealer.
        vehicles: The cars to judge.
    """
    lists = {}
    for vehicle in vehicles:
        codes = facts.last.get(vehicle, [])
        steps = [] if any(code.now for code in codes) or not codes else [Step(action="recheck")]
        lists[vehicle] = steps + _within_the_fee(policy(facts, codes), facts.costs) if codes else []
    return lists


def _within_the_fee(votes: Counter[Choice], costs: PriceBook) -> list[Step]:
    steps, left = [], costs.specialist
    for part, place in sorted(votes, key=lambda one: (-votes[one], costs.total(one[0]), one)):
        places = len(BY_NAME[part].places) if part in BY_NAME and not place else 1
        price = costs.total(part) * places
        if price <= left:
            left -= price
            steps.append(Step(action="replace", part=part, place=place))
    return [*steps, Step(action="specialist")]
