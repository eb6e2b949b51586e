# SPDX-License-Identifier: Apache-2.0
"""Solves shops (folders with plant.yaml and orders.csv) with CP-SAT, level by
level as the plant's objective says. What it found is written beside each shop,
NAME.json with solver, status, levels and bound, NAME-plan.json the solution as
a plan file; one JSON line a shop is printed.

    python solve.py tiny/* --name optimum
    python solve.py medium/* --name rival --budget 60 --first

A level is solved with the levels before it held at what they reached.
"""

import argparse
import datetime
import json
import os
import platform
import time

import ortools
from ortools.sat.python import cp_model

from model import Model
from shop import Shop

NAMES = {cp_model.OPTIMAL: "OPTIMAL", cp_model.FEASIBLE: "FEASIBLE", cp_model.INFEASIBLE: "INFEASIBLE",
         cp_model.UNKNOWN: "UNKNOWN", cp_model.MODEL_INVALID: "INVALID"}


def solve(folder, budget, workers, seed, log, first):
    began = time.monotonic()
    shop = Shop(folder)
    model = Model(shop)
    m, left = model.m, budget - (time.monotonic() - began)
    best, bound, status, values = [0, 0, 0, 0], [0, 0, 0, 0], "OPTIMAL", None
    built = time.monotonic() - began
    if first:
        # Large shops: any solution at all, for the levels to begin with.
        solver = cp_model.CpSolver()
        solver.parameters.num_workers, solver.parameters.random_seed, solver.parameters.log_search_progress = workers, seed, log
        solver.parameters.max_time_in_seconds = left
        found = solver.solve(m)
        left -= time.monotonic() - began - built
        if found in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            values, status = solver, "FEASIBLE"
            hint(m, solver)
            for level, cost in model.levels.items():
                best[level] = round(solver.value(cost))
        if left < 1 or values is None:
            return shop, model, {"status": "FEASIBLE" if values else NAMES[found], "levels": best if values else None,
                                 "bound": bound, "seconds": took(began), "build": round(built, 2)}, values
    for level, cost in model.levels.items():
        m.minimize(cost)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = workers
        solver.parameters.random_seed = seed
        solver.parameters.log_search_progress = log
        # Later levels keep something of the time when an earlier one is hard.
        after = [x for x in model.levels if x > level]
        solver.parameters.max_time_in_seconds = max(1, left * (0.7 if after else 1))
        level_began = time.monotonic()
        found = solver.solve(m)
        left -= time.monotonic() - level_began
        if found not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return shop, model, {"status": NAMES[found] if values is None else "FEASIBLE", "levels": best if values else None,
                                 "bound": bound, "seconds": took(began), "build": round(built, 2)}, values
        best[level] = round(solver.objective_value)
        bound[level] = round(solver.best_objective_bound)
        if found != cp_model.OPTIMAL:
            status = "FEASIBLE"
        values = solver
        m.add(cost <= best[level])
        hint(m, solver)
    return shop, model, {"status": status, "levels": best, "bound": bound, "seconds": took(began), "build": round(built, 2)}, values


def hint(m, solver):
    m.clear_hints()
    for i in range(len(m.proto.variables)):
        var = m.get_int_var_from_proto_index(i)
        m.add_hint(var, solver.value(var))


def took(began):
    return round(time.monotonic() - began, 2)


