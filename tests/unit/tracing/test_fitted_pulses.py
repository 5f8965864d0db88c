"""The fit of a pulse in noise against the least squares of SciPy: given rounds enough, no pulse near by fits better."""

import numpy as np
import pytest
from scipy.optimize import least_squares

from audit.tracing import edges
from audit.tracing.edges import HIGHEST, INDEPENDENT_S, LOWEST, STEP_S

TIME_S = np.arange(100.0, 320.0, STEP_S)
NOISE_BPM = 3.0


def flank(part, roundness):
    """From 0 to 1: a straight line, with 1 nearly a half cosine."""
    x = np.clip(part, 0.0, 1.0)
    return x + roundness * x * (1 - x) * (2 * x - 1)


def pulse(parameters):
    onset, (fall, back, height) = parameters[0], np.exp(parameters[[1, 3, 4]])
    end = onset + fall + parameters[2] + back
    return height * flank((TIME_S - onset) / fall, parameters[5]) * flank((end - TIME_S) / back, parameters[6])


@pytest.mark.parametrize(("fall_s", "hold_s", "back_s"), [(20, 20, 30), (15, 40, 50), (30, 20, 30)])
def test_no_pulse_near_by_fits_better(monkeypatch, fall_s, hold_s, back_s):
    monkeypatch.setattr(edges, "ITERATIONS", 400)
    drawn = np.array([150.0, np.log(fall_s), hold_s, np.log(back_s), np.log(30.0), 0.6, 0.6])
    values = pulse(drawn) + np.random.default_rng(1).normal(0, NOISE_BPM, TIME_S.size)
    usual, spread = edges._usual_of(drawn[None, :])
    fitted = edges._gauss_newton(
        drawn[None, :], usual, spread, values[None, :], TIME_S[None, :], np.array([NOISE_BPM])
    )[0]
    firmness = NOISE_BPM * np.sqrt(INDEPENDENT_S / STEP_S) / spread[0]

    def rest(parameters):
        return np.concatenate((values - pulse(parameters), firmness * (parameters - usual[0])))

    best = least_squares(rest, fitted, bounds=(LOWEST, HIGHEST), x_scale=(5, 0.3, 5, 0.3, 0.1, 0.3, 0.3)).x
    assert np.sum(rest(fitted) ** 2) - np.sum(rest(best) ** 2) < 0.02
    np.testing.assert_allclose(fitted[:5], best[:5], atol=0.1)
