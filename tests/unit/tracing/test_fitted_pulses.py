"""The fit of a pulse in noise against the least squares of SciPy: given rounds enough, no pulse near by fits better."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import least_squares

from audit.tracing import edges
from audit.tracing.edges import HIGHEST, INDEPENDENT_S, LOWEST, STEP_S, fit_pulses
from tests.accuracy.known_truth import draw_shape

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
    drawn = np.array([150.0, np.log(fall_s), hold_s, np.log(back_s), np.log(30.0), 0.6, 0.6])
    values = pulse(drawn) + np.random.default_rng(1).normal(0, NOISE_BPM, TIME_S.size)
    usual, spread = edges._usual_of(drawn[None, :])
    firmness = NOISE_BPM * np.sqrt(INDEPENDENT_S / STEP_S) / spread[0]

    def rest(parameters):
        return np.concatenate((values - pulse(parameters), firmness * (parameters - usual[0])))

    # Where a sample lies near a corner the rounds go in a circle around the least.
    fits = []
    for rounds in (100, 101, 102):
        monkeypatch.setattr(edges, "ITERATIONS", rounds)
        told = values[None, :], TIME_S[None, :], np.array([NOISE_BPM])
        fits.append(edges._gauss_newton(drawn[None, :], usual, spread, *told)[0])
    fitted = min(fits, key=lambda parameters: float(np.sum(rest(parameters) ** 2)))
    best = least_squares(rest, fitted, bounds=(LOWEST, HIGHEST), x_scale=(5, 0.3, 5, 0.3, 0.1, 0.3, 0.3)).x
    assert np.sum(rest(fitted) ** 2) - np.sum(rest(best) ** 2) < 0.02
    np.testing.assert_allclose(fitted[:5], best[:5], atol=0.1)


def test_a_fit_does_not_turn_on_the_last_bit_of_where_it_begins():
    """Begun where corners lie on samples, and a trillionth of that aside: a least square has no such cliff."""
    first = np.array([[160.0, np.log(30.0), 15.0, np.log(30.0), np.log(25.0), 0.6, 0.6]]).repeat(5, axis=0)
    first[1:, 0] *= 1 + np.array([-1e-13, 1e-13, -1e-12, 1e-12])
    drawn = np.array([163.0, np.log(22.0), 10.0, np.log(35.0), np.log(30.0), 0.0, 0.0])
    values = np.tile(pulse(drawn) + np.random.default_rng(4).normal(0, NOISE_BPM, TIME_S.size), (5, 1))
    told = np.tile(TIME_S, (5, 1)), np.full(5, NOISE_BPM)
    fitted = edges._gauss_newton(first, *edges._usual_of(first), values, *told)
    assert np.abs(fitted - fitted[0]).max() < 1e-6


@pytest.mark.parametrize("lost", ["nothing", "every other second", "a flank"])
@pytest.mark.parametrize(
    ("fall_s", "hold_s", "back_s", "arrives_s"), [(29, 15, 28, 4.5), (35, 10, 45, 3), (20, 30, 40, 0)]
)
def test_a_pulse_is_found_where_it_was_drawn(fall_s, hold_s, back_s, arrives_s, lost):
    """The truth is what was drawn with straight flanks; the first estimates are 3 s, and a fifth of the height, away.

    Three tenths of a short hold belong to the fall, which is our choice."""
    away, end = np.zeros(900), 300 + fall_s + hold_s + back_s
    shape = 30 * draw_shape(fall_s, hold_s, back_s, "line", "line")[2::4]  # the middle of each second
    away[300 : 300 + shape.size] = shape
    away += np.random.default_rng(2).normal(0, 0.2, away.size)
    away[{"nothing": slice(0), "every other second": slice(1, None, 2), "a flank": slice(305, 315)}[lost]] = np.nan
    first = np.array([[303.0], [300.0 + fall_s], [300.0 + fall_s + hold_s], [end - 3.0]])
    told = away, first, np.array([0]), np.array([900]), np.array([36.0]), np.array([0.5])
    made = fit_pulses(*told, np.array([0]))
    found = (made.onset_s[0], made.extreme_s[0], made.leaving_s[0], made.end_s[0])
    assert found == pytest.approx((300, 300 + fall_s + arrives_s, end - back_s, end), abs=1.1)
    assert made.height_bpm[0] == pytest.approx(30.0, abs=0.2)
    assert np.isnan(fit_pulses(*told, np.array([], int)).onset_s[0])


@pytest.mark.parametrize(
    ("fall_s", "hold_s", "back_s", "share"),
    [
        (10.0, 0.0, 10.0 * np.exp(0.9), 0.0),
        (10.0, 0.0, 10.0 * np.exp(1.15), 0.5),
        (10.0 * np.exp(1.15), 0.0, 10.0, 0.5),
        (10.0, 0.0, 10.0 * np.exp(1.5), 1.0),
        (10.0, 16.0, 74.0, 0.0),  # a hold of 16 hundredths, of 12 and of 8
        (10.0, 12.0, 78.0, 0.5),
        (10.0, 8.0, 82.0, 1.0),
    ],
)
def test_an_edge_is_sudden_between_two_ratios_of_its_flanks_and_two_shares_of_hold(fall_s, hold_s, back_s, share):
    """The limits, our choice, are logarithms of 0.9 and 1.4 and holds of 0.16 and 0.08; half way is a half."""
    fitted = np.array([[0.0, fall_s, hold_s, back_s, 30.0, 0.0, 0.0]])
    assert edges._suddenness(fitted)[0] == pytest.approx(share, abs=1e-9)
    usual, spread = edges._usual_of_sudden(edges_of(fall_s, back_s))
    assert bool(usual[0, 1] < usual[0, 3]) is bool(fall_s < back_s)
    assert usual[0, [2, 5, 6]].tolist() == [0.0] * 3
    assert np.isinf(spread[0, [0, 4]]).all()


def test_a_flank_is_measured_alike_whatever_others_are_measured_with_it():
    """The short one comes near its extreme without reaching 95 hundredths of the height, the long one is longer."""
    away = np.zeros(900)
    away[200:206], away[206:220] = np.linspace(3.0, 18.0, 6), np.linspace(18.4, 0.0, 14)
    away[500:620] = 30 * draw_shape(100, 20, 0, "line", "line")[2::4]
    told = [np.array(pair) for pair in ((200, 500), (205, 600), (0, 300), (19.7, 30.0), (0.0, 0.0))]
    both = edges.measure_flanks(away, 0.0, *told)
    for k in range(2):
        one = edges.measure_flanks(away, 0.0, *(pair[k : k + 1] for pair in told))
        assert (both.foot_s[k], both.arrival_s[k]) == (one.foot_s[0], one.arrival_s[0])


def edges_of(fall_s, back_s):
    return np.array([[0.0, np.log(fall_s), 0.0, np.log(back_s), np.log(30.0), 0.6, 0.6]])


@pytest.mark.parametrize(
    ("level_bpm", "reached_s", "left_s"), [(5.0, 102.5, 102.5), (4.0, 102.0, 102.0), (60.0, 129.0, 120.0)]
)
def test_a_height_is_reached_and_left_between_two_samples(level_bpm, reached_s, left_s):
    """Of a way up by 2 bpm a second from the 100th sample on, looked at from there on and before the 120th."""
    rise = np.maximum(np.arange(-100.0, 30.0), 0.0)[None, :] * 2
    assert edges._first_reach(rise, np.array([level_bpm])).tolist() == [reached_s]
    assert edges.last_below(rise, np.array([120.0]), np.array([level_bpm])).tolist() == [left_s]
    # where the limit of the flank cuts it, the limit is the last place below
    cut = np.where(np.arange(130) < 110, -np.inf, rise)
    assert edges.last_below(cut, np.array([120.0]), np.array([5.0])).tolist() == [110.0]
    # a second rise is the last one left; only the first is the first one reached
    twice = np.where(np.arange(130) < 110, rise, rise - 20.0)
    assert edges.last_below(twice, np.array([120.0]), np.array([5.0])).tolist() == [112.5]
    assert edges._first_reach(twice, np.array([5.0])).tolist() == [102.5]


@pytest.mark.parametrize(("length_s", "smoothing_s"), [(20, 2.0), (40, 4.0), (60, 3.0)])
def test_what_smoothing_adds_to_a_flank_is_taken_off(length_s, smoothing_s):
    """The truth is what was drawn, a half cosine; the bell is SciPy's, and the variances of the two add up."""
    drawn = 40.0 * (1 - np.cos(np.pi * np.clip((np.arange(500) - 150) / length_s, 0.0, 1.0))) / 2
    smooth, one = gaussian_filter1d(drawn, smoothing_s), np.array([1])
    flank = edges.measure_flanks(smooth, smoothing_s, 140 * one, 400 * one, 0 * one, 40.0 * one, 8.0 * one)
    assert flank.arrival_s[0] - flank.foot_s[0] == pytest.approx(length_s, abs=0.1)
    assert (flank.arrival_s[0] + flank.foot_s[0]) / 2 == pytest.approx(150 + length_s / 2, abs=0.1)
