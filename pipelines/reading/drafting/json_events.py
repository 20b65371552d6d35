"""Lines of JSON of several kinds: what tells the car of those that name modules, and which name neither."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence

from pipelines.reading.drafting.draft import Draft


def refuse_events(draft: Draft, documents: Sequence[object]) -> None:
    """Let no line of JSON pass for a car that was read and is clean, where its kind names neither module nor code."""
    columns = tomllib.loads("\n".join(draft.tables.get("columns", ())))
    named = [columns[name] for name in ("module", "code") if isinstance(columns.get(name), str)]
    paths = {re.split(r"[.\[{]", name)[0] for name in named}
    records = [one for one in documents if isinstance(one, dict)]
    apart = [one for one in records if not paths & one.keys()]
    told = [one for one in records if paths <= one.keys()]
    kinds = {
        name
        for one in apart[:1]
        for name, kind in one.items()
        if isinstance(kind, str) and kind not in {str(other.get(name)) for other in told}
    }
    session = _session(apart, told, {str(columns.get("vehicle")), str(columns.get("vin"))})
    if session is not None:
        why = f"lines of one {session!r} are of one scan, and only one of them tells the car"
        asks = f"Does {session!r} number the scans?"
        if draft.ask("session", asks, "yes", why, ("yes", "no")) == "yes":
            draft.put("session", session, why)
            return
    if len(paths) == 2 and len(apart) + len(told) == len(records) > len(told) > 0 and kinds:
        lines = draft.tables.get("codes", [])
        draft.tables["codes"] = [line for line in lines if not line.startswith("whole_car = ")]
        draft.reasons.append(f"codes: lines of another kind, by {min(kinds)!r}, name no module and are refused")


def _session(apart: Sequence[dict[str, object]], told: Sequence[dict[str, object]], cars: set[str]) -> str | None:
    """Return the name whose values tie lines that name units to one line each that tells their car; None: none does."""
    heads = [one for one in apart if cars & one.keys()]
    if not heads or not told or any(cars & one.keys() for one in told):
        return None
    for name in heads[0]:
        values = [str(one.get(name)) for one in heads]
        ties = all(name in one for one in (*heads, *told)) and len({*values}) == len(values)
        if ties and {str(one[name]) for one in told} <= {*values}:
            return name
    return None
