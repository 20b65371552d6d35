"""Which code each module stores for which part, as which number at which make, and with what text in the export.

The standard codes, their texts and the network codes are those of ``sql/reference``.  A maker's number is drawn: the
same for all makes, for each of two groups of makes, or for each make alone, so that a number can mean two things.
"""

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from tests.studies.worlds.faults import EQUIPMENT, QUIRK_TEXT, Part
from tests.studies.worlds.settings import WorldSettings

REFERENCE = Path(__file__).parents[3] / "sql" / "reference"
MODES = ("circuit open", "signal too low", "signal too high", "not plausible", "control, electrical fault", "no signal")
MAKER_CODES_A_PART = (1, 3)
MISSING_AT_A_MAKE = 0.2
"""Chance that one make has no such code of its own."""
ENGINE = ("ECM", "TCM")
BODY, CHASSIS = (
    {"BCM", "SRS", "HVAC", "IPC", "RADIO", "TEL", "PAM", "HLL", "IMMO", "DDM"},
    {"ABS", "EPS", "EPB", "TPMS", "ASU"},
)


@dataclass(frozen=True, kw_only=True)
class Spec:
    """One thing that a module can say.

    Attributes:
        module: The module that stores it.
        key: The standard code, or the name of a maker's trouble ``m17``.
        part: The part whose fault sets it; blank for equipment, quirk and network codes.
        place: The place that it belongs to, blank for any.
        text: Its own words.
        every_km: Mean distance until it is back after an erase.
        standard: Whether ``key`` is a standard code.
        make: The only make that has it, blank for all.
    """

    module: str
    key: str
    part: str = ""
    place: str = ""
    text: str = ""
    every_km: float = 10.0
    standard: bool = True
    make: str = ""


@cache
def generic_codes() -> dict[str, dict[str, str]]:
    """Return the rows of the standard codes by code: description, component, points_at."""
    with (REFERENCE / "generic_codes.csv").open(encoding="utf-8", newline="") as file:
        return {row["code"]: row for row in csv.DictReader(file)}


@cache
def modules() -> dict[str, dict[str, str]]:
    """Return the rows of the modules by canonical name: also_called, lost_communication_code, invalid_data_code."""
    with (REFERENCE / "modules.csv").open(encoding="utf-8", newline="") as file:
        return {row["module"]: row for row in csv.DictReader(file)}


