"""From the cells of somebody's export to the cells of the layout it belongs to.

Words are translated, dates and numbers brought to one form, several codes in one
cell or one column a module spread over rows.  What cannot be read as the mapping
says refuses its row, with its place; what comes out is checked like any other file.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC

import polars as pl

from analysis.vocabulary.codes import bytes_to_code
from pipelines.reading.account import LIKE_A_CODE, codes_of
from pipelines.reading.cell_values import once_each
from pipelines.reading.drafting.erase_words import only_erased
from pipelines.reading.drafting.words import ACTIONS, RESETS, STATUS, folded, known_in, verb_of, works_in
from pipelines.reading.mapping.dates import COUNTED, names_no_day, read_date
from pipelines.reading.mapping.durations import minutes_in
from pipelines.reading.mapping.free_work import with_work_read
from pipelines.reading.mapping.mapping_file import BY_CODE, Mapping, nth
from pipelines.reading.mapping.patterns import groups_of
from pipelines.reading.mapping.table_surroundings import named
from pipelines.reading.mapping.units_in_cells import units_apart
from pipelines.reading.mapping.whole_car import with_units_of_clean_cars
from pipelines.reading.tabular.raw_table import RawTable, Reject, tidy

WIDE, WIDE_STATE, FLAG, CROSSED = "wide ", "state of wide ", "flag ", "crossed "
CLEAN = "modules without codes"
NO_ANSWER = "modules that did not answer"
REPEATED = "codes told twice"
"""The column, on its way, whose codes another one has in full."""
ERASED = "codes were erased"
"""The column, on its way, that says whether codes were erased at the visit of a row of repairs."""
SESSION = "number of the scan"
"""The column, on its way, that says which rows are of one scan."""
_DAYS = ("datetime", "date", "day or time")
_ISO = re.compile(r"\d{4}-\d\d-\d\d(?:[ T]\d\d:\d\d(?::\d\d)?)?")
_AFTER_SPREADING = ("module", "code")
_SHOWN = 200


@dataclass
class _Work:
    """A table on its way, its refused rows beside it."""

    frame: pl.DataFrame
    rejects: list[Reject]
    codes: Counter[str] = field(default_factory=Counter)

    def each(self, column: str, change: Callable[[pl.Series], pl.Series], why: str | Callable[[str], str]) -> None:
        """Change the distinct cells of a column; a row whose cell cannot be changed is refused, and told why."""
        cells = self.frame[column]
        changed = once_each(cells, change)
        self.frame = self.frame.with_columns(changed)
        bad = cells.is_not_null() & changed.is_null()
        if bad.any():
            refused = pl.DataFrame([self.frame["row"], cells]).filter(bad)
            self.rejects += [
                (row, column, value[:_SHOWN], why if isinstance(why, str) else why(value))
                for row, value in refused.iter_rows()
            ]
            self.leave_out(bad)

    def leave_out(self, bad: pl.Series) -> None:
        """Take refused rows out, and count the codes in them."""
        for cells in self.frame.filter(bad).select(pl.exclude("row")).iter_columns():
            self.codes += codes_of(cells)
        self.frame = self.frame.filter(~bad)

    def blank(self, column: str) -> None:
        """Trim a column's cells and make blank ones null."""
        cell = pl.col(column).str.strip_chars()
        self.frame = self.frame.with_columns(pl.when(cell.str.len_bytes() > 0).then(cell))


