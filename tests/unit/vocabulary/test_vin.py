"""Vehicle numbers against the examples published with the United States' rule."""

import re

import pytest

from analysis.vocabulary.vin import check_digit, is_no_vin, model_year, read_vin

# Published with 49 CFR 565: the number and its check digit.
PUBLISHED = [("1G4AH59H45G118341", "4"), ("1M8GDM9AXKP042788", "X"), ("1J9RP1A36A1644345", "6"), ("1" * 17, "1")]


@pytest.mark.parametrize(("vin", "digit"), PUBLISHED)
def test_published_check_digits(vin, digit):
    assert check_digit(vin) == digit == vin[8]
    assert read_vin(vin).warnings == ()


def test_an_independent_library_agrees_on_the_check_digit():
    vininfo = pytest.importorskip("vininfo", reason="the reference reader of vehicle numbers is not installed")
    for vin, _ in PUBLISHED:
        for digit in "0123456789X":
            tried = vin[:8] + digit + vin[9:]
            assert (check_digit(tried) == digit) == vininfo.Vin(tried).verify_checksum()


def test_a_swap_of_two_digits_is_caught():
    # By hand: 7 x 4 + 8 x 3 becomes 8 x 4 + 7 x 3, so the published sum of 351 becomes 352 = 32 x 11, rest 0.
    assert read_vin("1M8GDM9AXKP042878").warnings == ("its check digit is X; 0 would fit",)


@pytest.mark.parametrize("first", "12345L")
def test_a_wrong_check_digit_is_a_warning_where_the_region_uses_one(first):
    vins = [f"{first}ZZZZZZZ{digit}ZZ000001" for digit in "0123456789X"]
    assert sorted(len(read_vin(vin).warnings) for vin in vins) == [0] + [1] * 10


@pytest.mark.parametrize("first", "WSVJK6")
def test_elsewhere_position_nine_is_free(first):
    assert read_vin(first + "ZZZZZZZZZZ000001").warnings == ()


def test_spaces_and_small_letters_do_not_matter():
    assert read_vin(" 1m8gdm9a xkp042788 ").vin == "1M8GDM9AXKP042788"


@pytest.mark.parametrize("text", ["AB12-345678", "12345678"])
def test_a_short_number_is_kept_with_a_warning(text):
    read = read_vin(text)
    assert read.vin == text
    assert read.warnings == (f"it has {len(text)} characters, not 17",)


@pytest.mark.parametrize(
    "text", ["1M8GDM9AXKPO42788", "IM8GDM9AXKP042788", "1M8GDM9AXKQ042788", "1M8GDM9AXKP0427881", "12_45678", "1", ""]
)
def test_what_no_vehicle_number_can_be(text):
    assert read_vin(text).vin is None


def test_a_check_digit_needs_a_full_number():
    with pytest.raises(ValueError, match=re.escape("expected 17 letters and digits without I, O and Q; got '123'")):
        check_digit("123")


# 49 CFR 565.15(d): position 10 names the year, a letter at position 7 the years from 2010.
@pytest.mark.parametrize(
    ("vin", "year"),
    [
        ("1M8GDM9AXKP042788", 1989),
        ("1G4AH59H45G118341", 2005),
        ("1J9RP1A36A1644345", 2010),
        ("1J9RP1136Y1644345", 2000),
        ("1J9RP1136A1644345", 1980),
        ("1J9RP1A3691644345", 2039),
        ("1J9RP1A36Z1644345", None),
        ("WJ9RP1A36A1644345", None),
        ("12345678", None),
    ],
)
def test_the_model_year_of_north_american_numbers(vin, year):
    assert model_year(vin) == year


@pytest.mark.parametrize("text", ["UNKNOWN", "n/a", "0" * 17, "0000", "NOT AVAILABLE", "XXXXXXXXXXXXXXXXX", "-"])
def test_what_stands_in_place_of_a_vehicle_number_is_none(text):
    assert is_no_vin(text)
    assert read_vin(text).vin is None


def test_a_number_with_letters_or_one_digit_all_over_can_be_a_vehicle_number():
    assert not any(is_no_vin(text) for text in ("1" * 17, "ZZZCV1ALD00000001", "AB12-345678"))
