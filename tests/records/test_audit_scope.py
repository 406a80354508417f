from datetime import UTC, datetime

import pytest

from registry.records.audit_scope import scope_words

K, D = datetime(2026, 7, 31, tzinfo=UTC), datetime(2026, 6, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("known", "on", "words"),
    [
        (None, None, "All that stands, as the registry knows it now."),
        (K, None, "The registry as it was known at 07-31; what was entered later is left out."),
        (
            None,
            D,
            "What had been placed by 06-30, as the registry knows it now, with every correction made since.",
        ),
        (
            K,
            D,
            "What had been placed by 06-30, as it was known at 07-31; what was entered later is left out.",
        ),
    ],
)
def test_what_was_true_and_what_was_known_are_told_apart(known, on, words):
    assert scope_words(known, on, lambda instant: f"{instant:%m-%d}") == words