class CodeBook:
    """All that modules can say in one dealer's cars.

    Attributes:
        specs: For each part's name what its home and others store for it, network codes left out.
        network: For each part's name the chance that the others say so, all together.
        equipment: For each equipment what modules store for it.
        quirk: The maker's trouble that one line always has, one for each module.
    """

    def __init__(
        self, rng: np.random.Generator, settings: WorldSettings, parts: tuple[Part, ...], makes: tuple[str, ...]
    ):
        self._rng, self._settings, self._makes = rng, settings, makes
        self._maker_numbers: dict[tuple[str, str], str] = {}
        self._taken: dict[tuple[str, str], set[str]] = {}
        self._says: dict[tuple[Spec, str], float] = {}
        outside = [part.name for part in parts if part.home not in ENGINE]
        self._own_only = {(name, make) for name in outside for make in makes if rng.random() < settings.own_codes}
        self.specs = {part.name: self._specs_of(part) for part in parts}
        self.network = {part.name: float(rng.uniform(*settings.network)) for part in parts}
        self._clash(parts)
        self.equipment = {name: tuple(self._equipment(*one) for one in codes) for name, codes in EQUIPMENT.items()}
        self.quirk = {module: self._maker(module, "", "", QUIRK_TEXT, 3.0) for module in ("HVAC", "BCM", "IPC")}
        self._texts = self._drawn_texts()

    def _specs_of(self, part: Part) -> list[Spec]:
        rng = self._rng
        every = float(rng.choice([4.0, 12.0, 35.0]))
        own = [self._standard(part.home, code, part.name, "", every) for code in part.codes]
        for place, codes in zip(part.places, part.placed, strict=False):
            own += [self._standard(part.home, code, part.name, place, every) for code in codes]
        for _ in range(int(rng.integers(*MAKER_CODES_A_PART)) + (not own)):
            mode, terse = str(rng.choice(MODES)), rng.random() < self._settings.text_terse
            name = str(rng.choice([part.name, part.name, part.also[0]]))
            for place in part.places:
                text = f"{part.system}, {mode}" if terse else f"{name} {place}".strip() + f", {mode}"
                own.append(self._maker(part.home, part.name, place, text, every))
        own += [self._standard(module, code, part.name, "", every) for module, code in part.elsewhere]
        return own

    def _standard(self, module: str, code: str, part: str = "", place: str = "", every: float = 10.0) -> Spec:
        spec = Spec(
            module=module, key=code, part=part, place=place, text=generic_codes()[code]["description"], every_km=every
        )
        for make in self._makes:
            unused = (part, make) in self._own_only and module not in ENGINE
            self._says[spec, make] = 0.0 if unused else float(self._rng.uniform(*self._settings.concrete))
        return spec

    def _maker(self, module: str, part: str, place: str, text: str, every: float) -> Spec:
        spec = Spec(
            module=module, key=f"m{len(self._says)}", part=part, place=place, text=text, every_km=every, standard=False
        )
        for make in self._makes:
            missing = part and (part, make) not in self._own_only and self._rng.random() < MISSING_AT_A_MAKE
            self._says[spec, make] = 0.0 if missing else float(self._rng.uniform(*self._settings.concrete))
            self._maker_numbers[spec.key, make] = self._number(spec, make)
        return spec

    def _number(self, spec: Spec, make: str) -> str:
        """Draw the maker's number, or take that of the makes it is shared with."""
        first = self._sharers(make)[0]
        if first != make:
            return self._maker_numbers[spec.key, first]
        letter = "B" if spec.module in BODY else "C" if spec.module in CHASSIS else "P"
        taken = self._taken.setdefault((spec.module, make), set())
        free = [f"{letter}1{n:03d}" for n in self._rng.choice(220, size=40, replace=False) + 100]
        number = next(code for code in free if code not in taken)
        taken.add(number)
        return number

    def _sharers(self, make: str) -> tuple[str, ...]:
        """The makes that number like ``make``, the first of them the one whose numbers are drawn."""
        if self._settings.sharing == "all":
            return self._makes
        if self._settings.sharing == "none":
            return (make,)
        return tuple(other for other in self._makes if self._makes.index(other) % 2 == self._makes.index(make) % 2)

    def _equipment(self, module: str, what: str) -> Spec:
        return (
            self._standard(module, what, every=1.0)
            if what in generic_codes()
            else self._maker(module, "", "", what, 1.0)
        )

    def _clash(self, parts: tuple[Part, ...]) -> None:
        """One make uses a part's standard code for another part of the same module."""
        for _ in range(self._settings.clashes):
            make = str(self._rng.choice(self._makes))
            first, other = (parts[i] for i in self._rng.choice(len(parts), size=2, replace=False))
            mine = [
                spec
                for spec in self.specs[first.name]
                if spec.standard and not spec.place and spec.module == first.home
            ]
            if not mine or first.home != other.home:
                continue
            self._says[mine[0], make] = 0.0
            stolen = Spec(
                module=other.home, key=mine[0].key, part=other.name, text=mine[0].text, every_km=12.0, make=make
            )
            self._says[stolen, make] = float(self._rng.uniform(*self._settings.concrete))
            self.specs[other.name].append(stolen)

    def says(self, spec: Spec, make: str) -> float:
        """Return the chance that the module says ``spec`` of a faulty part at ``make``; 0 where it has no such code."""
        return self._says.get((spec, make), 0.0)

    def code(self, spec: Spec, make: str) -> str:
        """Return the five characters at ``make``."""
        return spec.key if spec.standard else self._maker_numbers[spec.key, make]

    def lost(self, module: str, how: str) -> str:
        """Return the standard code for "no messages from" (lost) or "invalid data from" (invalid), blank where none."""
        code = modules()[module]["lost_communication_code" if how == "lost" else "invalid_data_code"]
        return code if code in generic_codes() else ""

    def text(self, module: str, code: str, make: str) -> str:
        """Return the export's wording, blank where it has none."""
        return self._texts.get((module, code, make), "")

    def _drawn_texts(self) -> dict[tuple[str, str, str], str]:
        share, rng = {"none": 0.0, "half": 0.5, "all": 1.0}[self._settings.texts], self._rng
        plain: dict[tuple[str, str, str], str] = {}
        for spec, make in self._says:
            plain.setdefault((spec.module, self.code(spec, make), make), spec.text)
        of_parts = list(plain)
        for module in modules():
            for code, row in generic_codes().items():
                if code.startswith("U"):
                    plain |= {(module, code, make): row["description"] for make in self._makes}
        texts = {}
        for key, text in plain.items():
            wrong = rng.random() < self._settings.text_wrong
            told = plain[of_parts[int(rng.integers(len(of_parts)))]] if wrong else text
            if rng.random() < share:
                texts[key] = told
        return texts


def label(module: str, code: str, make: str) -> str:
    """Return the code as the outgoing tables write it: ``BCM:B1317@halvet``, standard codes without make."""
    return f"{module}:{code}@{make.lower()}" if code[1] == "1" else f"{module}:{code}"
