"""Keep a small registry through the commands in which every module remembers somebody, to measure papers."""

import csv
import os
import subprocess
from pathlib import Path

from measured_runs import leadline

__all__ = ["many_memorials"]

PERMIT = """
[permit]
number = "HB-0417"
authority = "Harbour Bay Coastal Office"
valid_from = 2024-05-01
valid_to = 2034-04-30
chart_datum = "MLLW"

[[area]]
id = "gannet-patch"
corners = ["34 00.600 N 077 00.600 W", "34 00.600 N 076 59.400 W",
           "33 59.400 N 076 59.400 W", "33 59.400 N 077 00.600 W"]
frame = "EPSG:6318"
edges = "geodesic"

[[condition]]
rule = "spacing"
least_m = 6.0
cite = "Special condition 4"
"""
#: Modules in a row, and how far apart rows and modules are. Units: degrees.
IN_A_ROW, NORTH_DEG, EAST_DEG = 100, 0.00015, 0.00016


def many_memorials(folder: Path, count: int) -> Path:
    """Make the registry of so many placed modules with a memorial; its key lies in ``folder/keys``."""
    folder.mkdir(parents=True, exist_ok=True)
    registry = folder / "memorials.gpkg"
    (folder / "permit.toml").write_text(PERMIT, encoding="utf-8")
    _write(
        folder / "modules.csv",
        ("tag", "type", "memorial"),
        [(f"LN-{k:05d}", "hump-60", f"Eleanor Ashdown {k}") for k in range(count)],
    )
    _write(
        folder / "log.csv",
        ("tag", "type", "position", "frame", "when", "depth", "r95"),
        [
            (
                f"LN-{k:05d}",
                "hump-60",
                f"{33.992 + k // IN_A_ROW * NORTH_DEG:.6f} N {77.008 - k % IN_A_ROW * EAST_DEG:.6f} W",
                "EPSG:6318",
                f"2026-06-14T{10 + k // 3600:02d}:{k // 60 % 60:02d}:{k % 60:02d}Z",
                "70 ft",
                "2 m",
            )
            for k in range(count)
        ],
    )
    for line in (
        ("new", "--programme", "Marram Coast Memorial Reefs", "--frame", "EPSG:6318"),
        ("permit", "add", str(folder / "permit.toml")),
        ("module", "import", str(folder / "modules.csv")),
        ("intake", str(folder / "log.csv"), "--permit", "HB-0417"),
    ):
        environment = {**os.environ, "LEADLINE_KEYS": str(folder / "keys")}
        subprocess.run(
            leadline("--registry", str(registry), *line),
            check=True,
            stdout=subprocess.DEVNULL,
            env=environment,
        )
    return registry


def _write(file: Path, header: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    with file.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([header, *rows])
