"""What past visits have read, summed over codes without laying each visit out over all of them.

Whole modules are read, so a sum over the codes that a visit read is a sum over its modules, put right for the few codes
that were there or are not told of.  Against a table of visits and codes that is a sixtieth of the work.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
RUN = 4096
"""So many visits are looked at together."""


@dataclass(frozen=True, kw_only=True)
class Looks:
    """Visits of cars of one make.

    Attributes:
        make: Its number.
        visits: (n,) their numbers, ascending.
        entries: (e,) the places of their entries.
        asked: (n, modules) 1 where the module was read, else 0.
        homes: (modules, codes) 1 where the code is one of the module's and can be there on that make, else 0.
        there: (n, codes), sparse: 1 where the visit has the code.
        besides: (n, codes), sparse: 1 where a code was there though its module was not read or has no such code;
            -1 where its module was read and nothing is told of it all the same.
    """

    make: int
    visits: Ints
    entries: Ints
    asked: Floats
    homes: Floats
    there: Any
    besides: Any

    def over_read(self, table: Floats) -> Floats:
        """Return (n, k): rows of a table (k, codes), summed over the codes that are known to be there or absent."""
        return np.asarray(self.asked @ (self.homes @ table.T) + self.besides @ table.T)

    def over_absent(self, table: Floats) -> Floats:
        """Return (n, k): rows of a table (k, codes), summed over the codes that are known to be absent."""
        return np.asarray(self.over_read(table) - self.there @ table.T)

    def read(self, weights: Floats) -> Floats:
        """Return (k, codes): weights of the visits (n, k), summed over those that the code is known of."""
        return np.asarray((weights.T @ self.asked) @ self.homes + (self.besides.T @ weights).T)

    def of_entries(self, values: NDArray[Any]) -> Any:
        """Return (n, codes), sparse: what is said of each entry (e,)."""
        return _sparse(values.astype(float), self.there.indices, self.there.indptr, self.homes.shape[1])


def looks_of(
    makes: Ints,
    *,
    asked: NDArray[np.bool_],
    module_of: Ints,
    possible: NDArray[np.bool_],
    entries: tuple[Ints, Ints],
    untold: tuple[Ints, Ints],
) -> Iterator[Looks]:
    """Yield the visits, a run of one make at a time.

    Args:
        makes: (n,) of each visit.
        asked: (n, modules) the module was read.
        module_of: (codes,) the module of each code.
        possible: (makes, codes) the code can be there on that make.
        entries: (n + 1,) where the entries of each visit begin, and (entries,) their codes: those that were there.
        untold: Visits and codes of which nothing is told.
    """
    codes = np.arange(len(module_of))
    homes = np.zeros((asked.shape[1], len(codes)))
    homes[module_of, codes] = 1.0
    for make in np.unique(makes):
        mine = np.flatnonzero(makes == make)
        for at in range(0, len(mine), RUN):
            run = mine[at : at + RUN]
            here = homes * possible[make]
            yield _looks(int(make), run, asked[run].astype(float), here, entries=entries, untold=untold)


def _looks(
    make: int, mine: Ints, asked: Floats, homes: Floats, *, entries: tuple[Ints, Ints], untold: tuple[Ints, Ints]
) -> Looks:
    (first, codes), many = entries, homes.shape[1]
    places = np.concatenate([np.arange(first[v], first[v + 1]) for v in mine])
    begins = np.concatenate([[0], np.cumsum(first[mine + 1] - first[mine])])
    there = np.repeat(np.arange(len(mine)), np.diff(begins)) * many + codes[places]
    here = np.isin(untold[0], mine)
    left_out = np.setdiff1d(np.searchsorted(mine, untold[0][here]) * many + untold[1][here], there)
    keys = np.concatenate([there[~_seen(there, asked, homes)], left_out[_seen(left_out, asked, homes)]])
    signs = np.where(np.isin(keys, there), 1.0, -1.0)
    order = np.argsort(keys)
    keys = keys[order]
    return Looks(
        make=make,
        visits=mine,
        entries=places,
        asked=asked,
        homes=homes,
        there=_sparse(np.ones(len(places)), codes[places], begins, many),
        besides=_sparse(signs[order], keys % many, np.searchsorted(keys // many, np.arange(len(mine) + 1)), many),
    )


def _seen(keys: Ints, asked: Floats, homes: Floats) -> NDArray[np.bool_]:
    """Return for places of visits and codes whether the code's module was read and has the code."""
    line, code = np.divmod(keys, homes.shape[1])
    return np.asarray(asked[line, homes.argmax(axis=0)[code]] * homes[:, code].any(axis=0) > 0)


def _sparse(values: Floats, codes: Ints, begins: Ints, many: int) -> Any:
    from scipy.sparse import csr_array  # noqa: PLC0415 - a question to a fitted model goes without

    return csr_array((values, codes, begins), shape=(len(begins) - 1, many))
