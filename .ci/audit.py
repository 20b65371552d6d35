"""Hold the installed packages against a database of known vulnerabilities, by what pip-audit found.

Ends with 1 where a package has a known vulnerability.  Where no database could be reached it says so aloud and ends
with 0: a lost network is no fault of the code.

Usage: python .ci/audit.py FINDINGS.json, as ``pip-audit --format json --output FINDINGS.json`` writes it.
"""

import json
import sys
from pathlib import Path


def judge(path):
    """Return the exit code and the lines to print for a file of findings, which need not be there."""
    try:
        packages = json.loads(Path(path).read_text(encoding="utf-8"))["dependencies"]
    except (OSError, ValueError, KeyError, TypeError) as error:
        return 0, [f"WARNING: NOT AUDITED: no vulnerability database could be reached ({error})"]
    looked_up = [package for package in packages if "vulns" in package]
    bad = [(package, vuln) for package in looked_up for vuln in package["vulns"]]
    said = []
    for package, vuln in bad:
        mended = ", ".join(vuln["fix_versions"]) or "nothing yet"
        said.append(f"{package['name']} {package['version']}: {vuln['id']}; mended in {mended}")
    said.append(f"{len(looked_up)} of {len(packages)} packages looked up, {len(bad)} known vulnerabilities")
    if len(looked_up) * 2 < len(packages):
        said.append("WARNING: NOT AUDITED: the database did not know most of the packages, or could not be reached")
    return (1 if bad else 0), said


if __name__ == "__main__":
    code, lines = judge(sys.argv[1])
    print("\n".join(lines))
    sys.exit(code)
