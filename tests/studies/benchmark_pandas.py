"""The same job with pandas and mlxtend alone, to hold the weekly batch against.

``python -m tests.studies.benchmark_pandas FOLDER`` reads the inbox of a workspace, puts
codes of one car between two jobs into a basket, finds the frequent sets of codes
and their rules, and counts how often each part cleared the codes that were there
before the job.  It reads plain files only and takes the spellings of codes as they
stand, so it does less: no refused rows, no modules, no model lines, no corrected
tests, no order of work, no report.  Prints one JSON line a step.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pandas as pd
from mlxtend.frequent_patterns import association_rules, fpgrowth
from mlxtend.preprocessing import TransactionEncoder

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.support.measuring import measured

LEAST_SHARE = 0.002  # of the baskets; three of the smallest group's
LONGEST = 3


def read(inbox: Path) -> dict[str, pd.DataFrame]:
    """Read every file of the three tables."""
    tables = {}
    for name in ("scans", "repairs", "stock"):
        parts = [pd.read_csv(path, dtype="string") for path in sorted((inbox / name).glob("*.csv"))]
        tables[name] = pd.concat(parts, ignore_index=True).drop_duplicates()
    return tables


def tidy(tables: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """Return the scan rows with a vehicle, a time and one spelling a code; a VIN stands for the vehicle it names."""
    scans, stock = tables["scans"], tables["stock"]
    named = scans["vin"].map(stock.drop_duplicates("vin").set_index("vin")["vehicle"])
    code = scans["code"].str.upper().str.replace(r"[-: ][0-9A-F]{2}$", "", regex=True)
    at = pd.to_datetime(scans["scanned_at"].str.slice(0, 19), format="ISO8601")
    frame = pd.DataFrame({"vehicle": scans["vehicle"].fillna(named), "at": at, "code": scans["module"] + ":" + code})
    return frame.dropna(subset=["vehicle", "at"])


def baskets(scans: pd.DataFrame, repairs: pd.DataFrame) -> pd.DataFrame:
    """Return the scan rows with the number of the job before them."""
    jobs = repairs.assign(done=pd.to_datetime(repairs["done_at"], format="ISO8601"))
    jobs = jobs.groupby(["vehicle", "job"], as_index=False)["done"].max().sort_values("done", ignore_index=True)
    jobs["episode"] = jobs.groupby("vehicle").cumcount() + 1
    ordered = scans.sort_values("at", ignore_index=True)
    episodes = pd.merge_asof(ordered, jobs, left_on="at", right_on="done", by="vehicle", allow_exact_matches=False)
    return episodes.assign(episode=episodes["episode"].fillna(0).astype(int))


def rules(episodes: pd.DataFrame) -> pd.DataFrame:
    """Return the rules between codes of one basket."""
    found = episodes.dropna(subset=["code"]).groupby(["vehicle", "episode"])["code"].agg(lambda codes: list(set(codes)))
    encoder = TransactionEncoder()
    wide = pd.DataFrame(encoder.fit_transform(found.tolist()), columns=encoder.columns_)
    sets = fpgrowth(wide, min_support=LEAST_SHARE, use_colnames=True, max_len=LONGEST)
    return association_rules(sets, metric="lift", min_threshold=1.5)


def cleared(episodes: pd.DataFrame, repairs: pd.DataFrame) -> pd.DataFrame:
    """Return, per part and code, the jobs with the code before and the share after which it was not seen."""
    codes = episodes.dropna(subset=["code"])[["vehicle", "episode", "code"]].drop_duplicates()
    scanned = episodes[["vehicle", "episode"]].drop_duplicates().assign(scanned=True)
    jobs = episodes[["vehicle", "job", "episode"]].dropna().drop_duplicates()
    work = repairs.dropna(subset=["part"])[["vehicle", "job", "part"]].drop_duplicates().merge(jobs)
    before = work.merge(codes.assign(episode=codes["episode"] + 1)).merge(scanned)
    ends = before.merge(codes.assign(back=True), how="left")
    ends["gone"] = ends["back"].isna()
    return ends.groupby(["part", "code"])["gone"].agg(["size", "mean"]).reset_index()


def main() -> None:
    """Do the job step by step and print what each took."""
    tables: dict[str, pd.DataFrame] = {}
    made: dict[str, pd.DataFrame] = {}

    def step(name: str, work: Callable[[], None]) -> None:
        with measured(name):
            work()

    step("read the files", lambda: tables.update(read(Path(sys.argv[1]) / "inbox")))
    step("tidy codes and times", lambda: made.update(scans=tidy(tables)))
    step("put codes into baskets", lambda: made.update(episodes=baskets(made["scans"], tables["repairs"])))
    step("find frequent sets and rules", lambda: made.update(rules=rules(made["episodes"])))
    step("count what parts cleared", lambda: made.update(cleared=cleared(made["episodes"], tables["repairs"])))
    print(f"{len(made['rules'])} rules, {len(made['cleared'])} pairs of part and code", file=sys.stderr)


if __name__ == "__main__":
    main()
