"""What a visit itself taught is taken out before that visit is weighed again.

A part and a code that met by chance on one car would otherwise teach, round after
round, that the one sets the other: the visit would be judged by a belief that it made
itself.  Codes of no cause then seem rare, and those that come back seem to be all of
them.  So from the second round on the links and leaks of a visit's codes are those
that all other visits teach; the rest of what is believed, how often all codes together
have no cause among it, keeps the visit in, as one of many.

Source:
    A. Asuncion, M. Welling, P. Smyth and Y. W. Teh, "On smoothing and inference for topic models", Uncertainty in
    Artificial Intelligence (2009): the collapsed update of order zero, here for a noisy-OR with leaks.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.diagnosis.model.noisy_or import Cases, Floats, Tally
from analysis.diagnosis.model.parameters import SPEAKS, Knowledge
from analysis.diagnosis.model.priors import LEAK_VISITS, OTHER_VISITS

Indices = NDArray[np.intp]
FAINT_FROM = 2.0
"""Once more visits than this with a part's fault say that it sets a code, of which no text speaks, less often than
``SPEAKS``, it is taken to set it never: chance meetings of common parts with codes of no cause would else pass for weak
links."""
LEAST = 1e-6
"""Least count that is left of a link, so that rounding makes none negative."""


@dataclass(frozen=True)
class Share:
    """What a block of visits taught in the round before.

    Attributes:
        who: (n, k) the parts that were weighed, -1 in unused places.
        tally: The expected counts of these parts, and of the codes that were there.
    """

    who: Indices
    tally: Tally


def without_own(
    cases: Cases, places: tuple[Indices, Indices], knowledge: Knowledge, share: Share, reads: Floats
) -> Cases:
    """Return the cases with links and leaks as all other visits teach them.

    Args:
        cases: The block, under the knowledge of all visits.
        places: Its parts (n, k) and codes (n, m), -1 in unused places.
        knowledge: What all visits taught in the round before.
        share: What these visits contributed to it.
        reads: (codes,) visits in which the code's module was read.

    Returns:
        The same cases, but for ``link`` and ``leak``.
    """
    who, what = places
    same = ((who[:, :, None] == share.who[:, None, :]) & (who >= 0)[:, :, None]).astype(float)
    here = who[:, :, None], what[:, None, :]
    yes = np.maximum(knowledge.link_yes[here] - same @ share.tally.set_by, LEAST)
    faults = (same @ share.tally.faulty[:, :, None])[:, :, 0]
    visits = np.maximum(knowledge.link_yes[here] + knowledge.link_no[here] - faults[:, :, None], yes)
    worth = LEAK_VISITS + reads[what] - 1
    leak = np.clip((cases.leak * (worth + 1) - share.tally.leaked) / worth, LEAST, 0.5)
    link = np.where(cases.link > 0, yes / visits, 0.0)
    taught = knowledge.taught[here] - faults[:, :, None]
    faint = (link < SPEAKS) & (taught > FAINT_FROM) & (visits - taught < OTHER_VISITS + 0.5)
    link = np.where(faint, 0.0, link)
    return replace(cases, link=link, leak=np.where(cases.shown, leak, 0.0))
