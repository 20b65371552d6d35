"""Which makes speak alike: a maker's own number at one make tells something of the same number at another.

Makes of one company share their numbers, others use the same number for something else.  The data tell: where a
number is seen at both makes, the texts of the two agree or do not, and so do the parts that cleared it.  Each such
number speaks for or against; what is left is the chance that the two makes share their numbers, and a code leans on
its namesake at the other make as far as that.

Source:
    R. E. Kass and A. E. Raftery, "Bayes factors", Journal of the American Statistical Association 90 (1995): odds of
    one explanation against another from independent pieces of evidence.
"""

from collections import Counter, defaultdict
from itertools import combinations
from math import exp, log

import polars as pl

from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.diagnosis.inputs.text_matching import Reader
from analysis.evidence.clusters import CLEARED, single_part_jobs

SHARED = 0.3
"""Chance that two makes share their numbers, before any is seen at both."""
SAME_TEXT, SAME_TEXT_BY_CHANCE = 0.85, 0.02
SAME_PART, SAME_PART_BY_CHANCE = 0.6, 0.1
"""How often the texts, and the part that cleared it most, are the same where makes share a number, and where not."""
LEAST = 0.05
"""Less kinship than this is left out."""

Kinship = tuple[int, int, float]
"""Column of a code, column of its namesake that leans on it, and how far."""


def kindred_codes(frames: DiagnosisFrames, reader: Reader) -> list[Kinship]:
    """Return which makers' codes lean on which of the same number and module at another make.

    Args:
        frames: The facts; codes are numbered in the order of ``frames.codes``.
        reader: Reads texts in the words of the trade.

    Returns:
        Both directions of each pair whose makes share numbers with a chance of at least ``LEAST``, sorted.
    """
    cleared = _cleared_by(frames)
    namesakes: dict[tuple[str, str], list[tuple[str, int]]] = defaultdict(list)
    told = frames.codes.select("module", "short", "make", "text", "code").with_row_index("column")
    texts: dict[int, str] = {}
    parts: dict[int, str] = {}
    for column, module, short, make, text, code in told.filter(pl.col("make").is_not_null()).iter_rows():
        namesakes[module, short].append((make, column))
        texts |= {column: text} if text else {}
        parts |= {column: cleared[code].most_common(1)[0][0]} if code in cleared else {}
    pairs = [
        (*sorted((one, other)),)
        for kin in namesakes.values()
        for one, other in combinations(kin, 2)
        if one[0] != other[0]
    ]
    odds: dict[tuple[str, str], float] = defaultdict(lambda: log(SHARED / (1 - SHARED)))
    for (make, column), (other, twin) in pairs:
        if column in texts and twin in texts:
            same = reader.read(texts[column]) == reader.read(texts[twin])
            odds[make, other] += _weight(same, SAME_TEXT, SAME_TEXT_BY_CHANCE)
        if column in parts and twin in parts:
            odds[make, other] += _weight(parts[column] == parts[twin], SAME_PART, SAME_PART_BY_CHANCE)
    found = []
    for (make, column), (other, twin) in pairs:
        share = 1 / (1 + exp(-odds[make, other]))
        if share >= LEAST:
            found += [(column, twin, share), (twin, column, share)]
    return sorted(found)


def _weight(same: bool, if_shared: float, if_not: float) -> float:
    return log(if_shared / if_not) if same else log((1 - if_shared) / (1 - if_not))


def _cleared_by(frames: DiagnosisFrames) -> dict[str, Counter[str]]:
    """For each code how often jobs with each part alone cleared it."""
    gone = frames.outcomes.filter(pl.col("background").is_null() & pl.col("outcome").is_in(list(CLEARED)))
    pairs = single_part_jobs(frames.job_parts).join(gone, on="job_id").select("job_id", "part", "code").unique()
    found: dict[str, Counter[str]] = defaultdict(Counter)
    for part, code, jobs in pairs.group_by("part", "code").len().sort("part", "code").iter_rows():
        found[code][part] += jobs
    return found
