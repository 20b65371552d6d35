"""In which order to do jobs of which some must wait for others?

A job has a weight (the chance that it ends the work) and a time (what it costs).
Doing the job with the most weight per time first is best where every job is free to
start.  Where one must wait for another, as a part behind a cover waits for the
cover, the job that is worth waiting for is taken together with what it waits for.
Where a job's weight depends on what was done before, every order is compared.
"""

from collections.abc import Callable, Sequence

Key = tuple[float, int]


def best_sequence(weight: Sequence[float], time: Sequence[float], behind: Sequence[int | None]) -> list[int]:
    """Order jobs so that the sum of weight times time of completion is least.

    The job with the most weight per time either may start, then it comes next, or it joins the job that it waits
    for and both are weighed as one.  Exact where each job waits for at most one other.

    Args:
        weight: Chance that each job ends the work, 0 or more.
        time: Time or cost of each job, 0 or more.
        behind: For each job the one that it waits for, or None; no circles.

    Returns:
        All jobs in order; of equals the one with the lower number first.

    Source:
        W. A. Horn, "Single-machine job sequencing with treelike precedence ordering and linear delay penalties",
        SIAM Journal on Applied Mathematics 23 (1972); J. B. Sidney, "Decomposition algorithms for single-machine
        sequencing with precedence relations and deferral costs", Operations Research 23 (1975).
    """
    blocks = {job: [job] for job in range(len(weight))}
    home: dict[int | None, int] = {job: job for job in blocks}
    done: set[int | None] = {None}
    order: list[int] = []

    def rank(head: int) -> Key:
        spent = max(sum(time[job] for job in blocks[head]), 1e-9)
        return round(sum(weight[job] for job in blocks[head]) / spent, 15), -head

    while blocks:
        head = max(blocks, key=rank)
        block = blocks.pop(head)
        if behind[head] in done:
            order += block
            done.update(block)
            continue
        into = home[behind[head]]
        blocks[into] += block
        home.update(dict.fromkeys(block, into))
    return order


def best_subset(
    jobs: int, charge: Callable[[int, int], float | None], stop: Callable[[int], float]
) -> tuple[float, list[int]]:
    """Find the cheapest order of some of the jobs where each one's cost depends on what was done before.

    Every set of jobs is looked at once, so the answer is exact; the work doubles with each job.

    Args:
        jobs: How many, numbered from 0.
        charge: Expected cost of doing a job (second) once a set of them (first, one bit each) is done; None where it
            may not come then.
        stop: Expected cost of stopping once a set of them is done.

    Returns:
        ``(cost, jobs in order)``; of equals the shorter, then the one whose jobs have lower numbers.

    Source:
        M. Held and R. M. Karp, "A dynamic programming approach to sequencing problems", Journal of the Society for
        Industrial and Applied Mathematics 10 (1962).
    """
    best: dict[int, tuple[float, list[int]]] = {}
    for done in reversed(range(2**jobs)):
        ways = [(stop(done), list[int]())]
        for job in range(jobs):
            price = None if done >> job & 1 else charge(done, job)
            if price is not None:
                cost, rest = best[done | 1 << job]
                ways.append((price + cost, [job, *rest]))
        best[done] = min(ways, key=lambda way: (round(way[0], 9), len(way[1]), way[1]))
    return best[0]
