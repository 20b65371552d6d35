"""How far to trust the list: what the page says of past visits."""

from __future__ import annotations

from analysis.texts import chart_text
from analysis.texts.words import counted

TRUST = "How far to trust this"
TRUST_WHY = (
    "Each week the list is put before your own past visits, each as if it stood on the lift that day, with what was "
    "known until then."
)
FIRST = "named the part that worked first"
AMONG_THREE = "named it among the first three"
COST_VS_NAMED = "of the cost of fitting what the code names"
COST_VS_FITTED = "of the cost of fitting what we fitted most"
RIVALS_HINT = (
    "Beside the list stand two plain rules on the same visits: fit what the codes name, fit what we fitted most. "
    "Counted are visits in which only the one named the right part first, against those in which only the other "
    "did."
)
HELD = "Did the chances hold?"
HELD_TABLE = "Table of chances and what happened"
HELD_CAPTION = "Chances given and what happened"
HELD_HEADS = (chart_text.VISITS, chart_text.TRUST_CHANCE, chart_text.TRUST_AWAY, "interval")
NOT_JUDGED = (
    "No past visit has put a first chance to the test yet: that takes jobs after which a later scan proves whether the "
    "part named first was it."
)
TAKEN_OFF = "The chances on this page have that taken off already."


def counted_on(visits: int) -> str:
    """Say what the four numbers rest on."""
    return (
        f"Counted on {counted(visits, 'visit', 'visits')} that one part cleared. The workshop chose that part with its "
        "own eyes, so such visits go a little better than a list alone would."
    )


def judged_on(visits: int, few: bool) -> str:
    """Say how to read the reliability chart.

    Args:
        visits: Visits that it rests on.
        few: They are too few to tell.
    """
    wide = " With so few visits the bars are wide." if few else ""
    return (
        f"Judged on {counted(visits, 'visit', 'visits')} of which the end is known: the list's first part was fitted, "
        "then or later, or the codes went without it. Each chance is as all other cars' visits make it. Below the "
        "dashed line the list promised too much, above it too little. The number at the end of a bar counts its "
        f"visits; the bar shows how far the share may be off (90 of 100 times it lies inside).{wide}"
    )


def squared_gap(gap: str) -> str:
    """Say how far the chances were from what happened, in one number."""
    return f"Mean squared gap between chance and outcome (Brier score): {gap}; 0 is perfect, 0.25 a coin's toss."
