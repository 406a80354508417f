"""
The findings of an audit as a spreadsheet: one row for each placement and condition.

The columns from ``placement`` to ``message`` have the names of the findings in JSON. Coordinates are in the
home frame. Values, their uncertainty and coordinates carry the digits that the uncertainty supports, the
uncertainty rounded up; the verdict was decided before any of them was rounded.
"""

import math
from collections.abc import Iterator

import numpy as np

from registry.formats.csv_table import write_csv_table
from registry.measure.decision import Verdict
from registry.measure.digits import metres_decimals, u95_rounded_up_m
from registry.records.audit_scope import scope_words
from registry.records.audit_summary import AuditSummary, PermitSummary
from registry.records.entry import instant_text
from registry.records.finding import Findings
from registry.records.public_wording import coordinate_decimals

__all__ = ["COLUMNS", "write_findings_table"]

COLUMNS = (
    *("permit", "placement", "rule", "verdict", "measured", "limit", "u95", "unit", "cite", "message"),
    *("placement_id", "placed_at", "lat", "lon", "r95_m", "frame", "epoch", "area"),
    # So that a row that was copied elsewhere still tells of what it is, and what proves it.
    *("scope", "journal_head"),
)


def write_findings_table(summary: AuditSummary) -> bytes:
    """
    Write every finding of an audit, placement by placement and in print order; of very many, the flagged.

    Parameters
    ----------
    summary : AuditSummary
        What the audit found.

    Returns
    -------
    bytes
        CSV in UTF-8 with its mark, the same bytes for the same audit.
    """
    rows = (row for permit in summary.permits for row in _rows(summary, permit))
    return write_csv_table(COLUMNS, rows).encode("utf-8-sig", errors="replace")


def _rows(summary: AuditSummary, permit: PermitSummary) -> Iterator[list[object]]:
    p = permit.placements
    placed_at = _instants(p.placed_at_s)
    everything = summary.all_findings_written
    scope = scope_words(summary.as_of, summary.on, instant_text)
    chosen = range(len(p)) if everything else np.flatnonzero(permit.verdict >= Verdict.INCONCLUSIVE).tolist()
    for row in chosen:
        decimals = coordinate_decimals(float(p.r95_m[row]))
        where = [
            p.placement_id[row],
            placed_at[row],
            f"{p.lat_deg[row]:.{decimals}f}",
            f"{p.lon_deg[row]:.{decimals}f}",
            _rounded_up(float(p.r95_m[row])),
            summary.frame,
            f"{summary.frame_epoch:g}",
            permit.area[row],
            scope,
            summary.journal_head,
        ]
        for each in permit.conditions:
            found = each.findings
            if not everything and found.verdict[row] < Verdict.INCONCLUSIVE:
                continue
            yield [
                permit.permit.number,
                p.tag[row],
                found.rule,
                Verdict(int(found.verdict[row])).word,
                *_numbers(found, row),
                found.unit,
                found.cite,
                found.message[row],
                *where,
            ]


def _instants(seconds: np.ndarray) -> list[str]:
    text: list[str] = np.datetime_as_string(
        np.round(seconds).astype("datetime64[s]"), timezone="UTC"
    ).tolist()
    return text


def _numbers(found: Findings, row: int) -> tuple[str, str, str]:
    """Write the measured value, the limit and the uncertainty."""
    measured, limit, u95 = float(found.measured[row]), float(found.limit[row]), float(found.u95[row])
    limit_text = f"{limit:.10g}" if math.isfinite(limit) else ""
    if not math.isfinite(measured):
        return "", limit_text, ""
    if not math.isfinite(u95):
        return f"{measured:.0f}", limit_text, ""
    decimals = metres_decimals(u95) if u95 > 0 else 2
    exact = f"{measured:.{decimals}f}" if found.unit in {"m", "1"} else f"{measured:.10g}"
    return exact, limit_text, _rounded_up(u95)


def _rounded_up(u95: float) -> str:
    return f"{u95_rounded_up_m(u95):.{metres_decimals(u95)}f}" if u95 > 0 else "0"
