#!/usr/bin/env python3
"""The state of lowest Gibbs energy, proved by its plane, where start grids may have missed it (versions: `make.py`).

    venv/bin/python tests/reference/lowest.py tests/reference/decided.csv tests/reference/drawn_results.csv

The equilibrium of the lower of two grids, to whose points are added the blend itself, what was found and whatever point of any phase
lies below its plane, until none does by more than 0.01 J/mol. As a program: at each T1 to T4 of a table of `make.py`, and writes
the rows where the energy is more than 0.001 J/mol lower than the table's.
"""
import csv
import sys

import numpy as np
from pycalphad import calculate

from freeze import Walk
from make import GRIDS, Blend, PINNED, database, version


def above_plane(walk, phase, t_k, mu, **points):
    """J/mol of atoms above the plane, and composition, of points of a phase."""
    got = calculate(walk.b.db, walk.b.components, phase, T=t_k, P=101325, N=1, model=walk.b.models,
                    phase_records=walk.b.records, to_xarray=False, **points)
    order = [str(c) for c in got.component]
    shares = got.X.reshape(-1, len(order))[:, [order.index(e) for e in walk.elements]]
    above = np.nan_to_num(got.GM.reshape(-1) - shares @ mu, nan=np.inf)
    return above, shares


def least_above(walk, t_k, mu, near):
    """How far the lowest point of any phase lies above the plane, in J/mol of atoms, which, and where.

    In a solution from the three lowest points of its grid and of what is near, always to the lowest of a
    hundred points around, eight times: the points of a grid alone are tens of J/mol above a dilute liquid.
    """
    worst = (float("inf"), "", None)
    for phase in walk.b.phases:
        solution = len(walk.b.db.phases[phase].constituents) == 1
        if not solution:
            above, shares = above_plane(walk, phase, t_k, mu, pdens=GRIDS[1])
            starts = []
        else:
            points = walk.grid_points(phase, GRIDS[1], near.get(phase, []))
            above, shares = above_plane(walk, phase, t_k, mu, points=points)
            starts = [shares[n] for n in np.argsort(above)[:3]] + near.get(phase, [])[-2:]
        best = [(above[n], shares[n]) for n in [int(np.argmin(above))]]
        for start in starts:
            for _ in range(8):
                above, shares = above_plane(walk, phase, t_k, mu, points=walk.around(phase, start))
                start = shares[int(np.argmin(above))]
            best.append((above.min(), start))
        lowest = min(best, key=lambda one: one[0])
        if lowest[0] < worst[0]:
            worst = (float(lowest[0]), phase, lowest[1])
    return worst


def settle(walk, t_k):
    x = np.array([walk.b.x[e] for e in walk.elements])
    solutions = [p for p in walk.b.phases if len(walk.b.db.phases[p].constituents) == 1]
    near, best = {phase: [x] for phase in solutions}, None
    for _ in range(8):
        found = walk.solids_and_liquid(t_k, x, near)
        if found is None:
            break
        g, parts, mu = found
        for phase, _, s in parts:
            if len(walk.b.db.phases[phase].constituents) == 1:
                near.setdefault(phase, []).append(s)
        above, phase, where = least_above(walk, t_k, mu, near)
        if best is None or g < best[0] + 1e-6:
            grams = [(n, a * (s @ walk.masses)) for n, a, s in parts]
            best = (g, sum(m for n, m in grams if n == "LIQUID") / sum(m for _, m in grams),
                    "+".join(sorted(n for n, _, _ in parts)), above, phase)
        if above > -0.01:
            break
        if len(walk.b.db.phases[phase].constituents) == 1:
            near.setdefault(phase, []).append(where)
    return best


def write(script, rows):
    """The rows as CSV, into the file that the command names, below a line that says what made them."""
    with open(sys.argv[1], "w", encoding="utf-8", newline="") as file:
        file.write(f"# made by tests/reference/{script} with " + ", ".join(
            f"{n} {version(n)}" for n in PINNED if n != "scheil") + "\n")
        writer = csv.DictWriter(file, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def main():
    db, mass, needs = database()
    rows = []
    with open(sys.argv[2], encoding="utf-8") as file:
        table = list(csv.DictReader(row for row in file if not row.startswith("#")))
    for row in table:
        grams = {key[3:]: float(value) for key, value in row.items() if key.startswith("wt_")}
        walk = Walk(Blend(db, mass, needs, grams), 1.0)
        for n in range(1, 5):
            t, listed = float(row[f"T{n}_C"]), float(row[f"G_T{n}_J_mol"])
            g, liquid, phases, above, phase = settle(walk, t + 273.15)
            if g > listed - 1e-3:
                continue
            rows.append({"blend": row["blend"], "T_C": t, "listed_liquid": row[f"liquid_T{n}"], "listed_G_J_mol": listed,
                         "liquid": f"{liquid:.5f}", "G_J_mol": f"{g:.4f}", "phases": phases,
                         "least_above_plane_J_mol": f"{above:.4f}", "least_in": phase})
            print(rows[-1], file=sys.stderr, flush=True)
    write("lowest.py", rows)


if __name__ == "__main__":
    main()
