"""What goes wrong at a bench: hum, silence, several taps, two microphones, a cut beginning."""

from __future__ import annotations

import numpy as np
import pytest

from ringwright.tap.answer import Answer, analyse
from ringwright.tap.recording import Recording
from tests.tap.make_rings import RATE, Floats, Known, bound_hz, natural_hz, noise_for, ring

MODES: list[Known] = [(212.0, 1.5, 1.0, 0.3), (1253.0, 6.0, 0.5, 1.0), (3509.0, 8.0, 0.3, 2.0)]
NOISE = noise_for(40)


def hear(*channels: Floats, rate_hz: float = RATE) -> Answer:
    return analyse(Recording(samples=np.stack(channels), sample_rate_hz=float(rate_hz)))


def noise(seconds: float, seed: int = 5) -> Floats:
    return ring([], NOISE, seconds, seed)


def is_heard(answer: Answer, known: list[Known]) -> bool:
    """Whether the answer is these modes and no others, each within five of its deviations."""
    return len(answer.modes) == len(known) and all(
        abs(mode.frequency_hz - natural_hz(one)) < 5 * mode.uncertainty_hz + 1e-6
        for mode, one in zip(answer.modes, known, strict=True)
    )


@pytest.mark.parametrize("seed", range(5))
def test_noise_holds_no_mode(seed: int) -> None:
    assert hear(0.2 + noise(1.0, seed)).modes == ()


def test_silence_holds_no_mode() -> None:
    assert hear(np.zeros(RATE)).modes == ()
    assert hear(np.full(RATE, 0.3)).modes == ()


def test_hum_is_named_and_is_no_mode() -> None:
    t = np.arange(RATE) / RATE
    hum = 0.2 * np.sin(2 * np.pi * 50 * t + 1) + 0.1 * np.sin(2 * np.pi * 150 * t)

    answer = hear(ring(MODES, NOISE) + hum)

    assert is_heard(answer, MODES)
    assert answer.hum
    assert answer.steady_hz == pytest.approx((50.0, 150.0), abs=0.01)


def test_a_tone_that_goes_on_is_no_mode_at_any_frequency() -> None:
    t = np.arange(RATE) / RATE

    answer = hear(np.sin(2 * np.pi * 1003.7 * t) + noise(1.0))

    assert answer.modes == ()
    assert answer.steady_hz == pytest.approx((1003.7,), abs=0.01)
    assert not answer.hum


def test_three_taps_are_one_answer() -> None:
    sound = noise(3.5)
    for at in (0.3, 1.4, 2.5):
        first = int(at * RATE)
        sound[first:] += ring(MODES, seconds=3.5)[: len(sound) - first]

    answer = hear(sound)

    assert is_heard(answer, MODES)
    assert answer.taps == 3
    assert {mode.taps for mode in answer.modes} == {3}


def test_taps_that_differ_more_than_their_fits_widen_the_uncertainty() -> None:
    pieces = [noise(0.2)]
    pieces += [
        ring([(400.0 + shift, 6.0, 1.0, 0.0)], NOISE, 1.2, seed=9) for shift in (-0.3, 0, 0.3)
    ]

    found = hear(np.concatenate(pieces)).modes

    # The standard error of three values 0.3 apart: 0.3 / sqrt(3).
    assert len(found) == 1
    assert found[0].uncertainty_hz == pytest.approx(0.173, rel=0.1)


def test_channels_that_would_cancel_are_judged_apart() -> None:
    one = ring(MODES, NOISE)

    assert is_heard(hear(one, -one), MODES)


def test_clipping_is_named() -> None:
    assert hear(np.clip(ring(MODES, NOISE), -0.7, 0.7)).clipped
    assert not hear(ring(MODES, NOISE)).clipped


@pytest.mark.parametrize("seconds", [0.1, 0.4, 5.0])
def test_short_and_long_records_are_heard(seconds: float) -> None:
    assert is_heard(hear(ring(MODES, NOISE, seconds)), MODES)


def test_a_record_that_begins_in_the_middle_of_a_ring_is_heard() -> None:
    assert is_heard(hear(ring(MODES, NOISE, 2.0)[RATE // 2 :]), MODES)


def test_a_beginning_of_silence_does_not_matter() -> None:
    assert is_heard(hear(np.concatenate([noise(0.1), ring(MODES, NOISE, 0.9)])), MODES)


def test_a_long_rest_before_and_after_costs_no_accuracy() -> None:
    rest = np.concatenate([noise(1.0), ring(MODES, NOISE, 9.0)])

    modes = hear(rest).modes

    assert is_heard(hear(rest), MODES)
    for mode, bound in zip(modes, bound_hz(MODES, NOISE, 9.0), strict=True):
        assert mode.uncertainty_hz < 1.5 * bound


def test_a_drifting_zero_does_not_matter() -> None:
    drift = 0.003 * np.cumsum(np.random.default_rng(4).standard_normal(RATE))

    heard = [mode.frequency_hz for mode in hear(ring(MODES, NOISE) + drift).modes]

    for known in MODES:
        assert min(abs(hz - natural_hz(known)) for hz in heard) < 0.05


def test_no_noise_at_all_is_no_trouble() -> None:
    answer = hear(ring(MODES))

    assert len(answer.modes) == 3
    for mode, known in zip(answer.modes, MODES, strict=True):
        assert abs(mode.frequency_hz - natural_hz(known)) < 1e-3
    assert hear(np.sin(2 * np.pi * 1000 * np.arange(RATE) / RATE)).modes == ()
