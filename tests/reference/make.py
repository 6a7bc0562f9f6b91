#!/usr/bin/env python3
"""Reference answers from a general-purpose minimiser, on the phase data of `alloys/phases`.

    python3 -m venv venv && venv/bin/pip install pycalphad==0.11.2 scheil==0.3.0 PyYAML==6.0.4
    venv/bin/python tests/reference/make.py tests/reference/results.csv
    venv/bin/python tests/reference/make.py draw tests/reference/drawn.csv
    venv/bin/python tests/reference/make.py tests/reference/drawn_results.csv tests/reference/drawn.csv
    venv/bin/python tests/reference/make.py tests/reference/nickel_results.csv tests/reference/nickel.csv

Writes a TDB file from the YAML files (so that a fault of reading shows as a difference), then for each
row of `blends.csv`: liquidus, solidus and the temperature with 98 mass% liquid, on two start grids; the
liquid share at four temperatures; a Scheil-Gulliver walk; and the seconds that each took.
Where the grids differ by more than 0.05 K, the row with the lower Gibbs energy is kept and named.
`draw` writes contaminated joints from a seed: a named alloy with a share of another, or with little of
another metal. Walks of blends other than those of `blends.csv` are those of `freeze.py`.
"""
import csv
import glob
import os
import random
import re
import sys
import tempfile
import time
from importlib.metadata import version

import numpy as np
import yaml
from pycalphad import Database, equilibrium, variables as v
from pycalphad.codegen.phase_record_factory import PhaseRecordFactory
from pycalphad.core.utils import instantiate_models
from scheil import simulate_scheil_solidification

PINNED = {"pycalphad": "0.11.2", "scheil": "0.3.0", "PyYAML": "6.0.4"}
HERE = os.path.dirname(os.path.abspath(__file__))
DATA = os.path.join(HERE, "..", "..", "alloys", "phases")
OTHERS = {"phases.yaml", "sources.yaml", "classes.yaml"}
TERMS = [("const", ""), ("t", "*T"), ("t_ln_t", "*T*LN(T)"), ("t2", "*T**2"), ("t3", "*T**3"),
         ("t_inv", "*T**(-1)"), ("t7", "*T**7"), ("t_inv9", "*T**(-9)")]
GRIDS = (200, 500)
HOTTEST_K, COLDEST_K = 700.0, 330.0


def formula(terms):
    text = "".join(f"{terms[key]:+.12g}{power}" for key, power in TERMS if terms.get(key))
    return text or "0"


def pieces(of, more=""):
    """From 200 K to 3000 K, whatever the ends of the first and last piece."""
    of = sorted(of, key=lambda piece: piece["from_k"])
    ends = [f"{piece['to_k']:.6g}" for piece in of[:-1]] + ["3000"]
    marks = ["Y"] * (len(of) - 1) + ["N"]
    body = " ".join(f"{formula(p)}{more}; {end} {mark}" for p, end, mark in zip(of, ends, marks))
    return f"200 {body} !"


def split(text, width=70):
    """A TDB line holds at most 78 characters: broken at blanks and before signs, not those of exponents."""
    lines, line = [], ""
    for word in re.sub(r"(?<![eE(*])(?=[+-])", " ", text).split():
        if len(line) + len(word) > width:
            lines.append(line)
            line = ""
        line += " " + word
    return "\n".join(lines + [line])


