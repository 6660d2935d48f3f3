"""The march against closed forms, against another program's table, and against what no line can do."""

import numpy as np
import pytest

from compat.calc.surge.ends import HeadCurve, HeldFlow, PumpEnd, Tank, Valve, as_steps
from compat.calc.surge.grid import fitted_grid
from compat.calc.surge.march import Line, march
from compat.calc.surge.valves import closing, loss_over_flow2
from shared.calc.units import GRAVITY_M_PER_S2
from tests.compat.calc.surge.lines import line_between, run
from tests.reference_tables import reference_rows

SHUT = [float("inf")]
FLOW, BORE = 0.3, 0.5
AREA = np.pi * BORE**2 / 4.0


def test_valve_shut_at_once_gives_joukowsky_with_its_period():
    # Joukowsky (1898): ΔH = a V / g without friction, at the valve for 2L/a, and again every 4L/a
    line = line_between([run(1000.0, BORE, 1000.0)], 0.005, 50.0, FLOW, SHUT)
    met = march(line, 3000, watch=(line.grid.nodes - 1,))
    rise = 1000.0 * FLOW / AREA / GRAVITY_M_PER_S2
    head = met.watched_head_m[:, 0] - 50.0
    assert head.max() == pytest.approx(rise, rel=1e-3)
    assert head.min() == pytest.approx(-rise, rel=1e-3)
    period = 4.0 * 1000.0 / 1000.0
    falls = met.time_s[1:][(head[:-1] > 0.0) & (head[1:] < 0.0)]
    assert np.diff(falls) == pytest.approx([period] * (len(falls) - 1), abs=0.006)
    assert len(falls) >= 3


def test_flow_taken_off_evenly_gives_michaud():
    # Michaud (1878): flow that falls evenly over t > 2L/a changes head by 2 L V / (g t) at most, without friction
    length, speed, takes = 1000.0, 1000.0, 8.0
    line = line_between([run(length, BORE, speed)], 0.01, 200.0, FLOW)
    near = HeldFlow(as_steps(FLOW * np.clip(1.0 - np.arange(2001) * 0.01 / takes, 0.0, 1.0)))
    met = march(Line(line.grid, line.head_m, line.flow_m3_per_s, near, line.far, {}), 2000)
    drop = 2.0 * length * FLOW / AREA / (GRAVITY_M_PER_S2 * takes)
    assert 200.0 - met.least_head_m[0] == pytest.approx(drop, rel=1e-3)


def test_even_closing_follows_allievis_chain():
    # Allievi (1903; from memory), without friction, each 2L/a:
    # ζi² + ζ(i-1)² - 2 = 2 ρ (η(i-1) ζ(i-1) - ηi ζi), ρ = a V / (2 g H)
    length, speed, head = 1000.0, 1000.0, 150.0
    takes, step = 12.0, 0.005
    opening = np.clip(1.0 - np.arange(6001) * step / takes, 0.0, 1.0)
    with np.errstate(divide="ignore"):
        loss = head / FLOW**2 / opening**2
    line = line_between([run(length, BORE, speed)], step, head, FLOW, as_steps(loss), far_head_m=0.0)
    met = march(line, 6000, watch=(line.grid.nodes - 1,))
    rho = speed * FLOW / AREA / (2.0 * GRAVITY_M_PER_S2 * head)
    zeta, eta = 1.0, 1.0
    for phase in range(1, 7):
        now = max(1.0 - phase * 2.0 / takes, 0.0)
        free = 2.0 - zeta**2 + 2.0 * rho * eta * zeta
        zeta = -rho * now + np.sqrt((rho * now) ** 2 + free)
        eta = now
        at = round(phase * 2.0 / step)
        assert met.watched_head_m[at, 0] == pytest.approx(head * zeta**2, rel=1e-6)


