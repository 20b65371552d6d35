"""A share that is done: loops within loops, told to whoever listens."""

from __future__ import annotations

from contextlib import suppress

import pytest

from analysis.progress import each, listening, portion
from pipelines.batch.step import Said


def test_a_loop_within_a_turn_moves_within_its_share() -> None:
    told: list[float] = []
    with listening(told.append):
        for _ in each("ab"):
            for _ in each(range(2)):
                pass
    # Two turns of two turns each: quarters, the first of each loop as it begins.
    assert told == [0, 0, 0.25, 0.5, 0.5, 0.75]


def test_parts_of_a_work_follow_each_other() -> None:
    told: list[float] = []
    with listening(told.append):
        with portion(0.0, 0.2):
            list(each("ab"))
        with portion(0.2, 1.0):
            list(each("ab"))
    assert told == pytest.approx([0, 0, 0.1, 0.2, 0.2, 0.6])


def test_nobody_has_to_listen_and_a_broken_loop_leaves_nobody_behind() -> None:
    assert list(each("abc")) == ["a", "b", "c"]
    told: list[float] = []
    with listening(told.append), suppress(ZeroDivisionError):
        for turn in each(range(3)):
            1 // (1 - turn)
    list(each("ab"))
    assert told == [0, 1 / 3]


def test_a_share_stands_behind_the_last_words_and_never_falls() -> None:
    heard: list[str] = []
    said = Said(heard.append)
    said("check the past")
    for share in (0, 0.1, 0.104, 0.05, 0.5):
        said.share(share)
    said("keep a snapshot")
    said.share(0.02)
    assert heard == [
        *("check the past", "check the past, 10%", "check the past, 50%"),
        *("keep a snapshot", "keep a snapshot, 2%"),
    ]
