#!/usr/bin/env python3
"""Scheil-Gulliver walks in fine steps, by the equilibria of pycalphad alone (versions: `make.py`).

    venv/bin/python tests/reference/freeze.py 0.05 tests/reference/freeze.csv tests/reference/freeze_blends.csv
    venv/bin/python tests/reference/freeze.py 0.2 tests/reference/drawn_freeze.csv tests/reference/drawn.csv

Why not the walks of the scheil package: it steps by 1 K, so that a range of a few kelvins is nearly one
equilibrium, and takes a start grid that missed a dilute liquid for the end. Here each step goes down by at
most the kelvins said and freezes at most 2 % of the liquid (else it is shorter, down to 0.001 K); it is an
equilibrium of the liquid that the step before left, on two start grids of which the lower Gibbs energy
counts, each with the surroundings of the liquid and of the crystals of the step before added to its points.
An end (no liquid left) is believed only where no liquid near the last one lies below the plane of the
solids; otherwise the walk stops with a fault. It ends when an equilibrium 0.001 K down leaves no liquid, or when
less than 1e-4 of the mass is left.
"""
import csv
import os
import sys

import numpy as np
from pycalphad import calculate, equilibrium, variables as v

from make import GRIDS, HERE, Blend, PINNED, database, version

FINEST_K, MOST_OF_IT, FAINT = 0.001, 0.02, 1e-4
LEAST_SHARE = 1e-9
GRAINS = np.random.default_rng(3)


class Walk:
    def __init__(self, blend, step):
        self.b, self.step = blend, step
        self.elements = [c for c in blend.components if c != "VA"]
        self.masses = np.array([blend.mass[e] for e in self.elements])
        self.kept = {}
        self.lower = [0, 0]

    def around(self, phase, x):
        """Points of a phase near a composition: one share or several changed, near and far."""
        members = sorted(s.name for s in self.b.db.phases[phase].constituents[0] if s.name in self.elements)
        at = np.array([max(x[self.elements.index(m)], LEAST_SHARE) for m in members])
        spread = np.concatenate([GRAINS.normal(0, width, (25, len(at))) for width in (0.003, 0.03, 0.3, 1.5)])
        points = at * np.exp(np.vstack([np.zeros(len(at)), spread]))
        return points / points.sum(axis=1, keepdims=True)

    def grid_points(self, phase, grid, near):
        key = (phase, grid)
        if key not in self.kept:
            sampled = calculate(self.b.db, self.b.components, phase, T=500, P=101325, N=1, pdens=grid,
                                model=self.b.models, phase_records=self.b.records, to_xarray=False)
            self.kept[key] = np.nan_to_num(sampled.Y.reshape(-1, sampled.Y.shape[-1]))
        return np.vstack([self.kept[key]] + [self.around(phase, x) for x in near])

    def solids_and_liquid(self, t_k, x, near):
        best = None
        moved = {v.X(e): max(share, LEAST_SHARE) for e, share in list(zip(self.elements, x))[1:]}
        found = []
        for grid in GRIDS:
            points = {p: self.grid_points(p, grid, xs) for p, xs in near.items()}
            eq = equilibrium(self.b.db, self.b.components, self.b.phases,
                             {v.T: t_k, v.P: 101325, v.N: 1, **moved}, model=self.b.models,
                             phase_records=self.b.records, to_xarray=False,
                             calc_opts={"pdens": grid, "points": points})
            g = float(eq.GM.reshape(-1)[0])
            found.append(g)
            if np.isfinite(g) and (best is None or g < best[0] - 1e-7):
                names, amounts = eq.Phase.reshape(-1), np.nan_to_num(eq.NP.reshape(-1))
                order = [str(c) for c in eq.component]
                shares = eq.X.reshape(len(amounts), len(order))[:, [order.index(e) for e in self.elements]]
                parts = [(str(n), a, s) for n, a, s in zip(names, amounts, shares) if n and a > 0]
                best = (g, parts, eq.MU.reshape(-1)[[order.index(e) for e in self.elements]])
        if all(np.isfinite(found)) and abs(found[0] - found[1]) > 1e-4:
            self.lower[int(found[1] < found[0])] += 1
        return best

    def liquid_below(self, t_k, x, mu):
        """How far the lowest liquid near a composition lies above the plane, in J/mol."""
        points = np.vstack([self.around("LIQUID", x) for _ in range(5)])
        got = calculate(self.b.db, self.b.components, "LIQUID", T=t_k, P=101325, N=1, points=points,
                        model=self.b.models, phase_records=self.b.records, to_xarray=False)
        order = [str(c) for c in got.component]
        shares = got.X.reshape(-1, len(order))[:, [order.index(e) for e in self.elements]]
        return float(np.min(got.GM.reshape(-1) - shares @ mu))

    def run(self, start_k):
        x = np.array([self.b.x[e] for e in self.elements])
        whole, left, t, dt = x @ self.masses, 1.0, start_k, self.step
        near, trail, solids, failed = {"LIQUID": [x]}, [], "", 0
        while True:
            found = self.solids_and_liquid(t - dt, x, near)
            if found is None:  # neither grid converges just there
                dt, failed = 0.93 * dt, failed + 1
                if failed > 50:
                    raise RuntimeError(f"no equilibrium at {t - dt - 273.15:.3f} C")
                continue
            g, parts, mu = found
            melt = [(a, s) for n, a, s in parts if n == "LIQUID"]
            share = sum(a for a, _ in melt)
            if share < 1 - MOST_OF_IT and dt > FINEST_K:
                dt = max(dt * max(0.25, 0.8 * MOST_OF_IT / (1 - share)), FINEST_K)
                continue
            names = "+".join(sorted({n for n, _, _ in parts if n != "LIQUID"}))
            if share < 1e-7:
                above = self.liquid_below(t - dt, x, mu)
                if above < -0.01:
                    raise RuntimeError(f"a liquid {-above:.3f} J/mol below the plane at {t - dt - 273.15:.3f} C")
                return t - dt / 2 - 273.15, left * (x @ self.masses) / whole, names, above, trail
            solids = names or solids
            x = sum(a * s for a, s in melt) / share
            left *= share
            t -= dt
            dt = min(self.step, dt * min(2, 0.8 * MOST_OF_IT / max(1 - share, 1e-9)))
            dt = max(dt, FINEST_K)
            near = {"LIQUID": [s for _, s in melt]}
            for n, _, s in parts:
                if n != "LIQUID" and len(self.b.db.phases[n].constituents) == 1:
                    near.setdefault(n, []).append(s)
            mass = left * (x @ self.masses) / whole
            trail.append((t - 273.15, mass, names))
            if mass < FAINT:
                return t - 273.15, mass, solids, float("nan"), trail


