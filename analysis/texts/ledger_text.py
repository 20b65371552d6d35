"""The ledger: what the list had promised, month by month, and what came of it."""

from __future__ import annotations

from analysis.texts import names, paper_text
from analysis.texts.words import counted

LEDGER = "Promised and done"
FROM_NOBODY = paper_text.FROM_NOBODY
CAME_BACK, NOT_PROVEN = "came back", "not proven"
PROMISED, WORKED = "promised by the chances given", "worked"
CHART_JOBS = "Jobs with a proven outcome that followed the first step"
MONTH, WHAT, JOBS = names.MONTH, "what", "jobs"
NO_LIST_BEFORE = (
    "This is the first list that is kept, so nothing was promised yet. From the next week on, this says how many first "
    "steps were followed, how many of them worked, and what they cost."
)
NO_JOB_YET = "Earlier lists are kept, but no job was done on their cars since."
TABLE = "Table of jobs"
TABLE_CAPTION = "Jobs on cars that stood on a list"
TABLE_HEADS = (
    names.MONTH,
    names.CAR,
    names.FIRST_STEP,
    "followed",
    names.CHANCE,
    "what came of it",
    "part",
    names.SUPPLIER,
)
FOLLOWED = "followed"
NOT_FOLLOWED = "something else was done"
RECKONED = (
    "For each job, the list that stood before it, made from files that did not yet tell of the job. Followed: the "
    "first step's part, in its place, was worked on. Worked: every code that the step was to clear is proven "
    "gone; came back: one of them returned. Promised: the chances given, added up over the jobs whose outcome is "
    "proven."
)


def month(jobs: int, followed: int) -> str:
    """Say how many jobs followed the list."""
    return f"{counted(jobs, 'job', 'jobs')} on cars of the list, {followed} as its first step said."


def came(promised: float, worked: int, came_back: int, unproven: int) -> str:
    """Say what was promised and what came of it."""
    open_ones = f" {unproven} not proven yet." if unproven else ""
    if not worked + came_back:
        return open_ones.strip()
    known = f"Promised to work: {promised:.1f} of {worked + came_back}. Worked: {worked}. Came back: {came_back}."
    return f"{known}{open_ones}"


def cost(money: str, vain: str, parts: int, suppliers: str) -> str:
    """Say what it cost, and what was bought in vain.

    Args:
        money: What it cost.
        vain: What the parts cost after which the codes came back; may be blank.
        parts: How many they are.
        suppliers: Who delivered how many of them; may be blank.
    """
    told = f"Cost {money}."
    if vain:
        told += f" Parts bought in vain: {parts}, for {vain}{f' ({suppliers})' if suppliers else ''}."
    return told


def described(months: int) -> str:
    """Describe the chart to those who do not see it."""
    return f"Promised against worked over {counted(months, 'month', 'months')}. The table below holds the same jobs."
