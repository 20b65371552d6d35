"""Which makes speak alike: a maker's own number at one make tells something of the same number at another.

Makes of one company share their numbers, others use the same number for something else.  The data tell: where a
number is seen at both makes, the texts of the two agree or do not, and so do the parts that cleared it.  Each such
number speaks for or against; what is left is the chance that the two makes share their numbers, and a code leans on
its namesake at the other make as far as that.

A standard code means the same at all makes, or some maker uses it for something else.  Here the jobs tell: a part that
cleared it ten times of ten at one make and never in ten at another speaks for two meanings.  How often that happens at
all is learned from all codes and pairs of makes together.

Source:
    R. E. Kass and A. E. Raftery, "Bayes factors", Journal of the American Statistical Association 90 (1995): odds of
    one explanation against another from independent pieces of evidence.
"""

from collections import Counter, defaultdict
from itertools import combinations
from math import exp, lgamma, log

import polars as pl

from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.diagnosis.inputs.text_matching import Reader
from analysis.diagnosis.inputs.training_data import known_make
from analysis.evidence.clusters import CLEARED, single_part_jobs

SHARED = 0.3
"""Chance that two makes share their numbers, before any is seen at both."""
SAME_TEXT, SAME_TEXT_BY_CHANCE = 0.85, 0.02
SAME_PART, SAME_PART_BY_CHANCE = 0.6, 0.1
"""How often the texts, and the part that cleared it most, are the same where makes share a number, and where not."""
LEAST = 0.05
"""Less kinship than this is left out."""

APART, APART_PAIRS = 0.03, 60.0
"""How often two makes mean different things by one standard code, before any job, and the pairs that is worth."""
APART_FROM = 0.5
"""A code is split by make where two makes mean different things by it with at least this chance."""
EITHER = 0.5
"""Both counts of the Beta from which a part's share of clears at a make is drawn: mostly it does it, or it does not."""
MIXING_ROUNDS, MOST_WEIGHT = 20, 500.0

Kinship = tuple[int, int, float]
"""Column of a code, column of its namesake that leans on it, and how far."""
MakesAlike = tuple[int, int, int, float]
"""Column of a standard code, numbers of two makes, and the chance that both mean the same by it."""


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


def codes_apart(frames: DiagnosisFrames, make_names: list[str]) -> list[MakesAlike]:
    """Return the standard codes by which some makes mean different things, and which makes mean the same.

    Args:
        frames: The facts; codes are numbered in the order of ``frames.codes``.
        make_names: The makes, one spelling each; they are numbered in this order.

    Returns:
        For each code that is to be split by make every two makes, both ways, and each make with itself; sorted.
    """
    number = {make: m for m, make in enumerate(make_names) if make}
    shared = {code: d for d, (code, make) in enumerate(frames.codes.select("code", "make").iter_rows()) if not make}
    weights = {
        (code, *pair): weight
        for code, tried in sorted(_tried_by_make(frames, number).items())
        if code in shared
        for pair, weight in _apart_weights(tried).items()
    }
    usual, apart = APART, dict[tuple[str, int, int], float]()
    for _ in range(MIXING_ROUNDS):
        apart = {key: 1 / (1 + (1 - usual) / usual * exp(-min(weight, MOST_WEIGHT))) for key, weight in weights.items()}
        usual = (APART * APART_PAIRS + sum(apart.values())) / (APART_PAIRS + len(apart))
    split = sorted({code for (code, _, _), chance in apart.items() if chance >= APART_FROM})
    found = []
    for code in split:
        for one in number.values():
            found.append((shared[code], one, one, 1.0))
            for other in number.values():
                if one != other:
                    chance = apart.get((code, min(one, other), max(one, other)), usual)
                    found.append((shared[code], one, other, 1 - chance))
    return sorted(found)


def _tried_by_make(frames: DiagnosisFrames, number: dict[str, int]) -> dict[str, dict[str, dict[int, list[float]]]]:
    """For each code and part how often, by make, jobs with the part alone cleared it and did not."""
    known = frames.outcomes.filter(
        pl.col("background").is_null() & pl.col("awake") & pl.col("outcome").is_in([*CLEARED, "returned"])
    )
    alone = single_part_jobs(frames.job_parts).join(known, on="job_id").join(frames.jobs, on="job_id")
    told = alone.select("code", "part", pl.col("make").fill_null(""), gone=pl.col("outcome") != "returned")
    found: dict[str, dict[str, dict[int, list[float]]]] = defaultdict(lambda: defaultdict(dict))
    for code, part, make, gone in told.iter_rows():
        if known_make(make) in number:
            found[code][part].setdefault(number[known_make(make)], [0.0, 0.0])[0 if gone else 1] += 1
    return found


def _apart_weights(tried: dict[str, dict[int, list[float]]]) -> dict[tuple[int, int], float]:
    """Return for every two makes that a part was tried at the log Bayes factor of two shares of clears against one."""
    weights: dict[tuple[int, int], float] = defaultdict(float)
    for by_make in tried.values():
        for one, other in combinations(sorted(by_make), 2):
            mine, theirs = by_make[one], by_make[other]
            together = [mine[0] + theirs[0], mine[1] + theirs[1]]
            weights[one, other] += _evidence(mine) + _evidence(theirs) - _evidence(together)
    return weights


def _evidence(counts: list[float]) -> float:
    """Return the log marginal likelihood of so many clears and failures under the Beta of ``EITHER``."""
    yes, no = counts
    return _log_beta(EITHER + yes, EITHER + no) - _log_beta(EITHER, EITHER)


def _log_beta(one: float, other: float) -> float:
    return lgamma(one) + lgamma(other) - lgamma(one + other)


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
