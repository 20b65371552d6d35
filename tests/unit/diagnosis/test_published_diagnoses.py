"""Published diagnoses of circuits, found by weighing sets of parts: a conflict is a code that each of its parts sets.

A circuit's behaviour and a conflict among some parts is "one of these is at fault".  As a code with a link of 1 from
each of them and no leak, it is explained by exactly the sets that contain one of them.
"""

from itertools import product

import numpy as np
import pytest

from analysis.diagnosis.model.noisy_or import Cases, Weights, weigh_sets


def weigh(parts: list[str], conflicts: list[set[str]], fault: float) -> Weights:
    """Weigh every set of the parts by the conflicts seen."""
    link = np.array([[[float(part in conflict) for conflict in conflicts] for part in parts]])
    one = np.ones((1, len(conflicts)))
    return weigh_sets(
        Cases(
            fault=np.full((1, len(parts)), fault),
            log_lik_absent=np.zeros((1, len(parts))),
            link=link,
            leak=0 * one,
            shown=one > 0,
            fitted=np.zeros((1, 1, len(parts)), dtype=bool),
            lik_cleared=one[None],
            lik_recurred=one[None],
            leak_recurrence=0.3,
            bad=np.zeros((1, len(parts))),
            sizes=np.zeros((1, len(parts) + 1)),
        ),
        most=len(parts),
    )


def chances(parts: list[str], weights: Weights) -> dict[frozenset[str], float]:
    """The chance of each set that is possible at all."""
    total = weights.chance.sum(axis=1)[0]
    rows = zip(weights.sets, total, strict=True)
    return {frozenset(np.array(parts)[row]): float(chance) for row, chance in rows if chance > 1e-9}


def smallest(sets: dict[frozenset[str], float]) -> set[frozenset[str]]:
    return {one for one in sets if not any(other < one for other in sets)}


def test_the_full_adder_of_reiter() -> None:
    # Reiter, "A theory of diagnosis from first principles", Artificial Intelligence 1987: in 1, 0, 1 and out 1, 0;
    # the conflicts are {X1, X2} and {X1, A2, O1}, the diagnoses {X1}, {X2, A2} and {X2, O1}.
    parts = ["X1", "X2", "A1", "A2", "O1"]
    found = chances(parts, weigh(parts, [{"X1", "X2"}, {"X1", "A2", "O1"}], 0.01))
    assert smallest(found) == {frozenset({"X1"}), frozenset({"X2", "A2"}), frozenset({"X2", "O1"})}
    # The other route: a set is possible where its gates may say anything and the others do their duty.
    assert set(found) == {faulty for faulty in map(frozenset, subsets(parts)) if adder_can_say(faulty)}


def subsets(parts: list[str]) -> list[set[str]]:
    return [{part for part, yes in zip(parts, row, strict=True) if yes} for row in product((0, 1), repeat=len(parts))]


def adder_can_say(faulty: frozenset[str]) -> bool:
    def gate(name: str, right: bool, said: bool) -> bool:
        return name in faulty or right == said

    return any(
        gate("X1", True, x1)  # 1 xor 0
        and gate("X2", x1 ^ True, True)  # with the carry in: the sum says 1
        and gate("A1", False, a1)  # 1 and 0
        and gate("A2", x1 and True, a2)
        and gate("O1", a1 or a2, False)  # the carry out says 0
        for x1, a1, a2 in product((False, True), repeat=3)
    )


PARTS = ["A1", "A2", "M1", "M2", "M3"]


def circuit() -> dict[frozenset[str], float]:
    """The multipliers and adders, A..E = 3 2 2 3 3, F = 10 where 12 is right, G = 12."""
    return chances(PARTS, weigh(PARTS, [{"A1", "M1", "M2"}, {"A1", "A2", "M1", "M3"}], 0.01))


def test_the_chances_of_de_kleer_and_williams() -> None:
    # de Kleer and Williams, "Diagnosing multiple faults", Artificial Intelligence 1987: with .01 for each part {A1}
    # and {M1} have .478 and {A2, M2} and {M2, M3} .0048; sets that hold one of these share the rest.
    found = circuit()
    assert smallest(found) == {frozenset(one) for one in ({"A1"}, {"M1"}, {"A2", "M2"}, {"M2", "M3"})}
    assert found[frozenset({"A1"})] == pytest.approx(0.478, abs=5e-4)
    assert found[frozenset({"M1"})] == pytest.approx(0.478, abs=5e-4)
    assert found[frozenset({"A2", "M2"})] == pytest.approx(0.0048, abs=5e-5)
    assert found[frozenset({"M2", "M3"})] == pytest.approx(0.0048, abs=5e-5)
    # Counted by hand: 2 single sets, 9 pairs and so on explain both conflicts, each part weighing .01 / .99.
    odds = 0.01 / 0.99
    by_size = [sum(len(one) == size for one in found) for size in range(6)]
    assert by_size[:3] == [0, 2, 9]
    assert found[frozenset({"A1"})] == pytest.approx(odds / sum(n * odds**size for size, n in enumerate(by_size)))


def shown_right(faulty: frozenset[str], probe: str) -> float:
    """How likely a point inside shows the right 6, given who is at fault; a part at fault may say anything."""
    makers = {"X": "M1", "Y": "M2", "Z": "M3"}
    return 1.0 if makers[probe] not in faulty else 0.0


def test_the_best_point_to_probe_next_is_x() -> None:
    # The same paper: of the three points behind the multipliers X says most of who is at fault.  An answer that
    # follows from who is at fault is worth as much as it is open: the entropy that it takes away.
    found = circuit()
    worth = {}
    for probe in "XYZ":
        right = sum(chance * shown_right(faulty, probe) for faulty, chance in found.items())
        worth[probe] = -sum(p * np.log2(p) for p in (right, 1 - right))
    assert max(worth, key=worth.__getitem__) == "X"
    assert worth["X"] == pytest.approx(1.0, abs=0.01)
    assert max(worth["Y"], worth["Z"]) < 0.25
