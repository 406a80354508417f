"""Whole processes run in turn: wall clock, processor time and peak memory of each."""

import os
import platform
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from statistics import median

__all__ = ["Run", "in_turn", "leadline", "machine", "middle", "run", "say"]


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
    told = child.stderr.read().decode() if child.stderr else ""
    _, status, used = os.wait4(child.pid, 0)
    wall_s = time.perf_counter() - start
    code = child.returncode = os.waitstatus_to_exitcode(status)
    if code not in right:
        sys.exit(f"{' '.join(command)} ended with {code}: {told}")
    return Run(wall_s, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def in_turn(
    commands: dict[str, tuple[Sequence[str], Sequence[int]]], runs: int, *, warm_up: bool = True
) -> dict[str, list[Run]]:
    """Run each command in turn, so that whatever else the machine does meets all of them alike."""
    results: dict[str, list[Run]] = {name: [] for name in commands}
    for turn in range(runs + warm_up):
        for name, (command, right) in commands.items():
            measured = run(command, right=right)
            if turn or not warm_up:  # the first round only warms the caches of the disk
                results[name].append(measured)
    return results


def middle(runs: Sequence[Run], attribute: str = "wall_s") -> float:
    """Give the median of what was measured."""
    return median(getattr(each, attribute) for each in runs)


def leadline(*arguments: str) -> list[str]:
    """Give the command line of one Leadline command."""
    return [str(Path(sys.executable).with_name("leadline")), *arguments]


def say(text: str) -> None:
    """Tell what goes on, apart from the results."""
    print(text, file=sys.stderr, flush=True)


def machine() -> str:
    """Name the machine, how busy it is, and the versions."""
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
