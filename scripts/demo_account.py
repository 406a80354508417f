"""
Tell what the demonstration did, from the answers of its commands alone.

Every planted fault (planted_faults.csv) is looked up in what Leadline answered. The account fails if one was
not found, was found as something else, or if anything was rejected or warned of that nobody planted. Where
modules of the fourth day truly lie, and how deep (planted_truth.csv), must be within what Leadline states.
"""

import csv
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pyproj import Geod
from rich import box
from rich.console import Console
from rich.markup import escape
from rich.table import Table

GEOD = Geod(ellps="GRS80")
LOGS = ("2025-03-09.csv", "2025-06-14.csv", "2025-09-20.csv", "2026-05-12-slate.csv")
MARKS = {
    "conforming": "green",
    "inconclusive": "yellow",
    "nonconforming": "red",
    "rejected": "red",
    "warned": "yellow",
}


@dataclass
class Row:
    """What became of one row of a spreadsheet."""

    #: Verdict, or "rejected".
    outcome: str
    rejected: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    #: Verdict and sentence of each finding.
    findings: list[tuple[str, str]] = field(default_factory=list)

    def said(self, outcome: str) -> list[str]:
        """Give the sentences that tell of an outcome."""
        if outcome == "rejected":
            return self.rejected
        if outcome == "warned":
            return self.warnings
        return [sentence for verdict, sentence in self.findings if verdict == outcome]


def answer(folder: Path, name: str) -> Any:
    """Read what a command answered."""
    return json.loads((folder / "answers" / name).read_text(encoding="utf-8"))


def rows_of(taken: dict[str, Any]) -> dict[int, Row]:
    """Put together what an intake said of each row."""
    rows: dict[int, Row] = {}
    for item in taken["taken"] if isinstance(taken["taken"], list) else ():
        said = [(f["verdict"], f["message"]) for f in taken["findings"] if f["placement"] == item["tag"]]
        rows[item["row"]] = Row(outcome=item["verdict"], warnings=item["warnings"], findings=said)
    for item in taken["rejected"]:
        rows[item["row"]] = Row(outcome="rejected", rejected=[item["reason"]])
    return rows


def intake_table(folder: Path) -> Table:
    """Tell how many rows of each file went in."""
    table = Table(title="What was taken in", title_justify="left", box=box.SIMPLE_HEAD)
    table.add_column("file")
    for name in ("rows", "conforming", "inconclusive", "nonconforming", "rejected"):
        table.add_column(name, justify="right")
    modules = answer(folder, "modules.csv.json")
    rejected = len(modules["rejected"])
    table.add_row("modules.csv", str(modules["taken"] + rejected), "", "", "", str(rejected))
    for name in LOGS:
        outcomes = [row.outcome for row in rows_of(answer(folder, f"{name}.json")).values()]
        kinds = ("conforming", "inconclusive", "nonconforming", "rejected")
        table.add_row(name, str(len(outcomes)), *(str(outcomes.count(kind)) for kind in kinds))
    return table


def fault_table(folder: Path) -> tuple[Table, list[str]]:
    """Tell what Leadline said of each planted fault, and which were not found."""
    table = Table(
        title="Planted faults, and what Leadline said of each", title_justify="left", box=box.SIMPLE_HEAD
    )
    for name, ratio in (("planted", 3), ("where", 2), ("outcome", 2), ("Leadline said", 8)):
        table.add_column(name, ratio=ratio, overflow="fold")
    missed = []
    rows = {name: rows_of(answer(folder, f"{name}.json")) for name in ("modules.csv", *LOGS)}
    planted = set()
    with (folder / "sources" / "planted_faults.csv").open(encoding="utf-8", newline="") as file:
        for fault in csv.DictReader(file):
            where = (fault["file"], int(fault["row"]))
            planted.add(where)
            row = rows[where[0]].get(where[1])
            said = row.said(fault["outcome"]) if row else []
            found = [sentence for sentence in said if fault["said"] in sentence]
            if not found:
                missed.append(f"{fault['fault']} ({where[0]}, row {where[1]}): not found; {row}")
            colour = MARKS[fault["outcome"]]
            table.add_row(
                escape(fault["fault"]),
                escape(f"{where[0]}\nrow {where[1]}, {fault['tag']}"),
                f"[{colour}]{fault['outcome']}[/]",
                escape(" ".join(found) or "nothing"),
            )
    for name, found_rows in rows.items():
        for number, row in found_rows.items():
            if (name, number) not in planted and (row.rejected or row.warnings):
                missed.append(f"{name}, row {number}: nothing was planted there, but {row}")
    return table, missed


