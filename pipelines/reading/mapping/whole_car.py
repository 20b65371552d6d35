"""A row that says of the whole car that no code is stored: ``alle; ; kein Fehler gespeichert``.

It means that every control unit that the device reads was read and had none.  Which those are, the earlier scans of the
same car in the file tell.  Without one, the row is kept under a name of its own: the week takes it for the units that
answered in earlier scans of the car in files that are read the same way, which one device wrote.  Where there are none,
it says nothing of any one unit, for nobody knows which were read.
"""

from __future__ import annotations

import re

import polars as pl

from pipelines.reading.drafting.words import folded

WHOLE_CAR = "whole car"
CLEAN_CAR = "whole car clean"
"""What stands as the module of a row that calls the whole car clean where no earlier scan in the file names a unit."""
_ALL = (
    r"(?:all|alle|alles|every|whole|entire|complete|full|gesamt|gesamte|gesamtes|ganzes|komplett|komplettes|tous|toutes"
    r"|tout|todos|todas|todo|tutti|tutte|tutto|wszystkie|wszystko|alla|hela|hele|volledige)"
)
_OF_WHAT = (
    r"(?:modules?|modulen?|control units?|control modules?|units?|ecus?|systems?|steuergerate?|steuergeraete|systeme?"
    r"|sg|car|vehicle|auto|wagen|fahrzeug|calculateurs|systemes|vehicule|modulos|unidades|sistemas|coche|vehiculo"
    r"|centraline|moduli|sistemi|veicolo|regeleenheden|sterowniki|moduly|styrenheter|bilen)"
)
_NAMES = re.compile(rf"{_ALL}(?: (?:of )?(?:the |les |los |las |le |die |het |de )?{_OF_WHAT})?|gesamtfahrzeug")
_SHOWN = 5


def means_whole_car(name: str) -> bool:
    """Say whether a text in place of a control unit means all of the car's."""
    return _NAMES.fullmatch(folded(name)) is not None


def with_units_of_clean_cars(frame: pl.DataFrame, name: str | None, said: pl.Series) -> tuple[pl.DataFrame, list[str]]:
    """Give each row that calls the whole car clean a row for each control unit of the car's earlier scans.

    Args:
        frame: Rows of scans in the layout: Int64 ``row``; String ``module``, and ``vehicle``, ``vin``, ``scanned_at``,
            ``code``, ``module_state`` as far as there are any.
        name: What a mapping calls the module of a row that names none; None: it has no such name.
        said: The numbers of the rows whose words say that there is no code: one that names no unit and says nothing
            calls no unit clean.

    Returns:
        The frame, each new row with the number of the row it was made of; and in words what was done.
    """
    if "module" not in frame.columns or "scanned_at" not in frame.columns:
        return frame, []
    every = [cell for cell in frame["module"].drop_nulls().unique() if means_whole_car(cell) and cell != name]
    words = [*every, name or WHOLE_CAR]
    named = pl.col("module").is_in(every) | (
        (pl.col("module") == (name or WHOLE_CAR)) & pl.col("row").is_in(said.implode())
    )
    blank = [pl.col(column).is_null() for column in ("code", "module_state") if column in frame.columns]
    whole = frame.select(pl.all_horizontal(named, *blank).fill_null(False)).to_series()
    if not whole.any():
        return frame, []
    cars = [pl.col(column).str.to_lowercase() for column in ("vin", "vehicle") if column in frame.columns]
    keyed = frame.with_columns(whole=whole, car=pl.coalesce(*cars, pl.lit(None, pl.String)) if cars else pl.lit(""))
    units = keyed.filter(~whole, ~pl.col("module").is_in(words) & (pl.col("module").str.strip_chars() != ""))
    clean = keyed.filter(whole).with_row_index("clean")
    pairs = (
        clean.select("clean", "car", at="scanned_at")
        .join(units.select("car", "module", "scanned_at"), on="car")
        .filter(pl.col("scanned_at") < pl.col("at"))
        .select("clean", "module")
        .unique(maintain_order=True)
    )
    made = clean.drop("module").join(pairs, on="clean", how="left", maintain_order="left_right")
    alone = made["module"].is_null()
    made = made.with_columns(pl.col("module").fill_null(CLEAN_CAR))
    both = pl.concat([keyed.filter(~whole), made.select(keyed.columns)]).sort("row", maintain_order=True)
    return both.select(frame.columns), _told(made, alone)


def _told(made: pl.DataFrame, alone: pl.Series) -> list[str]:
    """Say in words what became of the rows."""
    notes = []
    for rows, what in (
        (
            made.filter(~alone)["row"].unique(maintain_order=True),
            "every control unit is clean; taken for those that the car's earlier scans in this file name",
        ),
        (
            made.filter(alone)["row"].unique(maintain_order=True),
            "every control unit is clean, but no earlier scan of the car in this file names any: taken for those that "
            "answered in its earlier scans in other files read the same way; where there are none it tells of no one "
            "unit: for their codes to count as gone, put a row into the file for each unit that was read",
        ),
    ):
        if len(rows):
            shown = ", ".join(map(str, rows.to_list()[:_SHOWN])) + (", ..." if len(rows) > _SHOWN else "")
            notes.append(f"row{'s' if len(rows) > 1 else ''} {shown} say{'' if len(rows) > 1 else 's'} that {what}")
    return notes
