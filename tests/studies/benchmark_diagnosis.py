"""How long does it take to learn from past visits and to list what to try, and how much memory?

    python -m tests.studies.benchmark_diagnosis

draws planted worlds: a dealer of 600 visits with 25 cars in stock (30 parts), and a
group of 50,000 visits with 2,000 cars (300 parts, 20 makes), each in a process of its
own.  Drawing is not counted.  Not a test: figures of one computer on one day.
"""

import subprocess
import sys

from analysis.diagnosis import fit, list_cars
from analysis.diagnosis.learning.fit import fit_parameters
from tests.support.diagnosis_play import evidence_of, prepared
from tests.support.diagnosis_world import COSTS, fleet, nothing_mined, plant
from tests.support.measuring import measured

SIZES = ((600, 25, 30, 5), (50_000, 2_000, 300, 20))
"""Past visits, cars in stock, parts and makes."""


def measure(visits: int, stock: int, parts: int, makes: int) -> None:
    """Print what each piece costs: what past jobs prove, fitting, and the list of all cars."""
    frames, _, _ = fleet(plant(9900, parts=parts, makes=makes), 9901, visits, stock)
    print(f"{visits:,} visits, {stock:,} cars in stock, {parts} parts, {frames.codes.height} codes", flush=True)
    with measured("evidence"):
        evidence_of(frames)
    past, prior, _ = prepared(frames)
    with measured("learn"):
        fit_parameters(past, prior)
    with measured("learn and lay prices beside the parts"):
        model = fit(frames, nothing_mined().families, COSTS)
    with measured("weigh all cars and order the work"):
        rows = list_cars(model).rows
    print(f"{rows.height:,} rows", flush=True)


if __name__ == "__main__":
    if sys.argv[1:]:
        measure(*map(int, sys.argv[1:]))
    else:
        for size in SIZES:
            subprocess.run([sys.executable, "-m", "tests.studies.benchmark_diagnosis", *map(str, size)], check=True)
