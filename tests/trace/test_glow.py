"""The glow of a receiver is told apart from fibre on power that is known exactly."""

import numpy as np
import pytest

from eavelight.trace.glow import fit_glow, glow_taken_off, stretch_behind
from eavelight.trace.lines import LineSums, SlopePrior
from eavelight.trace.refine import Mark, Trace

SLOPE_DB = 0.33e-3 * 0.5
"""0.33 dB/km on samples of half a metre."""

COUNT, FALL, FOOTPRINT = 3000, 1000, 4.0
LOSS_DB = 15.0
PRIOR = SlopePrior(slope=SLOPE_DB, deviation=0.12e-3 * 0.5)


def known(
    shares: dict[float, float], step_db: float = 0.0, step: int = 2000
) -> tuple[Trace, np.ndarray]:
    """A fall, a glow of known shares and decays behind it, a step in the dim fibre."""
    place = np.arange(COUNT, dtype=float)
    fibre = 10.0 ** (-SLOPE_DB * place / 5.0)
    fibre[FALL:] *= 10.0 ** (-LOSS_DB / 5.0)
    fibre[step:] *= 10.0 ** (-step_db / 5.0)
    glow = np.zeros(COUNT)
    for decay, share in shares.items():
        glow[FALL:] += share * fibre[FALL] * np.exp(-(place[FALL:] - FALL) / decay)
    values = -5.0 * np.log10(fibre + glow)
    variance = np.full(COUNT, 1e-4)
    trace = Trace(
        samples_db=values,
        unbiased_db=values,
        variance_db2=variance,
        sums=LineSums(values, variance, PRIOR),
        footprint=FOOTPRINT,
        start=0,
        stop=COUNT,
        ns=0.2,
    )
    return trace, fibre


FALL_MARK = Mark(left=FALL - 2, right=FALL, place=float(FALL))


@pytest.mark.parametrize(
    "shares", [{}, {200.0: 0.8}, {30.0: 1.5, 280.0: 0.5}, {17.0: 0.4, 90.0: 0.4}]
)
def test_fibre_and_glow_come_apart(shares: dict[float, float]) -> None:
    trace, fibre = known(shares)
    stretch = stretch_behind(trace, FALL_MARK, 0)
    fit = fit_glow(stretch, [], [])
    taken = glow_taken_off(trace, stretch, fit)
    # the list of decays meets none of these: a twentieth of the glow may be left
    allowed = 0.05 * 2.17 * np.log1p(sum(shares.values())) + 1e-3
    wanted = -5.0 * np.log10(fibre[FALL:])
    assert np.max(np.abs(taken.samples_db[FALL:] - wanted)) < allowed
    assert np.array_equal(taken.samples_db[:FALL], trace.samples_db[:FALL])


def test_a_step_keeps_its_true_size_where_half_of_the_power_is_glow() -> None:
    shares = {400.0: 1.0}
    trace, _ = known(shares, step_db=0.4, step=1300)
    stretch = stretch_behind(trace, FALL_MARK, 0)
    mark = Mark(left=1299, right=1305, place=1300.0 - FOOTPRINT / 2.0)
    fit = fit_glow(stretch, [], [mark])
    assert fit.steps == [mark]
    taken = glow_taken_off(trace, stretch, fit)
    raw = trace.samples_db[1310] - trace.samples_db[1290]
    clear = taken.samples_db[1310] - taken.samples_db[1290]
    # share of the glow at the step: exp(-300/400) = 0.47 of the fibre before it
    assert raw < 0.32
    assert clear == pytest.approx(0.4, abs=0.02)
    assert taken.gain is not None
    assert taken.gain[1310] == pytest.approx(1.0 + 0.46 * 10.0**0.08, abs=0.05)
    assert taken.variance_db2[1310] == pytest.approx(1e-4 * taken.gain[1310] ** 2)


def test_steps_that_only_follow_the_bend_of_the_glow_are_dropped() -> None:
    trace, _ = known({250.0: 1.0})
    stretch = stretch_behind(trace, FALL_MARK, 0)
    bend = [
        Mark(left=place - 1, right=place + 5, place=float(place))
        for place in (1060, 1150, 1300, 1500)
    ]
    assert fit_glow(stretch, [], bend).steps == []
    assert fit_glow(stretch, [], bend, glows=False).steps == bend


def test_no_share_is_negative() -> None:
    # a level that rises behind the fall is no glow
    trace, _ = known({200.0: -0.3})
    fit = fit_glow(stretch_behind(trace, FALL_MARK, 0), [], [])
    assert float(np.min(fit.glow)) >= 0.0
    assert float(np.max(fit.excess_db)) < 0.01
