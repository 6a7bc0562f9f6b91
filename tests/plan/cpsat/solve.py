#!/usr/bin/env python3
"""The widest margin of each instance, by a general-purpose constraint solver.

Run by hand, not in CI:

    cargo test --release --test main write_instances -- --ignored
    python3 -m venv venv && venv/bin/pip install ortools==9.15.6755
    venv/bin/python tests/plan/cpsat/solve.py target/tmp/instances.json > tests/plan/cpsat/reference.csv

Written for Python 3.11 or later and OR-tools 9.15 (CP-SAT, one worker). `solver_ms` is the least of
three solves, without building the model; `planner_ms` the least of five, from the job to the answer, as the
instances have it: both one core, one machine, one after the other. Margins are reckoned here
once more, from solidus, liquidus, preheat and couplings, in whole millikelvins.
"""

import json
import sys
import time

import ortools
from ortools.sat.python import cp_model

WANT_MK = 5_000


def margin_mk(solidus_c, liquidus_c, preheat_c, coupling_hundredths):
    """Solidus of what stands less what it sees of a peak 20 K above the liquidus."""
    rise_mk = coupling_hundredths * (liquidus_c + 20 - preheat_c) * 10
    return (solidus_c - preheat_c) * 1000 - rise_mk


def widest(instance):
    model = cp_model.CpModel()
    steps = instance["steps"]
    count = len(steps)
    readings = instance["readings"]
    at = [model.new_int_var(0, count - 1, f"at{i}") for i in range(count)]
    model.add_all_different(at)
    takes = [[model.new_bool_var(f"x{i}_{a}") for a in step["alloys"]] for i, step in enumerate(steps)]
    for step in takes:
        model.add_exactly_one(step)
    widest_mk = model.new_int_var(WANT_MK, 1_000_000, "margin")
    for later, step in enumerate(steps):
        for earlier in step["after"]:
            model.add(at[earlier] < at[later])
        for stands in range(count):
            if stands == later:
                continue
            comes_later = model.new_bool_var(f"b{stands}_{later}")
            model.add(at[stands] < at[later]).only_enforce_if(comes_later)
            model.add(at[stands] > at[later]).only_enforce_if(comes_later.negated())
            for a, stood in zip(steps[stands]["alloys"], takes[stands]):
                for b, used in zip(step["alloys"], takes[later]):
                    kept = margin_mk(readings[a][0], readings[b][1], step["preheat_c"], step["coupling"][stands])
                    if kept < WANT_MK:
                        model.add_bool_or([comes_later.negated(), stood.negated(), used.negated()])
                    else:
                        model.add(widest_mk <= kept).only_enforce_if([comes_later, stood, used])
    model.maximize(widest_mk)
    seconds = float("inf")
    for _ in range(3):
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        begun = time.perf_counter()
        status = solver.solve(model)
        seconds = min(seconds, time.perf_counter() - begun)
    if status == cp_model.OPTIMAL:
        return str(solver.value(widest_mk)), seconds
    if status == cp_model.INFEASIBLE:
        return "none", seconds
    raise SystemExit(f"seed {instance['seed']}: {solver.status_name(status)}")


def main():
    instances = json.load(open(sys.argv[1], encoding="utf-8"))
    print(f"# OR-tools {ortools.__version__} CP-SAT, one worker, Python {sys.version.split()[0]}")
    print("seed,steps,open,most_coupled,margin_mk,solver_ms,planner_ms")
    times = []
    for instance in instances:
        margin, seconds = widest(instance)
        times.append((seconds * 1000, instance["planner_ms"]))
        print(
            f"{instance['seed']},{len(instance['steps'])},{instance['open']},{instance['most_coupled']},"
            f"{margin},{seconds * 1000:.2f},{instance['planner_ms']:.2f}",
            flush=True,
        )
    for name, column in (("solver", 0), ("planner", 1)):
        each = sorted(pair[column] for pair in times)
        print(
            f"{name}: {sum(each):.0f} ms in all, median {each[len(each) // 2]:.2f}, most {each[-1]:.1f}",
            file=sys.stderr,
        )
    slower = [instances[i]["seed"] for i, (solver, planner) in enumerate(times) if planner > solver]
    print(f"the planner is slower on {len(slower)} of {len(times)}: {slower}", file=sys.stderr)


if __name__ == "__main__":
    main()
