"""Parts and places: spellings that mean one thing meet, others stay apart."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.vocabulary.parts import canonical_parts, canonical_positions, part_key, position_key


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Ignition coil", "ignition-coils"),
        ("Battery", "batteries"),
        ("brake switch", "Brake  Switches"),
        ("boost hose", "boost hoses"),
        ("relay box", "relay boxes"),
        ("fuse", "Fuses"),
        ("wheel\u2011speed sensor", "wheel speed sensor"),
    ],
)
def test_spellings_of_one_part(one, other):
    assert part_key(one) == part_key(other)


@pytest.mark.parametrize("text", ["data bus", "gas", "glass", "chassis", "abs", ""])
def test_words_that_only_look_like_a_plural_stay(text):
    assert part_key(text) == text


def test_only_the_last_word_loses_its_plural():
    assert part_key("Brakes sensors") == "brakes sensor"


@pytest.mark.parametrize(
    ("texts", "key"),
    [
        (["FL", "LF", "front left", "Left Front", "left-front", "front LH", "front left side"], "front left"),
        (["FR", "rf", "right front", "RH front"], "front right"),
        (["RL", "lr", "rear left", "back left"], "rear left"),
        (["RR", "rear right"], "rear right"),
        (["left", "LH", "left hand side"], "left"),
        (["rear"], "rear"),
        (["cylinder 2", "Cyl 2", "cyl. 2", "cyl2", "Cylinder No. 02"], "cylinder 2"),
        (["Bank  1"], "bank 1"),
        (["N/S"], "n/s"),
        (["rear back"], "rear back"),
        (["hand"], "hand"),
    ],
)
def test_spellings_of_one_place(texts, key):
    assert {position_key(text) for text in texts} == {key}


def test_the_price_books_name_wins_over_the_commonest_spelling():
    names, notes = canonical_parts(
        [("Ignition coil", "coil pack; spark coil")], [("ignition coils", 9), ("COIL PACK", 2)]
    )
    assert names == {"Ignition coil": "Ignition coil", "ignition coils": "Ignition coil", "COIL PACK": "Ignition coil"}
    assert notes == []


def test_without_a_price_the_commonest_spelling_wins_and_ties_go_by_the_alphabet():
    names, _ = canonical_parts([], [("purge valves", 2), ("Purge valve", 5), ("fuse", 3), ("Fuse", 3)])
    assert names == {"purge valves": "Purge valve", "Purge valve": "Purge valve", "fuse": "Fuse", "Fuse": "Fuse"}


def test_a_synonym_that_two_parts_claim_goes_to_neither():
    names, notes = canonical_parts([("cam sensor", "pick-up"), ("crank sensor", "pick up")], [("Pick-up", 1)])
    assert names["Pick-up"] == "Pick-up"
    assert notes == ["price book: 'pick up' is claimed by cam sensor and crank sensor; neither has it"]


def test_a_synonym_that_is_another_parts_own_name_stays_with_that_part():
    names, notes = canonical_parts([("hose", ""), ("boost hose", "hose")], [("Hoses", 1)])
    assert names["Hoses"] == "hose"
    assert notes == ["price book: 'hose' is a part of its own, so it is no other name for boost hose"]


def test_two_spellings_in_the_price_book_are_one_part():
    names, _ = canonical_parts([("wheel sensors", ""), ("Wheel sensor", "")], [])
    assert names == {"wheel sensors": "Wheel sensor", "Wheel sensor": "Wheel sensor"}


def test_a_place_is_spelled_as_most_often():
    places = canonical_positions([("FL", 3), ("front left", 8), ("left front", 1), ("cyl 2", 1), ("Cylinder 2", 1)])
    assert places == {
        "FL": "front left",
        "front left": "front left",
        "left front": "front left",
        "cyl 2": "Cylinder 2",
        "Cylinder 2": "Cylinder 2",
    }


NAMES = st.text(st.sampled_from("ab sS-"), max_size=6)


@given(st.lists(st.tuples(NAMES, st.integers(1, 5)), max_size=8, unique_by=lambda counted: counted[0]), st.randoms())
def test_every_spelling_has_one_name_whatever_the_order(repairs, random):
    names, _ = canonical_parts([("ab", "")], repairs)
    shuffled = random.sample(repairs, len(repairs))
    assert canonical_parts([("ab", "")], shuffled)[0] == names
    assert set(names) == {spelling for spelling, _ in repairs} | {"ab"}
    for one in names:
        for other in names:
            assert (names[one] == names[other]) == (part_key(one) == part_key(other))


@given(st.text(max_size=12))
def test_a_place_is_its_own_place(text):
    assert position_key(position_key(text)) == position_key(text)
