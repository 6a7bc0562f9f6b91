#!/usr/bin/env python3
"""A body on a board under hot air, solved through body and board (r-z finite volumes, numpy and scipy), against what `check` counts.

Usage: heat_3d.py PROGRAM > heat_3d.csv

What the program takes for a thin plate is solved here in depth: a round board and a round body of the same areas, conduction along and through both, heat
through the body, what balls and air between body and board let through, film of the jet on whatever faces it. The hand stops when the coldest joint
below the body is at the peak that the program plans, or when the time is up. The film (H. Martin 1977) and the decay of the jet are written down
once more from DEVELOPERS.md. Boards are drawn at random and invented.
"""
import json, math, random, subprocess, sys, tempfile
import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as sla

SIGMA = 5.670374419e-8


def air(kelvin):
    mu = 1.716e-5 * (kelvin / 273.15) ** 1.5 * (273.15 + 110.4) / (kelvin + 110.4)
    k = 0.02414 * (kelvin / 273.15) ** 1.5 * (273.15 + 194) / (kelvin + 194)
    cp = np.interp(kelvin, [300, 400, 500, 600, 700, 800, 1000], [1007, 1014, 1030, 1051, 1075, 1099, 1141])
    return mu, k, mu * cp / k


def jet(case):
    d, h = case["nozzle"] / 1e3, min(max(case["standoff"] / case["nozzle"], 2), 12)
    t_air, room = case["set"] + 273.15, 298.15
    mu, k, pr = air(t_air)
    m = case["flow"] / 60000 * 101325 / (287.05 * 298.15)
    re = 4 * m / (math.pi * d * mu)
    f = 2 * math.sqrt(re) * math.sqrt(1 + 0.005 * re ** 0.55) * pr ** 0.42 * k / d
    b = 0.1 * (h - 6)
    mean = lambda u: (u - 1.1) / (u * (u + b))
    local = lambda u: (u * u + 2 * b * u - 1.1 * b) / (2 * u * (u + b) ** 2)
    rim = local(2.5)
    lift = 3 * (mean(2.5) - rim)

    def film(r):
        u = r / d
        return f * np.where(u >= 2.5, local(np.maximum(u, 2.5)), rim + lift * (1 - np.minimum(u / 2.5, 1) ** 2) ** 2)

    def gas(r):
        return room + (t_air - room) * np.minimum(1, 4.15 / np.maximum(case["standoff"] / case["nozzle"] + r / d, 1e-9))

    return film, gas


def reference(case, peak):
    """Peak of the upper face of the board at each radius asked for, C; when the tool went, s."""
    board_r = math.sqrt(case["wide"] * case["tall"] / math.pi) / 1e3
    body_r = math.sqrt(case["side"] ** 2 / math.pi) / 1e3
    t, hb = case["thick"] / 1e3, case["high"] / 1e3
    copper = case["layers"] * case["copper"] / 1e6
    layer = case["coverage"] * 385 + (1 - case["coverage"]) * 0.3
    k_along = (copper * layer + (t - copper) * 0.3) / t
    k_through = t / (copper / layer + (t - copper) / 0.3)
    rc_board = (copper * case["coverage"] * 8930 * 385 + (t - copper * case["coverage"]) * 1900 * 1100) / t
    k_body, rc_body, gap = 0.8, 1900 * 900.0, 1500.0
    nr, nb, nt = 110, 6, 8
    re = np.concatenate([np.linspace(0, body_r, 36), body_r + (board_r - body_r) * np.linspace(0, 1, nr - 35)[1:] ** 1.4])
    nr = len(re) - 1
    rm, area = (re[1:] + re[:-1]) / 2, math.pi * (re[1:] ** 2 - re[:-1] ** 2)
    under = rm < body_r
    nz, dzb, dzt = nb + nt, t / nb, hb / nt
    here = lambda i, z: z < nb or under[i]
    index = -np.ones((nr, nz), int)
    count = 0
    for i in range(nr):
        for z in range(nz):
            if here(i, z):
                index[i, z] = count
                count += 1
    cap = np.zeros(count)
    rows, cols, vals = [], [], []

    def link(a, b, g):
        rows.extend([a, a, b, b]); cols.extend([a, b, b, a]); vals.extend([g, -g, g, -g])

    for i in range(nr):
        for z in range(nz):
            a = index[i, z]
            if a < 0: continue
            board = z < nb
            dz, kr = (dzb, k_along) if board else (dzt, k_body)
            cap[a] = area[i] * dz * (rc_board if board else rc_body)
            if i + 1 < nr and index[i + 1, z] >= 0:
                link(a, index[i + 1, z], kr * 2 * math.pi * re[i + 1] * dz / (rm[i + 1] - rm[i]))
            if z + 1 < nz and index[i, z + 1] >= 0:
                half = dzb / 2 / k_through if board else dzt / 2 / k_body
                other = dzb / 2 / k_through if z + 1 < nb else dzt / 2 / k_body
                between = 1 / gap if z + 1 == nb else 0
                link(a, index[i, z + 1], area[i] / (half + other + between))
    base = sp.csc_matrix((vals, (rows, cols)), shape=(count, count))
    room = 298.15
    start = case["preheat"] + 273.15
    film, gas = jet(case)
    top = np.array([index[i, nz - 1] if under[i] else index[i, nb - 1] for i in range(nr)])
    half_top = np.where(under, dzt / 2 / k_body, dzb / 2 / k_through)
    low, half_low = index[:, 0], dzb / 2 / k_through
    out = 8 * (start - room) + 0.9 * SIGMA * (start ** 4 - room ** 4)
    h_below, source = (25.0, start + out / 25.0) if case["preheat"] > 25 else (8.0, room)

    def operator(tool, dt):
        h = np.where(tool, np.maximum(film(rm), 8), 8.0)
        g = np.where(tool & (film(rm) > 8), gas(rm), room)
        up, down = area / (1 / h + half_top), area / (1 / h_below + half_low)
        diagonal, drive = np.zeros(count), np.zeros(count)
        np.add.at(diagonal, top, up); np.add.at(drive, top, up * g)
        np.add.at(diagonal, low, down); np.add.at(drive, low, down * source)
        return sla.splu((base + sp.diags(diagonal + cap / dt)).tocsc()), drive

    def rays(temps):
        q = np.zeros(count)
        np.add.at(q, top, area * 0.9 * SIGMA * (temps[top] ** 4 - room ** 4))
        if h_below == 8.0:
            np.add.at(q, low, area * 0.9 * SIGMA * (temps[low] ** 4 - room ** 4))
        return q

    temps, dt, now = np.full(count, start), 0.25, 0.0
    face = index[:, nb - 1]
    most = temps[face].copy()
    solve, drive = operator(True, dt)
    while now < case["seconds"]:
        temps = solve.solve(cap / dt * temps + drive - rays(temps)); now += dt
        q = np.where(film(rm) > 8, 1 / (1 / film(rm) + half_top), 0) * (gas(rm) - temps[face])
        most = np.maximum(most, temps[face] + np.where(under, 0, q * half_top))
        if temps[face][under].min() - 273.15 >= peak: break
    left = now
    solve, drive = operator(False, dt)
    while now < left + 60:
        temps = solve.solve(cap / dt * temps + drive - rays(temps)); now += dt
        most = np.maximum(most, temps[face])
    return [float(np.interp(r / 1e3, rm, most)) - 273.15 for r in case["at"]], left