def checked(folder: Path) -> Iterator[str]:
    """Tell of the commands after the intake; each line from what the command answered."""
    again = answer(folder, "again.json")
    new, known = len(again["taken"]), len(again["repeated"])
    yield f"The first day taken in again: {new} new rows, {known} known already."
    check = answer(folder, "check.json")
    wrong = [f["message"] for f in check["findings"] if f["verdict"] in {"nonconforming", "inconclusive"}]
    move = check["move"]
    advice = (
        f"move the hook {move['distance_m']:.1f} m toward {move['bearing_deg']:03.0f}° true"
        if move
        else check["move_note"]
    )
    yield f"Before a drop, check said {check['verdict']}: {' '.join(wrong)} Advice: {advice}."
    for path in sorted((folder / "answers").glob("correct-*.json")):
        made = json.loads(path.read_text(encoding="utf-8"))
        yield f"{made['tag']} was corrected by a new entry, {made['placement']}: {made['verdict']}."
    audit = answer(folder, "audit.json")
    standing = {f["placement"] for f in audit["findings"]}
    flagged = sorted({f["placement"] for f in audit["findings"] if f["verdict"] == "nonconforming"})
    doubtful = sorted(
        {f["placement"] for f in audit["findings"] if f["verdict"] == "inconclusive"} - set(flagged)
    )
    yield (
        f"The audit asked {len(audit['findings'])} questions of {len(standing)} modules:"
        f" {audit['verdict']} for {', '.join(flagged)}; inconclusive for {', '.join(doubtful)}."
    )
    offshore = [f["measured"] for f in audit["findings"] if f["rule"] == "offshore-distance"]
    screened = [f for f in audit["findings"] if f["rule"] == "stability" and f["measured"] is not None]
    least = min(screened, key=lambda f: f["measured"])
    # Rounded down: all of them lie at least so far away.
    miles = int(min(offshore) / 185.2) / 10
    yield (
        f"The {len(offshore)} modules of Tern Patch lie {miles} nautical miles or more from the baseline."
        f" In the design wave the least factor of safety is {least['measured']:.1f} ± {least['u95']:.1f},"
        f" of {least['placement']}, by a screening, which is no certificate of an engineer."
    )
    owed = answer(folder, "duties.json")
    by_state: dict[str, list[str]] = {}
    for duty in owed["duties"]:
        late = f" ({duty['days_late']} days late)" if duty["state"] == "done" and duty["days_late"] else ""
        by_state.setdefault(duty["state"], []).append(duty["id"] + late)
    shown = ("overdue", "due soon", "not yet known", "done")
    told = "; ".join(f"{state}: {', '.join(by_state[state])}" for state in shown if state in by_state)
    yield f"Owed to the authorities on {owed['on']}: {told}."
    for path in sorted((folder / "answers").glob("certificate-*.json")):
        made = json.loads(path.read_text(encoding="utf-8"))
        yield f"Certificate {made['certificate']} for {made['statement']['name']}: {Path(made['file']).name}"
    kept = answer(folder, "custody.json")
    broken = [chain for chain in kept["chains"] if not chain["whole"]]
    faults = " ".join(fault["message"] for chain in broken for fault in chain["faults"])
    yield (
        f"Keepers: {kept['taken']} hand-overs, {len(kept['chains']) - len(broken)} chains unbroken to the"
        f" seabed; broken: {', '.join(chain['tag'] for chain in broken)}. {faults}"
    )
    yield f"No certificate for MC-0018 yet. {answer(folder, 'refused.json')['error']}"
    erased = (folder / "answers" / "family-erase.txt").read_text(encoding="utf-8").splitlines()
    yield " ".join(line.strip(" +") for line in erased if "Erased" in line or "Found" in line)
    genuine, tampered = answer(folder, "authentic.json"), answer(folder, "tampered.json")
    proven = "genuine" if genuine["genuine"] else "NOT genuine"
    yield f"Authenticated: {proven}, {genuine['state']}. With one byte changed: {tampered['error']}"
    run, copy, stands = (answer(folder, name) for name in ("all.json", "duplicate.json", "stands.json"))
    issued = [row for row in run["certificates"] if row["outcome"] == "issued"]
    later = ", ".join(f"{row['tag']} as version {row['version']}" for row in issued if row["version"] > 1)
    stood = sum(row["outcome"] == "kept" for row in run["certificates"])
    yield (
        f"All of HB-0417 in one run: {len(issued)} certificates issued, {later}; {stood} stood already;"
        f" {len(run['refused'])} refused, each with its reason in not-issued.csv. A duplicate of"
        f" {copy['certificate']} was made. By the published list, that of MC-0005 was {stands['state']}."
    )
    verified = answer(folder, "verify.json")
    sound = "as it was written" if verified["sound"] else "NOT as it was written"
    yield f"Journal: {sound}, head {verified['head'][:16]}…"


