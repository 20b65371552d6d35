"""Every setting has a default and a range, and a bad line is named."""

import tomllib

import pytest

from analysis.texts.formatter import Formatter
from pipelines.errors import SettingsError
from pipelines.settings import Settings, default_toml, load_settings


def test_a_missing_file_means_the_defaults(tmp_path):
    assert load_settings(tmp_path / "knockon.toml") == Settings()


def test_the_file_that_init_writes_holds_the_defaults(tmp_path):
    path = tmp_path / "knockon.toml"
    path.write_text(default_toml(), encoding="utf-8")
    assert load_settings(path) == Settings()
    assert tomllib.loads(default_toml()) == vars(Settings())


def test_given_values_replace_defaults_and_a_byte_order_mark_does_no_harm(tmp_path):
    path = tmp_path / "knockon.toml"
    path.write_text('labour_rate = 52.5\ntime_zone = "Europe/Berlin"\n', encoding="utf-8-sig")
    settings = load_settings(path)
    assert (settings.labour_rate, settings.cents("labour_rate"), settings.zone.key) == (52.5, 5250, "Europe/Berlin")


def test_the_formatter_is_what_the_file_says_of_it(tmp_path):
    path = tmp_path / "knockon.toml"
    for style in ("iso", "day first", "month first"):
        path.write_text(f'currency = "GBP"\nodometer_unit = "mi"\ndate_style = "{style}"\n', encoding="utf-8")
        assert load_settings(path).formatter == Formatter("GBP", "mi", style)
    assert Settings().formatter == Formatter("EUR", "km", "iso")


def test_a_whole_number_stays_one(tmp_path):
    path = tmp_path / "knockon.toml"
    path.write_text("labour_rate = 45\nq_value = 0.1\n", encoding="utf-8")
    assert repr(load_settings(path).labour_rate) == "45"


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("min_vehicles = 1", r"knockon\.toml:2: min_vehicles: expected a whole number from 2 to 1000 .*, found 1"),
        ("min_vehicles = true", r"knockon\.toml:2: min_vehicles: expected a whole number .* found True"),
        ("q_value = 7", r"knockon\.toml:2: q_value: expected a number from 0\.0001 to 0\.5 \(a share\), found 7"),
        ('odometer_unit = "leagues"', r"knockon\.toml:2: odometer_unit: expected one of km, mi, found 'leagues'"),
        ('time_zone = "Mars/Base"', r"knockon\.toml:2: time_zone: expected a time zone's name"),
        (
            'date_style = "us"',
            r"knockon\.toml:2: date_style: expected one of iso, day first, .*month first, found 'us'",
        ),
        ('csv_prefix = "no"', r"knockon\.toml:2: csv_prefix: expected true or false, found 'no'"),
        ("labour_rate = nan", r"knockon\.toml:2: labour_rate: expected a number from 0 to 10000 .*, found nan"),
        ("labour_rate = true", r"knockon\.toml:2: labour_rate: expected a number from 0 to 10000 .*, found True"),
        ("time_zone = []", r"knockon\.toml:2: time_zone: expected a time zone's name like Europe/Berlin, found \[\]"),
        ('currency = "EUR\\n"', r"knockon\.toml:2: currency: expected three capital letters like EUR, found 'EUR"),
        ('workers = "0"', r'knockon\.toml:2: workers: expected blank, a number of processes like "2" or an .*, found'),
        ("backups_monthly = 1.5", r"knockon\.toml:2: backups_monthly: expected a whole number from 0 to 1000"),
        ("q_value = 7\nlabour_rate = -1", r"knockon\.toml:2: q_value: "),
        ("labour_rates = 3", r"knockon\.toml:2: labour_rates is no setting; did you mean labour_rate\?"),
        ("[paths]", r"knockon\.toml:2: paths is no setting; the settings are currency,"),
        ("labour_rate =", r"knockon\.toml: expected TOML text in UTF-8; .*line 2"),
    ],
)
def test_a_bad_line_is_named_with_what_was_wanted(tmp_path, line, message):
    path = tmp_path / "knockon.toml"
    path.write_text(f"# mine\n{line}\n", encoding="utf-8")
    with pytest.raises(SettingsError, match=message):
        load_settings(path)
