"""Which mechanisms of a drawn dealer are on, and how strong they are.

Every default is common practice in the trade, no source.  A share is a chance between 0 and 1; a mechanism whose
share is 0 is off.  ``KINDS`` names the kinds of dealer that the studies report.
"""

from dataclasses import dataclass, fields, replace
from typing import Any, Literal

Policies = tuple[tuple[str, float], ...]
"""How people decide, and with what weight: named, habit, cheapest, worked, measure."""

ALL_WAYS: Policies = (("named", 0.3), ("habit", 0.15), ("cheapest", 0.15), ("worked", 0.2), ("measure", 0.2))


@dataclass(frozen=True, kw_only=True)
class WorldSettings:
    """The mechanisms of one dealer; the defaults are the kind ``full``.

    Attributes:
        makes: Makes, 2 to 6.
        lines: Model lines, 3 to 12, at least one a make.
        new_line: One line appears only half way.
        parts: Parts that can fail, 20 to 59.
        zipf: Exponent of how common the parts are, by rank.
        sound: Share of cars bought without a fault.
        two_faults: Share of cars bought with two independent faults.
        new_faults: Expected new faults in 10,000 km of driving.
        seasons: Cold and wet months bring more of some faults.
        chains: Share of the faults of a part that can kill another part which have done so.
        looms: Share of faults that are a loom or plug, in no price book.
        unknown: Share of cars with a cause that nobody finds.
        intermittent: Share of faults that show on some drives only.
        concrete: Range of the chance that a part's own module says it by one code.
        network: Range of the chance that the others say they miss the module, all of one car's together.
        sharing: Which makes share a maker's number: all, groups (two), or none.
        own_codes: Share of the parts outside engine and gearbox for which a make uses numbers of its own only.
        clashes: Standard codes that one make uses for another part.
        texts: Which codes carry a text in the export: none, half, all.
        text_wrong: Share of texts that belong to another code.
        text_terse: Share of maker's texts that name no part.
        status: Whether the exports tell the state of a code.
        equipment: Share of cars with equipment fitted later that sets codes.
        declared: Share of that equipment which the stock list tells.
        low_voltage: Share of cars bought after one time of low voltage.
        unplugged: Share of jobs during which a module was unplugged.
        old_stored: Share of cars bought with codes of a fault long repaired.
        quirk: Share of one line's cars whose module always stores one code.
        silent: Chance that a module does not answer.
        partial: Share of scans of the engine only.
        second_tool: Share of scans by a tool that reaches only ``reach`` of the modules.
        reach: Share of modules the second tool reaches.
        stored_only: Share of scans whose lists hold no pending code.
        pending_only: Share of scans whose lists hold pending codes only.
        refused: Share of scan rows that cannot be read.
        twice: Share of scans exported twice.
        no_distance: Share of scans without distance.
        wrong_clock: Share of scans by a tool whose clock is a year behind.
        seller_erases: Share of cars whose seller erased before the first scan.
        erases: At a repair: every (always), half (forgotten half the time), none, or mixed (each mechanic one of them).
        erase_first: Share of first visits that only erase.
        people: How people decide.
        two_at_once: Share of jobs with a second part, because both are out anyway.
        wrong_place: Share of fittings of a part with several places at the wrong one.
        no_scan_after: Share of jobs after which nobody scans.
        late: Share of jobs logged a week late.
        alias: Share of parts logged under another name.
        free_text: Share of parts logged as free text.
        logged_twice: Share of jobs logged twice.
        bad_new: Share of new parts that are dead or wrong.
        drift: Share of bad parts of one supplier from some month on; 0: none gets worse.
        short_lived: Share of repairs that last only 5,000 to 15,000 km.
        comes_back: Share of sold cars that come back to the workshop after 3,000 to 20,000 km.
        days: Days that are drawn.
    """

    makes: int = 4
    lines: int = 8
    new_line: bool = True
    parts: int = 48
    zipf: float = 0.8
    sound: float = 0.2
    two_faults: float = 0.125
    new_faults: float = 0.25
    seasons: bool = True
    chains: float = 0.3
    looms: float = 0.04
    unknown: float = 0.05
    intermittent: float = 0.12
    concrete: tuple[float, float] = (0.7, 0.95)
    network: tuple[float, float] = (0.3, 0.8)
    sharing: Literal["all", "groups", "none"] = "groups"
    own_codes: float = 0.5
    clashes: int = 2
    texts: Literal["none", "half", "all"] = "half"
    text_wrong: float = 0.05
    text_terse: float = 0.35
    status: bool = True
    equipment: float = 0.2
    declared: float = 0.5
    low_voltage: float = 0.12
    unplugged: float = 0.05
    old_stored: float = 0.15
    quirk: float = 0.7
    silent: float = 0.05
    partial: float = 1 / 6
    second_tool: float = 0.3
    reach: float = 0.75
    stored_only: float = 0.06
    pending_only: float = 0.03
    refused: float = 0.003
    twice: float = 0.04
    no_distance: float = 0.08
    wrong_clock: float = 0.03
    seller_erases: float = 1 / 6
    erases: Literal["every", "half", "none", "mixed"] = "mixed"
    erase_first: float = 0.12
    people: Policies = ALL_WAYS
    two_at_once: float = 1 / 7
    wrong_place: float = 0.07
    no_scan_after: float = 0.2
    late: float = 0.08
    alias: float = 0.15
    free_text: float = 0.03
    logged_twice: float = 0.03
    bad_new: float = 0.05
    drift: float = 0.3
    short_lived: float = 0.06
    comes_back: float = 0.2
    days: int = 730

    def __post_init__(self) -> None:
        """Refuse what no dealer can be drawn from.

        Raises:
            ValueError: A share outside 0..1, or a number of makes, lines or parts out of range.
        """
        ranges = {"makes": (2, 6), "lines": (3, 12), "parts": (20, 59), "days": (60, 3000), "clashes": (0, 6)}
        for name, (low, high) in ranges.items():
            if not low <= getattr(self, name) <= high:
                raise ValueError(f"{name} must lie in {low}..{high}; got {getattr(self, name)}")
        for field in fields(self):
            value = getattr(self, field.name)
            if field.type is float and field.name != "zipf" and not 0 <= value <= 1:
                raise ValueError(f"{field.name} must be a share in 0..1; got {value}")
        if self.lines < self.makes:
            raise ValueError(f"every make needs a line: {self.makes} makes, {self.lines} lines")
        if self.sound + self.two_faults > 1:
            raise ValueError(f"sound and two_faults exceed 1 together: {self.sound} + {self.two_faults}")


