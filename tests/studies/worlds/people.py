"""The people of the workshop: how they decide what to fit, where they put it, and what they remember."""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from tests.studies.worlds.cars import Car, World
from tests.studies.worlds.faults import BY_NAME
from tests.studies.worlds.life import Life
from tests.studies.worlds.scanning import Found

Choice = tuple[str, str]
"""Part and place."""

MEASURES_RIGHT = 0.9
NAMES = ("Ada", "Bo", "Cem", "Dina")


@dataclass(kw_only=True)
class Mechanic:
    """One of the workshop.

    Attributes:
        name: As in the notes.
        habits: For each module the part that this person fits first.
        erases: Chance that codes are erased at a repair.
        worked: For each make, module and code, which part ended it how often.
    """

    name: str
    habits: dict[str, str]
    erases: float
    worked: dict[tuple[str, str, str], Counter[str]] = field(default_factory=dict)

    def remember(self, make: str, found: list[Found], parts: list[str]) -> None:
        """Learn that these parts ended these codes."""
        for code in found:
            self.worked.setdefault((make, code.module, code.code), Counter()).update(parts)


def draw_mechanics(world: World, rng: np.random.Generator) -> list[Mechanic]:
    """Draw the workshop's people."""
    shares = {"every": (1.0,), "none": (0.0,), "half": (0.5,), "mixed": (1.0, 1.0, 0.5, 0.0)}[world.settings.erases]
    homes: dict[str, list[str]] = {}
    for part in world.parts:
        homes.setdefault(part.home, []).append(part.name)
    return [
        Mechanic(
            name=name,
            habits={home: str(rng.choice(parts)) for home, parts in sorted(homes.items())},
            erases=shares[i % len(shares)],
        )
        for i, name in enumerate(NAMES)
    ]


class Chooser:
    """How the next part is chosen, for one dealer."""

    def __init__(self, world: World):
        self.world = world
        self._ways, weights = zip(*world.settings.people, strict=True)
        self._shares = np.array(weights) / sum(weights)

    def choose(
        self, mechanic: Mechanic, life: Life, found: list[Found], tried: set[Choice], rng: np.random.Generator
    ) -> tuple[Choice | None, str]:
        """Return the part and place to fit next and the way it was chosen; None where nothing comes to mind."""
        way = str(rng.choice(self._ways, p=self._shares))
        if way == "measure" and rng.random() < MEASURES_RIGHT:
            known = [(c.part, c.place) for c in life.open_faults() if c.kind != "unknown" and c.codes & _keys(found)]
            if known:
                return known[int(rng.integers(len(known)))], way
        named = self._named(life.car, found)
        options = [choice for choice in named if choice not in tried]
        if way == "habit":
            options = self._by_habit(mechanic, life.car, found, tried) or options
        if not options:
            return None, way
        if way == "cheapest":
            return min(options, key=lambda choice: (self._cost(choice), choice)), way
        if way == "worked":
            best = self._by_memory(mechanic, life.car, found, options)
            if best is not None:
                return best, way
        votes = np.array([float(named.get(choice, 1)) for choice in options])
        return options[int(rng.choice(len(options), p=votes / votes.sum()))], way

    def _cost(self, choice: Choice) -> float:
        return self.world.price[choice[0]] + BY_NAME[choice[0]].minutes * 0.75

    def _named(self, car: Car, found: list[Found]) -> Counter[Choice]:
        """The parts for which the maker's books give these codes, by how many codes; network codes give none."""
        shown, named = _keys(found), Counter[Choice]()
        fits, _ = self.world.weights(car, 6)
        for part in fits:
            for spec in self.world.book.specs[part.name]:
                says = self.world.book.says(spec, car.make) > 0 and spec.module == part.home
                if says and (spec.module, self.world.book.code(spec, car.make)) in shown:
                    named.update([(part.name, place) for place in part.places if spec.place in ("", place)])
        return named

    def _by_habit(self, mechanic: Mechanic, car: Car, found: list[Found], tried: set[Choice]) -> list[Choice]:
        fits, _ = self.world.weights(car, 6)
        here = {part.name for part in fits}
        usual = {mechanic.habits[code.module] for code in found if code.module in mechanic.habits} & here
        return [
            (name, place) for name in sorted(usual) for place in BY_NAME[name].places[:1] if (name, place) not in tried
        ]

    def _by_memory(self, mechanic: Mechanic, car: Car, found: list[Found], options: list[Choice]) -> Choice | None:
        votes: Counter[str] = Counter()
        for code in found:
            votes.update(mechanic.worked.get((car.make, code.module, code.code), Counter()))
        known = [choice for choice in options if votes[choice[0]]]
        return max(known, key=lambda choice: (votes[choice[0]], choice)) if known else None

    def misplaced(self, choice: Choice, rng: np.random.Generator) -> Choice:
        """Return the choice, now and then at a wrong place."""
        places = BY_NAME[choice[0]].places if choice[0] in BY_NAME else ("",)
        if len(places) > 1 and rng.random() < self.world.settings.wrong_place:
            return choice[0], str(rng.choice([place for place in places if place != choice[1]]))
        return choice


def _keys(found: list[Found]) -> set[tuple[str, str]]:
    return {(code.module, code.code) for code in found}
