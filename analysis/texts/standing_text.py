"""Codes that no fault seems to set: the question whether to look past them, and how to say so."""

from __future__ import annotations

from analysis.texts.words import counted, enumerated

STANDING = "Look past these?"
WHY = "Codes that came back through every erase and repair, or that an erase alone ends: nothing to fit explains them."
NONE = "No group of codes stands out as set by no fault."
ACCEPTED = "Looked past already"
HOW = "To look past them from now on, put this line into a file in inbox/background/, below the heading:"
HEADING = "vehicle,make,module,code,reason,until"
STATES = {"accepted": "taken by the reckoning", "declared": "named in your background file"}


def summary(proposed: int, taken: int) -> str:
    """Say how many groups there are to decide on, and how many are looked past already."""
    asked = f"{counted(proposed, 'group', 'groups')} of codes to decide on" if proposed else "Nothing to decide"
    return f"{asked}; {taken} looked past already." if taken else f"{asked}."


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