def derived(folder: Path) -> Iterator[str]:
    """Tell how a position and a depth came from what instruments logged."""
    survey = answer(folder, "survey-MC-0063.json")
    log, depth = survey["log"], survey["depth"]
    aside = ", ".join(f"{n} ({why})" for why, n in log["set_aside"].items())
    yield (
        f"The receiver's log: {log['sentences']:,} sentences, {log['bad_checksums']} with a bad checksum;"
        f" {log['used']} fixes used, set aside {aside}."
    )
    average = next(step for step in survey["steps"] if step["name"] == "average")["figures"]
    budget = ", ".join(
        f"{row['source']} {row['size_m']:.2f} m" for row in survey["budget"] if row["size_m"] > 0.1
    )
    yield (
        f"MC-0063: {average['n']} fixes in {average['span_s']:.0f} s, worth {average['n_effective']:.0f};"
        f" the median stands against {average['wild']} wild ones."
        f" R95 {survey['position']['r95_m']:.2f} m: {budget}."
    )
    raw, *chain = (step for step in depth["steps"] if step["step"] == "raw" or step["change_m"])
    changes = ", ".join(f"{step['step']} {step['change_m']:+.2f} m" for step in chain)
    yield (
        f"MC-0063, depth: {depth['kind']} {raw['depth_m']:.1f} m, {changes} ({depth['tide']}):"
        f" {depth['depth_m']:.1f} ± {depth['u95_m']:.1f} m below {depth['datum']},"
        f" S-44 order {depth['s44_order']}."
    )
    check = answer(folder, "accuracy.json")
    found = check["accuracy"]
    inside = sum(point["within"] for point in check["points"])
    yield (
        f"An independent survey of {found['points']} modules: RMSE {found['rmse_east_m']:.2f} m east and"
        f" {found['rmse_north_m']:.2f} m north, NSSDA 95 % {found['nssda_r95_m']:.2f} m;"
        f" {inside} within their R95."
    )
    storm = answer(folder, "resurvey.json")["resurveys"]
    yield from (
        f"After the storm, of {len(storm)} modules observed again, {row['tag']} moved"
        f" {row['distance_m']:.1f} ± {row['u95_m']:.1f} m toward {row['bearing_deg']:03.0f}° true,"
        f" some time after {row['since'][:10]}."
        for row in storm
        if row["movement"] == "moved"
    )
    where = answer(folder, "where-MC-0063.json")
    yield (
        f"To find {where['tag']} on {where['on'][:10]}, type {where['texts']['ddm']} ({where['frame_name']});"
        f" the ground has moved {where['drift']['distance_m']:.1f} m there by then."
    )