def test_textbook_reservoir_pipe_valve():
    # Wylie & Streeter, Fluid Transients, single pipe with valve (from memory): head 150 m, L 600 m, a 1200 m/s,
    # D 0.5 m, f 0.018, CdA 0.009 m², closing (1 - t/2.1)^1.5; steady 0.477 m³/s and 143.49 m before the valve. Both are
    # then marched by the book's own recursion, in plain numbers, with its coefficients B and R.
    length, speed, bore, f, opening = 600.0, 1200.0, 0.5, 0.018, 0.009
    area, reaches, g = np.pi * bore**2 / 4.0, 10, GRAVITY_M_PER_S2
    flow = np.sqrt(150.0 * 2 * g / (1.0 / opening**2 + f * length / bore / area**2))
    before = flow**2 / (2 * g * opening**2)
    assert flow == pytest.approx(0.477, abs=6e-4)
    assert before == pytest.approx(143.49, abs=0.02)
    step = length / (speed * reaches)
    impedance, r = speed / (g * area), f * length / reaches / (2 * g * bore * area**2)
    heads, flows = [150.0 - i * r * flow**2 for i in range(reaches + 1)], [float(flow)] * (reaches + 1)
    tau = np.clip(1.0 - np.arange(400) * step / 2.1, 0.0, 1.0) ** 1.5
    book = []
    for k in range(1, 200):
        plus = [heads[i] + impedance * flows[i] - r * flows[i] * abs(flows[i]) for i in range(reaches)]
        minus = [heads[i] - impedance * flows[i] + r * flows[i] * abs(flows[i]) for i in range(1, reaches + 1)]
        heads = [150.0, *((plus[i] + minus[i + 1]) / 2 for i in range(reaches - 1)), 0.0]
        flows = [
            (150.0 - minus[0]) / impedance,
            *((plus[i] - minus[i + 1]) / (2 * impedance) for i in range(reaches - 1)),
            0.0,
        ]
        cv = (flow * tau[k]) ** 2 / (2 * before)
        flows[-1] = -impedance * cv + np.sqrt((impedance * cv) ** 2 + 2 * cv * plus[-1])
        heads[-1] = plus[-1] - impedance * flows[-1]
        book.append(heads[-1])
    with np.errstate(divide="ignore"):
        loss = before / flow**2 / tau**2
    pipe = run(length, bore, speed, 150.0 - before, flow)
    line = line_between([pipe], step, 150.0, flow, as_steps(loss), far_head_m=0.0)
    met = march(line, 199, watch=(line.grid.nodes - 1,))
    np.testing.assert_allclose(met.watched_head_m[1:, 0], book, rtol=1e-9)


def _runs_of(text, losses, flow):
    sizes = [[float(part) for part in one.split("/")] for one in text.split()]
    return [run(size[0], size[1], size[2], loss, flow) for size, loss in zip(sizes, losses, strict=True)]


@pytest.mark.parametrize("row", reference_rows("surge_by_tsnet"), ids=lambda row: row["case"])
def test_peaks_agree_with_tsnet(row):
    heads = [float(head) for head in row["heads_m"].split()]
    flow, step, steps = float(row["flow_m3_per_s"]), float(row["step_s"]), int(row["steps"])
    losses = [before - after for before, after in zip(heads[::2], heads[1::2], strict=True)]
    split = len(row["before"].split())
    runs = _runs_of(f"{row['before']} {row['behind']}", losses, flow)
    drop = heads[2 * split - 1] - heads[2 * split]
    part = np.clip(np.arange(steps + 1) * step / float(row["closing_s"]), 0.0, 1.0)
    percent = 100.0 * np.maximum(1.0 - (1.0 - float(row["left_open"])) * part ** float(row["power"]), 0.0)
    known = np.arange(0.0, 101.0, 5.0)
    with np.errstate(divide="ignore"):
        loss = 10.0 / np.interp(percent, known, (known / 100.0) ** 2) / (2.0 * GRAVITY_M_PER_S2)
    valve = Valve(as_steps(loss / runs[split].area_m2 ** 2))
    line = line_between(
        runs, step, heads[0], flow, far_head_m=heads[-1], joints={split - 1: valve}, gains_m={split - 1: -drop}
    )
    met = march(line, steps)
    last, first = line.grid.last[split - 1], line.grid.first[split]
    assert met.greatest_head_m[last] == pytest.approx(float(row["peak_before_m"]), rel=0.01)
    swing = float(row["peak_before_m"]) - heads[0]
    assert met.least_head_m[first] == pytest.approx(float(row["least_behind_m"]), abs=0.01 * swing)


def test_steady_state_stays_as_it_is():
    flow = 0.3
    runs = [run(90.0, 0.5, 1150.0, 2.0, flow), run(25.0, 0.35, 1200.0, 4.0, flow), run(2400.0, 0.6, 1080.0, 15.0, flow)]
    curve = HeadCurve([0.0, 0.2, flow, 0.5], [140.0, 128.0, 110.0, 70.0])
    grid = fitted_grid(runs, 400)
    line = line_between(runs, grid.step_s, 120.0, flow)
    line = Line(line.grid, line.head_m, line.flow_m3_per_s, PumpEnd(10.0, curve, grid.step_s), line.far, {})
    met = march(line, 5000)
    assert np.abs(met.greatest_head_m - line.head_m).max() < 1e-6
    assert np.abs(met.least_head_m - line.head_m).max() < 1e-6


