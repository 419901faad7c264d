"""Where the VISA backend finds a bench."""

from __future__ import annotations

import pytest

from rigproof.errors import UsageError
from rigproof_twin.clock import VirtualClock
from rigproof_twin.registry import Bench, add, find, remove


def test_a_bench_is_found_by_its_token_until_it_is_removed() -> None:
    one, two = Bench(VirtualClock(), {}), Bench(VirtualClock(), {})
    first, second = add(one), add(two)
    assert first != second
    assert (find(first), find(second)) == (one, two)
    remove(first)
    remove(first)
    with pytest.raises(UsageError, match=f"no simulated rig '{first}'. It has: .*{second}.*use its visa_library"):
        find(first)
    remove(second)


def test_a_token_is_never_given_twice() -> None:
    first = add(Bench(VirtualClock(), {}))
    remove(first)
    second = add(Bench(VirtualClock(), {}))
    remove(second)
    assert first != second
