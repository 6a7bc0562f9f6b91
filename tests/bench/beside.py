#!/usr/bin/env python3
"""The melt engine beside a general-purpose minimiser, on the same blends and the same machine.

    venv/bin/python tests/bench/beside.py        (packages as in tests/reference/make.py)

For each row of `tests/reference/blends.csv`: seconds for liquidus, solidus and flow point and for a
Scheil walk in steps of 1 K by the minimiser (models and phase records built beforehand), microseconds
for both whole curves by the engine (`cargo bench --bench melt -- blends`, one core, release), and the ratio.
Then the same with the minimiser's equilibrium curve too: all it takes to have what the engine gives, in
one vectorised call for every kelvin between solidus and liquidus.
"""
import csv
import io
import os
import statistics
import subprocess
import sys
import time

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(HERE, "..", "reference"))
import numpy as np  # noqa: E402
import make  # noqa: E402

told = subprocess.run(["cargo", "bench", "--quiet", "--bench", "melt", "--", "blends"], check=True,
                      capture_output=True, text=True, cwd=os.path.join(HERE, "..", "..")).stdout
ours = {row["blend"]: float(row["microseconds"]) for row in csv.DictReader(io.StringIO(told))}
db, mass, needs = make.database()
ratios, whole = {}, []
with open(os.path.join(HERE, "..", "reference", "blends.csv"), encoding="utf-8") as file:
    for row in csv.DictReader(file):
        name = row.pop("blend")
        grams = {e: float(g) for e, g in row.items()}
        blend = make.Blend(db, mass, needs, grams)
        blend.at([500.0], make.GRIDS[0])
        blend.known.clear()
        start = time.time()
        liquidus, solidus, _ = blend.temperatures(make.GRIDS[0])
        walk = blend.scheil(liquidus + 274.15)[1]
        seconds = time.time() - start
        start = time.time()
        blend.at(np.arange(solidus, liquidus + 1.0) + 273.15, make.GRIDS[0])
        curve = time.time() - start
        count = sum(1 for g in grams.values() if g > 0)
        ratio = seconds * 1e6 / ours[name]
        ratios.setdefault(count, []).append(ratio)
        whole.append((seconds + curve) * 1e6 / ours[name])
        print(f"{name}: {seconds:.2f} s ({walk:.2f} s Scheil) to {ours[name]:.0f} us: {ratio:.0f} times; "
              f"with the curve {seconds + curve:.2f} s, {whole[-1]:.0f} times", flush=True)
for count, of in sorted(ratios.items()):
    print(f"{count} elements: {min(of):.0f} to {max(of):.0f} times, median {statistics.median(of):.0f}")
every = [ratio for of in ratios.values() for ratio in of]
print(f"all {len(every)}: least {min(every):.0f}, median {statistics.median(every):.0f}")
print(f"with their equilibrium curve: least {min(whole):.0f}, median {statistics.median(whole):.0f}, "
      f"{sum(1 for ratio in whole if ratio >= 5000)} of {len(whole)} at least 5000")
