"""
Measure, side by side in one run: whole processes in turn, medians, ratios, as one markdown table.

``python scripts/side_by_side.py [--quick] [--modules N ...] [--archives DIR]``. Every audit must find exactly
the violations that were planted, and Leadline's must agree with a slow oracle; otherwise nothing is compared.
--archives keeps the archives in a folder and takes those that are there; a million modules take minutes.
"""

import argparse
import json
import os
import shlex
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from statistics import median
from typing import Any

from archive_layout import SEAS
from make_archive import FRAME, make_archive, read_planted
from many_memorials import many_memorials
from measured_runs import Run, in_turn, leadline, machine, middle, run, say
from postgis_audit import PostGIS, postgis
from served_loads import LARGEST_PAGE, checks_ms, figures, load, served_copy
from warm_check import places_of, text_of

from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register, snapshot

HERE = Path(__file__).resolve().parent
#: Sizes of the full measurement and of the quick one.
FULL, QUICK = (100_000, 1_000_000), (10_000,)
#: Modules of the archive against which growth is measured, and of the small one of a cold check.
SMALL, FEW = 10_000, 3_000
#: Archives beyond this hold no conditions beyond those of the other audits, and PostGIS audits them once.
LARGE = 200_000
PLACES = 60
SAMPLE = 300
#: Who asks the web application at once.
READERS, WRITERS = 50, 5
#: Certificates printed in one run, and how often.
PAPERS, FEW_PAPERS = 200, 40
#: What a check cannot do without.
FLOOR = "import numpy, pyproj, shapely"
#: Goals: Leadline's share of what the other takes, at most.
WALL_OF_A, CPU_OF_A, PEAK_OF_A, WALL_OF_B = {100_000: 4.5, 1_000_000: 7.0}, {1_000_000: 6.0}, 2.0, 30.0
PAPERS_OF_FPDF, TIMES_FOR_ALL_RULES, WARM_OF_B, GROWTH, COLD_S, COLD_STRETCH = 3.0, 3.0, 4.0, 2.0, 0.6, 4.0
#: The map of 3,000 modules against plain folium, that of 100,000 against that of 3,000, and its megabytes.
MAP_OF_FOLIUM, TIMES_FOR_MANY, MAP_MB = 4.0, 5.0, 2.0
NEAREST_M, BOUNDARY_M = 1e-6, 1e-4
CONFORMS, ANY = (0,), (0, 1, 3)
SHOWN = {True: "yes", False: "no", None: ""}