@pytest.mark.parametrize("loss_m", [0.0, 12.0])
def test_energy_never_grows_between_a_surface_and_a_shut_valve(loss_m):
    # Energy of a reach: half of H²/B + B Q² for each wave that leaves a node; the surface is the zero of heads
    runs = [run(600.0, 0.5, 1000.0, loss_m, FLOW), run(400.0, 0.3, 1250.0, loss_m, FLOW)]
    line = line_between(runs, 0.01, 0.0, FLOW, SHUT)
    grid = line.grid
    met = march(line, 4000, watch=tuple(range(grid.nodes)))
    b = grid.per_node(grid.impedance_s_per_m2)
    r = grid.per_node(np.array([loss_m / (FLOW**2 * n) for n in grid.reaches]))
    drive = (b - r * np.abs(met.watched_flow_m3_per_s)) * met.watched_flow_m3_per_s
    down, up = met.watched_head_m + drive, met.watched_head_m - drive
    starts, ends = list(grid.first), list(grid.last)
    down[:, ends], up[:, starts] = 0.0, 0.0
    energy = ((down**2 + up**2) / b).sum(1)
    assert (np.diff(energy[1:]) <= 1e-9 * energy[0]).all()
    assert energy[-1] < energy[1] * (1.0 + 1e-9)
    if loss_m:
        assert energy[-1] < 0.5 * energy[1]


def test_grid_made_twice_as_fine_changes_the_peak_little():
    flow = 0.35
    runs = [run(115.0, 0.45, 1130.0, 5.0, flow), run(3300.0, 0.6, 1070.0, 20.0, flow)]

    def peak(reaches):
        grid = fitted_grid(runs, reaches)
        times = np.arange(int(30.0 / grid.step_s) + 1) * grid.step_s
        loss = as_steps(loss_over_flow2(closing("butterfly", times, 0.0, 15.0), runs[-1].area_m2))
        line = line_between(runs, grid.step_s, 90.0, flow, loss)
        return march(line, len(times) - 1).greatest_head_m.max()

    assert peak(400) == pytest.approx(peak(800), rel=5e-3)


def test_joint_of_two_bores_passes_and_returns_what_it_should():
    # Wylie & Streeter (1993), ch. 3 (from memory): at a joint, 2 B2/(B1 + B2) of a step passes and the rest returns
    runs = [run(500.0, 0.5, 1000.0), run(500.0, 0.25, 1000.0)]
    line = line_between(runs, 0.01, 0.0, 0.0)
    near = HeldFlow([0.1])
    grid = line.grid
    met = march(Line(grid, line.head_m, line.flow_m3_per_s, near, line.far, {}), 80, watch=(grid.first[1] + 5,))
    b1, b2 = grid.impedance_s_per_m2
    assert met.watched_head_m[-1, 0] == pytest.approx(b1 * 0.1 * 2.0 * b2 / (b1 + b2), rel=1e-9)


def test_march_stops_where_the_liquid_boils_and_says_where():
    line = line_between([run(1000.0, BORE, 1000.0)], 0.01, 20.0, FLOW, SHUT)
    least = np.full(line.grid.nodes, -10.0)
    met = march(line, 2000, watch=(0,), least_allowed_head_m=least)
    # the wave comes back to the valve after 2L/a and falls below there
    assert met.low_from_s == pytest.approx(2.0, abs=0.011)
    assert met.low_node == line.grid.nodes - 1
    assert met.least_head_m.min() >= -10.0
    assert met.time_s[-1] < met.low_from_s


def test_several_bores_in_a_row_do_as_one_of_the_same_bore():
    whole = line_between([run(1000.0, BORE, 1000.0, 8.0, FLOW)], 0.01, 60.0, FLOW, SHUT)
    parts = line_between(
        [run(part, BORE, 1000.0, 8.0 * part / 1000.0, FLOW) for part in (300.0, 10.0, 690.0)], 0.01, 60.0, FLOW, SHUT
    )
    one, several = march(whole, 1500), march(parts, 1500)
    np.testing.assert_allclose(one.greatest_head_m[-1], several.greatest_head_m[-1], rtol=1e-12)
    np.testing.assert_allclose(one.greatest_head_m[:30], several.greatest_head_m[:30], rtol=1e-12)


def test_tank_behind_an_open_valve_takes_what_comes():
    assert Tank(10.0).step(0, 30.0, 4.0) == (10.0, 5.0)
    assert Tank(10.0, SHUT).step(0, 30.0, 4.0) == (30.0, 0.0)