FULL = WorldSettings()

_OFF: dict[str, Any] = dict.fromkeys(
    (
        *("chains", "looms", "unknown", "intermittent", "text_wrong", "text_terse", "equipment", "low_voltage"),
        *("unplugged", "old_stored", "quirk", "silent", "partial", "second_tool", "stored_only", "pending_only"),
        *("refused", "twice", "no_distance", "wrong_clock", "seller_erases", "erase_first", "two_at_once"),
        *("wrong_place", "no_scan_after", "late", "alias", "free_text", "logged_twice", "bad_new", "drift"),
        *("short_lived", "comes_back", "own_codes"),
    ),
    0.0,
)

CLEAN = replace(
    FULL,
    **_OFF,
    new_line=False,
    clashes=0,
    sharing="all",
    texts="all",
    erases="every",
    people=(("named", 0.5), ("measure", 0.5)),
)

KINDS: dict[str, WorldSettings] = {
    # Everything at once.
    "full": FULL,
    # Parts, codes and careful people; nothing that disturbs.
    "clean": CLEAN,
    # Everything at once, and the maker's numbers shared by all makes, by none, by two groups of makes.
    "shared_numbers": replace(FULL, sharing="all"),
    "own_numbers": replace(FULL, sharing="none", makes=6, lines=12),
    "two_groups": replace(FULL, sharing="groups", makes=6, lines=10),
    # Everything at once, and no code carries a text.
    "no_texts": replace(FULL, texts="none"),
    # Clean but for equipment fitted later and a quirk of one line.
    "equipment": replace(CLEAN, equipment=0.25, declared=0.5, quirk=0.7),
    # Everything at once but equipment and quirks: nothing here may be looked past.
    "no_equipment": replace(FULL, equipment=0.0, quirk=0.0),
    # Clean but for codes that an erase alone ends, and sellers and people who erase.
    "passing": replace(
        CLEAN, low_voltage=0.15, unplugged=0.08, old_stored=0.25, seller_erases=1 / 6, erases="mixed", erase_first=0.2
    ),
    # Keep unseen until the end: a big workshop of guessers, many makes, few texts, bad scans.
    "held_out_guessers": replace(
        FULL, makes=6, lines=12, parts=59, zipf=1.1, sharing="none", texts="half", text_wrong=0.08, silent=0.1,
        people=(("named", 0.25), ("habit", 0.3), ("cheapest", 0.35), ("worked", 0.1)), bad_new=0.08, no_scan_after=0.3,
    ),
    # Keep unseen until the end: few makes, much equipment, old codes, two faults at once, intermittent ones.
    "held_out_old_cars": replace(
        FULL, makes=2, lines=4, parts=36, zipf=0.5, sharing="all", texts="all", text_terse=0.5, equipment=0.25,
        declared=0.3, old_stored=0.3, low_voltage=0.15, two_faults=0.25, intermittent=0.25, looms=0.08, erases="half",
    ),
}  # fmt: skip
"""The kinds of dealer.  The two ``held_out`` ones are looked at once, when everything else is settled."""