def database():
    elements, systems = {}, []
    for path in sorted(glob.glob(os.path.join(DATA, "*.yaml"))):
        if os.path.basename(path) in OTHERS:
            continue
        with open(path, encoding="utf-8") as file:
            read = yaml.safe_load(file)
        if "element" in read:
            elements[read["element"]] = read
        else:
            systems.append(read)
    with open(os.path.join(DATA, "phases.yaml"), encoding="utf-8") as file:
        phases = {entry["phase"]: entry.get("needs", []) for entry in yaml.safe_load(file)["phases"]}
    out = ["ELEMENT /- ELECTRON_GAS 0 0 0 !", "ELEMENT VA VACUUM 0 0 0 !"]
    for symbol, e in elements.items():
        out.append(f"ELEMENT {symbol.upper()} {e['stable_in']} {e['molar_mass_g']} 0 0 !")
    for symbol, e in elements.items():
        out.append(split(f"FUNCTION GST{symbol.upper()} " + pieces(e["phases"][e["stable_in"]]["pieces"])))
    for phase in phases:
        members = [s.upper() for s, e in elements.items() if phase in e["phases"]]
        out += [f"PHASE {phase} % 1 1.0 !", f"CONSTITUENT {phase} :{','.join(members)}: !"]
        for symbol, e in elements.items():
            unary = e["phases"].get(phase)
            if unary is None:
                continue
            head = f"PARAMETER G({phase},{symbol.upper()};0) "
            if "pieces" in unary:
                out.append(split(head + pieces(unary["pieces"])))
            else:
                above = [{"from_k": 200, "to_k": 3000, **unary["above_stable"]}]
                out.append(split(head + pieces(above, f" +GST{symbol.upper()}#")))
    needs = {}
    for system in systems:
        names = ",".join(symbol.upper() for symbol in system["system"])
        for i in system.get("interactions", []):
            # Without an order a ternary parameter is symmetric: the same for all three.
            orders = [i["order"]] if "order" in i else [0, 1, 2]
            for order in orders:
                out.append(split(f"PARAMETER L({i['phase']},{names};{order}) 200 {formula(i)}; 3000 N !"))
        for c in system.get("compounds", []):
            atoms = sorted(c["atoms"].items())
            out.append(f"PHASE {c['phase']} % {len(atoms)} {' '.join(str(n) for _, n in atoms)} !")
            out.append(f"CONSTITUENT {c['phase']} :{':'.join(s.upper() for s, _ in atoms)}: !")
            head = f"PARAMETER G({c['phase']},{':'.join(s.upper() for s, _ in atoms)};0) "
            if "pieces" in c:
                out.append(split(head + pieces(c["pieces"])))
            else:
                more = "".join(f" +{n}*GST{s.upper()}#" for s, n in atoms)
                out.append(split(head + pieces(c["above_elements"], more)))
            needs[c["phase"]] = [[s for s, _ in atoms]]
    with tempfile.NamedTemporaryFile("w", suffix=".tdb", delete=False) as file:
        file.write("\n".join(out) + "\n")
    db = Database(file.name)
    os.unlink(file.name)
    mass = {s.upper(): e["molar_mass_g"] for s, e in elements.items()}
    return db, mass, {**phases, **needs}


class Blend:
    def __init__(self, db, mass, needs, grams):
        self.db, self.mass = db, mass
        present = {e for e, g in grams.items() if g > 0}
        self.components = sorted(e.upper() for e in present) + ["VA"]
        self.phases = sorted(p for p, sets in needs.items()
                             if not sets or any(set(one) <= present for one in sets))
        self.phases = [p for p in self.phases if set(self.components) & {
            s.name for sub in db.phases[p].constituents for s in sub}]
        moles = {e.upper(): g / mass[e.upper()] for e, g in grams.items() if g > 0}
        total = sum(moles.values())
        self.x = {e: n / total for e, n in moles.items()}
        self.fixed = {v.X(e): x for e, x in sorted(self.x.items())[1:]}
        self.models = instantiate_models(db, self.components, self.phases)
        self.records = PhaseRecordFactory(db, self.components, {v.T, v.P, v.N}, self.models)
        self.known = {}

    def at(self, temperatures, grid):
        """(mass share liquid, Gibbs energy, phases) at each temperature."""
        wanted = [round(t, 4) for t in temperatures]
        new = sorted({t for t in wanted if (t, grid) not in self.known})
        if new:
            eq = equilibrium(self.db, self.components, self.phases,
                             {v.T: new, v.P: 101325, v.N: 1, **self.fixed}, model=self.models,
                             phase_records=self.records, calc_opts={"pdens": grid})
            amounts, names = eq.NP.values.reshape(len(new), -1), eq.Phase.values.reshape(len(new), -1)
            comps = [str(c) for c in eq.component.values]
            x = eq.X.values.reshape(len(new), amounts.shape[1], len(comps))
            masses = np.array([self.mass[c] for c in comps])
            for i, t in enumerate(new):
                grams = np.nan_to_num(amounts[i]) * np.nansum(x[i] * masses, axis=1)
                liquid = grams[names[i] == "LIQUID"].sum() / grams.sum()
                there = "+".join(sorted({n for n in names[i] if n}))
                self.known[(t, grid)] = (liquid, float(eq.GM.values.reshape(-1)[i]), there)
        return [self.known[(t, grid)] for t in wanted]

    def cross(self, share, grid):
        """Lowest temperature, to 0.012 K, from which on more than this share is liquid."""
        low, high, parts = COLDEST_K, HOTTEST_K, int((HOTTEST_K - COLDEST_K) / 10)
        while high - low > 0.012:
            ts = np.linspace(low, high, parts + 1)
            liquid = [row[0] for row in self.at(ts, grid)]
            under = [i for i, f in enumerate(liquid) if f <= share]
            if not under:
                return float("nan")
            last = under[-1]
            low, high, parts = ts[last], ts[min(last + 1, len(ts) - 1)], 5
        return 0.5 * (low + high) - 273.15

    def temperatures(self, grid):
        return [self.cross(share, grid) for share in (1 - 1e-6, 1e-6, 0.98)]

    def scheil(self, start_k):
        start = time.time()
        walk = simulate_scheil_solidification(
            self.db, self.components, self.phases, dict(self.fixed), start_k, step_temperature=1.0,
            eq_kwargs={"calc_opts": {"pdens": 200}}, stop=1e-4)
        return walk, time.time() - start


