"""Settings for all tests."""

from __future__ import annotations

from hypothesis import settings

from browsers import browser

__all__ = ["browser"]  # a fixture for every test that opens a page

# A shared machine may stall for a second at any moment: time is measured where it matters,
# in the tests that say so, and in the benchmarks.
settings.register_profile("patient", deadline=None)
settings.load_profile("patient")
