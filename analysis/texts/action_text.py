"""What to do, in a few words, and what a chance rests on: the same on the page and on the job sheet."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from analysis.texts.words import UNKNOWN, counted, enumerated, large, listed, percent, small, taking

ERASED = "erased"
YES, NO = "yes", "no"
CHECK_PAYS = "Checking first is cheaper"
_BOUGHT = "buy it only once it is proven faulty."
"""How a row's ``check_first`` begins where the check comes before the part."""
RECHECK = "Record, erase, drive, scan again"
_SPECIALIST = "Hand over to a specialist"
_MOST_NAMED = 3
_LEAVE = "Nothing to do, if you agree: no fault seems to set these codes"
_STAY = "Nothing to do, if you agree: these codes may stay"
_LEFT = "Leave alone, if you agree: no fault seems to set"
_LEFT_OR_STAY = "Leave alone, if you agree: no fault seems to set, or may stay"
LICENSED = (
    "Brakes, airbags, steering, fuel, high voltage, and any work under a raised car: only with the licensed practice "
    "and the local rules for it."
)
_GROUNDS = {
    "repairs": "Rests on own repairs",
    "pattern": "A hint only, from codes that come up together, not from repairs",
    "code": "Rests on what the code itself names",
}


def work(action: str, part: str | None, position: str | None) -> str:
    """Return what to do in a few words, for instance "Replace wheel speed sensor, front left"."""
    if action == "recheck":
        return RECHECK
    if action == "specialist":
        return _SPECIALIST
    if action == "leave":
        return _LEAVE
    place = f", {position}" if position else ""
    return f"{action.capitalize()} {part or UNKNOWN}{place}"


def left_head(stays: str) -> str:
    """Head the codes that a car with steps for others may keep; ``stays`` says which of them a fault may have set."""
    return _LEFT_OR_STAY if stays else _LEFT


def may_stay(codes: Sequence[str]) -> str:
    """Say which codes may stay though a fault may set them, because the dealer asks for the inspection's alone."""
    them = "It lights no lamp that" if len(codes) == 1 else "They light no lamp that"
    return (
        f"By your own setting must_clear, {enumerated(codes)} may stay. {them} the periodic inspection looks at; "
        "a fault may well be behind, and a buyer should be told of it."
    )


def alike(parts: str) -> str:
    """Name the parts, ``;``-separated, that the evidence cannot tell from this one."""
    return f"cannot be told from {listed(parts)}"


def check_pays(check_first: str | None) -> bool:
    """Tell whether a row's ``check_first`` says that the check comes before the part."""
    return (check_first or "").startswith(CHECK_PAYS)


def check_then(what: str) -> str:
    """Return the title of a try whose check comes first."""
    return f"Check, then {small(what)}"


def to_do(row: Mapping[str, Any]) -> str:
    """Return what a row of the list says to do: the check before it where that pays, the drive alone where it waits."""
    what = work(row["action"], row["part"], row["position"])
    if row["action"] == "leave" and row["check_first"]:
        return _STAY
    if is_not_proven(row["check_first"]):
        return str(row["check_first"]).partition(_WAITS)[2].rstrip(".")
    return check_then(what) if check_pays(row["check_first"]) else what


def check_words(minutes: float | None, how: str) -> str:
    """Say how to prove a part faulty before buying it, and first of all where that is cheaper than fitting it.

    Args:
        minutes: What the check takes where it comes first; None where fitting straight away is cheaper.
        how: What to look at, may be blank.
    """
    if minutes is None:
        return how
    return f"{CHECK_PAYS}: about {taking(minutes)}; {_BOUGHT} {how}".strip()


def check_minutes(check_first: str | None) -> float:
    """Return of a row's ``check_first`` how long the check takes that comes before the part; 0 where none does."""
    found = re.match(rf"{CHECK_PAYS}: about ([\d.]+) ", check_first or "")
    return float(found[1]) if found else 0.0


def parts_of_time(check: str, work: str, drive: str) -> str:
    """Split minutes into check, work and test drive; a nought is left out."""
    named = (("check", check), ("work", work), ("erasing and scans", drive))
    return ", ".join(f"{name} {number}" for name, number in named if number != "0")


def check_how(check_first: str | None) -> str:
    """Return of a row's ``check_first`` what to look at alone, without how long it takes and what it spares."""
    said = check_first or ""
    return said.partition(_BOUGHT)[2].strip() if check_pays(said) else said


def with_the_one_before(part: str, how: str) -> str:
    """Say that a part is fitted in one go with the one of the row before, and how to check it."""
    return f"In one go with the {part}, behind the same cover: scan only after both. {how}".strip()


