"""What do the sets of ten, a hundred and five hundred other dealers cost?

``python -m tests.studies.benchmark_sets 10 100 500 [--workers 2]`` lays sets of small dealers beside the files of one
(process worlds, kind ``full``, 40 cars each, all of one world) and prints for each step of a week that has to do with
them processor seconds, those of workers among them, wall seconds and the most memory that the run itself held: reading
them, reading them again in the week after, counting what each teaches and how far it is believed today and at each cut
of the check on the past, the check, the fit.  Twenty are drawn and read; what was kept of them is laid again under
further names, since what a set costs to read does not depend on how many there are.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))

from tests.studies.worlds import KINDS, draw_dealer, write_inbox  # noqa: E402

SEED, DRAWN, CARS, OWN_CARS = 5100, 20, 40, 60
RUN = """
import shutil
import sys
from datetime import date
from pathlib import Path
from analysis import diagnosis
from pipelines.batch import weekly
from pipelines.ingest.cluster import working
from pipelines.settings import load_settings
from pipelines.storage.session import opened
from pipelines.workspace import Workspace
from tests.support.measuring import measured

def call(step, *args, **kwargs):
    with measured(step.name):
        return step(*args, **kwargs)

def main():
    place, as_of = Workspace.open(Path(sys.argv[1])), date.fromisoformat(sys.argv[2])
    settings, quiet = load_settings(place.settings_file), lambda _: None
    with opened(place) as warehouse:
        weekly.read(place, settings, warehouse, week="2026-W48", progress=quiet, spread=None)
        weekly.normalise(place, warehouse)
        facts = weekly.state_facts(warehouse, settings, as_of)
    findings = weekly.mine(facts, settings, None)
    with measured("workers from start to end"), working(settings.workers) as spread:
        read = call(weekly.read_others, place, as_of, quiet, spread)
        for number in range(len(read.past), int(sys.argv[3])):
            for folder in (place.root / "others", place.state / "others"):
                shutil.copytree(folder / f"D{number % len(read.past):03d}", folder / f"D{number:03d}")
        others = call(weekly.read_others, place, as_of, quiet, spread)
        told = call(weekly.learn_elsewhere, facts, findings, others, spread)
    past = call(weekly.check_past, facts, settings, told)
    model = call(weekly.fit, facts, findings, past, settings, told[None])
    for note in others.notes[:3]:
        print(note)
    counts = [weight for _, _, weight in model.others]
    print(f"own jobs {model.jobs}, sets {len(counts)}, jobs there {sum(jobs for _, jobs, _ in model.others)}, weights:",
          {weight: counts.count(weight) for weight in sorted(set(counts))})

if __name__ == "__main__":
    main()
"""


def main() -> None:
    """Draw, lay out, run and print."""
    parser = argparse.ArgumentParser(description="What other dealers' sets cost.")
    parser.add_argument("sets", type=int, nargs="*", default=[10, 100, 500])
    parser.add_argument("--workers", default="")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        own = draw_dealer(KINDS["full"], OWN_CARS, SEED)
        drawn = []
        for number in range(min(DRAWN, max(options.sets))):
            dealer = draw_dealer(KINDS["full"], CARS, SEED + 1 + number, 0, own.world)
            drawn.append(Path(scratch) / f"drawn{number}")
            write_inbox(dealer, drawn[-1])
        script = Path(scratch) / "run.py"
        script.write_text(RUN, encoding="utf-8")
        for many in options.sets:
            folder = Path(scratch) / f"own{many}"
            write_inbox(own, folder)
            with (folder / "knockon.toml").open("a", encoding="utf-8") as settings:
                settings.write(f'workers = "{options.workers}"\n')
            for number, one in enumerate(drawn[:many]):
                shutil.copytree(one, folder / "others" / f"D{number:03d}")
            print(f"{many} sets, {min(many, DRAWN)} of them read, workers {options.workers or 'none'}", flush=True)
            paths = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
            command = [sys.executable, str(script), str(folder), own.today.date().isoformat(), str(many)]
            subprocess.run(command, cwd=ROOT, check=True, env={**os.environ, "PYTHONPATH": paths})
            shutil.rmtree(folder)


if __name__ == "__main__":
    main()
