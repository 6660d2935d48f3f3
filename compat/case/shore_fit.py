"""How well a shore that is known only from observed pairs is known (pure: no Django)."""

from __future__ import annotations

from compat.case.answer_parts import ShoreFit
from compat.case.berth_arrays import observed_shore
from compat.case.case_file import CaseFile
from shared.calc.units import BAR_PA, GRAVITY_M_PER_S2, HOUR_S
from shared.cargo_facts import liquid_of
from terminals.calc.observed import PAIRS_FOR_EXPONENT, coefficient_for


def shore_fit_of(case: CaseFile) -> ShoreFit | None:
    """Return the fit of a case's observed shore, pressures those of the liquid that was observed."""
    stated, fit = case.berth.shore_end.observed, observed_shore(case.berth)
    if stated is None or fit is None:
        return None
    ratio = liquid_of(case.cargo).kinematic_viscosity_mm2_per_s / stated.kinematic_viscosity_mm2_per_s
    bar_per_m = stated.density_kg_per_m3 * GRAVITY_M_PER_S2 / BAR_PA
    return ShoreFit(
        pairs=len(stated.pairs),
        rates_m3_per_h=tuple(pair.rate_m3_per_h for pair in stated.pairs),
        observed_bar_gauge=tuple(pair.manifold_pressure_bar_gauge for pair in stated.pairs),
        exponent=fit.exponent,
        static_pressure_bar_gauge=(fit.static_head_m - stated.manifold_elevation_m) * bar_per_m,
        residuals_bar=tuple(float(residual) * bar_per_m for residual in fit.residual_m),
        least_trusted_m3_per_h=fit.least_trusted_m3_per_s * HOUR_S,
        greatest_trusted_m3_per_h=fit.greatest_trusted_m3_per_s * HOUR_S,
        viscosity_ratio=ratio,
        loss_factor=coefficient_for(fit, ratio) / fit.coefficient if fit.coefficient else 1.0,
    )


def fit_cautions(case: CaseFile, flow_m3_per_h: float) -> tuple[str, ...]:
    """Return what to say about an observed shore at a flow: how well it fits, and whether it is trusted there."""
    fit = shore_fit_of(case)
    if fit is None:
        return ()
    worst = max(abs(residual) for residual in fit.residuals_bar)
    said = [
        f"The shore is known only from {fit.pairs} observed pairs, missed by up to {worst:.2f} bar, of one line-up."
    ]
    if fit.pairs < PAIRS_FOR_EXPONENT:
        said.append(f"With fewer than {PAIRS_FOR_EXPONENT} pairs the loss is taken to go with the square of the rate.")
    least, greatest = fit.least_trusted_m3_per_h, fit.greatest_trusted_m3_per_h
    if not least <= flow_m3_per_h <= greatest:
        said.append(
            f"{flow_m3_per_h:,.0f} m³/h lies outside the observed rates,"
            f" {least:,.0f} to {greatest:,.0f} m³/h: the pressure there is not to be trusted."
            " Ask the terminal for a reading nearer this rate."
        )
    return tuple(said)
