"""The numbers of thermocouples of type K, N, R and S on the ITS-90.

Copied from the table of coefficients of NIST's ITS-90 thermocouple database (Standard Reference
Database 60, file allcoeff.tab), which repeats NIST Monograph 175 (G. W. Burns, M. G. Scroger,
G. F. Strouse, M. C. Croarkin & W. F. Guthrie 1993). Temperatures in degC, voltages in mV with
the cold end at 0 degC, coefficients from the constant term up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A polynomial and the stretch it holds for."""

    low: float
    high: float
    coefficients: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Inverse(Piece):
    """Temperature of a voltage, with the errors NIST states for the stretch [degC]."""

    error_low_c: float
    error_high_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """What is known of one type."""

    letter: str
    alloys: str
    direct: tuple[Piece, ...]
    """Voltage of a temperature, by rising temperature [degC]."""
    inverse: tuple[Inverse, ...]
    """Temperature of a voltage, by rising voltage [mV]; where two meet, the next one begins."""
    bump: tuple[float, float, float] | None = None
    """Type K from 0 degC on adds a0 exp(a1 (t - a2)^2), the magnetic ordering of its nickel."""


_K: Final = Table(
    letter="K",
    alloys="nickel-chromium, nickel-aluminium",
    direct=(
        Piece(
            low=-270.0,
            high=0.0,
            coefficients=(
                *(0.0, 0.394501280250e-01, 0.236223735980e-04, -0.328589067840e-06),
                *(-0.499048287770e-08, -0.675090591730e-10, -0.574103274280e-12),
                *(-0.310888728940e-14, -0.104516093650e-16, -0.198892668780e-19),
                -0.163226974860e-22,
            ),
        ),
        Piece(
            low=0.0,
            high=1372.0,
            coefficients=(
                *(-0.176004136860e-01, 0.389212049750e-01, 0.185587700320e-04),
                *(-0.994575928740e-07, 0.318409457190e-09, -0.560728448890e-12),
                *(0.560750590590e-15, -0.320207200030e-18, 0.971511471520e-22),
                -0.121047212750e-25,
            ),
        ),
    ),
    bump=(0.118597600000e00, -0.118343200000e-03, 0.126968600000e03),
    inverse=(
        Inverse(
            low=-5.891,
            high=0.0,
            coefficients=(
                *(0.0, 2.5173462e01, -1.1662878e00, -1.0833638e00, -8.9773540e-01),
                *(-3.7342377e-01, -8.6632643e-02, -1.0450598e-02, -5.1920577e-04),
            ),
            error_low_c=-0.02,
            error_high_c=0.04,
        ),
        Inverse(
            low=0.0,
            high=20.644,
            coefficients=(
                *(0.0, 2.508355e01, 7.860106e-02, -2.503131e-01, 8.315270e-02),
                *(-1.228034e-02, 9.804036e-04, -4.413030e-05, 1.057734e-06),
                -1.052755e-08,
            ),
            error_low_c=-0.05,
            error_high_c=0.04,
        ),
        Inverse(
            low=20.644,
            high=54.886,
            coefficients=(
                *(-1.318058e02, 4.830222e01, -1.646031e00, 5.464731e-02),
                *(-9.650715e-04, 8.802193e-06, -3.110810e-08),
            ),
            error_low_c=-0.05,
            error_high_c=0.06,
        ),
    ),
)

_N: Final = Table(
    letter="N",
    alloys="nickel-chromium-silicon, nickel-silicon",
    direct=(
        Piece(
            low=-270.0,
            high=0.0,
            coefficients=(
                *(0.0, 0.261591059620e-01, 0.109574842280e-04, -0.938411115540e-07),
                *(-0.464120397590e-10, -0.263033577160e-11, -0.226534380030e-13),
                *(-0.760893007910e-16, -0.934196678350e-19),
            ),
        ),
        Piece(
            low=0.0,
            high=1300.0,
            coefficients=(
                *(0.0, 0.259293946010e-01, 0.157101418800e-04, 0.438256272370e-07),
                *(-0.252611697940e-09, 0.643118193390e-12, -0.100634715190e-14),
                *(0.997453389920e-18, -0.608632456070e-21, 0.208492293390e-24),
                -0.306821961510e-28,
            ),
        ),
    ),
    inverse=(
        Inverse(
            low=-3.990,
            high=0.0,
            coefficients=(
                *(0.0, 3.8436847e01, 1.1010485e00, 5.2229312e00, 7.2060525e00),
                *(5.8488586e00, 2.7754916e00, 7.7075166e-01, 1.1582665e-01),
                7.3138868e-03,
            ),
            error_low_c=-0.02,
            error_high_c=0.03,
        ),
        Inverse(
            low=0.0,
            high=20.613,
            coefficients=(
                *(0.0, 3.86896e01, -1.08267e00, 4.70205e-02, -2.12169e-06),
                *(-1.17272e-04, 5.39280e-06, -7.98156e-08),
            ),
            error_low_c=-0.02,
            error_high_c=0.03,
        ),
        Inverse(
            low=20.613,
            high=47.513,
            coefficients=(
                *(1.972485e01, 3.300943e01, -3.915159e-01, 9.855391e-03),
                *(-1.274371e-04, 7.767022e-07),
            ),
            error_low_c=-0.04,
            error_high_c=0.02,
        ),
    ),
)

