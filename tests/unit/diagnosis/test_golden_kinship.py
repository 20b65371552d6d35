"""Numbers of how far makes speak alike, by hand: odds that two makes share their numbers, by texts and by parts."""

from dataclasses import replace

import pytest

from analysis.diagnosis.inputs.make_kinship import kindred_codes
from analysis.diagnosis.inputs.text_matching import Reader
from tests.support.diagnosis_dealer import Dealer

SAME_TEXT, OTHER_TEXT = 0.85 / 0.02, 0.15 / 0.98
SAME_PART, OTHER_PART = 0.6 / 0.1, 0.4 / 0.9


def kinship(texts: tuple[str | None, str | None] = (None, None), parts: tuple[str, ...] = ()) -> float:
    """How far one maker's code leans on its namesake at another make; 0 where that is left out."""
    dealer = Dealer()
    for n, make in enumerate(("corvane", "halvet")):
        key = f"BCM:B1317@{make}"
        dealer.code(key, texts[n])
        if parts:
            dealer.job({key: "cleared"}, (parts[n],), make=make)
    frames = dealer.frames()
    found = kindred_codes(replace(frames, codes=frames.codes.sort("code")), Reader(frames.trade_words))
    assert [pair[:2] for pair in found] in ([(0, 1), (1, 0)], [])
    return found[0][2] if found else 0.0


@pytest.mark.parametrize(
    ("texts", "parts", "told"),
    [
        ((None, None), (), 1.0),
        (("rear lamp", "rear lamp"), (), SAME_TEXT),
        ((None, None), ("lamp", "lamp"), SAME_PART),
        ((None, None), ("lamp", "horn"), OTHER_PART),
        (("rear lamp", "horn relay"), ("lamp", "lamp"), OTHER_TEXT * SAME_PART),
        # Just enough to be told: .062, where .05 is the least.
        (("rear lamp", "horn relay"), (), OTHER_TEXT),
    ],
)
def test_what_texts_and_parts_tell_of_two_makes(texts, parts, told) -> None:
    odds = 0.3 / 0.7 * told
    assert kinship(texts, parts) == pytest.approx(odds / (1 + odds))


def test_less_than_one_in_twenty_is_left_out() -> None:
    # .028: other texts and other parts.
    assert kinship(("rear lamp", "horn relay"), ("lamp", "horn")) == 0.0
