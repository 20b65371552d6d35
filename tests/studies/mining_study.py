"""How often does the miner find what is there, and how often what is not?

python -m tests.studies.mining_study null 700000 200 300       seed of the first fleet, number of fleets, cars
python -m tests.studies.mining_study unequal 710000 60 300     null fleets whose cars are in unequal condition
python -m tests.studies.mining_study mixed 720000 200 300      planted fleets: false share of what is listed
python -m tests.studies.mining_study planted 730000 20 200 400 800
python -m tests.studies.mining_study weeks 820000 200 300        null fleets looked at in each of 104 weeks
python -m tests.studies.mining_study bound 820000 20 100 300 1000  what theory says of these
python -m tests.studies.mining_study power 830000 20 100 300 1000  planted fleets: what 104 weekly looks confirm
python -m tests.studies.mining_study fit 810000 20 900 2500      fleets of few, common codes: fitted tails
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.stats import binomtest

from analysis.mining import Findings, MiningFrames, mine
from analysis.mining.car_counts import CarCounts, car_counts
from analysis.mining.episode_arrays import episode_arrays
from analysis.mining.pairs import CONFIRM_AT, find_verdicts, reachable_levels
from analysis.mining.screening import FIT_FROM, Moments, chance_moments
from analysis.mining.verdict_history import FIRST, first_week, spend
from analysis.statistics.multiple_testing import benjamini_hochberg, tarone_level
from analysis.statistics.stratified_tests import fitted_binomial, fitted_tail, null_distributions, p_more
from tests.support.mining_fleets import Fleet, as_one_line, as_single_baskets, draw_fleet

Floats = npt.NDArray[np.float64]
FILTERED = "support filter before the correction"
WAYS = {"as built": lambda fleet: fleet, "every basket a car": as_single_baskets, "no lines": as_one_line}


def listed_pairs(findings: Findings, verdict: str | None = None) -> set[tuple[str, str]]:
    """Return the listed pairs, of one verdict or of both."""
    pairs = findings.pairs if verdict is None else findings.pairs.filter(pl.col("verdict") == verdict)
    return set(pairs.select("code_a", "code_b").iter_rows())


def filtered_first(fleet: Fleet) -> set[tuple[str, str]]:
    """Return what is listed if pairs on fewer than three cars are dropped before the correction, not after."""
    frames = fleet.frames()
    counts = car_counts(episode_arrays(frames))
    kept = np.flatnonzero(counts.vehicles >= 3)
    first, second = counts.first[kept], counts.second[kept]
    q_values = benjamini_hochberg(p_more(counts.vehicles[kept, None], *counts.margins(first, second)), len(kept))
    names = [(counts.codes[a], counts.codes[b]) for a, b in zip(first, second, strict=True)]
    return {pair for pair, q_value in zip(names, q_values, strict=True) if q_value <= 0.05}


def false_share(found: set[tuple[str, str]], true: set[tuple[str, str]]) -> float:
    """Return the share of the found pairs that are not true; none found is no false one."""
    return len(found - true) / len(found) if found else 0.0


def share(hits: int, of: int) -> str:
    """Return a share with its exact interval, as text."""
    low, high = binomtest(hits, of).proportion_ci(0.95, method="exact")
    return f"{hits}/{of} = {hits / of:.3f} ({low:.3f}-{high:.3f})"


def mean_of(values: list[float]) -> str:
    """Return a mean with a normal 95 % interval, as text."""
    half = 1.96 * float(np.std(values, ddof=1)) / len(values) ** 0.5 if len(values) > 1 else float("nan")
    return f"{np.mean(values):.3f} (+-{half:.3f})"


def null_study(fleets: int, cars: int, first_seed: int = 10_000) -> dict[str, tuple[int, int]]:
    """Return, per way of counting, in how many null fleets a pair was confirmed and in how many one was likely."""
    hits = {way: [0, 0] for way in (*WAYS, FILTERED)}
    for seed in range(first_seed, first_seed + fleets):
        fleet = draw_fleet(seed, cars)
        for way, change in WAYS.items():
            found = mine(change(fleet).frames(), min_vehicles=3, q_value=0.05)
            hits[way][0] += bool(listed_pairs(found, "confirmed"))
            hits[way][1] += bool(listed_pairs(found))
        hits[FILTERED][1] += bool(filtered_first(fleet))
    return {way: (confirmed, listed) for way, (confirmed, listed) in hits.items()}


def mixed_study(fleets: int, cars: int, first_seed: int = 20_000) -> dict[str, tuple[list[float], list[float]]]:
    """Return, per way of counting, the false share of the listed and of the confirmed pairs in planted fleets."""
    shares: dict[str, tuple[list[float], list[float]]] = {way: ([], []) for way in (*WAYS, FILTERED)}
    for seed in range(first_seed, first_seed + fleets):
        fleet = draw_fleet(seed, cars, families=6)
        for way, change in WAYS.items():
            found = mine(change(fleet).frames(), min_vehicles=3, q_value=0.05)
            shares[way][0].append(false_share(listed_pairs(found), fleet.true_pairs()))
            shares[way][1].append(false_share(listed_pairs(found, "confirmed"), fleet.true_pairs()))
        shares[FILTERED][0].append(false_share(filtered_first(fleet), fleet.true_pairs()))
    return shares


@dataclass(frozen=True)
class Score:
    """How one planted fleet was read: recall of pairs seen in six cars or more, precision, families, roots."""

    seen: int
    found: int
    listed: int
    false: int
    agreement: float
    roots: tuple[int, int, int]


def score(fleet: Fleet, findings: Findings, frames: MiningFrames) -> Score:
    """Compare what was found with what was planted."""
    counts = car_counts(episode_arrays(frames))
    often = np.flatnonzero(counts.vehicles >= 6)
    met = zip(counts.first[often], counts.second[often], strict=True)
    seen = {(counts.codes[a], counts.codes[b]) for a, b in met} & fleet.true_pairs()
    listed = listed_pairs(findings)
    visible = {code for pair in seen for code in pair}
    planted = [set(family.chances) & visible for family in fleet.families if len(set(family.chances) & visible) > 1]
    found = [set(codes) for codes in findings.families["codes"].to_list()]
    any_size = [set(family.chances) for family in fleet.families]
    return Score(
        len(seen),
        len(seen & listed),
        len(listed),
        len(listed - fleet.true_pairs()),
        float(np.mean([*best_matches(planted, found), *best_matches(found, any_size)])),
        root_marks(fleet, findings),
    )


def best_matches(groups: list[set[str]], others: list[set[str]]) -> list[float]:
    """Return for each group the F1 of the other group that fits it best."""
    return [max((2 * len(g & o) / (len(g) + len(o)) for o in others), default=0.0) for g in groups]


def root_marks(fleet: Fleet, findings: Findings) -> tuple[int, int, int]:
    """Count the found families, matched to planted ones, whose root is right, wrong and undetermined."""
    marks = [0, 0, 0]
    for codes, root in findings.families.select("codes", "root").iter_rows():
        fit = best_matches([set(codes)], [set(family.chances) for family in fleet.families])
        if fit[0] < 0.5:
            continue
        shares = [2 * len(set(codes) & set(f.chances)) / (len(codes) + len(f.chances)) for f in fleet.families]
        true = fleet.families[int(np.argmax(shares))].root
        marks[2 if root is None else 0 if root == true else 1] += 1
    return marks[0], marks[1], marks[2]


def planted_study(fleets: int, cars: int, first_seed: int = 30_000) -> list[Score]:
    """Draw planted fleets of one size and score the miner on each."""
    scores = []
    for seed in range(first_seed, first_seed + fleets):
        fleet = draw_fleet(seed, cars, families=8)
        frames = fleet.frames()
        scores.append(score(fleet, mine(frames, min_vehicles=3, q_value=0.05), frames))
    return scores


def unequal_study(fleets: int, cars: int, first_seed: int, spread: float) -> tuple[int, int]:
    """Return in how many null fleets of unequal cars the miner notices, and in how many it confirms a pair."""
    noticed = confirmed = 0
    for seed in range(first_seed, first_seed + fleets):
        found = mine(draw_fleet(seed, cars, frailty=spread).frames(), min_vehicles=3, q_value=0.05)
        noticed += any("So cars were compared" in note for note in found.notes)
        confirmed += bool(listed_pairs(found, "confirmed"))
    return noticed, confirmed


def fit_study(fleets: int, cars: int, first_seed: int) -> list[tuple[float, float]]:
    """Return the exact p-value and the fitted one of every joint count for which the screening would trust the fit."""
    found: list[tuple[float, float]] = []
    for seed in range(first_seed, first_seed + fleets):
        counts = car_counts(episode_arrays(draw_fleet(seed, cars, families=8, singles=20).frames()))
        moments = chance_moments(counts)
        wide = np.flatnonzero(moments.variance >= FIT_FROM)
        least, chances = null_distributions(*counts.margins(counts.first[wide], counts.second[wide]))
        exact = np.minimum(chances[:, ::-1].cumsum(axis=1)[:, ::-1], 1.0)
        chance = Moments(*(moment[wide] for moment in moments))
        share, trials = fitted_binomial(chance.variance, chance.third_moment)
        for step in range(1, chances.shape[1]):
            above = least + step - chance.mean
            some = (above > 0) & (above + trials * share <= trials / 2) & (exact[:, step] > 1e-12)
            fitted = fitted_tail((least + step)[some], *(moment[some] for moment in chance))
            found += zip(exact[some, step].tolist(), fitted.tolist(), strict=True)
    return found


def print_fit(fleets: int, cars: int, first_seed: int) -> None:
    """Print by how much the fitted tail is off at most."""
    found = fit_study(fleets, cars, first_seed)
    off = max(fitted / exact for exact, fitted in found)
    small = max(fitted / exact for exact, fitted in found if exact < 0.01)
    print(f"{cars} cars: fitted at most {off:.3f} of exact, {small:.3f} where that is below .01; {len(found)} counts")


def print_null(fleets: int, cars: int, first_seed: int) -> None:
    """Print the null study of one size."""
    for way, (confirmed, listed) in null_study(fleets, cars, first_seed).items():
        print(
            f"{cars} cars, {way}: a confirmed pair in {share(confirmed, fleets)}, any pair in {share(listed, fleets)}"
        )


def print_unequal(fleets: int, cars: int, first_seed: int) -> None:
    """Print the study of cars in unequal condition of one size."""
    for spread in (0.5, 0.7, 1.0, 1.3):
        noticed, confirmed = unequal_study(fleets, cars, first_seed, spread)
        told = f"noticed in {share(noticed, fleets)}, confirmed in {share(confirmed, fleets)}"
        print(f"{cars} cars, spread {spread}: {told}")


def print_mixed(fleets: int, cars: int, first_seed: int) -> None:
    """Print the study of the false share of one size."""
    for way, (listed, confirmed) in mixed_study(fleets, cars, first_seed).items():
        sure = f", confirmed {mean_of(confirmed)}" if confirmed else ""
        print(f"{cars} cars, {way}: false share listed {mean_of(listed)}{sure}")


def print_planted(fleets: int, cars: int, first_seed: int) -> None:
    """Print the planted study of one size."""
    scores = planted_study(fleets, cars, first_seed)
    total = [sum(getattr(one, name) for one in scores) for name in ("seen", "found", "listed", "false")]
    right, wrong, open_ = (sum(one.roots[place] for one in scores) for place in range(3))
    print(
        f"{cars} cars: recall {share(total[1], total[0])}, precision {share(total[2] - total[3], total[2])}, "
        f"families F1 {mean_of([one.agreement for one in scores])}, "
        f"roots right {right} wrong {wrong} undetermined {open_}"
    )


WEEKS, AT_FIRST, FEWEST = 104, 0.25, 3


def weekly_looks(fleet: Fleet) -> Iterator[tuple[int, pl.DataFrame, CarCounts, Floats]]:
    """Yield, for each of ``WEEKS`` weeks, its number, the baskets so far, their counts and the reachable levels.

    A quarter of the cars is there in the first week, the others come in evenly.
    """
    frames = fleet.frames()
    cars = frames.baskets["vehicle"].unique().sort().sample(fraction=1.0, shuffle=True, seed=1)
    for week in range(1, WEEKS + 1):
        share = AT_FIRST + (1 - AT_FIRST) * (week - 1) / (WEEKS - 1)
        baskets = frames.baskets.filter(pl.col("vehicle").is_in(cars.head(round(share * len(cars))).to_list()))
        here = {
            name: getattr(frames, name).join(baskets.select("basket"), on="basket", how="semi")
            for name in ("basket_codes", "basket_modules")
        }
        counts = car_counts(episode_arrays(replace(frames, baskets=baskets, **here)))
        yield week, baskets, counts, reachable_levels(counts)


def ever_confirmed(fleet: Fleet) -> tuple[set[tuple[str, str]], set[tuple[str, str]], set[tuple[str, str]]]:
    """Return the pairs confirmed in some week by all weeks together, in some week alone, and in the last week alone."""
    history, ever, alone, last = first_week("0"), set[tuple[str, str]](), set[tuple[str, str]](), set[tuple[str, str]]()
    for week, baskets, counts, least in weekly_looks(fleet):
        level, looks = spend(history, baskets["vehicle"].n_unique())
        history = replace(history, week=str(week), looks=looks)
        last = _confirmed(counts, least, CONFIRM_AT)
        alone |= last
        ever |= _confirmed(counts, least, level) if level else set()
    return ever, alone, last


def bound_of(fleet: Fleet) -> float:
    """Return the bound on the chance that any pair is ever confirmed: per pair a p-value for each count it hung on.

    Of each count the last week in which it was enough is what costs; a smaller count that is enough in the same week
    has the larger ones in it.
    """
    history, spent = first_week("0"), dict[tuple[str, str], list[tuple[int, float]]]()
    for week, baskets, counts, least in weekly_looks(fleet):
        level, looks = spend(history, baskets["vehicle"].n_unique())
        history = replace(history, week=str(week), looks=looks)
        for pair, (count, p) in _critical(counts, tarone_level(least, level)).items():
            spent[pair] = [told for told in spent.get(pair, []) if told[0] < count] + [(count, p)]
    return sum(p for told in spent.values() for _, p in told)


def _critical(counts: CarCounts, level: float) -> dict[tuple[str, str], tuple[int, float]]:
    """Return, for each pair that could be confirmed, the joint count that it takes and its p-value."""
    first, second = np.triu_indices(len(counts.codes), 1)
    least, chances = null_distributions(*counts.margins(first, second))
    tails, joint = chances[:, ::-1].cumsum(axis=1)[:, ::-1], least[:, None] + np.arange(chances.shape[1])
    enough = (tails <= level) & (chances > 0) & (joint >= FEWEST)
    place = enough.argmax(axis=1)
    return {
        (counts.codes[first[row]], counts.codes[second[row]]): (int(joint[row, place[row]]), tails[row, place[row]])
        for row in np.flatnonzero(enough.any(axis=1))
    }


def _confirmed(counts: CarCounts, least: Floats, level: float) -> set[tuple[str, str]]:
    verdicts = find_verdicts(counts, least, FEWEST, 0.05, level)
    sure = verdicts.places[verdicts.confirmed]
    return {(counts.codes[a], counts.codes[b]) for a, b in zip(counts.first[sure], counts.second[sure], strict=True)}


def print_weeks(fleets: int, cars: int, first_seed: int) -> None:
    """Print in how many null fleets a pair is ever confirmed."""
    found = [ever_confirmed(draw_fleet(seed, cars)) for seed in range(first_seed, first_seed + fleets)]
    ever, alone, last = (sum(bool(one[place]) for one in found) for place in range(3))
    print(f"{cars} cars, {WEEKS} weeks: a pair ever confirmed in {share(ever, fleets)} by all weeks together,")
    print(f"    in {share(alone, fleets)} where each week stands alone, in the last week alone {share(last, fleets)}")


def print_bound(fleets: int, cars: int, first_seed: int) -> None:
    """Print what theory says of null fleets at most."""
    bounds = [bound_of(draw_fleet(seed, cars)) for seed in range(first_seed, first_seed + fleets)]
    print(f"{cars} cars, {WEEKS} weeks: ever confirmed with a chance of at most {mean_of(bounds)}")


def print_power(fleets: int, cars: int, first_seed: int) -> None:
    """Print how many planted pairs are confirmed by all weeks together, and how many the last week alone confirms."""
    totals = [0, 0, 0, 0]
    for seed in range(first_seed, first_seed + fleets):
        fleet = draw_fleet(seed, cars, families=8)
        true = fleet.true_pairs()
        ever, _, last = ever_confirmed(fleet)
        counts = car_counts(episode_arrays(fleet.frames()))
        once = _confirmed(counts, reachable_levels(counts), FIRST)
        for place, some in enumerate((ever, last, once)):
            totals[place] += len(some & true)
        totals[3] += len(ever - true)
    told = "{} by {} weekly looks, {} by one look at .05, {} by a first look at all cars; {} false ever"
    print(f"{cars} cars, planted pairs confirmed: " + told.format(totals[0], WEEKS, *totals[1:]))


PRINTED = {
    "weeks": print_weeks,
    "bound": print_bound,
    "power": print_power,
    "null": print_null,
    "unequal": print_unequal,
    "mixed": print_mixed,
    "planted": print_planted,
    "fit": print_fit,
}

if __name__ == "__main__":
    what, seed, many, *sizes = sys.argv[1], *map(int, sys.argv[2:])
    for size in sizes:
        PRINTED[what](many, size, seed)
