"""What a file tells of its scans and a draft does not take: asked about, never passed over in silence."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from pipelines.reading.drafting.code_lines import groups_in
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.guessing import Guess, Source, holds_code, unread_by_cells
from pipelines.reading.drafting.numbers import looks_like_number, unit_behind
from pipelines.reading.drafting.scan_lines import fields
from pipelines.reading.drafting.words import MONEY, STATUS, folded, known_in

_OFTEN = 0.5
_MOST = 2_000
_AMOUNT = re.compile(r"\d[\d., ']*[.,]\d\d")
_PIECES = re.compile(r"\s{2,}|[|;,()\[\]:=\n]|\s[-–]\s")


def ask_left_out(draft: Draft, lines: Sequence[str]) -> None:
    """Ask about states of codes and distances that stand in the lines of a file of scans and that the draft leaves out.

    Args:
        draft: With everything else decided.
        lines: The file's lines, or the rows of its tables with two blanks between cells.
    """
    told = _told(draft)
    lines = lines[:_MOST]
    if "odometer" not in told:
        shown = [line for line in lines if any(field.column == "odometer" for field in fields(line))]
        if shown:
            draft.ask(
                "columns.odometer",
                f"Which column is odometer? {shown[0].strip()[:100]!r} may tell it, and nothing reads it (- for none).",
                None,
                "a distance is what tells how long a repair has held",
            )
    if "status" not in told:
        coded = [line for line in lines if holds_code(line)]
        shown = [line for line in coded if any(known_in(STATUS, piece) for piece in _PIECES.split(line))]
        if coded and len(shown) > _OFTEN * len(coded):
            draft.ask(
                "columns.status",
                f"Which column is status? {shown[0].strip()[:100]!r} may tell it, and nothing reads it (- for none).",
                None,
                "a code that is active says more than one that is only stored",
            )


def row_totals(guesses: Sequence[Guess], sources: Mapping[str, Source]) -> list[Guess]:
    """Let the total of each row be its costs, where number and price a piece stand beside it and make just that."""
    taken = {guess.source: guess.column for guess in guesses}
    free = [one for name, one in sources.items() if taken.get(name, "part_cost") == "part_cost"]
    amounts = [one for one in free if len(one.filled) > 1 and all(map(_AMOUNT.fullmatch, one.filled))]
    counts = [one for one in free if one.filled and all(cell.isdecimal() and len(cell) < 4 for cell in one.filled)]
    for total in amounts:
        if not _TOTAL.search(folded(total.name)):
            continue
        for price in amounts:
            if price is not total and any(_make(total, price, count) for count in counts):
                why = f"{total.name!r} is the number of pieces times {price.name!r} in each row"
                return [*(one for one in guesses if one.column != "part_cost"), Guess("part_cost", total.name, why)]
    return [*guesses]


def _make(total: Source, price: Source, count: Source) -> bool:
    """Say whether a number of pieces times their price makes the total of each row that has one."""
    rows = [row for row in zip(total.cells, price.cells, count.cells, strict=False) if row[0].strip()]
    return all(
        bool(each.strip()) and bool(pieces.strip()) and _cents(whole) == _cents(each) * int(pieces)
        for whole, each, pieces in rows
    )


def _cents(amount: str) -> int:
    return int(re.sub(r"\D", "", amount))


_TOTAL = re.compile(
    r"\b(?:total|totals|totaal|totale|line total|summe|gesamt\w*|zeilensumme|betrag|bedrag|importe|importo|montant"
    r"|amount"
    r"|kwota|wartosc|razem|suma|somme|belopp|belob|sum)\b"
)


def ask_costs(draft: Draft, chosen: Mapping[str, list[str]], unused: Sequence[Source]) -> None:
    """Ask about a column of amounts, two digits behind their mark, where no column of a list of repairs has the costs.

    Args:
        draft: With its columns decided.
        chosen: Which of the file's columns is which.
        unused: Those that are none.
    """
    amounts = [one for one in unused if len(one.filled) > 1 and all(map(_AMOUNT.fullmatch, one.filled))]
    if "part_cost" not in chosen and amounts:
        asks = f"Which column is part_cost? {amounts[0].name!r} has amounts like {amounts[0].filled[0]!r} (- for none)."
        why = "its heading does not say what they are, and without costs no fix has a price"
        draft.ask("columns.part_cost", asks, None, why, [one.name for one in amounts])


def ask_prices(draft: Draft, table: str, chosen: Mapping[str, list[str]], unused: Sequence[Source]) -> None:
    """Ask about columns of amounts where no column of a price book, or of a list of stock, has the prices.

    Args:
        draft: With its columns decided.
        table: Parts or stock.
        chosen: Which of the file's columns is which.
        unused: Those that are none.
    """
    column = "part_cost" if table == "parts" else "asking_price"
    numbers = [one for one in unused if len(one.filled) > 1 and all(map(looks_like_number, one.filled))]
    amounts = [one for one in numbers if unit_behind(one.filled) or MONEY.search(one.name) or _has_cents(one, table)]
    if column not in chosen and amounts:
        shown = ", ".join(f"{one.name!r} ({one.filled[0]})" for one in amounts)
        asks = f"Which column is {column}? {shown} may tell it (- for none)."
        draft.ask(f"columns.{column}", asks, None, "no heading says it", [one.name for one in amounts])


def _has_cents(source: Source, table: str) -> bool:
    """Say whether numbers are such as prices are: with cents, or as large as those of cars."""
    cents = any(re.search(r"[.,]\d{1,2}$", cell) for cell in source.filled)
    large = all(int(re.sub(r"\D", "", cell) or 0) >= _PRICE_OF_A_CAR for cell in source.filled)
    return cents if table == "parts" else large and len({*source.filled}) > _FEWEST_PRICES


_PRICE_OF_A_CAR, _FEWEST_PRICES = 2_100, 3  # above years


def ask_unread(draft: Draft, table: str, columns: Sequence[str], unused: Sequence[Source]) -> None:
    """Ask about columns that are named as ones of ours and hold something that is not known here to be that."""
    for column, source in unread_by_cells(unused, table, columns):
        asks = f"{source.name!r} is named as {column} and has cells like {source.filled[0]!r}; may it be left out?"
        draft.ask_leave(
            f"columns.{column}.cells", asks, f"they are not written as {column} is in a way that is known here"
        )


def ask_sold(draft: Draft, chosen: Mapping[str, list[str]], unused: Sequence[Source]) -> None:
    """Ask about a column of a list of stock that says of some cars that they are sold, where no column has the day."""
    told = [(one, cell) for one in unused for cell in one.filled if _SOLD.search(cell)]
    if "sold_on" not in chosen and told:
        source, shown = told[0]
        asks = f"{source.name!r} has cells like {shown!r}, and no column tells when a car was sold; may it be left out?"
        draft.ask_leave("columns.sold", asks, "cars that are sold would stay in the list")


_SOLD = re.compile(r"(?i)\b(?:sold|verkauft|vendue?|vendid[oa]|vendut[oa]|verkocht|sprzedan[ye]|s[aå]ld|solgt)\b")


def ask_modules(draft: Draft, lines: Sequence[str]) -> None:
    """Ask about lines that name a module and that the draft leaves out: it may have been read and be clean."""
    if lines:
        asks = f"Lines like {lines[0].strip()!r} name a module, and no pattern takes them; may they be left out?"
        why = "a module that was read and is clean tells that its codes are gone"
        draft.ask_leave("text.modules", asks, why)


def _told(draft: Draft) -> set[str]:
    """Return the columns of ours that a draft fills."""
    states = {"states", "wide_states", "flags.columns"} & draft.tables.keys()
    told = {"status"} if states or any(line.startswith("crossed = ") for line in draft.tables[""]) else set()
    for name, lines in draft.tables.items():
        for line in lines:
            told |= {group.removesuffix("_2") for group in groups_in(line)}
            if name in ("columns", "constants") and not line.startswith("#"):
                told.add(line.split(" = ")[0])
    return told
