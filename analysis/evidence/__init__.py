"""From what became of past jobs to rates that can be trusted as far as they go.

Nothing here guesses: every number is a count of jobs, a rate of two counts with
its interval, or a distance fitted to the returns that were seen.  The libraries of
statistics are loaded when something is weighed: a question to a fitted model goes without.
"""

import polars as pl

from analysis.evidence.frames import Evidence, EvidenceFrames

__all__ = ["Evidence", "EvidenceFrames", "weigh"]


def weigh(frames: EvidenceFrames, members: pl.DataFrame) -> Evidence:
    """Draw every rate and distance that past jobs support.

    Args:
        frames: The facts about past jobs.
        members: One row per family and code (columns family, code), as mining found them.

    Returns:
        The evidence; with no jobs at all its frames are empty.
    """
    from analysis.evidence.clear_rates import part_results  # noqa: PLC0415
    from analysis.evidence.erase_comparison import erased_or_repaired  # noqa: PLC0415
    from analysis.evidence.returns import return_curves  # noqa: PLC0415
    from analysis.evidence.worsening import worse_parts  # noqa: PLC0415

    worse = worse_parts(frames)
    results, erased = part_results(frames, members)
    return Evidence(
        part_results=results,
        erase_rates=erased,
        return_curve=return_curves(frames.outcomes, frames.jobs),
        notes=[*worse["warning"].to_list(), *erased_or_repaired(frames.outcomes, frames.jobs)],
        worse_parts=worse,
    )
