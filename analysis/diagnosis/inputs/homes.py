"""Which module watches a part, where no code that was ever seen names it?

A part that was never fitted, and that no code of these cars names, still sits somewhere: the table of standard
codes says which codes would name it, and the numbers of these codes lie in the range of one module.  And a part whose
repairs cleared codes of one module sits there, whatever the texts say.  So a code that tells only that a module is
unhappy, or not heard, has all of the module's parts as suspects, not those alone that happened to be seen.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable

import polars as pl

from analysis.diagnosis.inputs.candidates import Candidate
from analysis.diagnosis.inputs.frames import DiagnosisFrames
from analysis.evidence.clusters import CLEARED, single_part_jobs
from analysis.vocabulary.code_ranges import range_of

FEWEST_JOBS = 2
"""So many jobs have to have cleared codes of a module before it is taken for the part's own."""


def homes_of(
    candidates: list[Candidate], frames: DiagnosisFrames, named: Callable[[str], Iterable[int]]
) -> list[frozenset[str]]:
    """Return the modules that watch each part, as far as the standard codes and the repairs tell.

    Args:
        candidates: The parts.
        frames: For the standard codes, the modules that there are, and the repairs.
        named: From a component's words to the candidates that they name.

    Returns:
        One set of modules for each; empty where nothing tells.
    """
    present = set(frames.codes["module"]) | set(frames.open_modules["module"]) | set(frames.job_modules["module"])
    votes: dict[int, Counter[str]] = defaultdict(Counter)
    for component, codes in (
        frames.generic_codes.drop_nulls().group_by("component").agg("code").sort("component").iter_rows()
    ):
        parts = list(named(component))
        modules = Counter(module for code in codes for module in _modules_of(code, present)) if parts else Counter()
        for part in parts:
            votes[part].update(modules)
    worked = _worked_homes(frames)
    return [worked.get(part.part) or _most(votes[i]) for i, part in enumerate(candidates)]


def _modules_of(code: str, present: set[str]) -> list[str]:
    block = None if code.startswith("U") else range_of(code)
    return [module for module in block.modules if module in present][:1] if block else []


def _most(votes: Counter[str]) -> frozenset[str]:
    most = max(votes.values(), default=0)
    return frozenset(module for module, count in votes.items() if count == most)


def _worked_homes(frames: DiagnosisFrames) -> dict[str, frozenset[str]]:
    """The module most of whose codes, those of the network left out, went with jobs on the part alone."""
    network = frames.codes.select("code", pl.col("network").fill_null(False))
    gone = frames.outcomes.filter(pl.col("background").is_null() & pl.col("outcome").is_in(list(CLEARED)))
    gone = gone.join(network, on="code").filter(~pl.col("network"))
    pairs = single_part_jobs(frames.job_parts).join(gone, on="job_id").select("part", "job_id", "module").unique()
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for part, module, jobs in pairs.group_by("part", "module").len().iter_rows():
        counts[part][module] = jobs
    return {part: _most(seen) for part, seen in counts.items() if max(seen.values()) >= FEWEST_JOBS}