def once_again(action: str, how: str) -> str:
    """Say of a part that an earlier row of the car has worked on why it stands there again.

    Args:
        action: What was done to it: only of a part that was replaced is there a new one to exchange.
        how: What to look at, may be blank.
    """
    why = "a first new one may be bad, have it exchanged" if action == "replace" else "look at the repair once more"
    return f"{_AGAIN}{why}. {how}".strip()


_AGAIN = "Only if the codes came back: "


def is_once_again(check_first: str | None) -> bool:
    """Tell whether a row works again on a part that an earlier row has worked on: it is only where that was done."""
    return _AGAIN in (check_first or "")


_NOT_PROVEN = "Not proven yet: codes were erased"
_WAITS = " ago. "


def not_proven(since: str, more: str, done: str = "") -> str:
    """Say that a car without a code was erased too short a while ago, with plain blanks: it stands in a table.

    Args:
        since: How far it was driven since.
        more: How much farther to drive.
        done: The job that erased them, in words; blank where it was not one of the dealer's own.
    """
    told = f"{_NOT_PROVEN}{f' ({done})' if done else ''} {since}{_WAITS}Drive {more} more and scan again."
    return told.replace("\N{NO-BREAK SPACE}", " ")


def is_not_proven(check_first: str | None) -> bool:
    """Tell whether a row says that the car waits for more distance: its codes were erased, and none is back yet."""
    return (check_first or "").startswith(_NOT_PROVEN)


_FITTED_LATER = (
    "No known part sets these codes: look for what was fitted later, and write it into the stock list's modifications."
)


def recheck_how(distance: str, unknown: bool = False) -> str:
    """Say how a recheck goes, with plain blanks: it stands in a table.

    Args:
        distance: How far to drive.
        unknown: Nothing known sets any of the codes.
    """
    plain = distance.replace("\N{NO-BREAK SPACE}", " ")
    told = f"Record all modules, erase, drive {plain}, scan again: what stays away needs no part."
    return f"{told} {_FITTED_LATER}" if unknown else told


_KEEP_RECORD = "Keep the record of every module before erasing."


def recheck_caution(grave: bool) -> str:
    """Say what to mind at a recheck; ``grave`` where a brake or steering code is open."""
    return (
        f"{_KEEP_RECORD} A brake or steering code is erased with the others: prove brakes and steering first."
        if grave
        else _KEEP_RECORD
    )


def waiting_caution(grave: bool) -> str:
    """Say what to mind on a car that is driven on after an erase; ``grave`` where it was about brakes or steering."""
    return "A brake or steering code was erased: prove brakes and steering before the drive." if grave else ""


ON_CAR = "On this car: "
"""How the part of a caution begins that the car's open codes ask for, whatever is done to it."""
NO_ROAD = "No drive on the road"
"""How the sentence begins that says where a car with a warning on is driven."""


def open_code(system: str, codes: Sequence[str], caution: str) -> str:
    """Say what an open code of a system asks for.

    Args:
        system: Its name, for instance "airbag or belt".
        codes: The keys of its open codes.
        caution: What to mind, as it goes on behind a colon.
    """
    told = ", ".join(codes[:_MOST_NAMED]) + (
        f" and {len(codes) - _MOST_NAMED} more" if len(codes) > _MOST_NAMED else ""
    )
    return f"{large(system)} code open ({told}): {caution}"


def drive_rule(systems: Sequence[str]) -> str:
    """Say where a car is driven for the test while warnings of these systems are on."""
    return (
        f"{NO_ROAD} while a warning of these is on ({', '.join(systems)}): drive the test distance on private ground, "
        "or after the work once the warning is out, as the local rules and licensed practice allow."
    )


def with_car(caution: str, car: str) -> str:
    """Put what the part asks for and what the car's open codes ask for into one caution; either may be blank."""
    return f"{caution} {ON_CAR}{car}".strip() if car else caution


def of_part(caution: str | None) -> str:
    """Return what a caution says of the work itself."""
    return (caution or "").partition(ON_CAR)[0].strip()


def of_car(caution: str | None) -> str:
    """Return what a caution says of the car, whatever is done to it."""
    return (caution or "").partition(ON_CAR)[2]


def is_marked(row: Mapping[str, Any]) -> bool:
    """Tell whether the work of a row itself is such as a caution is for: the mark of the list.

    So is work that is to clear an airbag's or a brake's own code, whatever part it is on.  What the car's other open
    codes ask for, a network's among them, and the record that every erase asks for, are told on the ticket and the job
    sheet alone: a mark on nearly every car would tell nobody anything.
    """
    if row["action"] in ("specialist", "leave"):
        return False
    return _is_of_a_grave_system(row) or of_part(row["caution"]) not in ("", _KEEP_RECORD)