def to_layout(found: RawTable, mapping: Mapping) -> RawTable:
    """Bring a table of somebody's cells into the mapping's layout.

    Args:
        found: Int64 ``row``; String columns of the layout as the file spells them; with a column a module, one column
            ``wide NAME`` each.
        mapping: What they mean.

    Returns:
        Rows for the layout's own check, dates with an offset or of another zone in UTC; one row of the file
        can be several here, all with its number.
    """
    found.frame = _numbered_visits(found.frame, mapping)
    work = _Work(_code_by_code(_of_sessions(_units_apart(found, mapping)), mapping), found.rejects)
    _read_flags(work, mapping)
    if mapping.crossed is not None:
        work.frame = _crossed(work.frame, mapping)
    if "code" in mapping.pick or mapping.wide_states or mapping.codes.each:
        work.frame = _spread(work.frame, mapping)
        if "code" in work.frame.columns:
            work.frame = _codes_split(work.frame, mapping)
            _each_code(work, mapping)
    work.frame = _one_work_a_row(work.frame, mapping)
    _pick_apart(work, mapping)
    work.frame = _with_listed_modules(work.frame)
    _read_free_work(work, mapping)
    constants = {name: value for name, value in mapping.constants.items() if name not in work.frame.columns}
    _read_cells(work, mapping, [name for name in work.frame.columns if name not in _AFTER_SPREADING])
    work.frame = _resets(_without_erased_parts(work.frame, constants), mapping)
    _in_our_units(work, mapping)
    work.frame = _spread(work.frame, mapping)
    _read_cells(work, mapping, _AFTER_SPREADING)
    said = _said_clean(work.frame, mapping)
    work.frame = _one_code_a_row(work.frame, mapping)
    if mapping.codes.three_bytes and "code" in work.frame.columns:
        work.frame = work.frame.with_columns(once_each(work.frame["code"], _each_text(spelled_of_bytes)))
    _refuse_two_codes(work)
    if mapping.codes.modules_between is not None and "module" in work.frame.columns:
        _listed_modules_apart(work, mapping, mapping.codes.modules_between)
    if mapping.codes.whole_car is not None and "module" in work.frame.columns:
        work.frame = work.frame.with_columns(module=_or_whole_car(work.frame, mapping.codes.whole_car))
    if constants.get("odometer_unit") == "mil":
        constants["odometer_unit"] = "km"
    work.frame = work.frame.with_columns(pl.lit(value, pl.String).alias(name) for name, value in constants.items())
    if constants.get("module") == BY_CODE:
        work.frame = work.frame.with_columns(module=_by_code(work.frame))
    work.frame = _erases(work.frame, mapping)
    work.frame, told = with_units_of_clean_cars(work.frame, mapping.codes.whole_car, said)
    if found.found is not None:
        found.found.refused += work.codes
    return RawTable(work.frame, work.rejects, [*found.notes, *told], found.found)


