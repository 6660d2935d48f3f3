"""Loss coefficients of fittings, as an aid for filling in K where it is not known. The maker's figure is better.

Crane TP-410 (2009): K = n·f_T, with f_T the friction factor of clean commercial steel at full turbulence, for
full-bore fittings of the same bore as their pipe; coefficients of entrances, exits and changes of bore stand for
themselves. K counts with the velocity in the stated bore. In laminar flow the losses are greater than these say.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from shared.calc.errors import InputError
from shared.calc.ranges import Numbers, checked
from shared.calc.root import Array, Flags

SOURCE = "Crane TP-410 (2009)"
CAUTION = "Holds in turbulent flow; in laminar flow of a thick oil the loss is greater."

_STEEL_ROUGHNESS_M = 0.0018 * 0.0254  # commercial steel, Crane TP-410
_LEAST_BORE_MM, _GREATEST_BORE_MM = 12.7, 914.4  # nominal 1/2 to 36 in, the sizes of Crane's f_T table
_BUTTERFLY_BOUNDS_M = (0.2286, 0.381)  # between the nominal sizes 8 and 10 in, and 14 and 16 in: our own split
_GREATEST_BORE_M = _GREATEST_BORE_MM / 1000.0


@dataclass(frozen=True)
class Fitting:
    """One kind of fitting: ``turbulent_multiples`` holds (greatest bore in m, n) for K = n·f_T, or K stands alone."""

    key: str
    label: str
    turbulent_multiples: tuple[tuple[float, float], ...] = ()
    fixed_loss_coefficient: float | None = None
    source: str = SOURCE


@dataclass(frozen=True)
class LossAnswer:
    """A loss coefficient K for the velocity in ``bore_m``."""

    loss_coefficient: Array
    bore_m: Array
    source: str = SOURCE
    caution: str = CAUTION


def _by_friction(key: str, label: str, multiple: float, source: str = SOURCE) -> Fitting:
    return Fitting(key, label, ((_GREATEST_BORE_M, multiple),), None, source)


def _by_size(key: str, label: str, small: float, middle: float, large: float) -> Fitting:
    bounds = (*_BUTTERFLY_BOUNDS_M, _GREATEST_BORE_M)
    return Fitting(key, label, tuple(zip(bounds, (small, middle, large), strict=True)))


_TEE_SOURCE = "Crane TP-410, editions before 2009, from memory"
_ALL_FITTINGS = (
    Fitting("entrance-projecting", "Pipe entrance, pipe projecting into the tank", (), 0.78),
    Fitting("entrance-sharp", "Pipe entrance, flush and sharp-edged", (), 0.5),
    Fitting("exit", "Pipe exit into a tank", (), 1.0),
    _by_friction("gate-valve", "Gate valve, open", 8.0),
    _by_friction("globe-valve", "Globe valve, open", 340.0),
    _by_friction("angle-valve", "Angle valve, open, flow turned at the seat", 150.0),
    _by_friction("angle-valve-streamlined", "Angle valve, open, streamlined body", 55.0),
    _by_friction("ball-valve", "Ball valve, open", 3.0),
    _by_friction("plug-valve", "Plug valve, straight way, open", 18.0),
    _by_friction("plug-valve-three-way-straight", "Three-way plug valve, straight through", 30.0),
    _by_friction("plug-valve-three-way-turned", "Three-way plug valve, flow turned", 90.0),
    _by_size("butterfly-valve", "Butterfly valve, centric, open", 45.0, 35.0, 25.0),
    _by_size("butterfly-valve-double-offset", "Butterfly valve, double offset, open", 74.0, 52.0, 43.0),
    _by_size("butterfly-valve-triple-offset", "Butterfly valve, triple offset, open", 218.0, 96.0, 55.0),
    _by_friction("swing-check-valve", "Swing check valve", 100.0),
    _by_friction("swing-check-valve-straight", "Swing check valve, straight body", 50.0),
    _by_friction("lift-check-valve", "Lift check valve, globe body", 600.0),
    _by_friction("foot-valve-poppet", "Foot valve with strainer, poppet disc", 420.0),
    _by_friction("foot-valve-hinged", "Foot valve with strainer, hinged disc", 75.0),
    _by_friction("elbow-90", "Standard elbow, 90°", 30.0),
    _by_friction("elbow-45", "Standard elbow, 45°", 16.0),
    _by_friction("return-bend", "Close return bend, 180°", 50.0),
    _by_friction("tee-through", "Standard tee, flow through the run", 20.0, _TEE_SOURCE),
    _by_friction("tee-branch", "Standard tee, flow through the branch", 60.0, _TEE_SOURCE),
)
FITTINGS = MappingProxyType({fitting.key: fitting for fitting in _ALL_FITTINGS})

_ENTRANCE_RADII = np.array([0.0, 0.02, 0.04, 0.06, 0.10, 0.15])
_ENTRANCE_LOSSES = np.array([0.5, 0.28, 0.24, 0.15, 0.09, 0.04])
_BEND_RADII = np.array([1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 20.0])
_BEND_MULTIPLES = np.array([20.0, 14.0, 12.0, 12.0, 14.0, 17.0, 24.0, 30.0, 34.0, 38.0, 42.0, 50.0])
_MITRE_ANGLES = np.array([0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0])
_MITRE_MULTIPLES = np.array([2.0, 4.0, 8.0, 15.0, 25.0, 40.0, 60.0])


def turbulent_factor(bore_m: Numbers) -> Array:
    """Return f_T [-] of a bore [m], 12.7 to 914.4 mm: 0.25/log10(3.7 D/ε)² with ε of commercial steel."""
    return _turbulent_factor(_checked_bore(bore_m))


def loss_of_fitting(key: str, bore_m: Numbers) -> LossAnswer:
    """Return K of a fitting of the closed list ``FITTINGS`` in a bore [m], 12.7 to 914.4 mm.

    Raises InputError for another key, OutOfRangeError for another bore.
    """
    if key not in FITTINGS:
        raise InputError(f"Fitting “{key}” is not known; use one of {', '.join(FITTINGS)}.")
    fitting = FITTINGS[key]
    bore = _checked_bore(bore_m)
    if fitting.fixed_loss_coefficient is not None:
        return LossAnswer(np.full_like(bore, fitting.fixed_loss_coefficient), bore, fitting.source)
    bounds, multiples = np.array(fitting.turbulent_multiples).T
    multiple = multiples[np.minimum(np.searchsorted(bounds, bore), bounds.size - 1)]
    return LossAnswer(multiple * _turbulent_factor(bore), bore, fitting.source)


def loss_of_rounded_entrance(radius_over_bore: Numbers, bore_m: Numbers) -> LossAnswer:
    """Return K of a flush entrance whose edge is rounded: radius over bore [-] 0 to 1, bore [m] 12.7 to 914.4 mm.

    Between Crane's values by straight lines (our own); from 0.15 upward K stays 0.04, as Crane says.
    """
    radius = checked("Radius of the entrance over its bore", radius_over_bore, "1", 0.0, 1.0)
    bore = _checked_bore(bore_m)
    loss, bore = np.broadcast_arrays(np.interp(radius, _ENTRANCE_RADII, _ENTRANCE_LOSSES), bore)
    return LossAnswer(loss, bore)


def loss_of_bend(bore_m: Numbers, radius_over_bore: Numbers, angle_deg: Numbers = 90.0) -> LossAnswer:
    """Return K of a smooth bend.

    Bore [m] 12.7 to 914.4 mm, radius of its axis over bore [-] 1 to 20, angle [°] 45 to 360. K90 = n·f_T, n by straight
    lines between Crane's values (our own); for N = angle/90 Crane's K = (N - 1)(π/4 f_T r/d + K90/2) + K90.
    """
    bore = _checked_bore(bore_m)
    radius = checked("Radius of the bend over its bore", radius_over_bore, "1", 1.0, 20.0)
    quarters = checked("Angle of the bend in degrees", angle_deg, "1", 45.0, 360.0) / 90.0
    factor = _turbulent_factor(bore)
    quarter_loss = np.interp(radius, _BEND_RADII, _BEND_MULTIPLES) * factor
    further_loss = 0.25 * np.pi * factor * radius + 0.5 * quarter_loss
    return LossAnswer((quarters - 1.0) * further_loss + quarter_loss, bore)


def loss_of_mitre_bend(bore_m: Numbers, angle_deg: Numbers) -> LossAnswer:
    """Return K of a single mitre bend: bore [m] 12.7 to 914.4 mm, angle [°] 0 to 90, as ``loss_of_bend``."""
    bore = _checked_bore(bore_m)
    angle = checked("Angle of the mitre in degrees", angle_deg, "1", 0.0, 90.0)
    return LossAnswer(np.interp(angle, _MITRE_ANGLES, _MITRE_MULTIPLES) * _turbulent_factor(bore), bore)


def loss_of_contraction(
    large_bore_m: Numbers, small_bore_m: Numbers, included_angle_deg: Numbers = 180.0
) -> LossAnswer:
    """Return K, for the velocity in the small bore, where the bore narrows.

    Bores [m] 12.7 to 914.4 mm, included angle [°] 0 to 180 (180: sudden). Crane formulas 1 (to 45°) and 2. InputError
    where the small bore is the larger one.
    """
    narrowing, half_sine, gentle, small = _checked_change(large_bore_m, small_bore_m, included_angle_deg)
    loss = np.where(gentle, 0.8 * half_sine, 0.5 * np.sqrt(half_sine)) * narrowing
    return LossAnswer(loss, small)


def loss_of_expansion(small_bore_m: Numbers, large_bore_m: Numbers, included_angle_deg: Numbers = 180.0) -> LossAnswer:
    """Return K, for the velocity in the small bore, where the bore widens.

    Bores [m] 12.7 to 914.4 mm, included angle [°] 0 to 180 (180: sudden). Crane formulas 3 (to 45°) and 4. InputError
    where the small bore is the larger one.
    """
    narrowing, half_sine, gentle, small = _checked_change(large_bore_m, small_bore_m, included_angle_deg)
    loss = np.where(gentle, 2.6 * half_sine, 1.0) * narrowing**2
    return LossAnswer(loss, small)


def moved_to_bore(loss: LossAnswer, bore_m: Numbers) -> LossAnswer:
    """Return the same loss for the velocity in another bore [m]: K grows with the fourth power of the bore."""
    bore = _checked_bore(bore_m)
    return LossAnswer(loss.loss_coefficient * (bore / loss.bore_m) ** 4, bore, loss.source, loss.caution)


def _checked_bore(bore_m: Numbers, name: str = "Bore") -> Array:
    return checked(name, bore_m, "mm", _LEAST_BORE_MM, _GREATEST_BORE_MM, "Use the maker's loss coefficient instead.")


def _turbulent_factor(bore: Array) -> Array:
    return np.asarray(0.25 / np.log10(3.7 * bore / _STEEL_ROUGHNESS_M) ** 2)


def _checked_change(
    large_bore_m: Numbers, small_bore_m: Numbers, angle_deg: Numbers
) -> tuple[Array, Array, Flags, Array]:
    large, small = _checked_bore(large_bore_m, "Large bore"), _checked_bore(small_bore_m, "Small bore")
    angle = checked("Included angle in degrees", angle_deg, "1", 0.0, 180.0)
    large, small, angle = np.broadcast_arrays(large, small, angle)
    if np.any(small > large):
        raise InputError("The small bore is given larger than the large bore; exchange the two.")
    half_sine = np.sin(np.radians(0.5 * angle))
    return 1.0 - (small / large) ** 2, half_sine, angle <= 45.0, small
