"""Random numbers that everybody gets alike."""

import hashlib

import pytest

from registry.errors import QuantityError
from registry.measure.seeded_draws import SeededDraws


def test_the_numbers_are_those_that_another_tool_gives():
    # printf '2026,1' | sha256sum (GNU coreutils) begins with 923f885b97b64de7, '2026,2' with e1f51aa90e4b8464.
    draws = SeededDraws("2026")
    assert draws.uniform() == pytest.approx(0x923F885B97B64DE7 / 2**64, abs=2**-53)
    assert draws.uniform() == pytest.approx(0xE1F51AA90E4B8464 / 2**64, abs=2**-53)


def test_the_hash_is_that_of_the_standard():
    # FIPS 180-4, example "abc".
    assert hashlib.sha256(b"abc").hexdigest().startswith("ba7816bf8f01cfea414140de5dae2223")


def test_the_numbers_fill_the_interval_evenly():
    draws = SeededDraws("a seed")
    numbers = [draws.uniform() for _ in range(20_000)]
    assert min(numbers) >= 0
    assert max(numbers) < 1
    counts = [sum(low <= 10 * u < low + 1 for u in numbers) for low in range(10)]
    # Chi-square with nine degrees of freedom: 27.9 is passed once in a thousand.
    assert sum((count - 2000) ** 2 / 2000 for count in counts) < 27.9


def test_whole_numbers_stay_below_their_bound():
    draws = SeededDraws("7")
    assert {draws.below(3) for _ in range(200)} == {0, 1, 2}


def test_outer_blanks_of_a_seed_do_not_count_but_zeros_do():
    assert SeededDraws(" 7 ").uniform() == SeededDraws("7").uniform()
    assert SeededDraws("07").uniform() != SeededDraws("7").uniform()


@pytest.mark.parametrize("seed", ["", "  ", "a\nb", "x" * 201, "a\u200b"])
def test_a_seed_that_cannot_be_read_out_is_refused(seed):
    with pytest.raises(QuantityError):
        SeededDraws(seed)
