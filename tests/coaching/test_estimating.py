"""An estimate is that of the tries where they are many, of the neighbours where they are few."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product

import numpy as np
import pytest

from reedmill.coaching.estimating import (
    HALF_LIFE_DAYS,
    TRY_SD_CENTS,
    USUAL_CENTS,
    Estimate,
    LearnedRung,
    estimates,
    tallies,
)

Tries = list[tuple[LearnedRung, float, float]]

RUNGS = [("-3'", "-2"), ("-3''", "-2"), ("-3''", "-3'"), ("-3'''", "-2"), ("-2'", "-2"),
         ("-2''", "-2"), ("-2''", "-3"), ("-4'", "4"), ("-4'", "-5"), ("-1'", "1"),
         ("-6'", "6"), ("8'", "9"), ("-3'", "4"), ("-3''", "4")]  # fmt: skip
PLACES = [LearnedRung(tab, before, register)
          for (tab, before), register in product(RUNGS, ("high", "middle", "low"))]  # fmt: skip


def tried(place: LearnedRung, *out: float, days_ago: float = 0.0) -> Tries:
    return [(place, each, days_ago) for each in out]


def estimated(heard: Tries, places: list[LearnedRung]) -> dict[LearnedRung, Estimate]:
    return estimates(tallies(heard), places)


def test_where_tries_are_many_their_mean_is_the_estimate() -> None:
    rng = np.random.default_rng(2)
    out = rng.normal(41, TRY_SD_CENTS, 400)
    found = estimated(tried(PLACES[0], *out), PLACES)[PLACES[0]]
    assert found.cents == pytest.approx(float(out.mean()), abs=0.5)
    assert found.sd == pytest.approx(TRY_SD_CENTS / 20, rel=0.1)  # the standard error of a mean
    assert found.tries == 400


def test_where_nothing_is_known_all_places_are_alike_and_unsure() -> None:
    found = estimated([], PLACES)
    assert len({round(each.cents, 6) for each in found.values()}) == 1
    assert min(each.sd for each in found.values()) > 15


def test_a_place_nobody_tried_is_estimated_by_its_neighbours() -> None:
    heard = tried(LearnedRung("-3''", "-2", "middle"), *[45.0] * 8)
    found = estimated(heard, PLACES)
    same_rung = found[LearnedRung("-3''", "-2", "low")]
    other_way = found[LearnedRung("-3''", "4", "middle")]
    other_rung = found[LearnedRung("8'", "9", "low")]
    assert 45 > same_rung.cents > other_rung.cents
    assert 45 > other_way.cents > other_rung.cents
    assert same_rung.sd < other_rung.sd


def test_the_posterior_is_that_of_one_normal_by_hand() -> None:
    """With one place alone all parts add up to one normal, whose posterior is in every textbook."""
    prior = 12.0**2 + 9.0**2 + 8.0**2 + 5.0**2 + 6.0**2 + 9.0**2
    place = LearnedRung("-3'", "-2", "middle")
    found = estimated(tried(place, 30.0, 50.0), [place])[place]
    precision = 1 / prior + 2 / TRY_SD_CENTS**2
    assert found.sd == pytest.approx(precision**-0.5)
    wanted = (22 / prior + (30 + 50) / TRY_SD_CENTS**2) / precision
    assert found.cents == pytest.approx(wanted)


def test_it_is_the_posterior_of_a_linear_model_of_its_parts() -> None:
    """Gelman and others, "Bayesian Data Analysis", 3rd edition, 2013, section 14.2, with a prior.

    The same model, written as a regression on the parts with a normal prior on each.
    """
    rng = np.random.default_rng(5)
    heard = [(PLACES[at], rng.uniform(0, 60), rng.uniform(0, 40)) for at in rng.integers(0, 30, 90)]
    parts: list[tuple[float, Callable[[LearnedRung], object]]] = [
        (12.0, lambda _: "player"), (9.0, lambda place: place.tab),
        (8.0, lambda place: (place.tab, place.came_from)), (5.0, lambda place: place.register),
        (6.0, lambda place: (place.tab, place.register)), (9.0, lambda place: place),
    ]  # fmt: skip
    names = {(number, of(place)): sd for number, (sd, of) in enumerate(parts) for place in PLACES}
    columns = {name: at for at, name in enumerate(names)}

    def row(place: LearnedRung) -> np.ndarray:
        found = np.zeros(len(columns))
        found[[columns[number, of(place)] for number, (_, of) in enumerate(parts)]] = 1
        return found

    design = np.array([row(place) for place, _, _ in heard])
    counts = np.array([0.5 ** (ago / HALF_LIFE_DAYS) / TRY_SD_CENTS**2 for _, _, ago in heard])
    prior = np.diag([1 / sd**2 for sd in names.values()])
    covariance = np.linalg.inv(design.T * counts @ design + prior)
    above = np.array([out for _, out, _ in heard]) - USUAL_CENTS
    middle = covariance @ (design.T * counts @ above)
    found = estimated(heard, PLACES)
    for place in PLACES:
        at = row(place)
        assert found[place].cents == pytest.approx(USUAL_CENTS + at @ middle)
        assert found[place].sd == pytest.approx(np.sqrt(at @ covariance @ at))


def test_older_tries_count_for_less() -> None:
    place = PLACES[0]
    heard = [*tried(place, *[50.0] * 6, days_ago=4 * HALF_LIFE_DAYS), *tried(place, *[10.0] * 6)]
    assert estimated(heard, PLACES)[place].cents < 16
    half = tried(place, 50.0, 50.0, days_ago=HALF_LIFE_DAYS)
    assert estimated(half, PLACES)[place].cents == pytest.approx(
        estimated(tried(place, 50.0), PLACES)[place].cents
    )


def test_the_weakest_of_many_is_found_by_few_tries_of_each() -> None:
    """200 students of one plain weakness, four tries of each place: the argmax of the estimates."""
    rng = np.random.default_rng(8)
    right = 0
    for _ in range(200):
        truth = dict(zip(PLACES, rng.uniform(3, 22, len(PLACES)), strict=True))
        weakest = PLACES[rng.integers(len(PLACES))]
        truth[weakest] = 42.0
        heard = [
            each
            for place, cents in truth.items()
            for each in tried(place, *np.abs(rng.normal(cents, 9, 4)))
        ]
        found = estimated(heard, PLACES)
        right += max(found, key=lambda place: found[place].cents) == weakest
    assert right >= 180
