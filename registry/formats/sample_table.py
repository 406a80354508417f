"""
A sample of modules as a spreadsheet that is filled in at sea and read back by ``leadline accuracy``.

UTF-8 with its mark; commas. What the officer writes comes first and is empty, but for the tag; what the
registry has, and how the sample was drawn, stands behind it in every row, so that a filled table tells where
it came from.
"""

from registry.errors import TableError
from registry.formats.csv_table import read_csv_table, write_csv_table
from registry.formats.sample_words import again_command, depth_words, position_words
from registry.records.inspection_sample import HOW_TO_FILL, InspectionSample
from registry.records.public_wording import FRAME, length_decimals, rounded_u95

__all__ = ["COLUMNS", "nothing_is_filled_in", "write_sample_table"]

#: What is filled in, then what is recorded.
FILLED = ("tag", "position", "frame", "when", "r95", "receiver", "crew", "vessel", "note")
COLUMNS = (
    *FILLED,
    *("visit", "recorded_position", "recorded_frame", "recorded_r95_m", "recorded_depth"),
    *("area", "placed_on", "verdict", "weight", "chance", "placement", "drawn", "how_to_fill"),
)


def write_sample_table(sample: InspectionSample) -> bytes:
    """
    Write a row for each module, in the order of the course.

    Returns
    -------
    bytes
        CSV, the same bytes for the same sample.
    """
    drawn = f"{again_command(sample)} (journal head {sample.journal_head})"
    how = "; ".join(HOW_TO_FILL)
    rows = [
        [
            module.tag,
            *("" for _ in FILLED[1:]),
            visit,
            position_words(module),
            f"{FRAME}, epoch {sample.epoch:.1f}",
            f"{rounded_u95(module.r95_m):.{length_decimals(module.r95_m)}f}",
            depth_words(module, sample.chart_datum),
            module.area_id,
            module.placed_on.isoformat(),
            module.verdict.word,
            f"{module.weight:.3f}",
            f"{module.chance:.4f}",
            module.placement_id,
            drawn,
            how,
        ]
        for visit, module in enumerate(sample.modules, start=1)
    ]
    return write_csv_table(COLUMNS, rows).encode("utf-8-sig", errors="replace")


def nothing_is_filled_in(content: bytes) -> bool:
    """
    Tell whether a file is a table of a sample in which nobody has written anything yet.

    Parameters
    ----------
    content : bytes
        The whole file, whatever it is.
    """
    try:
        table = read_csv_table(content)
        rows = [table.by_name(row) for row in table.rows() if row.problem is None]
        whole = all(row.problem is None for row in table.rows())
    except TableError:
        return False
    return whole and table.header == COLUMNS and not any(row[name] for row in rows for name in FILLED[1:])