def plan(shop, model, x):
    """The solution as a plan file: places and tool marks are given out in the
    order of starts, which is enough because the model counts them."""
    at = lambda e: shop.now + model.unit * x.value(e)
    work, loads, mixes, used = {}, [], [], {}
    stays = [y for y in model.stays if x.boolean_value(y.on)]
    for n, y in enumerate(sorted(stays, key=lambda y: (x.value(y.setup_at), y.tasks[0].index))):
        members = [t for t in y.tasks if x.boolean_value(y.ins[t.index])]
        times = dict(zip(("setup", "start", "run", "run_end", "unload", "end"),
                         map(at, (y.setup_at, y.start, y.run, y.run_end, y.unload, y.end))))
        place = 1 + next((k for k, lit in enumerate(y.place) if x.boolean_value(lit)), 0)
        if y.station["places"] > 1 and not y.place:
            place = free(used, y.station["id"], times["setup"], times["end"])
        load = f"L{n + 1}" if y.station["capacity"] is not None else ""
        for t in members:
            work[t.index] = {"order": t.piece.line["order"], "line": t.piece.line["line"], "piece": t.piece.serial,
                             "operation": t.op["id"], "station": y.station["id"], "place": place, **times, "status": "planned"}
            if load:
                work[t.index]["load"] = load
        people = [{"part": part, "skill": skill, "crew": crew, "share": share}
                  for part, skill, share, crew, lit in y.people if x.boolean_value(lit)]
        if people:
            work[members[0].index]["people"] = people
        if load:
            loads.append({"id": load, "station": y.station["id"], "recipe": members[0].op["recipe"] or "", **times, "status": "planned",
                          "members": [{"piece": t.piece.serial, "operation": t.op["id"]} for t in members]})
    for n, y in enumerate(sorted((y for y in model.mixes if x.boolean_value(y.on)), key=lambda y: x.value(y.start))):
        users = [t for t in y.tasks if x.boolean_value(y.ins[t.index])]
        start, end = at(y.start), at(y.end)
        mix = {"id": f"M{n + 1}", "resin": y.resin["id"], "station": y.station["id"], "start": start, "end": end,
               "place": free(used, y.station["id"], start, end), "expiry": end + model.unit * x.value(y.life),
               "grams": y.resin["heel"] + sum(t.op["mix"][1] for t in users), "status": "planned",
               "users": [{"piece": t.piece.serial, "operation": t.op["id"]} for t in users]}
        for _, _, _, crew, lit in y.people:
            if x.boolean_value(lit):
                mix["crew"] = crew
        for t in users:
            work[t.index]["mix"] = mix["id"]
        mixes.append(mix)
    for name, holds in model.holds.items():
        for t, _, high in sorted(holds, key=lambda h: (x.value(model.U[h[0].index]), h[0].index)):
            unit = free(used, "tool " + name, work[t.index]["setup"], at(high))
            work[t.index].setdefault("tools", []).append((name, shop.tools[name]["units"][unit - 1]))
    for t in shop.tasks:  # in the order of the operation's takes
        if "tools" in work[t.index]:
            taken = work[t.index]["tools"]
            work[t.index]["tools"] = [taken.pop(next(i for i, u in enumerate(taken) if u[0] == name))[1] for name, _ in t.op["takes"]]
    lines = lambda rows: ",\n ".join(json.dumps(r, separators=(",", ":")) for r in rows)
    rows = sorted(work.values(), key=lambda w: (w["start"], w["piece"], w["operation"]))
    return (f'{{\n"format": 1,\n"version": 1,\n"made": {shop.now},\n"base": 0,\n'
            f'"seed": 0,\n"iterations": 0,\n"work": [\n {lines(rows)}],\n"loads": [\n {lines(loads)}],\n"mixes": [\n {lines(mixes)}],\n"breaches": []\n}}\n')


def free(used, name, start, end):
    """The first place or unit, from 1, that is free again."""
    busy = used.setdefault(name, [])
    for k, until in enumerate(busy):
        if until <= start:
            busy[k] = end
            return k + 1
    busy.append(end)
    return len(busy)


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("folders", nargs="+")
    p.add_argument("--budget", type=float, default=300, help="seconds a shop, building the model included")
    p.add_argument("--workers", type=int, default=2)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--name", default="", help="write NAME.json and NAME-plan.json beside each shop")
    p.add_argument("--first", action="store_true", help="look for any solution before the objective: large shops")
    p.add_argument("--log", action="store_true")
    o = p.parse_args()
    for folder in o.folders:
        shop, model, found, values = solve(folder, o.budget, o.workers, o.seed, o.log, o.first)
        name = os.path.basename(folder.rstrip("/"))
        result = {"instance": name, "pieces": len(shop.pieces), "operations": len(shop.tasks), **found, "budget": o.budget,
                  "workers": o.workers, "seed": o.seed, "cores": os.cpu_count(), "unit": model.unit,
                  "solver": f"OR-Tools CP-SAT {ortools.__version__}", "python": platform.python_version(),
                  "date": datetime.date.today().isoformat()}
        print(json.dumps(result), flush=True)
        if not o.name:
            continue
        with open(f"{folder}/{o.name}.json", "w", encoding="utf-8") as f:
            json.dump(result, f, indent=1)
            f.write("\n")
        if values is not None:
            with open(f"{folder}/{o.name}-plan.json", "w", encoding="utf-8") as f:
                f.write(plan(shop, model, values))


if __name__ == "__main__":
    main()