@dataclass(frozen=True, slots=True)
class Times:
    """How often each thing is measured, for the median."""

    checks: int = 9
    audits: int = 3
    warm: int = 3
    papers: int = 3
    #: How long many readers and writers ask at once. Units: s.
    load_s: float = 120.0


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the table."""

    job: str
    measured: str
    goal: str = ""
    #: None where no goal is set for this size.
    kept: bool | None = None

    def __str__(self) -> str:
        """Give it as markdown."""
        return f"| {self.job} | {self.measured} | {self.goal} | {SHOWN[self.kept]} |"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="scripts/bench", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="Only an archive of 10,000 modules.")
    parser.add_argument("--modules", type=int, action="append", metavar="N", help="Archives of these sizes.")
    parser.add_argument(
        "--archives", type=Path, metavar="DIR", help="Keep the archives here; take what is there."
    )
    parser.add_argument(
        "--once", action="store_true", help="Only to see that it works: each thing once, and no maps."
    )
    asked = parser.parse_args()
    times = Times(1, 1, 1, 1, 4.0) if asked.once else Times()
    sizes = tuple(asked.modules or (QUICK if asked.quick else FULL))
    told = f"Measured on {machine()}"
    with tempfile.TemporaryDirectory(prefix="leadline-bench-") as scratch, postgis() as server:
        if server is None:
            say("PostGIS is not installed here: its lines are left out.")
        told += f", {server.version()}." if server else "; no PostGIS."
        bench = Bench(asked.archives or Path(scratch), Path(scratch), server, times)
        lines = bench.checks(max(sizes))
        for modules in sizes:
            lines += bench.audits(modules)
        lines += bench.served(max(sizes))
        lines += bench.certificates(FEW_PAPERS if max(sizes) <= SMALL else PAPERS)
    lines += [] if asked.once else maps()
    print(f"{told}\nLoad at the end {os.getloadavg()[0]:.1f}.\n")
    print(
        f"Whole processes in turn, medians of {times.audits} (audits), {times.checks} (cold checks) and"
        f" {times.warm} times {PLACES} (warm checks). Of two figures Leadline's comes first. geopandas: a"
        " plain, competent audit of the same file, zone by zone of UTM. PostGIS: the geography type, the data"
        " loaded and indexed beforehand. fpdf2: the same words, chart and code on a page, neither proved,"
        " journaled, signed as a file nor tagged. folium: a marker with its popup for each module, no tiles,"
        " nothing asked of a network; medians of five.\n"
    )
    print("| job | measured | goal | kept |\n|---|---|---|---|")
    for line in lines:
        print(line)


class Bench:
    """The archives, and what is measured on each."""

    def __init__(self, archives: Path, scratch: Path, server: PostGIS | None, times: Times) -> None:
        self.archives, self.scratch, self.server, self.times = archives, scratch, server, times
        #: Which archive the database of the checks holds.
        self.loaded: Path | None = None
        archives.mkdir(parents=True, exist_ok=True)

    def archive(self, modules: int, *, all_rules: bool = False) -> Path:
        """Give an archive, made where it is not there yet."""
        file = self.archives / f"archive-{modules}{'-all-rules' if all_rules else ''}.gpkg"
        if not file.exists():
            say(f"Making an archive of {modules:,} modules{', with all rules' if all_rules else ''}")
            # Made under another name, so that one half made is not taken for whole.
            draft = file.with_name(f"unfinished-{file.name}")
            for left in self.archives.glob(f"{draft.name}*"):
                left.unlink()
            make_archive(draft, modules=modules, seed=2, all_rules=all_rules)
            for made in sorted(self.archives.glob(f"{draft.name}*"), reverse=True):
                made.rename(made.with_name(made.name.removeprefix("unfinished-")))
        return file

    def checks(self, modules: int) -> list[Line]:
        """Measure checks from a cold start and in a process that runs."""
        few, large = self.archive(FEW), self.archive(modules)
        say(f"Checking, {self.times.checks} cold starts each")
        cold = in_turn(
            {
                f"{FEW:,}": (self._check(few), ANY),
                f"{modules:,}": (self._check(large), ANY),
                FLOOR: ([sys.executable, "-c", FLOOR], CONFORMS),
                "pass": ([sys.executable, "-c", "pass"], CONFORMS),
            },
            self.times.checks,
        )
        bare, floor = middle(cold.pop("pass")), middle(cold.pop(FLOOR))
        stretch = COLD_STRETCH * bare + floor - bare
        lines = []
        for size, runs in cold.items():
            took = middle(runs)
            lines += [
                Line(
                    f"check, cold process, {size} modules",
                    f"{took:.2f} s ({took / bare:.1f} times `pass`, {took / floor:.1f} times the imports)",
                    f"under {COLD_S} s",
                    took < COLD_S,
                ),
                Line(
                    "the same against its floor",
                    f"{took:.2f} s; {COLD_STRETCH:.0f} times `pass` and the imports: {stretch:.2f} s",
                    "at most that (a stretch)",
                    took <= stretch,
                ),
            ]
        return lines + self._warm(SMALL if modules > SMALL else FEW, modules)

    def served(self, modules: int) -> list[Line]:
        """Measure the web application: checks over HTTP, then many readers and writers at once."""
        lines = []
        for size in sorted({FEW, modules}):
            archive = self.archive(size)
            say(f"Serving {size:,} modules")
            places = places_of(archive, count=PLACES, seed=1)
            with served_copy(archive) as served:
                p50_ms, p99_ms = checks_ms(served, places)
                told = f"{p50_ms:.1f} ms, p99 {p99_ms:.0f} ms"
                lines.append(Line(f"check over HTTP, {size:,} modules, median", told))
                if size != FEW:
                    continue
                say(f"{READERS} readers and {WRITERS} writers for {self.times.load_s:g} s")
                seen = load(served, places, readers=READERS, writers=WRITERS, seconds=self.times.load_s)
            for fault in seen.faults[:5]:
                say(fault)
            found = figures(seen, self.times.load_s)
            lines.append(
                Line(
                    f"{READERS} readers and {WRITERS} writers for {self.times.load_s:g} s",
                    f"{found['reads_per_s']:.0f} pages a second, p99 {found['read_p99_ms']:.0f} ms;"
                    f" {found['writes']:,} placements, p99 {found['write_p99_ms']:.0f} ms, each in the"
                    f" journal once; {found['faults']} faults",
                    f"nothing lost, no fault, pages under {LARGEST_PAGE // 1000} kB",
                    not seen.faults,
                )
            )
        return lines

    def _check(self, archive: Path) -> list[str]:
        lat, lon = SEAS[0]
        return leadline(
            *("check", "--registry", str(archive), "--permit", "AR-00000", "--type", "hump-90"),
            *("--at", text_of(lon - 0.001, lat), "--frame", FRAME, "--r95", "0.2 m"),
        )

    def _warm(self, fewer: int, modules: int) -> list[Line]:
        small, large = self.archive(fewer), self.archive(modules)
        say("Checking in a running process")
        command = [sys.executable, str(HERE / "warm_check.py"), "--places", str(PLACES)]
        places = places_of(large, count=PLACES, seed=1)
        if self.server:
            self.server.load("checked", large, places)
            self.loaded = large
        ours: dict[Path, list[dict[str, float]]] = {small: [], large: []}
        theirs: list[float] = []
        for _ in range(self.times.warm):
            for archive, told in ours.items():
                told.append(json.loads(_output([*command, str(archive)])))
            if self.server:
                theirs.append(self.server.check_us("checked", count=PLACES, times=PLACES))
        rules, before = (median(each["rules_us"] for each in ours[archive]) for archive in (large, small))
        whole = median(each["whole_us"] for each in ours[large])
        lines = [
            Line(
                f"check, warm, from {fewer:,} to {modules:,} modules",
                f"{before / 1000:.2f} ms, {rules / 1000:.2f} ms: {rules / before:.1f} times",
                f"at most {GROWTH:.0f} times",
                rules / before <= GROWTH,
            ),
            Line("the same with the text read and the position settled", f"{whole / 1000:.2f} ms"),
        ]
        if self.server:
            exact = median(theirs)
            lines.insert(
                0,
                Line(
                    f"check, warm, {modules:,} modules, against PostGIS",
                    f"{rules / 1000:.2f} ms, {exact / 1000:.2f} ms: {_share(rules, exact)}",
                    f"at most 1/{WARM_OF_B:.0f}",
                    rules <= exact / WARM_OF_B,
                ),
            )
        return lines

    def audits(self, modules: int) -> list[Line]:
        """Compare the audits of one archive, and prove what they found."""
        file = self.archive(modules)
        copy, answer = self.scratch / f"snapshot-{modules}.gpkg", self.scratch / "answer.json"
        with open_register(file, clock=SystemClock(), writable=False) as register:
            snapshot(register, copy)
        commands: dict[str, tuple[Sequence[str], Sequence[int]]] = {
            "ours": (leadline("audit", "--registry", str(file)), ANY),
            "geopandas": (
                [sys.executable, str(HERE / "geopandas_audit.py"), str(copy), str(answer)],
                CONFORMS,
            ),
        }
        if modules < LARGE:
            commands["every rule"] = (
                leadline("audit", "--registry", str(self.archive(modules, all_rules=True))),
                ANY,
            )
        say(f"Auditing {modules:,} modules, {self.times.audits} times each in turn")
        found = in_turn(commands, self.times.audits)
        planted = read_planted(file).nonconforming
        _insist("geopandas", json.loads(answer.read_text(encoding="utf-8")), planted)
        lines = _against_geopandas(modules, found["ours"], found["geopandas"])
        if self.server:
            lines.append(self._against_postgis(modules, file, found["ours"], planted))
        if "every rule" in found:
            took, plain = middle(found["every rule"]), middle(found["ours"])
            lines.append(
                Line(
                    f"audit, {modules:,} modules, all rules",
                    f"{took:.2f} s, {plain:.2f} s for those that geopandas has: {took / plain:.1f} times",
                    f"at most {TIMES_FOR_ALL_RULES:.0f} times",
                    took / plain <= TIMES_FOR_ALL_RULES,
                )
            )
            lines += self._oracle(self.archive(modules, all_rules=True), f"{modules:,} modules, all rules")
        distances = self.scratch / "distances.csv"
        run([*commands["geopandas"][0], str(distances)])
        copy.unlink()
        return lines + self._oracle(file, f"{modules:,} modules", against=distances)

    def certificates(self, count: int) -> list[Line]:
        """Issue the certificates of a registry, against plain pages of the same content."""
        say(f"Issuing {count:,} certificates, {self.times.papers} times each in turn")
        folder = self.scratch / "papers"
        registry = many_memorials(folder, count)
        os.environ["LEADLINE_KEYS"] = str(folder / "keys")
        fresh, issued = folder / "fresh.gpkg", folder / "issued.gpkg"
        ours, theirs = folder / "ours", folder / "theirs"
        with open_register(registry, clock=SystemClock(), writable=False) as register:
            snapshot(register, fresh)
        issue = shlex.join(leadline("certificate", "--registry", str(registry), "--all", "--out", str(ours)))
        # A registry in which none was issued, for each run.
        clear = shlex.join(["rm", "-rf", str(ours), f"{registry}-wal", f"{registry}-shm"])
        command = f"{clear} && {shlex.join(['cp', str(fresh), str(registry)])} && {issue}"
        run(["sh", "-c", command])
        with open_register(registry, clock=SystemClock(), writable=False) as register:
            snapshot(register, issued)
        plain = [sys.executable, str(HERE / "fpdf_certificates.py"), str(issued), str(theirs)]
        found = in_turn(
            {"ours": (["sh", "-c", command], CONFORMS), "fpdf2": (plain, CONFORMS)},
            self.times.papers,
            warm_up=False,
        )
        names = [sorted(path.name for path in papers.glob("*.pdf")) for papers in (ours, theirs)]
        if names[0] != names[1] or len(names[0]) != count:
            sys.exit(f"Of {count} certificates {len(names[0])} and {len(names[1])} were printed.")
        lines = []
        for what, attribute in (("wall", "wall_s"), ("CPU", "cpu_s")):
            a, b = middle(found["ours"], attribute), middle(found["fpdf2"], attribute)
            lines.append(
                Line(
                    f"certificates, {count:,}, {what}, against plain fpdf2 pages",
                    f"{count / a:.1f} a second, {count / b:.1f} a second: {b / a:.1f} times as many",
                    f"at least {PAPERS_OF_FPDF:.0f} times",
                    b / a >= PAPERS_OF_FPDF,
                )
            )
        return lines

    def _against_postgis(
        self, modules: int, file: Path, ours: list[Run], planted: dict[str, list[str]]
    ) -> Line:
        assert self.server is not None
        database = "checked"
        if file != self.loaded:
            database = "audited"
            say("Loading PostGIS")
            self.server.load(database, file, ())
        say(f"Auditing {modules:,} modules by PostGIS")
        # Once is enough of what takes minutes; the others are warmed up by the round that tells the answers.
        start = time.perf_counter()
        _insist("PostGIS", self.server.answers(database), planted)
        theirs = time.perf_counter() - start
        if modules < LARGE:
            command = {"PostGIS": (self.server.audit(database), CONFORMS)}
            theirs = middle(in_turn(command, self.times.audits, warm_up=False)["PostGIS"])
        if database == "audited":
            self.server.drop(database)
        took = middle(ours)
        return Line(
            f"audit, {modules:,} modules, wall, against PostGIS",
            f"{took:.2f} s, {theirs:.2f} s: {_share(took, theirs)}",
            f"at most 1/{WALL_OF_B:.0f}" if modules > LARGE else "",
            took <= theirs / WALL_OF_B if modules > LARGE else None,
        )

    def _oracle(self, file: Path, what: str, against: Path | None = None) -> list[Line]:
        say(f"Judging again by the oracle: {what}")
        command = [sys.executable, str(HERE / "oracle.py"), str(file), "--sample", str(SAMPLE), "--json"]
        command += ["--against", str(against)] if against else []
        found: dict[str, Any] = json.loads(_output(command))
        wrong = found["unlike_planted"] + found["missed"] + found["invented"] + found["otherwise"]
        if wrong:
            sys.exit("Leadline's audit is wrong: " + "; ".join(wrong[:5]))
        lines = [
            Line(
                f"findings, {what}",
                f"{found['planted']:,} planted verdicts found and no other; {found['answers']:,} answers for"
                f" {found['modules']:,} modules like the oracle's",
                "none missed, none invented",
                kept=True,
            )
        ]
        for rule, name, most_m in (
            ("spacing", "a distance to a neighbour", NEAREST_M),
            ("inside-area", "a distance to a boundary", BOUNDARY_M),
        ):
            ours, theirs = found["error"][rule], found["other_error"].get(rule)
            other = f" (geopandas: {theirs:.2g} m)" if theirs else ""
            lines.append(
                Line(
                    f"largest error of {name}, {what}",
                    f"{ours:.0e} m{other}",
                    f"{most_m:.0e} m",
                    ours <= most_m,
                )
            )
        return lines


def maps() -> list[Line]:
    """Compare the public map with plain folium, where there is a browser to paint them."""
    chromium = Path(os.environ.get("CHROMIUM", "/usr/bin/chromium"))
    if find_spec("playwright") is None or not chromium.exists():
        say("Without playwright and Chromium, maps are left out (scripts/test installs both).")
        return []
    say("Painting maps in Chromium")
    found: dict[str, Any] = json.loads(_output([sys.executable, str(HERE / "painted_maps.py")]))
    painted_s = {name: each / 1000 for name, each in found["painted_ms"].items()}
    few, many, naive = painted_s["few"], painted_s["many"], painted_s["naive"]
    size = found["bytes"]["few"] / 1e6
    return [
        Line(
            f"map, {found['few']:,} modules with popups, painted, against folium",
            f"{few:.2f} s, {naive:.2f} s: {_share(few, naive)}",
            f"at most 1/{MAP_OF_FOLIUM:.0f}",
            few <= naive / MAP_OF_FOLIUM,
        ),
        Line(
            "the same as files",
            f"{size:.2f} MB, {found['bytes']['naive'] / 1e6:.2f} MB",
            f"under {MAP_MB:.0f} MB",
            size < MAP_MB,
        ),
        Line(
            f"map, {found['many']:,} modules, painted, against {found['few']:,}",
            f"{many:.2f} s, {few:.2f} s: {many / few:.1f} times",
            f"at most {TIMES_FOR_MANY:.0f} times",
            many <= TIMES_FOR_MANY * few,
        ),
    ]


def _against_geopandas(modules: int, ours: list[Run], theirs: list[Run]) -> list[Line]:
    lines = []
    for what, attribute, unit, goal in (
        ("wall", "wall_s", "s", WALL_OF_A.get(modules)),
        ("CPU", "cpu_s", "s", CPU_OF_A.get(modules)),
        ("peak memory", "peak_mib", "MiB", PEAK_OF_A if modules > LARGE else None),
    ):
        a, b = middle(ours, attribute), middle(theirs, attribute)
        digits = 2 if unit == "s" else 0
        lines.append(
            Line(
                f"audit, {modules:,} modules, {what}, against geopandas",
                f"{a:,.{digits}f} {unit}, {b:,.{digits}f} {unit}: {_share(a, b)}",
                f"at most 1/{goal:g}" if goal else "",
                a <= b / goal if goal else None,
            )
        )
    return lines


def _share(ours: float, theirs: float) -> str:
    """Write how much of the other's Leadline takes: 1/6.2, or 1.8 times it."""
    return f"1/{theirs / ours:.1f}" if ours <= theirs else f"{ours / theirs:.1f} times"


def _insist(name: str, found: dict[str, list[str]], planted: dict[str, list[str]]) -> None:
    """Compare nothing unless the other audit found what was planted."""
    for rule, tags in planted.items():
        odd = sorted(set(found.get(rule, [])) ^ set(tags))
        if odd:
            sys.exit(f"{name} and the planted violations of {rule} differ at {len(odd)} modules: {odd[:5]}")


def _output(command: Sequence[str]) -> str:
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=False)
    if not done.stdout:
        sys.exit(f"{' '.join(command)} ended with {done.returncode}.")
    return done.stdout


if __name__ == "__main__":
    main()