def against_truth(folder: Path) -> tuple[str, list[str]]:
    """Hold the fourth day against where its modules truly lie; give a sentence and what is not as planted."""
    missed, moved = [], set()
    away, radii, off = [], [], []
    findings = [
        *answer(folder, "2026-05-12-slate.csv.json")["findings"],
        *answer(folder, "place-MC-0066.json")["findings"],
    ]
    depths = {each["placement"]: each for each in findings if each["rule"] == "depth-band"}
    with (folder / "sources" / "planted_truth.csv").open(encoding="utf-8", newline="") as file:
        for true in csv.DictReader(file):
            tag = true["tag"]
            home, depth = answer(folder, f"where-{tag}.json")["home"], depths[tag]
            lon, lat = float(true["lon_deg"]), float(true["lat_deg"])
            away.append(float(GEOD.inv(home["lon"], home["lat"], lon, lat)[2]))
            radii.append(home["r95_m"])
            off.append(abs(depth["measured"] - float(true["depth_m"])))
            if away[-1] > radii[-1]:
                missed.append(f"{tag} lies {away[-1]:.2f} m away, beyond R95 {radii[-1]:.2f} m.")
            if off[-1] > depth["u95"]:
                missed.append(f"{tag}: {off[-1]:.2f} m off in depth, beyond ± {depth['u95']:.2f} m.")
            if float(true["moved_east_m"]) or float(true["moved_north_m"]):
                moved.add(tag)
    storm = answer(folder, "resurvey.json")
    found = {row["tag"] for row in storm["resurveys"] if row["movement"] == "moved"}
    if found != moved or storm["common_shift"]["found"]:
        missed.append(f"The storm moved {sorted(moved)}, but {sorted(found)}; {storm['common_shift']}")
    return (
        f"Held against the truth that was planted: {len(away)} positions off by at most {max(away):.2f} m,"
        f" where R95 is {min(radii):.1f} to {max(radii):.1f} m; depths by at most {max(off):.2f} m.",
        missed,
    )


def tell(folder: Path) -> int:
    """Print the account; give 1 if a planted fault was not found."""
    console = Console(width=None if sys.stdout.isatty() else 120, highlight=False)
    faults, missed = fault_table(folder)
    held, untrue = against_truth(folder)
    missed += untrue
    console.print(intake_table(folder))
    console.print(faults)
    for line in (*derived(folder), held, *checked(folder)):
        console.print(f"• {escape(line)}", soft_wrap=False)
    console.print()
    table = Table(
        title=f"Where it lies: {escape(str(folder))}", title_justify="left", box=None, show_header=False
    )
    for name, what in (
        ("programme.gpkg", "the registry; any desktop GIS opens it"),
        ("sources/*.rejected.csv", "rejected rows with their reasons, to be mended and taken in again"),
        ("audit/", "the audit for the permit officer"),
        (
            "as-built/, chart-office/, sample/",
            "what was built; corners and attributes for the chart; what to look at again, for the boat",
        ),
        ("papers/", "the draft of an as-built report, to be filled in and sent"),
        ("certificates/", "signed papers for the families, one also in Vietnamese, and one tampered with"),
        ("status/", "the signed list of certificates that stand, for any web host"),
        ("plaques/", "artwork for an engraver, every letter a path"),
        ("visits/", "a page to take aboard and its waypoints"),
        ("reef.html", "the public map, one file, no network"),
        ("site/", "the same for a web host, with a page for each area; phones keep it for use at sea"),
        ("tide.svg, accuracy.svg", "the tide of the fourth day; the check survey, drawn"),
        ("exports/", "GPX, KML, GeoJSON, CSV, a list to print, GeoPackage, Shapefile"),
        ("backup.gpkg, public_key.pem", "a proven copy; the key that proves the papers"),
        ("demonstration.log", "every command that was run, to try by hand"),
    ):
        for each in name.split(", "):
            if not list(folder.glob(each)):
                missed.append(f"{each} was not written.")
        table.add_row(f"  {name}", what)
    console.print(table)
    console.print("\nInvented throughout; not for navigation.")
    for line in missed:
        print(f"Not as planted: {line}", file=sys.stderr)
    return 1 if missed else 0


def tamper(genuine: Path, target: Path) -> None:
    """Change one byte in the middle of a file."""
    content = bytearray(genuine.read_bytes())
    content[len(content) // 2] ^= 1
    target.write_bytes(content)


def placement_of(tag: str, file: Path) -> str:
    """Give the identifier under which an intake recorded a tag."""
    taken = json.loads(file.read_text(encoding="utf-8"))["taken"]
    return str(next(item["placement"] for item in taken if item["tag"] == tag))


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["--placement-of", tag, file]:
            print(placement_of(tag, Path(file)))
        case ["--tamper", genuine, target]:
            tamper(Path(genuine), Path(target))
        case [folder]:
            sys.exit(tell(Path(folder)))
        case _:
            sys.exit("Give the folder of a demonstration.")
