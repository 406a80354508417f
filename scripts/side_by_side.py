"""
Measure, side by side in one run: whole processes in turn, medians, ratios, as a markdown table.

``python scripts/side_by_side.py [--quick] [--modules N ...]``. Both audits must find exactly the violations
that were planted; otherwise nothing is compared.
"""

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from statistics import median

from make_archive import FRAME, SEAS, make_archive

from registry import open_registry
from registry.measure.decision import Verdict
from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register, snapshot

HERE = Path(__file__).resolve().parent
CHECK_MODULES, CHECK_RUNS, AUDIT_RUNS = 3_000, 9, 3
#: What a check cannot do without.
FLOOR = "import numpy, pyproj, shapely"


@dataclass(frozen=True, slots=True)
class Run:
    """One process from start to end."""

    wall_s: float
    cpu_s: float
    peak_mib: float


def run(command: Sequence[str], *, right: Sequence[int] = (0,)) -> Run:
    """Run a process and measure it; stop if it does not end as it should."""
    start = time.perf_counter()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    _, status, used = os.wait4(child.pid, 0)
    wall_s = time.perf_counter() - start
    code = child.returncode = os.waitstatus_to_exitcode(status)
    told = child.stderr.read().decode() if child.stderr else ""
    if code not in right:
        sys.exit(f"{' '.join(command)} ended with {code}: {told}")
    return Run(wall_s, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def in_turn(commands: dict[str, tuple[Sequence[str], Sequence[int]]], runs: int) -> dict[str, list[Run]]:
    """Run each command in turn, so that whatever else the machine does meets all of them alike."""
    results: dict[str, list[Run]] = {name: [] for name in commands}
    for turn in range(runs + 1):
        for name, (command, right) in commands.items():
            measured = run(command, right=right)
            if turn:  # the first round only warms the caches of the disk
                results[name].append(measured)
    return results


def say(text: str) -> None:
    """Tell what goes on, apart from the results."""
    print(text, file=sys.stderr, flush=True)


def machine() -> str:
    """Name the machine and the versions."""
    cpu = platform.processor() or platform.machine()
    for line in Path("/proc/cpuinfo").read_text().splitlines() if Path("/proc/cpuinfo").exists() else ():
        if line.startswith("model name"):
            cpu = line.partition(":")[2].strip()
            break
    versions = ", ".join(f"{name} {version(name)}" for name in ("geopandas", "shapely", "pyproj", "numpy"))
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    busy = f", load {os.getloadavg()[0]:.1f} at the start" if hasattr(os, "getloadavg") else ""
    return (
        f"{cpu}, {cores} cores{busy}; {platform.system()}, Python {platform.python_version()},"
        f" {versions}, Leadline {version('leadline')}"
    )


def leadline(*arguments: str) -> list[str]:
    """Give the command line of one Leadline command."""
    return [str(Path(sys.executable).with_name("leadline")), *arguments]


def measure_check(folder: Path) -> None:
    """Compare a cold check with the floor under it."""
    say(f"Making an archive of {CHECK_MODULES:,} modules")
    file = folder / "check.gpkg"
    make_archive(file, modules=CHECK_MODULES, seed=1)
    lat, lon = SEAS[0]
    check = leadline(
        *("check", "--registry", str(file), "--permit", "AR-00000", "--type", "hump-90"),
        *("--at", f"{lat + 0.00003:.7f} N {-lon:.7f} W", "--frame", FRAME, "--r95", "0.2 m"),
    )
    say(f"Checking, {CHECK_RUNS} cold starts each")
    found = in_turn(
        {
            "leadline check": (check, (0, 1, 3)),
            FLOOR: ([sys.executable, "-c", FLOOR], (0,)),
            "pass": ([sys.executable, "-c", "pass"], (0,)),
        },
        CHECK_RUNS,
    )
    print(f"\n## One check from a cold start, registry of {CHECK_MODULES:,} placements\n")
    print("| process | median, s | least, s | times `pass` | times the bare imports |\n|---|---|---|---|---|")
    medians = {name: median(run.wall_s for run in runs) for name, runs in found.items()}
    for name, runs in found.items():
        least = min(run.wall_s for run in runs)
        shown = name if name.startswith("leadline") else f'python -c "{name}"'
        over = (medians[name] / medians[floor] for floor in ("pass", FLOOR))
        print(f"| `{shown}` | {medians[name]:.3f} | {least:.3f} | {next(over):.1f} | {next(over):.1f} |")


def nonconforming(file: Path) -> dict[str, list[str]]:
    """Give the tags that Leadline finds nonconforming, by rule."""
    wrong: dict[str, set[str]] = {}
    with open_registry(file) as reef:
        for permit in reef.audit().permits:
            for found in permit.findings:
                tags = permit.placements.tag[found.verdict == Verdict.NONCONFORMING]
                wrong.setdefault(found.rule, set()).update(tags.tolist())
    return {rule: sorted(tags) for rule, tags in wrong.items()}


def measure_audit(folder: Path, modules: int) -> str:
    """Compare the audits of one archive and give the line of the table."""
    say(f"Making an archive of {modules:,} modules")
    file, copy = folder / f"audit-{modules}.gpkg", folder / f"audit-{modules}-snapshot.gpkg"
    planted = make_archive(file, modules=modules, seed=2)
    with open_register(file, clock=SystemClock(), writable=False) as register:
        snapshot(register, copy)
    answer = folder / "answer.json"
    ours = leadline("audit", "--registry", str(file))
    theirs = [sys.executable, str(HERE / "geopandas_audit.py"), str(copy), str(answer)]
    say(f"Auditing {modules:,} modules, {AUDIT_RUNS} times each in turn")
    found = in_turn({"ours": (ours, (1,)), "theirs": (theirs, (0,))}, AUDIT_RUNS)
    say("Comparing what was found")
    both = {"Leadline": nonconforming(file), "geopandas": json.loads(answer.read_text(encoding="utf-8"))}
    for name, wrong in both.items():
        for rule, tags in planted.items():
            if wrong.get(rule, []) != tags:
                odd = sorted(set(wrong.get(rule, [])) ^ set(tags))
                sys.exit(
                    f"{name} and the planted violations of {rule} differ at {len(odd)} modules: {odd[:5]}"
                )
    cells = []
    for attribute, form in (("wall_s", "{:.2f}"), ("cpu_s", "{:.2f}"), ("peak_mib", "{:.0f}")):
        a = median(getattr(run, attribute) for run in found["ours"])
        b = median(getattr(run, attribute) for run in found["theirs"])
        cells.append(f"{form.format(a)} | {form.format(b)} | {b / a:.2f}")
    for path in (file, copy):
        path.unlink()
    return f"| {modules:,} | {' | '.join(cells)} | {sum(len(tags) for tags in planted.values()):,} by both |"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="scripts/bench", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="Only the archive of 10,000 modules.")
    parser.add_argument("--modules", type=int, action="append", metavar="N", help="Archives of these sizes.")
    asked = parser.parse_args()
    sizes = asked.modules or ([10_000] if asked.quick else [10_000, 100_000])
    print(f"Measured on {machine()}.", flush=True)
    with tempfile.TemporaryDirectory(prefix="leadline-bench-") as folder:
        measure_check(Path(folder))
        lines = [measure_audit(Path(folder), modules) for modules in sizes]
    print(f"\n## Audit of a whole registry, whole processes, medians of {AUDIT_RUNS}\n")
    print("Inside the area by a setback, distance to its edge, spacing; ratios above 1 favour Leadline.\n")
    print(
        "| modules | Leadline, s | geopandas, s | ratio | Leadline, CPU s | geopandas, CPU s | ratio"
        " | Leadline, peak MiB | geopandas, peak MiB | ratio | violations found |"
    )
    print("|---|---|---|---|---|---|---|---|---|---|---|")
    for line in lines:
        print(line)


if __name__ == "__main__":
    main()