# Joints as they come (class A), and what else they meet (class B): mass per cent.
JOINTS = {"Sn63Pb37": {"Sn": 63, "Pb": 37}, "Sn62Pb36Ag2": {"Sn": 62, "Pb": 36, "Ag": 2},
          "SAC305": {"Sn": 96.5, "Ag": 3, "Cu": 0.5}, "SAC387": {"Sn": 95.5, "Ag": 3.8, "Cu": 0.7},
          "Sn99Cu1": {"Sn": 99.3, "Cu": 0.7}, "Bi58Sn42": {"Bi": 58, "Sn": 42},
          "Bi57Sn42Ag1": {"Bi": 57, "Sn": 42, "Ag": 1}, "Sn43Pb43Bi14": {"Sn": 43, "Pb": 43, "Bi": 14}}
OTHER = {"Sn63Pb37": {"Sb": 3, "Au": 3}, "SAC305": {"Sb": 5, "Au": 3}, "Sn99Cu1": {"Sb": 5, "Au": 3},
         "Bi58Sn42": {"Au": 3, "Zn": 10}, "Sn91Zn9": {"Bi": 30, "Pb": 5}, "Sn50In50": {"Pb": 40},
         "In80Pb20": {"Sn": 40}, "Sn95Sb5": {"Pb": 30}, "Sn80Au3Pb17": {"Bi": 20, "Ag": 3}}
ALONE = {"Sn91Zn9": {"Sn": 91, "Zn": 9}, "Sn50In50": {"Sn": 50, "In": 50}, "In80Pb20": {"In": 80, "Pb": 20},
         "Sn95Sb5": {"Sn": 95, "Sb": 5}, "Sn80Au3Pb17": {"Sn": 80, "Au": 3, "Pb": 17}}