def at_step(row: Mapping[str, Any]) -> str:
    """Return what is to be minded at one step: for the work itself, and for the system whose code it is to clear."""
    about = [_OF_GRAVE_SYSTEM] if _is_of_a_grave_system(row) else []
    return " ".join([part for part in (of_part(row["caution"]),) if part] + about)


_OF_GRAVE_SYSTEM = "This step is about a system that the caution for this car speaks of: read that first."


def _is_of_a_grave_system(row: Mapping[str, Any]) -> bool:
    """Tell whether a fix is to clear a code that the caution for the car names, a network's complaint aside."""
    own = [key for key in (row["clears"] or "").split(";") if key and not key.partition(":")[2].startswith("U")]
    return row["action"] not in ("recheck", "specialist", "leave") and any(key in of_car(row["caution"]) for key in own)


_HINT, _UNLIKELY = "Only a hint", "Unlikely here"
THIN = 0.15
"""Below this chance a later row is called unlikely."""


def _thin(row: Mapping[str, Any]) -> str:
    """Return how a row is called that little speaks for; blank where it is the first, or something does."""
    if row["rank"] == 1 or row["action"] not in ("replace", "repair"):
        return ""
    if row["basis"] == "pattern" and not row["jobs"]:
        return _HINT
    return _UNLIKELY if row["chance"] is not None and row["chance"] < THIN else ""


def later_title(row: Mapping[str, Any]) -> str:
    """Return what a row says to do, headed by how little speaks for it where that is so."""
    called = _thin(row)
    return f"{called}: {small(to_do(row))}" if called else to_do(row)


def why_thin(row: Mapping[str, Any], handing: int | None) -> str:
    """Say how little speaks for a later row, and what to do instead; blank where enough does.

    Args:
        row: A row of the list.
        handing: The car's row that hands it over; None where there is none.
    """
    called = _thin(row)
    if not called:
        return ""
    why = (
        "its codes came with this part's on other cars; neither a job nor the wording of a code speaks for it"
        if called == _HINT
        else f"{percent(row['chance'])}"
    )
    instead = f"hand over instead (step {handing})" if handing else "hand over instead"
    return f"{called}: {why}. Unless the part is found faulty, {instead}."


HIGH = 0.25
"""From this chance on it is said why a part is tried that no job of its own has shown to do."""


def in_vain(jobs: int | None, cleared: int | None, chance: float | None) -> str:
    """Say why a chance is high although no job with this part alone cleared its codes; blank where that is not so."""
    if not jobs or cleared or chance is None or chance < HIGH:
        return ""
    return (
        f"0 of {counted(jobs, 'job', 'jobs')} with this part alone cleared the codes it shares, on cars that had "
        f"another fault as far as is known; the {percent(chance)} rest on what the codes of this car name"
    )


LOWER = 0.25
"""From this gap on between what own jobs cleared and the chance it is said why the chance is lower."""


def ground(basis: str | None, jobs: int | None, cleared: int | None, chance: float | None = None) -> str:
    """Return what a chance rests on, and why it is high where no job cleared, or low where most did."""
    if jobs and in_vain(jobs, cleared, chance):
        return f"{in_vain(jobs, cleared, chance)}."
    if jobs:
        lower = chance is not None and (cleared or 0) / jobs - chance >= LOWER
        rests = (
            f"{cleared or 0} of {counted(jobs, 'job', 'jobs')} with this part alone cleared the codes that it shares "
            f"with this car{_beside((cleared or 0) / jobs, chance, lower=lower)}."
        )
    else:
        rests = "No job with this part alone yet."
    return f"{_GROUNDS[basis]}: {small(rests)}" if basis in _GROUNDS else rests


def _beside(rate: float, chance: float | None, *, lower: bool) -> str:
    """Say in the same breath why a chance is not the share of jobs that cleared; blank where they read alike."""
    if chance is None or percent(rate) == percent(chance):
        return ""
    told = f" ({percent(rate)}); {percent(chance)} on this car"
    if lower:
        return f"{told}, where something else may set them, so the chance is lower"
    return f"{told}, with what its own scans and jobs tell"


def why_first(line: int, part: str, *, checked: bool) -> str:
    """Say why a line comes first although another one is likelier.

    Args:
        line: The likelier line.
        part: What that one works on.
        checked: The first line begins with a check.
    """
    reason = "the check costs little" if checked else "it costs less"
    return f"Step {line} ({part}) is likelier on this car; this comes first because {reason} and may spare that part."


def as_checked(line: int) -> str:
    """Say that the check of an earlier line tells this as well."""
    return f"The check of step {line} tells this too: go by what it found."


def once_more(line: int) -> str:
    """Say why a part stands in the list a second time."""
    return f"Once more, now without a check: that of step {line} can miss a fault. Not where it was fitted already."
