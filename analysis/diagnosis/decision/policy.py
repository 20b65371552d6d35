"""In which order to try the parts, and when to hand the car over.

Trying the part with the most chance per euro first is cheapest on average.  Handing
over costs a flat price, so the list stops where following it further costs more than
handing over: of all beginnings of the list the cheapest is taken.  After a step the
chances of the others are taken anew, for the cars whose codes are still there.
Parts behind one cover share the work of taking it off; a part that is cheaply proven
faulty is checked before it is bought.  Sometimes the cheapest step of all is to
record, erase, drive and scan again.
"""

from collections.abc import Collection
from dataclasses import replace

from analysis.diagnosis.decision.expected_cost import (
    cheapest_beginning,
    check_that_pays,
    costs_to_the_end,
    handing_over,
    mean_charge,
)
from analysis.diagnosis.decision.repair_model import NOWHERE, RECHECK, RepairModel, Step, chance_of, merit_of
from analysis.diagnosis.decision.sequencing import best_sequence, best_subset
from analysis.diagnosis.model.noisy_or import Bools

LEAST = 0.01
"""A part with less chance than this is not worth a line."""
COMPARED = 5
"""So many of the first steps are put into the cheapest of all orders; the work doubles with each."""
LEAST_SAVING = 0.03
"""The plain order, which a mechanic can follow from the chances and costs, is kept unless another saves this share."""


def plan(repair: RepairModel, eligible: Bools, recheck_from: float, left_out: Collection[int] = ()) -> list[Step]:
    """Choose the steps before handing over.

    Args:
        repair: The car.
        eligible: (k,) parts that may stand first.
        recheck_from: Recheck first only where erasing alone settles it with at least this chance, and it pays; where
            nobody has looked since parts were renewed, wherever it pays.  Below 0: always, whatever it costs.
        left_out: Parts that another one on the list stands for.

    Returns:
        The steps in order, possibly none; handing over follows the last.

    Source:
        J. Kalagnanam and M. Henrion, "A comparison of decision analysis and expert rules for sequential
        diagnosis" (1990); D. Heckerman, J. Breese and K. Rommelse, "Decision-theoretic troubleshooting" (1995);
        W. E. Smith, "Various optimizers for single-stage production" (1956): order by chance over cost.
    """
    straight = _cheapest(repair, eligible, [], left_out)
    settled = chance_of(repair, RECHECK, [])
    if settled < max(0.0 if repair.renewed else recheck_from, LEAST):
        return straight
    checked = _cheapest(repair, eligible, [Step(part=RECHECK, chance=settled, cost=repair.recheck)], left_out)
    pays = recheck_from < 0 or costs_to_the_end(repair, checked)[0] < costs_to_the_end(repair, straight)[0] - 1e-9
    return checked if pays else straight


def _cheapest(repair: RepairModel, eligible: Bools, start: list[Step], left_out: Collection[int]) -> list[Step]:
    """Take the plain order, or a better one of its first steps where their costs hang together, up to where it pays."""
    most = len(start) + 2 * len(repair.cost)
    looks = order_looks(repair, eligible, start, left_out, most)
    cost, kept = cheapest_beginning(repair, looks)
    liked = [step.part for step in looks[len(start) :]]
    others = [i for i in range(len(repair.cost)) if i not in liked and i not in left_out]
    first = _compare(repair, eligible, start, [*liked, *others][:COMPARED])
    other, better = cheapest_beginning(repair, order_looks(repair, eligible, first, left_out, most))
    return better if other < cost * (1 - LEAST_SAVING) else kept


def order_looks(
    repair: RepairModel, eligible: Bools, start: list[Step], left_out: Collection[int] = (), most: int = 1000
) -> list[Step]:
    """Go on from some steps with the parts by their own chance over cost, the chances taken anew after each.

    A part is looked at again only where one more new one can cure what those before it did not.

    Args:
        repair: The car.
        eligible: (k,) parts that may be fitted first.
        start: The steps that stand already.
        left_out: Parts that another one stands for.
        most: Stop at so many steps.

    Returns:
        The steps, those that stood already first.

    Source:
        W. L. Black, "Discrete sequential search", Information and Control 8 (1965): the same with looks that can miss.
    """
    steps, before = list(start), [step.part for step in start]
    while len(steps) < most:
        fitted = {part for part in before if part != RECHECK}
        waiting = [
            i
            for i in range(len(repair.cost))
            if i not in left_out and (i not in fitted or repair.jobs.again[i] < 1) and (eligible[i] or fitted)
        ]
        part = _next(repair, before, waiting)
        if part is None:
            break
        steps.append(_step(repair, part, before))
        before.append(part)
    return steps


def _next(repair: RepairModel, before: list[int], parts: list[int]) -> int | None:
    """The part to try next: the one with the most chance per cost, the opening that it shares counted with it."""
    merit = {i: merit_of(repair, i, before) for i in parts}
    worthy = [i for i in parts if merit[i] >= LEAST]
    if not worthy:
        return None
    closed = sorted({int(repair.jobs.opening[i]) for i in worthy} - _opened(repair, before))
    door = {opening: len(worthy) + k for k, opening in enumerate(closed)}
    checks = {i: check_that_pays(repair, i, before) for i in worthy}
    # Of a part that is checked first only the check is spent in vain, so that is what the order goes by.
    tries = [float(repair.cost[i]) if check is None else check for i, check in checks.items()]
    order = best_sequence(
        [merit[i] for i in worthy] + [0.0] * len(closed),
        tries + [float(repair.jobs.opening_cost[opening]) for opening in closed],
        [door.get(int(repair.jobs.opening[i])) for i in worthy] + [None] * len(closed),
    )
    return worthy[next(job for job in order if job < len(worthy))]


def _opened(repair: RepairModel, before: list[int]) -> set[int]:
    """The openings that need nothing more: none at all, and those that an earlier step had off."""
    return {NOWHERE} | {int(repair.jobs.opening[part]) for part in before if part != RECHECK}


def _priced(repair: RepairModel, part: int, before: list[int]) -> Step:
    """The step without its chance: checked first where that pays, and with its opening where that is still closed."""
    opening = int(repair.jobs.opening[part])
    fresh = 0.0 if opening in _opened(repair, before) else float(repair.jobs.opening_cost[opening])
    return Step(
        part=part, chance=0.0, cost=float(repair.cost[part]), check=check_that_pays(repair, part, before), opening=fresh
    )


def _step(repair: RepairModel, part: int, before: list[int]) -> Step:
    return replace(_priced(repair, part, before), chance=chance_of(repair, part, before))


def _compare(repair: RepairModel, eligible: Bools, start: list[Step], parts: list[int]) -> list[Step]:
    """Find the cheapest order, and the cheapest choice, of a few parts, handing over behind them.

    Whichever part stands first, the codes are erased with it: the orders are compared on the cars that this leaves.
    """

    def done_by(bits: int) -> list[int]:
        return [RECHECK] + [part for k, part in enumerate(parts) if bits >> k & 1]

    def charge(bits: int, job: int) -> float | None:
        part, before = parts[job], done_by(bits)
        twin_waits = any(other == part and not bits >> k & 1 for k, other in enumerate(parts[:job]))
        if twin_waits or not (bits or eligible[part]) or merit_of(repair, part, before) < LEAST:
            return None
        return mean_charge(repair, _priced(repair, part, before), before)

    _, order = best_subset(len(parts), charge, lambda bits: handing_over(repair, done_by(bits)))
    steps = list(start)
    for job in order:
        steps.append(_step(repair, parts[job], [step.part for step in steps]))
    return steps