def draw(path, seed=20, count=20):
    """Half of class A, half of class B; every third share is a trace (down to 1e-5)."""
    dice, symbols = random.Random(seed), "Ag Au Bi Cu In Pb Sb Sn Zn".split()
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["blend"] + symbols)
        for n in range(count):
            share = 10 ** dice.uniform(-5, -2) if n % 3 == 2 else dice.uniform(0.01, 0.5)
            if n % 2 == 0:
                one, two = dice.sample(sorted(JOINTS), 2)
                grams = {e: JOINTS[one].get(e, 0) * (1 - share) + JOINTS[two].get(e, 0) * share for e in symbols}
                name = f"{one} with {share:.3g} of {two}"
            else:
                one = sorted(OTHER)[n // 2 % len(OTHER)]
                two, most = dice.choice(sorted(OTHER[one].items()))
                share = min(2 * share, 1.0) * most / 100
                base = {**JOINTS, **ALONE}[one]
                grams = {e: base.get(e, 0) * (1 - share) + (100 * share if e == two else 0) for e in symbols}
                name = f"{one} with {share:.3g} of {two}"
            writer.writerow([name] + [f"{grams[e]:.6g}" for e in symbols])


def row_of(name, grams, db, mass, needs, walks=True):
    blend = Blend(db, mass, needs, grams)
    blend.at([500.0], GRIDS[0])  # compiles what is compiled once
    blend.known.clear()
    start = time.time()
    answers = [blend.temperatures(GRIDS[0])]
    seconds = time.time() - start
    answers.append(blend.temperatures(GRIDS[1]))
    chosen, note = list(answers[1]), ""
    for i, what in enumerate(("liquidus", "solidus", "flow")):
        one, other = answers[0][i], answers[1][i]
        if not abs(one - other) <= 0.05:
            middle = 0.5 * (one + other) + 273.15
            g = [blend.at([middle], grid)[0][1] for grid in GRIDS]
            chosen[i] = one if g[0] < g[1] - 1e-6 else other
            note += f"{what} {one:.2f} and {other:.2f} on the two grids, {g[0]:.4f} and {g[1]:.4f} J/mol between; "
    liquidus, solidus, flow = chosen
    out = {"blend": name, **{f"wt_{e}": g for e, g in grams.items()}, "liquidus_C": f"{liquidus:.3f}",
           "solidus_C": f"{solidus:.3f}", "flow_C": f"{flow:.3f}", "grids_differ": note.strip("; ")}
    for i, part in enumerate((0.1, 0.35, 0.65, 0.9), 1):
        t = round(solidus + part * (liquidus - solidus) + (0.3 if part < 0.2 else 0.0), 1)
        liquid = max(((b.at([t + 273.15], grid)[0]) for b, grid in ((blend, GRIDS[0]), (blend, GRIDS[1]))),
                     key=lambda r: -r[1])
        out |= {f"T{i}_C": t, f"liquid_T{i}": f"{liquid[0]:.5f}", f"G_T{i}_J_mol": f"{liquid[1]:.4f}"}
    if not walks:
        return out
    try:
        walk, took = blend.scheil(liquidus + 273.15 + 1.0)
        left = [1 - f for f in walk.fraction_solid]
        last = max(i for i, f in enumerate(left) if f > 1e-9)
        x = {e: x[last] for e, x in walk.x_liquid.items() if e in blend.x}
        grams = sum(x[e] * mass[e] for e in x) / sum(blend.x[e] * mass[e] for e in blend.x)
        out |= {"scheil_end_C": f"{walk.temperatures[-1] - 273.15:.3f}",
                "scheil_before_end_C": f"{walk.temperatures[last] - 273.15:.3f}",
                "scheil_left_before_end": f"{left[last] * grams:.5f}", "seconds_scheil": f"{took:.2f}"}
    except Exception as fault:  # noqa: BLE001, whatever the other program trips over is told in the row
        out |= {"scheil_end_C": "", "scheil_before_end_C": "", "scheil_left_before_end": "",
                "seconds_scheil": "", "grids_differ": out["grids_differ"] + f" no Scheil walk: {type(fault).__name__}"}
    out["seconds_melting"] = f"{seconds:.2f}"
    return out


def main():
    if sys.argv[1] == "draw":
        return draw(sys.argv[2])
    for name, want in PINNED.items():
        if version(name) != want:
            print(f"warning: {name} {version(name)}, want {want}", file=sys.stderr)
    db, mass, needs = database()
    paths = [word for word in sys.argv[2:] if word.endswith(".csv")]
    with open(paths[0] if paths else os.path.join(HERE, "blends.csv"), encoding="utf-8") as file:
        blends = list(csv.DictReader(file))
    rows, only = [], [word for word in sys.argv[2:] if word not in paths]
    for blend in blends:
        name = blend.pop("blend")
        if only and name not in only:
            continue
        grams = {e: float(g) for e, g in blend.items()}
        rows.append(row_of(name, grams, db, mass, needs, walks=not paths))
        print(rows[-1], file=sys.stderr, flush=True)
        with open(sys.argv[1], "w", encoding="utf-8", newline="") as file:
            file.write("# made by tests/reference/make.py with " + ", ".join(
                f"{n} {version(n)}" for n in PINNED) + "; start grids pdens 200 and 500" + ("" if paths else "; Scheil in steps of 1 K") + "\n")
            writer = csv.DictWriter(file, fieldnames=list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()