def main():
    db, mass, needs = database()
    with open(sys.argv[3], encoding="utf-8") as file:
        blends = list(csv.DictReader(row for row in file if not row.startswith("#")))
    rows = []
    for blend in blends:
        name = blend.pop("blend")
        if sys.argv[4:] and name not in sys.argv[4:]:
            continue
        grams = {e: float(g) for e, g in blend.items()}
        made = Blend(db, mass, needs, grams)
        walk = Walk(made, float(sys.argv[1]))
        start_k = max(made.cross(1 - 1e-6, grid) for grid in GRIDS) + 273.15 + 0.02
        end, left, last, above, trail = walk.run(start_k)
        half = lambda part: min((abs(m - part), t, m) for t, m, _ in trail)  # noqa: E731
        rows.append({"blend": name, **{f"wt_{e}": g for e, g in grams.items()}, "end_C": f"{end:.3f}",
                     "left_before_end": f"{left:.5f}", "ends": "faint" if np.isnan(above) else "invariant",
                     "solids": last, "liquid_above_plane_J": "" if np.isnan(above) else f"{above:.4f}",
                     **{key: f"{value:.5f}" for n, part in ((1, 0.5), (2, 0.1), (3, 0.01))
                        for key, value in zip((f"T{n}_C", f"left_T{n}"), half(part)[1:])},
                     "steps": len(trail), "lower_on_grid": "/".join(map(str, walk.lower))})
        print(rows[-1], file=sys.stderr, flush=True)
        with open(sys.argv[2], "w", encoding="utf-8", newline="") as file:
            file.write("# made by tests/reference/freeze.py with " + ", ".join(
                f"{n} {version(n)}" for n in PINNED if n != "scheil") + f"; steps of at most {sys.argv[1]} K\n")
            writer = csv.DictWriter(file, fieldnames=list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()