def draw(seed):
    dice = random.Random(seed)
    side = dice.uniform(8, 30)
    nozzle = dice.uniform(5, 22)
    case = dict(wide=dice.uniform(60, 140), tall=dice.uniform(60, 120), thick=dice.uniform(0.8, 2.2), layers=dice.choice([2, 4, 6, 8]), copper=35,
                coverage=dice.uniform(0.2, 0.7), side=side, high=dice.uniform(0.8, 3.2), nozzle=nozzle, flow=dice.uniform(15, 110), standoff=nozzle * dice.uniform(1.5, 4),
                set=dice.uniform(280, 400), preheat=dice.choice([25, 100, 120, 140]), seconds=dice.choice([30, 60, 90, 120]))
    case["at"] = [side / 2 * 1.42 + extra for extra in (1.5, 4, 8, 15)]
    case["at"] = [r for r in case["at"] if r < min(case["wide"], case["tall"]) / 2 - 2 and r > nozzle / 2 + 1]
    case = {key: round(value, 2) if isinstance(value, float) else value for key, value in case.items()}
    return case


def counted(program, case):
    x, y = case["wide"] / 2, case["tall"] / 2
    joints = "".join(f"  - {{id: n{k}, alloy: Sn96.5Ag3Cu0.5, mg: 0.3, at_mm: [{x + r:.2f}, {y:.2f}], reach_mm: 0}}\n" for k, r in enumerate(case["at"]))
    preheat = f", preheat_c: {case['preheat']}" if case["preheat"] > 25 else ""
    text = f"""job: drawn at random, invented
stock: [Bi58Sn42]
board: {{size_mm: [{case['wide']}, {case['tall']}], thickness_mm: {case['thick']}, layers: {case['layers']}, copper_um: 35, coverage: {case['coverage']}}}
parts:
  - {{id: chip, balls: {{count: 49, diameter_um: 300, alloy: Bi58Sn42}}, on: site, dry: true, at_mm: [{x}, {y}], size_mm: [{case['side']}, {case['side']}, {case['high']}]}}
joints:
  - {{id: site, at: chip, pad_um: 300}}
{joints}steps:
  - {{id: go, do: remove, part: chip, tool: air, nozzle_mm: {case['nozzle']}, flow_l_min: {case['flow']}, standoff_mm: {case['standoff']}, set_c: {case['set']}{preheat}, seconds: {case['seconds']}}}
"""
    with tempfile.NamedTemporaryFile("w", suffix=".yaml") as job:
        job.write(text); job.flush()
        run = lambda *args: json.loads(subprocess.run([program, "--json", *args], capture_output=True, text=True, check=False).stdout)
        heat, check = run("heat", job.name, "go"), run("check", job.name)
    return check["steps"][0]["peak_c"], {p["of"]: p for p in heat["places"]}


def main():
    print("seed,place,mm_from_the_middle,peak_c,tool_left_s,reference_c,likely_c,low_c,high_c,counted_c")
    worst = [], []
    for seed in range(1, 25):
        case = draw(seed)
        if not case["at"]: continue
        peak, places = counted(sys.argv[1], case)
        found, left = reference(case, peak)
        for k, (r, t) in enumerate(zip(case["at"], found)):
            p = places[f"n{k}"]
            if p["counted_c"] is None: continue
            print(f"{seed},n{k},{r:.1f},{peak},{left:.1f},{t:.1f},{p['t_c']:.1f},{p['low_c']:.1f},{p['high_c']:.1f},{p['counted_c']:.1f}", flush=True)
            worst[0].append(t - p["counted_c"]); worst[1].append(t - p["t_c"])
    above = sum(w > 0 for w in worst[0])
    print(f"# {len(worst[0])} places: {above} above what is counted, by at most {max(worst[0]):.1f} K; against the likeliest {min(worst[1]):.1f} to {max(worst[1]):.1f} K", file=sys.stderr)


main()
