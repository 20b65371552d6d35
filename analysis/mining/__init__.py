"""Which codes belong together on the dealer's cars, and how sure can we be?

Most lists of "codes that go together" are chance, or the mix of models in the yard.
This room compares cars within their model line, counts every pair it looked at, and
lists only what survives; what survives is gathered into families, and for each family
the evidence on its root is weighed.  Where there is nothing to find, it finds nothing.

Frames in, frames out: no files, no database, no clock, no chance beyond fixed seeds.
"""

from analysis.mining.family_changes import compare_families, family_weeks
from analysis.mining.miner import mine
from analysis.mining.mining_frames import Findings, MiningFrames
from analysis.mining.verdict_history import VerdictHistory, first_week

__all__ = [
    "Findings",
    "MiningFrames",
    "VerdictHistory",
    "compare_families",
    "family_weeks",
    "first_week",
    "mine",
]
