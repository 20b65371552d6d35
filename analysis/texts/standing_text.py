"""Codes that no fault seems to set: the question whether to look past them, and how to say so."""

from __future__ import annotations

from analysis.texts import names
from analysis.texts.words import counted, enumerated

STANDING = names.LEAVE_ALONE
WHY = "Codes that came back through every erase and repair, or that an erase alone ends: nothing to fit explains them."
NONE = "No group of codes stands out as set by no fault."
ACCEPTED = "Left alone already"
HOW = "The same by hand: put this line into a file in inbox/background/, below the heading:"
HEADING = "vehicle,make,module,code,reason,until"
STATES = {"accepted": "left out of what is learned", "declared": "named in your background file"}


def how(number: int) -> str:
    """Say how to answer a question on the terminal.

    Args:
        number: The question's.
    """
    yes, no = (f"knockon standing --{answer} {number}" for answer in ("accept", "refuse"))
    return (
        f'Type in a terminal, in your workspace\'s folder: "{yes}" to leave them alone from now on (they stay on the '
        f'sheet with the reason, and no try is made for them), or "{no}" to go on working on them and not be asked '
        "again."
    )


def summary(proposed: int, taken: int) -> str:
    """Say how many groups there are to decide on, and how many are left alone already."""
    asked = f"{counted(proposed, 'question', 'questions')} to decide" if proposed else "Nothing to decide"
    return f"{asked}; {taken} left alone already." if taken else f"{asked}."


def question(codes: list[str], where: str, cars: int, erases: int, kind: str) -> str:
    """Say what is known of one group.

    Args:
        codes: Their keys.
        where: The car or the make; blank where neither is known.
        cars: Cars that show them.
        erases: Erases and repairs that they survived.
        kind: standing or passing.
    """
    place = f" on {where}" if where else ""
    if kind == "passing":
        return f"{enumerated(codes)}{place}: an erase alone ends them ({counted(cars, 'car', 'cars')})."
    return (
        f"{enumerated(codes)}{place}: {counted(cars, 'car', 'cars')}, there again after "
        f"{counted(erases, 'erase or repair', 'erases and repairs')}."
    )


AGREED = "agreed on "
"""With this a reason begins that the dealer gave by agreeing to a proposal."""
TAKEN_BACK = "taken back on "
KINDS = {"standing": "no fault sets them, they come back after every erase and repair", "passing": "an erase ends them"}


def agreed(when: str, kind: str) -> str:
    """Return the reason of a background row that the dealer agreed to.

    Args:
        when: Day and time.
        kind: standing or passing.
    """
    return f"{AGREED}{when}: {KINDS[kind]}"


def agreed_kind(reason: str) -> str:
    """Return the kind that a reason made by ``agreed`` tells."""
    return next((kind for kind, words in KINDS.items() if reason.endswith(words)), "standing")


def evidence(erases: int, repairs: int, gone: int, jobs: int, tried: list[tuple[str, int]]) -> str:
    """Say what a proposal rests on.

    Args:
        erases: Erases alone after which the codes were there again.
        repairs: Repairs after which they were.
        gone: Erases and repairs after which they were gone for good.
        jobs: Erases and repairs whose outcome is known.
        tried: What was worked on meanwhile, each with the number of those jobs; the most frequent first.
    """
    alone, jobs_done = counted(erases, "erase alone", "erases alone"), counted(repairs, "repair", "repairs")
    again = f"there again after {alone} and {jobs_done}"
    parts = ", ".join(f"{part} ({times})" for part, times in tried)
    return f"{again}; gone after {gone} of {jobs}; " + (f"tried meanwhile: {parts}" if parts else "no part was tried")


def ended(gone: int, jobs: int) -> str:
    """Say after how many erases alone the codes stayed away."""
    return f"stayed away after {gone} of {counted(jobs, 'erase alone', 'erases alone')}; no part is known for them"


def modified(modification: str) -> str:
    """Say that cars of the make declare what sets the codes."""
    return f"modification: {modification} (on the cars that declare it)"
