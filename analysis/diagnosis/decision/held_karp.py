"""What is the cheapest course through jobs whose costs depend on what was done before, stopping where that pays?

Each thing to be done has a digit: not done, or done in one of its ways.  A state is all
digits together, a move raises some of them.  Each state is looked at once, the last ones
first, so the answer is exact; the work grows with the number of states.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Move = tuple[tuple[int, int, int], ...]
"""The digits that a move raises, each with what it has to be before and what it becomes."""
EQUAL = 1e-9
"""Two courses are level where their costs differ by less, in the unit of the costs."""


@dataclass(frozen=True)
class Lattice:
    """The states, and the ways from one to another.

    Attributes:
        digits: (n, states) each state's digits; the state's number counts them up, the first digit fastest.
        move: (ways,) number of the move; ways are sorted by the level of where they start, the last level first.
        start: (ways,) state before it.
        end: (ways,) state after it.
        groups: For each level the slice of its ways, and where in it the ways of each next state begin.
    """

    digits: Ints
    move: Ints
    start: Ints
    end: Ints
    groups: tuple[tuple[slice, Ints], ...]

    def ways_from(self, state: int) -> Ints:
        """Return the numbers of the ways that start in a state, those of lower moves first."""
        return np.flatnonzero(self.start == state)


@lru_cache(maxsize=64)
def lattice(sizes: tuple[int, ...], moves: tuple[Move, ...]) -> Lattice:
    """Return the lattice of some digits; a move is open wherever each of its digits is what it has to be.

    Args:
        sizes: How many values each digit has.
        moves: The moves, all of them raising at least one digit.
    """
    states = int(np.prod(sizes, dtype=np.int64))
    strides = np.cumprod([1, *sizes[:-1]]) if sizes else np.empty(0, dtype=np.intp)
    digits = np.array(
        [np.arange(states) // stride % size for stride, size in zip(strides, sizes, strict=True)], dtype=np.intp
    ).reshape(len(sizes), states)
    level = digits.sum(axis=0)
    ways = []
    for number, move in enumerate(moves):
        open_in = np.flatnonzero(np.all([digits[j] == before for j, before, _ in move], axis=0))
        gained = sum(int(to - before) * int(strides[j]) for j, before, to in move)
        ways.append(np.stack([np.full(len(open_in), number), open_in, open_in + gained]))
    move_of, start, end = np.concatenate(ways, axis=1) if ways else np.empty((3, 0), dtype=np.intp)
    order = np.lexsort((move_of, start, -level[start]))
    move_of, start, end = move_of[order], start[order], end[order]
    groups = []
    for here in range(int(level.max(initial=0)), -1, -1):
        low, high = np.searchsorted(-level[start], [-here, -here + 1])
        if high > low:
            groups.append((slice(int(low), int(high)), np.flatnonzero(np.diff(start[low:high], prepend=-1))))
    return Lattice(digits, move_of, start, end, tuple(groups))


def cheapest_course(space: Lattice, charge: Floats, stop: Floats, gain: float = 0.0) -> Floats:
    """Return what going on from each state costs at least.

    Args:
        space: The states and the ways between them.
        charge: (ways,) expected cost of each way, over all cars; infinite where it may not be gone.
        stop: (states,) expected cost of stopping there.
        gain: Going on has to save more than this share of what stopping costs.

    Returns:
        (states,) the least expected cost.

    Source:
        M. Held and R. M. Karp, "A dynamic programming approach to sequencing problems", Journal of the Society for
        Industrial and Applied Mathematics 10 (1962).
    """
    least = stop.copy()
    for ways, first in space.groups:
        going = charge[ways] + least[space.end[ways]]
        states, going = space.start[ways][first], np.minimum.reduceat(going, first)
        least[states] = np.where(going < (1 - gain) * stop[states], going, stop[states])
    return least


def follow(
    space: Lattice, charge: Floats, stop: Floats, least: Floats, state: int, *, gain: float = 0.0
) -> Sequence[int]:
    """Return the moves of the cheapest course from a state on; of equals stopping, then the lowest move.

    Args:
        space: The states and the ways between them.
        charge: As for ``cheapest_course``.
        stop: As there.
        least: What that returned.
        state: Where to begin.
        gain: As there.
    """
    moves: list[int] = []
    while True:
        ways = space.ways_from(state)
        going = charge[ways] + least[space.end[ways]]
        if not len(ways) or (1 - gain) * stop[state] <= going.min() + EQUAL:
            return moves
        way = ways[int(np.argmax(going <= going.min() + EQUAL))]
        moves.append(int(space.move[way]))
        state = int(space.end[way])
