#!/usr/bin/env python3
"""Liquid that shrinks on heating: equilibria of pycalphad at fine temperatures around it (versions: `make.py`).

    venv/bin/python tests/reference/retrograde.py tests/reference/retrograde.csv

Each blend comes with the temperatures of its most and its least liquid as the engine sees them. At 24
temperatures from below the first to above the second: the liquid share of the lower of two start grids, each
with the surroundings of liquid and crystals found before added; its Gibbs energy; and how far the lowest point of
any phase, among its whole grid and its surroundings, lies above the plane of that equilibrium. Where
that is not below -0.01 J/mol, no phase could lower the energy: the state is the stable one.
"""
import sys

import numpy as np
from freeze import Walk
from lowest import least_above, write
from make import Blend, database

# As drawn by `cargo bench --bench melt -- random`: name, mass parts, most at, least at (°C).
FOUND = [
    ("tin, bismuth and lead", {"Sn": 61.416, "Pb": 0.44637, "Bi": 8.4459}, 102.36, 129.86),
    ("tin, more bismuth and lead", {"Sn": 89.056, "Pb": 1.3116, "Bi": 9.2835}, 105.66, 130.55),
    ("the same, a smaller fall", {"Sn": 29.43, "Pb": 0.64977, "Bi": 3.0867}, 109.19, 122.63),
    ("with silver", {"Sn": 60.451, "Pb": 0.56709, "Bi": 6.7125, "Ag": 1.4451}, 98.6, 136.47),
    ("with more bismuth and silver", {"Sn": 96.826, "Pb": 0.84517, "Bi": 11.845, "Ag": 1.5783}, 96.26, 131.93),
    ("with silver and copper", {"Sn": 70.717, "Pb": 1.2223, "Bi": 4.4181, "Ag": 0.0081, "Cu": 0.1275}, 125.65, 151.3),
    ("silver, indium and tin", {"Ag": 0.73296, "In": 0.81361, "Sn": 0.72948}, 170.4, 170.9),
]


def main():
    db, mass, needs = database()
    rows = []
    for name, grams, most, least in FOUND:
        blend = Blend(db, mass, needs, grams)
        walk = Walk(blend, 1.0)
        x = np.array([blend.x[e] for e in walk.elements])
        near = {}
        for t in np.linspace(most - 1.5, least + 10, 24):
            t = round(float(t), 2)
            for _ in range(2):  # once more with the surroundings of what the first found
                g, parts, mu = walk.solids_and_liquid(t + 273.15, x, near)
                near = {}
                for phase, _, s in parts:
                    if len(db.phases[phase].constituents) == 1:
                        near.setdefault(phase, []).append(s)
            grams_of = [(n, a * (s @ walk.masses)) for n, a, s in parts]
            liquid = sum(m for n, m in grams_of if n == "LIQUID") / sum(m for _, m in grams_of)
            above, phase, _ = least_above(walk, t + 273.15, mu, near)
            rows.append({"blend": name, **{f"wt_{e}": grams.get(e, 0) for e in "Ag Bi Cu In Pb Sn".split()}, "T_C": t,
                         "liquid": f"{liquid:.6f}", "G_J_mol": f"{g:.4f}",
                         "phases": "+".join(sorted({n for n, _, _ in parts})),
                         "least_above_plane_J_mol": f"{above:.4f}", "least_in": phase})
            print(rows[-1], file=sys.stderr, flush=True)
    write("retrograde.py", rows)


if __name__ == "__main__":
    main()
