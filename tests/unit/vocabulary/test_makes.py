"""A make is one make however it is typed."""

import pytest

from analysis.vocabulary.makes import make_key


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Corvane", "corvane"),
        ("  Vel  ORA ", "vel ora"),
        ("Ösel", "ösel"),
        ("STRASSE", make_key("Straße")),
        ("A;B:C@D", "a b c d"),
        (" ; ", "unknown"),
    ],
)
def test_a_make_has_one_spelling(text, key):
    assert make_key(text) == key
