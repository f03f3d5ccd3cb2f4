"""Settings for all tests."""

from __future__ import annotations

from hypothesis import Phase, settings

from browsers import browser

__all__ = ["browser"]  # a fixture for every test that opens a page

# A shared machine may stall for a second at any moment: time is measured where it matters,
# in the tests that say so, and in the benchmarks.
settings.register_profile("patient", deadline=None)
# What every change must pass finds the same examples each time.
settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
# tests/mutation wants to know whether a test fails, not the smallest example of it.
settings.register_profile(
    "mutation",
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.explicit, Phase.generate],
)
settings.load_profile("patient")
