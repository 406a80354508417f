"""
What has changed in a registry since a day: the entries written since, and the verdicts that are others now.

The registry of that day is audited anew, by the rules of today: a verdict that differs does so for what was
recorded, not for another way of reckoning.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from registry.measure.decision import Verdict
from registry.measure.movement import Motion
from registry.ports import Register
from registry.records.audit_summary import AuditSummary, Change, Changes, PermitSummary, VerdictChange
from registry.records.entry import GENESIS, Entry

__all__ = ["compare_audits"]

#: So much is listed of each; the rest is counted.
MOST_LISTED = 200

#: Kind of entry to what is told of it, in print order.
KINDS = {
    "permit.added": "permit added",
    "permit.amended": "permit amended",
    "placement.logged": "placed",
    "placement.corrected": "corrected",
    "placement.withdrawn": "withdrawn",
    "placement.resurveyed": "resurveyed",
}


def compare_audits(
    register: Register, before: AuditSummary | None, now: AuditSummary, *, since: datetime
) -> Changes:
    """
    Tell what is different from an instant on.

    Parameters
    ----------
    register : Register
        The registry as it was audited now; its journal is read.
    before : AuditSummary or None
        The audit of the registry as it stood then; None where it had not begun.
    now : AuditSummary
        The audit of today, of the same permits.
    since : datetime
        The instant, with its zone.
    """
    numbers = frozenset(each.permit.number for each in now.permits) | frozenset(
        each.permit.number for each in (before.permits if before else ())
    )
    zone = ZoneInfo(now.zone)
    counts: Counter[str] = Counter()
    listed: list[Change] = []
    groups: dict[tuple[str, ...], _Group] = {}
    for entry in register.journal(after=before.journal_entries if before else 0):
        if entry.kind not in KINDS:
            continue
        body = entry.content()
        permit = _permit_of(register, entry.kind, body)
        if permit not in numbers:
            continue
        counts[entry.kind] += 1
        if _is_ordinary(entry.kind, body):
            day = entry.time.astimezone(zone).date().isoformat()
            key = (entry.kind, permit, day, entry.actor)
            groups.setdefault(key, _Group(first=entry, permit=permit)).add(body)
        # What a permit says weighs more than one more module: it is never crowded out.
        elif len(listed) < MOST_LISTED or entry.kind.startswith("permit."):
            listed.append(_change(entry, body, permit))
    listed += [group.change() for group in list(groups.values())[:MOST_LISTED]]
    listed.sort(key=lambda change: change.at)
    changed, count = _verdict_changes(before, now)
    return Changes(
        since=since,
        journal_head="" if before is None or before.journal_head == GENESIS else before.journal_head,
        journal_entries=before.journal_entries if before else 0,
        counts=tuple((words, counts[kind]) for kind, words in KINDS.items() if counts[kind]),
        listed=tuple(listed),
        verdicts=changed,
        verdict_count=count,
    )


def _is_ordinary(kind: str, body: Mapping[str, Any]) -> bool:
    """Tell whether an entry is one of many of a sea day, of which a number says enough."""
    if kind == "placement.resurveyed":
        return body["movement"]["verdict"] == Motion.NOT_SHOWN.value and "supersedes" not in body
    return kind == "placement.logged"


@dataclass(slots=True)
class _Group:
    """The like entries of one day, told in one line."""

    first: Entry
    permit: str
    tags: list[str] = field(default_factory=list)
    verdicts: Counter[str] = field(default_factory=Counter)

    def add(self, body: Mapping[str, Any]) -> None:
        self.tags.append(str(body["tag"]))
        if self.first.kind == "placement.logged":
            self.verdicts[str(body.get("verdict", "not judged"))] += 1

    def change(self) -> Change:
        count = len(self.tags)
        told = ", ".join(f"{number:,} {word}" for word, number in self.verdicts.items())
        return Change(
            kind=KINDS[self.first.kind],
            at=self.first.time,
            actor=self.first.actor,
            permit=self.permit,
            tag=self.tags[0] if count == 1 else f"{self.tags[0]} … {self.tags[-1]}",
            reference=self.first.reference,
            told=f"{told} when logged." if told else "Not shown to have moved.",
            count=count,
        )


def _permit_of(register: Register, kind: str, body: Mapping[str, Any]) -> str:
    if kind == "placement.resurveyed":
        return register.placement(str(body["placement_id"])).permit
    return str(body["number" if kind.startswith("permit.") else "permit"])


def _change(entry: Entry, body: Mapping[str, Any], permit: str) -> Change:
    return Change(
        kind=KINDS[entry.kind],
        at=entry.time,
        actor=entry.actor,
        permit=permit,
        tag=str(body.get("tag", "")),
        reference=entry.reference,
        told=_told(entry.kind, body),
    )


def _told(kind: str, body: Mapping[str, Any]) -> str:
    if kind == "permit.added":
        return f"Valid from {body['valid_from']} to {body['valid_to']}, by {body['authority']}."
    if kind == "permit.amended":
        return f"In force from {body.get('in_force_from')}. {body.get('amendment', '')}".strip()
    if kind == "placement.corrected":
        return f"In place of {body['supersedes']}: {body['reason']}"
    if kind == "placement.withdrawn":
        return f"{body['placement_id']} no longer stands: {body['reason']}"
    movement = body["movement"]
    return f"{str(movement['verdict']).capitalize()}; seen on {body['observed_at'][:10]}."


def _verdict_changes(before: AuditSummary | None, now: AuditSummary) -> tuple[tuple[VerdictChange, ...], int]:
    """Compare condition by condition what was judged then and now; a new module is no other verdict."""
    if before is None:
        return (), 0
    old, new = _by_condition(before), _by_condition(now)
    listed: list[VerdictChange] = []
    count = 0
    for key in dict.fromkeys([*old, *new]):
        if key not in old or key not in new:
            # A condition that came or went is told as an amendment of the permit.
            continue
        (tags_then, then), (tags_now, found) = old[key], new[key]
        both, i, j = np.intersect1d(tags_then, tags_now, return_indices=True)
        other = np.flatnonzero(then[i] != found[j])
        count += len(other)
        # What has become worse comes first.
        worst_first = other[
            np.argsort(then[i][other].astype(int) - found[j][other].astype(int), kind="stable")
        ]
        listed += [
            VerdictChange(
                permit=key[0],
                tag=str(both[place]),
                rule=key[1],
                cite=key[2],
                before=Verdict(int(then[i][place])),
                now=Verdict(int(found[j][place])),
            )
            for place in worst_first[: MOST_LISTED + 1].tolist()
        ]
    listed.sort(key=lambda each: (each.before or 0) - (each.now or 0))
    return tuple(listed[:MOST_LISTED]), count


def _by_condition(
    summary: AuditSummary,
) -> dict[tuple[str, str, str, str], tuple[NDArray[np.str_], NDArray[np.int8]]]:
    """Give tags and verdicts under each condition of each permit, whichever of its versions asked."""
    gathered: dict[tuple[str, str, str, str], list[tuple[NDArray[np.str_], NDArray[np.int8]]]] = {}
    for permit, key, verdict in _columns(summary):
        gathered.setdefault(key, []).append((permit.placements.tag.astype(str), verdict))
    joined = {}
    for key, parts in gathered.items():
        tags = np.concatenate([part[0] for part in parts])
        verdicts = np.concatenate([part[1] for part in parts])
        # A tag that is recorded twice is as bad as the worse of the two.
        order = np.lexsort((-verdicts.astype(np.int64), tags))
        first = np.flatnonzero(np.r_[True, tags[order][1:] != tags[order][:-1]]) if len(order) else order
        joined[key] = (tags[order][first], verdicts[order][first])
    return joined


def _columns(
    summary: AuditSummary,
) -> Iterator[tuple[PermitSummary, tuple[str, str, str, str], NDArray[np.int8]]]:
    for permit in summary.permits:
        for one in permit.conditions:
            limits = ",".join(sorted(one.condition.limits)) if one.condition.rule == "capacity" else ""
            key = (permit.permit.number, one.condition.rule, one.condition.cite, limits)
            yield permit, key, one.findings.verdict