_R: Final = Table(
    letter="R",
    alloys="platinum with 13 % rhodium, platinum",
    direct=(
        Piece(
            low=-50.0,
            high=1064.18,
            coefficients=(
                *(0.0, 0.528961729765e-02, 0.139166589782e-04, -0.238855693017e-07),
                *(0.356916001063e-10, -0.462347666298e-13, 0.500777441034e-16),
                *(-0.373105886191e-19, 0.157716482367e-22, -0.281038625251e-26),
            ),
        ),
        Piece(
            low=1064.18,
            high=1664.5,
            coefficients=(
                *(0.295157925316e01, -0.252061251332e-02, 0.159564501865e-04),
                *(-0.764085947576e-08, 0.205305291024e-11, -0.293359668173e-15),
            ),
        ),
        Piece(
            low=1664.5,
            high=1768.1,
            coefficients=(
                *(0.152232118209e03, -0.268819888545e00, 0.171280280471e-03),
                *(-0.345895706453e-07, -0.934633971046e-14),
            ),
        ),
    ),
    inverse=(
        Inverse(
            low=-0.226,
            high=1.923,
            coefficients=(
                *(0.0, 1.8891380e02, -9.3835290e01, 1.3068619e02, -2.2703580e02),
                *(3.5145659e02, -3.8953900e02, 2.8239471e02, -1.2607281e02),
                *(3.1353611e01, -3.3187769e00),
            ),
            error_low_c=-0.02,
            error_high_c=0.02,
        ),
        Inverse(
            low=1.923,
            high=11.361,
            coefficients=(
                *(1.334584505e01, 1.472644573e02, -1.844024844e01, 4.031129726e00),
                *(-6.249428360e-01, 6.468412046e-02, -4.458750426e-03),
                *(1.994710149e-04, -5.313401790e-06, 6.481976217e-08),
            ),
            error_low_c=-0.005,
            error_high_c=0.005,
        ),
        Inverse(
            low=11.361,
            high=19.739,
            coefficients=(
                *(-8.199599416e01, 1.553962042e02, -8.342197663e00, 4.279433549e-01),
                *(-1.191577910e-02, 1.492290091e-04),
            ),
            error_low_c=-0.0005,
            error_high_c=0.001,
        ),
        Inverse(
            low=19.739,
            high=21.103,
            coefficients=(
                *(3.406177836e04, -7.023729171e03, 5.582903813e02, -1.952394635e01),
                2.560740231e-01,
            ),
            error_low_c=-0.001,
            error_high_c=0.002,
        ),
    ),
)

_S: Final = Table(
    letter="S",
    alloys="platinum with 10 % rhodium, platinum",
    direct=(
        Piece(
            low=-50.0,
            high=1064.18,
            coefficients=(
                *(0.0, 0.540313308631e-02, 0.125934289740e-04, -0.232477968689e-07),
                *(0.322028823036e-10, -0.331465196389e-13, 0.255744251786e-16),
                *(-0.125068871393e-19, 0.271443176145e-23),
            ),
        ),
        Piece(
            low=1064.18,
            high=1664.5,
            coefficients=(
                *(0.132900444085e01, 0.334509311344e-02, 0.654805192818e-05),
                *(-0.164856259209e-08, 0.129989605174e-13),
            ),
        ),
        Piece(
            low=1664.5,
            high=1768.1,
            coefficients=(
                *(0.146628232636e03, -0.258430516752e00, 0.163693574641e-03),
                *(-0.330439046987e-07, -0.943223690612e-14),
            ),
        ),
    ),
    inverse=(
        Inverse(
            low=-0.235,
            high=1.874,
            coefficients=(
                *(0.0, 1.84949460e02, -8.00504062e01, 1.02237430e02),
                *(-1.52248592e02, 1.88821343e02, -1.59085941e02, 8.23027880e01),
                *(-2.34181944e01, 2.79786260e00),
            ),
            error_low_c=-0.02,
            error_high_c=0.02,
        ),
        Inverse(
            low=1.874,
            high=10.332,
            coefficients=(
                *(1.291507177e01, 1.466298863e02, -1.534713402e01, 3.145945973e00),
                *(-4.163257839e-01, 3.187963771e-02, -1.291637500e-03),
                *(2.183475087e-05, -1.447379511e-07, 8.211272125e-09),
            ),
            error_low_c=-0.01,
            error_high_c=0.01,
        ),
        Inverse(
            low=10.332,
            high=17.536,
            coefficients=(
                *(-8.087801117e01, 1.621573104e02, -8.536869453e00, 4.719686976e-01),
                *(-1.441693666e-02, 2.081618890e-04),
            ),
            error_low_c=-0.0002,
            error_high_c=0.0002,
        ),
        Inverse(
            low=17.536,
            high=18.693,
            coefficients=(
                *(5.333875126e04, -1.235892298e04, 1.092657613e03, -4.265693686e01),
                6.247205420e-01,
            ),
            error_low_c=-0.002,
            error_high_c=0.002,
        ),
    ),
)

TABLES: Final = {one.letter: one for one in (_K, _N, _R, _S)}