def _numbered_visits(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Name the jobs of a printed text that names none: what was done to one car on one day is one."""
    if mapping.table != "repairs" or mapping.text is None or "job" in frame.columns:
        return frame
    named = [pl.col(name).str.strip_chars() for name in ("vehicle", "done_at") if name in frame.columns]
    return frame.with_columns(job=pl.concat_str(named, separator=" ", ignore_nulls=True)) if named else frame


def _units_apart(found: RawTable, mapping: Mapping) -> pl.DataFrame:
    return tidy(units_apart(tidy(_told_once(found)), mapping.codes.units, found.rejects))


def _told_once(found: RawTable) -> pl.DataFrame:
    """Return the cells without a column that repeats codes, which are counted once then."""
    if REPEATED not in found.frame.columns:
        return found.frame
    if found.found is not None and found.found.codes is not None:
        found.found.codes -= codes_of(found.frame[REPEATED])
    return found.frame.drop(REPEATED)


def _of_sessions(frame: pl.DataFrame) -> pl.DataFrame:
    """Fill what rows of a scan lack of car, day and distance by what another of them tells; that one is no row itself.

    Of two days of one scan, as each of its lines has one, the first counts.
    """
    if SESSION not in frame.columns:
        return frame
    head = [name for name in _OF_A_SCAN if name in frame.columns]
    rest = [pl.col(name).is_not_null() for name in ("module", "code", "module_state") if name in frame.columns]
    tells = pl.any_horizontal(pl.lit(False), *rest)
    first = [pl.col(name).drop_nulls().first().over(SESSION) for name in head]
    # A line without a number of a scan stands for itself.
    numbered = pl.col(SESSION).is_not_null()
    filled = [
        pl.when(numbered).then(one).otherwise(pl.col(name)).alias(name) for one, name in zip(first, head, strict=True)
    ]
    frame = frame.with_columns(*filled, tells=tells, some=tells.any().over(SESSION))
    return frame.filter(~numbered | pl.col("tells") | ~pl.col("some")).drop("tells", "some", SESSION)


_OF_A_SCAN = ("vehicle", "vin", "scanned_at", "odometer", "odometer_unit")


def _read_flags(work: _Work, mapping: Mapping) -> None:
    """Fill the state of each code by the columns that say it with a cross or a yes; the one that says most counts."""
    flags = mapping.flags
    if flags is None:
        return
    state: pl.Expr = pl.lit(flags.otherwise, pl.String)
    for name in flags.columns:
        word = work.frame[FLAG + name].str.to_lowercase()
        bad = word.is_not_null() & ~word.is_in([*flags.yes, *flags.no]).fill_null(False)
        if bad.any():
            why = f"expected one of {', '.join((*flags.yes, *flags.no))} in {name}"
            refused = work.frame.select("row", FLAG + name).filter(bad)
            work.rejects += [(row, "status", value[:_SHOWN], why) for row, value in refused.iter_rows()]
            work.leave_out(bad)
    for most in reversed(_SAYS_MOST):
        for name, means in flags.columns.items():
            if means == most:
                ticked = pl.col(FLAG + name).str.strip_chars().str.to_lowercase().is_in(list(flags.yes))
                state = pl.when(ticked.fill_null(False)).then(pl.lit(most)).otherwise(state)
    if "code" in work.frame.columns:
        told = pl.col("code").is_not_null() & ~pl.col("code").str.to_lowercase().is_in(list(mapping.codes.in_place))
        state = pl.when(told).then(state)
    work.frame = work.frame.with_columns(status=state).drop(FLAG + name for name in flags.columns)


_SAYS_MOST = ("active", "permanent", "confirmed", "pending", "history")


def _crossed(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Make one row a code of a row with one column a code: what stands there is its state, or a mere cross."""
    names = [name for name in frame.columns if name.startswith(CROSSED)]
    kept = [name for name in frame.columns if name not in names]
    parts, none = [], list(mapping.codes.no_codes)
    for place, name in enumerate(names):
        told = named(name.removeprefix(CROSSED), mapping.crossed)
        own = {column: pl.lit(text, pl.String) for column, text in told.items()}
        parts.append(
            frame.filter(pl.col(name).is_not_null() & ~pl.col(name).str.to_lowercase().is_in(none)).select(
                *(one for one in kept if one not in (*own, "status")),
                **own,
                status=pl.col(name),
                place=pl.lit(place, pl.Int64),
            )
        )
    return pl.concat(parts, how="diagonal").sort("row", "place", maintain_order=True).drop("place") if parts else frame


def _one_work_a_row(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Give each work of a cell that names several its own row; its costs stay with the first of those that cost most.

    A part put in new is what a visit's money and time went to rather than what was cleaned, checked or erased beside.
    """
    if mapping.table != "repairs" or "action" not in frame.columns:
        return frame
    works = {cell: pieces for cell in frame["action"].drop_nulls().unique() if len(pieces := works_in(cell)) > 1}
    if not works:
        return frame
    lists = pl.Series("action", [works.get(cell, [cell]) for cell in frame["action"]], dtype=pl.List(pl.String))
    apart = frame.with_columns(lists, cell=pl.int_range(pl.len(), dtype=pl.Int64)).explode("action", empty_as_null=True)
    ranks = {cell: _rank(cell, mapping) for cell in apart["action"].drop_nulls().unique()}
    rank = pl.col("action").replace_strict(ranks, default=len(ACTIONS), return_dtype=pl.Int64)
    first = pl.int_range(pl.len()).over("cell") == rank.arg_min().over("cell")
    costs = [name for name in ("part_cost", "labour_minutes") if name in frame.columns]
    return apart.with_columns(pl.when(first).then(pl.col(costs)) if costs else []).drop("cell")


def _read_free_work(work: _Work, mapping: Mapping) -> None:
    """Read what was done out of free words; a line that tells no work on a part is refused, so that it is counted."""
    if mapping.other_work is None or "action" not in work.frame.columns:
        return
    work.blank("action")
    if "part" in work.frame.columns:
        work.blank("part")
    texts = work.frame["action"]
    work.frame, out = with_work_read(work.frame, mapping.other_work, mapping.values.get("action", {}))
    if out.any():
        lost = work.frame.select("row").with_columns(texts).filter(out)
        work.rejects += [(row, "action", (text or "")[:_SHOWN], _NO_WORK) for row, text in lost.iter_rows()]
        work.leave_out(out)


_NO_WORK = "tells no work on a part, so it is left out; expected what was done and to which part, like replaced battery"


def _rank(work: str, mapping: Mapping) -> int:
    """Return the place of a work among the kinds of work, by the first or last word that says it."""
    said = mapping.values.get("action", {})
    words = [work, verb_of(work, loose=True) or "", verb_of(work, at_end=True) or ""]
    told = [said.get(word.lower()) or known_in(ACTIONS, word) for word in words if word]
    return next((list(ACTIONS).index(means) for means in told if means in ACTIONS), len(ACTIONS))


THREE_BYTES = re.compile(r"(?:0[xX])?([0-9A-Fa-f]{2})[ .:-]?([0-9A-Fa-f]{2})[ .:-]?([0-9A-Fa-f]{2})[hH]?")
"""Six hex digits, as exports print three bytes."""


def spelled_of_bytes(cell: str) -> str:
    """Return three bytes as the code of the first two with the third as its failure type; other cells as they are.

    Source: ISO 14229-1 sends a code as three bytes; with its format ISO 15031-6 the first two are those of SAE J2012.
    """
    match = THREE_BYTES.fullmatch(cell)
    if match is None:
        return cell
    high, low, kind = match.groups()
    return f"{bytes_to_code(int(high, 16), int(low, 16))}-{kind.upper()}"


def _without_erased_parts(frame: pl.DataFrame, constants: dict[str, str]) -> pl.DataFrame:
    """Read words in the place of a part that say that nothing was done but an erase, as that, and as no part.

    What else the row says was done, or is said of all rows, was done to no part then.
    """
    if "part" not in frame.columns:
        return frame
    words = [cell for cell in frame["part"].drop_nulls().unique() if only_erased(folded(cell))]
    if not words:
        return frame
    said = pl.col("part").is_in(words)
    action = pl.col("action") if "action" in frame.columns else pl.lit(constants.pop("action", None), pl.String)
    return frame.with_columns(
        action=pl.when(said).then(pl.lit("erase")).otherwise(action), part=pl.when(~said).then("part")
    )


def _resets(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Read a reset as an adjustment of the part beside it, and as an erase where no part is named."""
    if mapping.table != "repairs" or "action" not in frame.columns:
        return frame
    words = [cell for cell in frame["action"].drop_nulls().unique() if folded(cell) in RESETS]
    part = pl.col("part").is_null() if "part" in frame.columns else pl.lit(True)
    means = pl.when(part).then(pl.lit("erase")).otherwise(pl.lit("adjust"))
    return frame.with_columns(action=pl.when(pl.col("action").is_in(words)).then(means).otherwise("action"))


def _erases(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Give each row of repairs that says that codes were erased a second row, which says it as the layout does."""
    if mapping.erased_after_each:
        return _erased_after_each(frame)
    if mapping.erased is None:
        return frame
    yes = pl.col(ERASED).str.to_lowercase().is_in(list(mapping.erased.yes)).fill_null(False)
    said = frame.filter(yes)
    work = [pl.col(name).is_null() for name in ("action", "part") if name in frame.columns]
    frame = frame.filter(~(yes & pl.all_horizontal(work))) if work else frame  # nothing was done but that
    visit = [name for name in ("row", *_VISIT) if name in frame.columns]
    erases = said.select(*visit, action=pl.lit("erase", pl.String)).unique(visit[1:], keep="first", maintain_order=True)
    if "action" in frame.columns:  # a visit of which a row itself says it has that row
        own = frame.filter(pl.col("action") == "erase").select(visit[1:]).unique()
        erases = erases.join(own, on=visit[1:], how="anti", nulls_equal=True)
    both = pl.concat([frame.drop(ERASED), erases], how="diagonal")
    return both.sort("row", maintain_order=True)


def _erased_after_each(frame: pl.DataFrame) -> pl.DataFrame:
    """Give each job an erase that has none of its own; a row without a day tells of no job."""
    job = [name for name in ("vehicle", "job", "done_at") if name in frame.columns]
    visit = ["row", *(name for name in _VISIT if name in frame.columns)]
    made = frame.filter(pl.all_horizontal(pl.col(job).is_not_null())).select(*visit, action=pl.lit("erase", pl.String))
    named = job[:2]
    erases = made.unique(named, keep="last", maintain_order=True)
    if "action" in frame.columns:
        own = frame.filter(pl.col("action") == "erase").select(named).unique()
        erases = erases.join(own, on=named, how="anti")
    return pl.concat([frame, erases], how="diagonal").sort("row", maintain_order=True)


_VISIT = ("vehicle", "job", "done_at", "odometer", "odometer_unit")


def _by_code(frame: pl.DataFrame) -> pl.Expr:
    """Return the module that the letter of a code stands for; a row without a code is of the engine's.

    Source: ISO 15031-6 gives P to the powertrain, C to the chassis, B to the body and U to the network, of no one unit.
    """
    code = pl.col("code") if "code" in frame.columns else pl.lit(None, pl.String)
    letter = code.str.strip_chars().str.slice(0, 1).str.to_uppercase()
    return letter.replace_strict(_LETTERS, default="ECM", return_dtype=pl.String)


_LETTERS = {"C": "ABS", "B": "BCM"}


_NO_MODULE = ("", "-", "–", "—", "*", "n/a", "N/A")
"""What stands as the module of a row that names none."""


def _or_whole_car(frame: pl.DataFrame, name: str) -> pl.Expr:
    """Return the module, or a name for the whole car in rows that name neither module nor code, and an answer came."""
    blank = pl.col("module").str.strip_chars().fill_null("").is_in(_NO_MODULE)
    told = [pl.col(column).is_not_null() for column in ("code", "module_state") if column in frame.columns]
    return pl.when(blank & ~pl.any_horizontal(pl.lit(False), *told)).then(pl.lit(name)).otherwise("module")


def _said_clean(frame: pl.DataFrame, mapping: Mapping) -> pl.Series:
    """Return the numbers of rows in which words say that there is no code; of a printed text each says so."""
    if mapping.text is not None:
        return frame["row"]
    words = list(mapping.codes.no_codes)
    told = [pl.col(name) for name in ("code", "text", "status") if name in frame.columns]
    said = pl.any_horizontal(pl.lit(False), *(cell.str.to_lowercase().is_in(words) for cell in told))
    return frame.filter(said)["row"]


def _code_by_code(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Make one row a code of a row with several columns for codes; of one without any, one row without a code."""
    lead, _, codes = mapping.each_of
    if codes < 2:
        return frame
    names = {
        name: name.removeprefix(nth(place, ""))
        for place in range(codes)
        for name in frame.columns
        if name.startswith(nth(place, ""))
    }
    kept = [name for name in frame.columns if name not in names]
    beside = list(dict.fromkeys(names.values()))
    parts = [
        frame.select(
            *kept, pl.lit(place, pl.Int64).alias("place"), *(pl.col(nth(place, name)).alias(name) for name in beside)
        )
        for place in range(codes)
    ]
    if mapping.states:
        named = [mapping.states.get(name.lower()) for name in mapping.columns[lead]]
        parts = [part.with_columns(status=pl.lit(state, pl.String)) for part, state in zip(parts, named, strict=True)]
    blank = pl.all_horizontal(pl.col(beside).is_null())
    spread = pl.concat(parts).sort("row", "place", maintain_order=True)
    if mapping.states:
        spread = spread.with_columns(status=pl.when(~blank).then("status"))
    none = blank.all().over("row") & (pl.col("place") == 0)
    return spread.filter(~blank | none).drop("place")


def _pick_apart(work: _Work, mapping: Mapping) -> None:
    """Fill the columns that the named groups of a pattern name, out of the one cell that holds them all."""
    for column, pattern in mapping.pick.items():
        groups = groups_of(pattern)
        if not groups or column not in work.frame.columns:
            continue
        cells = work.frame[column]
        words = list(mapping.codes.in_place) if column == "code" else []
        words += [word for word, means in mapping.values.get(column, {}).items() if not means]
        said = cells.str.to_lowercase().is_in(words).fill_null(False)
        bad = cells.is_not_null() & ~said & ~cells.str.contains(pattern).fill_null(False)
        if bad.any():
            refused = pl.DataFrame([work.frame["row"], cells]).filter(bad)
            why = f"expected a cell that fits {pattern}"
            work.rejects += [(row, column, value[:_SHOWN], why) for row, value in refused.iter_rows()]
            work.leave_out(bad)
        found = work.frame.select(pl.col(column).str.extract_groups(pattern).struct.field(*groups))
        if said.any() and column == "code" and "code" in groups:
            found = found.with_columns(code=work.frame[column].zip_with(said.filter(~bad), found["code"]))
        cut = [pl.Series(name, found[name]).str.strip_chars() for name in groups]
        work.frame = work.frame.with_columns(
            pl.when(pl.lit(cells.str.len_bytes() > 0)).then(cells).otherwise(None).alias(cells.name) for cells in cut
        )


def _read_cells(work: _Work, mapping: Mapping, columns: list[str] | tuple[str, ...]) -> None:
    kinds = {column.name: column.kind for column in mapping.layout.mappable}
    for column in columns:
        if column not in work.frame.columns:
            continue
        if column in mapping.values or column in _USUAL:
            means = mapping.values.get(column, {})
            work.each(column, _each_text(_translator(means, _USUAL.get(column, {}))), "")
            work.blank(column)
        if column in mapping.pick and not groups_of(mapping.pick[column]):
            pattern = mapping.pick[column]
            work.each(column, _picker(pattern), f"expected a cell that fits {pattern}")
            work.blank(column)
        kind = kinds.get(column)
        if kind in _DAYS and mapping.date_formats:
            work.each(column, _each_text(_date_reader(mapping, kind)), _why_no_date(mapping.date_formats))
        if column == "labour_minutes" and mapping.labour == "written":
            continue
        if kind in ("number", "integer") and (mapping.decimal, mapping.thousands) != (".", None):
            wanted = f"expected a number with the decimal mark {mapping.decimal!r}"
            work.each(column, _each_text(_number_reader(mapping)), wanted)


def _in_our_units(work: _Work, mapping: Mapping) -> None:
    """Turn hours of work, or what they cost, into minutes, Scandinavian miles of 10 km into km, and 18 into 2018."""
    if mapping.labour_rate is not None and "labour_minutes" in work.frame.columns:
        work.each("labour_minutes", _each_text(_times(60 / mapping.labour_rate)), "expected an amount of money")
    if mapping.labour == "written" and "labour_minutes" in work.frame.columns:
        work.each("labour_minutes", _each_text(_written_time), "expected a time with its unit, like 1 h 15 min")
    if mapping.labour == "hours" and "labour_minutes" in work.frame.columns:
        work.each("labour_minutes", _each_text(_times(60)), "expected hours, as a number or as 1:30")
    if "model_year" in work.frame.columns:
        work.each("model_year", _each_text(_whole_year), "")
    if mapping.constants.get("odometer_unit") == "mil" and "odometer" in work.frame.columns:
        work.each("odometer", _each_text(_times(10)), "expected a number")


def _written_time(cell: str) -> str | None:
    minutes = minutes_in(cell)
    return None if minutes is None else f"{minutes:g}"


def _whole_year(cell: str) -> str:
    """Return a year with its century, as POSIX strptime tells it for two digits: 69 to 99 are of the last one."""
    if len(cell) != len("18") or not cell.isdecimal():
        return cell
    return f"{19 if int(cell) >= _OF_THE_LAST_CENTURY else 20}{cell}"


_OF_THE_LAST_CENTURY = 69


def _times(factor: float) -> Callable[[str], str | None]:
    def read(cell: str) -> str | None:
        clock = cell.removesuffix(":00") if cell.count(":") > 1 else cell  # workbooks have seconds
        hours, mark, minutes = clock.partition(":")
        if mark and hours.isdecimal() and minutes.isdecimal() and len(minutes) == len("30"):
            return f"{int(hours) * factor + int(minutes):g}"
        try:
            return f"{float(cell) * factor:.1f}".removesuffix(".0") if len(cell) < _LONGEST_NUMBER else None
        except ValueError:
            return None

    return read


_LONGEST_NUMBER = 20
_HOURS_AND_MINUTES = re.compile(r"[0-9]{1,3}:[0-5][0-9](?::00)?")


def _refuse_two_codes(work: _Work) -> None:
    """Refuse a cell that still holds two codes: nobody can tell which of them the rest of the row belongs to."""
    if "code" not in work.frame.columns:
        return
    bad = work.frame["code"].str.count_matches(LIKE_A_CODE).fill_null(0) > 1
    if bad.any():
        refused = work.frame.filter(bad).select("row", "code")
        why = "two codes in one cell; expected what stands between them under codes.separator"
        work.rejects += [(row, "code", value[:_SHOWN], why) for row, value in refused.iter_rows()]
        work.leave_out(bad)


def _each_text(change: Callable[[str], str | None]) -> Callable[[pl.Series], pl.Series]:
    return lambda found: pl.Series([change(cell) for cell in found], dtype=pl.String)


def _translator(means: dict[str, str], usual: dict[str, tuple[str, ...]]) -> Callable[[str], str]:
    """Translate by the mapping; usual words that it does not have are known all the same: only others are refused."""

    def read(cell: str) -> str:
        said = means.get(cell.lower())
        if said is not None or not usual or folded(cell) in RESETS:
            return cell if said is None else said
        return known_in(usual, cell) or cell

    return read


_USUAL = {"status": STATUS, "action": ACTIONS}


def _picker(pattern: str) -> Callable[[pl.Series], pl.Series]:
    return lambda found: found.str.extract(pattern, group_index=1)


def _why_no_date(forms: tuple[str, ...]) -> Callable[[str], str]:
    """Return what says of a cell why it is no date: of no form, or of one and a day that no month has."""
    wanted = f"expected a date of the form {' or '.join(forms)}"

    def why(cell: str) -> str:
        form = next((form for form in forms if names_no_day(cell, form)), None)
        return wanted if form is None else f"there is no such day or time: read by the form {form}"

    return why


def _date_reader(mapping: Mapping, kind: str) -> Callable[[str], str | None]:
    def read(cell: str) -> str | None:
        if mapping.format == "xlsx" and _ISO.fullmatch(cell):
            return cell  # a real date of the workbook, among texts
        for form in mapping.date_formats:
            moment = read_date(cell, form)
            if moment is None:
                continue
            timed = form in COUNTED or re.search("%[HIcXT]", form)
            if kind == "date" or (kind == "day or time" and not timed):
                return moment.strftime("%Y-%m-%d")
            if moment.tzinfo is None and mapping.zone is None:
                return moment.strftime("%Y-%m-%d %H:%M:%S")
            if moment.tzinfo is None:
                moment = moment.replace(tzinfo=mapping.zone)
            try:
                return moment.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%SZ")
            except (ValueError, OverflowError):
                continue
        return None

    return read


def _number_reader(mapping: Mapping) -> Callable[[str], str | None]:
    mark, between = re.escape(mapping.decimal), re.escape(mapping.thousands or "")
    whole = rf"\d{{1,3}}(?:{between}\d{{3}})+|\d{{1,30}}" if between else r"\d{1,30}"
    number = re.compile(rf"([+-]?)({whole})(?:{mark}(\d{{1,30}}))?")

    def read(cell: str) -> str | None:
        cell = cell.replace("\u00a0", " ").replace("\u202f", " ").replace("\u2019", "'")
        if _HOURS_AND_MINUTES.fullmatch(cell):
            return cell  # read where hours are turned into minutes
        parts = number.fullmatch(cell)
        if parts is None or not cell.isascii():
            return None
        digits = parts[2].replace(mapping.thousands or "\0", "")
        return parts[1] + digits + (f".{parts[3]}" if parts[3] else "")

    return read


def _spread(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Make one row a module of a row with one column a module."""
    if not any(name.startswith(WIDE) for name in frame.columns):
        return frame
    kept = [name for name in frame.columns if not name.startswith((WIDE, WIDE_STATE))]
    parts = []
    for place, (name, module) in enumerate(mapping.wide.items()):
        state = {"status": pl.col(WIDE_STATE + name)} if name in mapping.wide_states else {}
        own = {"module": pl.lit(module, pl.String), "code": pl.col(WIDE + name), "place": pl.lit(place, pl.Int64)}
        parts.append(frame.select(*kept, **own, **state))
    return pl.concat(parts, how="diagonal").sort("row", "place", maintain_order=True).drop("place")


def _one_code_a_row(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Read the words that stand in place of codes, and give each code of a cell its own row."""
    codes = mapping.codes
    if "code" not in frame.columns:
        return frame
    if not codes.blank_is_read:
        frame = frame.filter(pl.col("code").is_not_null())
    frame = _codes_split(frame, mapping)
    word = pl.col("code").str.to_lowercase()
    beside_blank = [pl.col(name).str.to_lowercase() for name in ("text", "status") if name in frame.columns]
    unread = [word, *(pl.when(pl.col("code").is_null()).then(told) for told in beside_blank)]
    frame = frame.filter(~pl.any_horizontal(told.is_in(list(codes.not_read)).fill_null(False) for told in unread))
    silent = word.is_in(list(codes.silent)).fill_null(False)
    nothing = silent | word.is_in(list(codes.no_codes)).fill_null(False)
    blank = pl.col("code").is_null() | nothing
    beside = []
    for name in ("text", "status"):
        if name in frame.columns:
            # The words that stand in place of codes may stand behind a blank one.
            told = pl.col(name).str.to_lowercase()
            no_answer = (blank & told.is_in(list(codes.silent))).fill_null(False)
            silent = silent | no_answer
            said = no_answer | (blank & told.is_in(list(codes.no_codes))).fill_null(False)
            beside.append(pl.when(~said).then(pl.col(name)).alias(name))
    states = pl.col("module_state") if "module_state" in frame.columns else pl.lit(None, pl.String)
    return frame.with_columns(
        *beside,
        code=pl.when(~nothing).then(pl.col("code")),
        module_state=pl.when(silent).then(pl.lit("silent")).otherwise(states),
    )


def _with_listed_modules(frame: pl.DataFrame) -> pl.DataFrame:
    """Give each scan whose rows list modules without codes, or without an answer, rows for them."""
    lists = [name for name in (CLEAN, NO_ANSWER) if name in frame.columns]
    if not lists:
        return frame
    beside = ("code", "status", "text", "failure_type", "occurrences", "module", "module_state", *lists)
    visit = [name for name in frame.columns if name not in beside]
    made = []
    for name in lists:
        told = frame.filter(pl.col(name).is_not_null())
        state = pl.lit("silent" if name == NO_ANSWER else None, pl.String)
        rows = told.select(*visit, module=pl.col(name), code=pl.lit(None, pl.String), module_state=state)
        # What is said again in each row of a scan is said once.
        made.append(
            rows.unique([column for column in rows.columns if column != "row"], keep="first", maintain_order=True)
        )
    kept = frame.drop(lists)
    if "code" in kept.columns:
        # A car whose modules were all clean has none with a code; a blank there names no module.
        listed = pl.any_horizontal(pl.lit(frame[name].is_not_null()) for name in lists)
        named = [pl.col(name).is_not_null() for name in ("code", "module") if name in kept.columns]
        kept = kept.filter(pl.any_horizontal(named) | ~listed)
    return pl.concat([kept, *made], how="diagonal").sort("row", maintain_order=True)


def _listed_modules_apart(work: _Work, mapping: Mapping, mark: str) -> None:
    """Give each module of a list its own row, those aside that have rows with codes in their scan."""
    work.frame = _one_module_a_row(work.frame, mark)
    _read_cells(work, mapping, ("module",))
    if mapping.codes.clean is not None:
        work.frame = _without_coded(work.frame)


def _without_coded(frame: pl.DataFrame) -> pl.DataFrame:
    """Leave out the bare rows of listed modules that have rows with codes in their scan: the list is of all read."""
    if not {"module", "code"} <= {*frame.columns}:
        return frame
    scan = [name for name in ("vehicle", "vin", "scanned_at", "module") if name in frame.columns]
    coded = frame.filter(pl.col("code").is_not_null()).select(scan).unique().with_columns(coded=True)
    told = frame.join(coded, on=scan, how="left", nulls_equal=True, maintain_order="left")
    silent = pl.col("module_state").is_not_null() if "module_state" in frame.columns else pl.lit(False)
    return told.filter(pl.col("code").is_not_null() | silent | pl.col("coded").is_null()).drop("coded")


def _one_module_a_row(frame: pl.DataFrame, mark: str) -> pl.DataFrame:
    """Give each module of a cell its own row, in rows without a code."""
    parts = pl.col("module").str.split(mark).list.eval(pl.element().str.strip_chars())
    some = parts.list.eval(pl.element().filter(pl.element().str.len_bytes() > 0))
    clean = pl.col("code").is_null() if "code" in frame.columns else pl.lit(True)
    split = pl.when(clean & (some.list.len() > 0)).then(some).otherwise(pl.concat_list("module"))
    return frame.with_columns(module=split).explode("module", empty_as_null=True)


def _each_code(work: _Work, mapping: Mapping) -> None:
    """Give each code of a cell its own row, and what stands beside it; a cell that holds more than that is refused."""
    pattern = mapping.codes.each
    if pattern is None:
        return
    words = list(mapping.codes.in_place)
    cells = work.frame["code"]
    said = cells.is_null() | cells.str.to_lowercase().is_in(words).fill_null(True)
    rest = cells.str.replace_all(pattern, " ").str.replace_all(_BETWEEN_CODES, " ")
    bad = ~said & rest.str.contains(r"[\pL\pN]").fill_null(False)
    if bad.any():
        refused = work.frame.select("row", "code").filter(bad)
        why = f"expected nothing but what fits {pattern}, again and again"
        work.rejects += [(row, "code", value[:_SHOWN], why) for row, value in refused.iter_rows()]
        work.leave_out(bad)
        said = said.filter(~bad)
    codes = work.frame["code"]
    found = codes.str.extract_all(pattern)
    groups = groups_of(pattern)
    frame = work.frame.with_columns(
        pl.when(pl.lit(said)).then(pl.concat_list("code")).otherwise(pl.lit(found)).alias("code"),
        said=said,
        cell=pl.int_range(pl.len(), dtype=pl.Int64),
    ).explode("code", empty_as_null=True)
    taken = frame["code"].str.extract_groups(pattern).struct.unnest().select(groups)
    own = [pl.Series(name, taken[name]).str.strip_chars() for name in groups if name != "code"]
    frame = frame.with_columns(code=pl.when("said").then("code").otherwise(pl.lit(taken["code"])))
    for column in own:
        said_before = pl.col(column.name) if column.name in frame.columns else pl.lit(None, pl.String)
        filled = pl.lit(column)
        if column.name == "module":
            frame = frame.with_columns(column.alias("module of code")).with_columns(
                pl.col("module of code").forward_fill().over("cell", order_by="cell")
            )
            filled = pl.col("module of code")
        frame = frame.with_columns(pl.coalesce(filled, said_before).alias(column.name))
    work.frame = frame.drop("said", "cell", "module of code", strict=False)


_BETWEEN_CODES = r"(?i)\b(?:and|und|y|e|et|en|i|och|og|oraz|plus|a)\b"


def _codes_split(frame: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Give each piece of a cell with several codes its own row."""
    if mapping.codes.separator is None:
        return frame
    parts = pl.col("code").str.split(mapping.codes.separator).list.eval(pl.element().str.strip_chars())
    some = parts.list.eval(pl.element().filter(pl.element().str.len_bytes() > 0))
    return frame.with_columns(code=pl.when(some.list.len() > 0).then(some)).explode("code", empty_as_null=True)
