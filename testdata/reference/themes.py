# SPDX-License-Identifier: Apache-2.0
"""Themes of the invented shops. A theme takes a random source and a variant and
gives a plant and its order rows; its first docstring line says what it is for."""

from datetime import datetime, timedelta

MONDAY = datetime(2026, 3, 2)


def minutes(n):
    return f"{n}m"


def stamp(day, hour, minute=0):
    return (MONDAY + timedelta(days=day, hours=hour, minutes=minute)).strftime("%Y-%m-%d %H:%M")


def calendar(name, span, days="Mon-Fri", breaks=(), **more):
    shift = {"days": days, "hours": span}
    if breaks:
        shift["breaks"] = list(breaks)
    return {"id": name, "shifts": [shift], **more}


def crew(name, skills, *shifts):
    return {"id": name, "skills": list(skills), "shifts": [{"calendar": c, "heads": h} for c, h in shifts]}


def need(skill, *parts, people=1):
    return {"parts": list(parts), "skill": skill, **({"people": people} if people != 1 else {})}


def order(name, product, quantity, due, weight=1, kind="firm", line=1, release=""):
    return {"order": name, "line": line, "customer": "Invented", "product": product, "quantity": quantity, "ship_by": due,
            "weight": weight, "kind": kind, "earliest_start": release}


def plant(horizon, **parts):
    return {"zone": "Europe/London", "starts_at": stamp(0, 6), "horizon": horizon,
            **{k: v for k, v in parts.items() if v}}


def objective(**terms):
    """Levels and weights of the terms named; the default's other cost terms off."""
    off = {k: {"level": 3, "weight": 0} for k in ("oven", "setup_time", "discard", "flow")}
    return {**off, **{k: {"level": level, "weight": weight} for k, (level, weight) in terms.items()}}


DUE_ONLY = objective()
TWO_SHIFTS = [calendar("day", "06:00-14:00", breaks=["09:00-09:15", "12:00-12:15"]), calendar("long", "06:00-22:00")]


def wet_hold(rng, v):
    """Wound tubes wait wet for an oven that runs one recipe at a time."""
    wind = {"id": "wind", "stations": "W", "load": "10m", "needs": [need("winding", "load"), need("winding", "run", people=0.5)]}
    cure = {"id": "cure", "stations": "O", "load": "10m", "unload": "10m", "wait_inside": True,
            "needs": [need("ovens", "load", "unload")], "after": [{"operation": "wind", "max": minutes(rng.choice([60, 90, 120]))}]}
    pull = {"id": "pull", "stations": "PULL", "run": minutes(rng.choice([15, 20])), "needs": [need("ovens", "run")],
            "after": [{"operation": "cure", "min": "20m"}]}
    products = [{"id": p, "routing": [
        {**wind, "run": minutes(rng.choice([30, 40, 50]))},
        {**cure, "recipe": p, "size": {"places": rng.choice([1, 1, 2]), "mass": f"{rng.choice([6, 9, 12])} kg"}}, pull]} for p in "AB"]
    rows = [order("1", "A", 2 + v % 2, stamp(1, 14), 2), order("2", "B", 2, stamp(0, 18 - v), 3, "event"),
            order("3", "B", [1, 1, 2, 1, 3][v], stamp(1, 10), 1)]
    return plant(
        "6d", calendars=TWO_SHIFTS,
        stations=[{"id": "W", "kind": "winder", "calendar": "long"},
                  {"id": "O", "kind": "oven", "calendar": "long", "unattended": v % 2 == 1, "recipes": ["A", "B"],
                   "batch": {"capacity": {"places": 3, "mass": "24 kg"}, "same": ["recipe"]}},
                  {"id": "PULL", "kind": "puller", "calendar": "long"}],
        crews=[crew("winders", ["winding"], ("long", 1)), crew("hands", ["ovens"], ("day", 1), ("long", 1) if v % 2 else ("day", 1))],
        recipes=[{"id": "A", "fixed": "3h"}, {"id": "B", "fixed": minutes(rng.choice([200, 240]))}], products=products), rows


def mandrels(rng, v):
    """Mandrels are held from the wind until they are clean and coated again."""
    count, turn = rng.choice([1, 2, 2]), rng.choice([30, 60, 90])
    routing = lambda p, run, places: [
        {"id": "wind", "stations": ["W1", "W2"], "load": "10m", "run": minutes(run), "needs": [need("winding", "load")],
         "takes": [{"tool": f"M-{p}", "until": "clean"}]},
        {"id": "cure", "stations": "O", "load": "5m", "load_each": "5m", "run": minutes(rng.choice([120, 150, 180])), "unload": "10m",
         "wait_inside": True, "size": {"places": places}, "needs": [need("ovens", "load", "unload")],
         "after": [{"operation": "wind", "max": "2h"}]},
        {"id": "pull", "stations": "PULL", "run": "15m", "needs": [need("ovens", "run")], "after": [{"operation": "cure", "min": "30m"}]},
        {"id": "clean", "stations": "BENCH", "run": "20m", "needs": [need("ovens", "run", people=0.5)]},
        {"id": "trim", "stations": "BENCH", "run": minutes(rng.choice([25, 35])), "needs": [need("winding", "run")], "after": ["pull"]}]
    rows = [order("1", "P", 3, stamp(0, 21), 1), order("2", "Q", 1 + v % 3, stamp(0, 15 + v), 4, "event" if v % 2 else "firm"),
            order("2", "P", 1, stamp(0, 15 + v), 2, line=2)]
    return plant(
        "6d", objective=objective(flow=(3, 1)) if v % 2 else None, calendars=TWO_SHIFTS,
        stations=[{"id": "W1", "calendar": "long"}, {"id": "W2", "calendar": "long", "speed": 1.25},
                  {"id": "O", "calendar": "long", "unattended": True, "batch": {"capacity": {"places": 3}}},
                  {"id": "PULL", "calendar": "long"}, {"id": "BENCH", "calendar": "long", "places": 2}],
        crews=[crew("winders", ["winding"], ("long", 1)), crew("hands", ["ovens"], ("long", 1))],
        tools=[{"id": "M-P", "count": count + 1, "turnaround": minutes(turn)}, {"id": "M-Q", "units": ["M-Q-a"], "turnaround": "1h"}],
        products=[{"id": "P", "routing": routing("P", 50, 1)}, {"id": "Q", "routing": routing("Q", 75, 2)}]), rows


def mixes(rng, v):
    """Resin is mixed in pots of limited mass, dies, and leaves a heel."""
    wind = lambda resin, run, grams, after: {
        "id": "wind" if not after else "overwind", "stations": ["W1", "W2"] if v % 2 else "W1", "run": minutes(run),
        "mix": {"resin": resin, "mass": f"{grams} g"}, "needs": [need("winding", "run", people=0.5)],
        "after": [{"operation": after, "max": "3h"}] if after else []}
    products = [
        {"id": "P", "routing": [wind("A", rng.choice([25, 35, 45]), rng.choice([300, 400]), ""),
                                {"id": "check", "stations": "DESK", "run": "15m", "needs": [need("mixing", "run")]}]},
        {"id": "Q", "routing": [wind("A", 30, 450, ""), wind("B", 40, rng.choice([200, 350]), "wind"),
                                {"id": "check", "stations": "DESK", "run": "10m", "needs": [need("mixing", "run")]}]}]
    rows = [order("1", "P", 3 + v % 2, stamp(0, 12), 2), order("2", "Q", 2, stamp(0, 11 + v % 3), 3, "event" if v == 3 else "firm"),
            order("3", "P", 1, stamp(0, 9 + v), 1)]
    resin = {"mixing": "15m", "station": "MIX", "skill": "mixing"}
    return plant(
        "5d", objective=objective(discard=(2, 1), flow=(3, 1)) if v in (1, 4) else None, calendars=TWO_SHIFTS,
        room={"ordinary": "20 C", "periods": [{"from": stamp(0, 8), "to": stamp(0, 10), "temperature": "30 C"}]} if v >= 3 else None,
        stations=[{"id": "MIX", "calendar": "day"}, {"id": "W1", "calendar": "long"}, {"id": "W2", "calendar": "long"},
                  {"id": "DESK", "calendar": "day"}],
        crews=[crew("winders", ["winding"], ("long", 1)), crew("mixer", ["mixing"], ("day", 1))],
        resins=[{"id": "A", "pot_life": minutes(rng.choice([80, 100])), "at": "20 C", **({"halves_every": "10 C"} if v >= 3 else {}),
                 "max_mass": "1200 g", "heel": "100 g", **resin},
                {"id": "B", "pot_life": "2h", "at": "20 C", "bath": "20 C", "max_mass": "800 g", "heel": "150 g", **resin}],
        products=products), rows


def changeovers(rng, v):
    """Setting up takes time and money, depends on the order, and needs a setter."""
    kinds = ["a", "b", "c"]
    setups = [{"attribute": "program", "from": x, "to": y, "time": minutes(rng.choice([10, 20, 35, 50])), "cost": rng.choice([1, 2, 5])}
              for x in kinds for y in kinds if x != y]
    setups += [{"attribute": "fibre", "to": "stiff", "time": "25m", "cost": 3}, {"attribute": "fibre", "time": "15m"}]
    station = {"calendar": "long", "setups": setups, "setup_sum": v % 2 == 0, "setup_skill": "setting", "setup_people": rng.choice([0.5, 1])}
    products = [{"id": k.upper(), "routing": [
        {"id": "wind", "stations": ["W1", "W2"], "run": minutes(rng.choice([30, 45, 60])),
         "attributes": {"program": k, "fibre": "stiff" if k == "c" else "plain"}},
        {"id": "test", "stations": "T", "run": minutes(rng.choice([15, 20])), "attributes": {"grip": "wide" if k == "a" else "slim"},
         "needs": [need("testing", "run")]}]} for k in kinds]
    rows = [order("1", "A", 2, stamp(0, 10), 1), order("2", "B", 2, stamp(0, 9 + v % 3), 3), order("3", "C", 2, stamp(0, 11), 2),
            order("4", "A" if v % 2 else "B", 1 + v // 2, stamp(0, 12 - v % 2), 2, "event")]
    goals = [None, objective(setup_cost=(2, 1), flow=(3, 1)), objective(setup_time=(1, 1), setup_cost=(3, 10)), DUE_ONLY, None]
    return plant(
        "4d", objective=goals[v], calendars=TWO_SHIFTS,
        stations=[{"id": "W1", **station, "initial": {"program": "a", "fibre": "plain"}}, {"id": "W2", **station, "speed": 0.8},
                  {"id": "T", "calendar": "day", "setup_skill": "testing", "setups": [{"attribute": "grip", "time": "20m"}],
                   "initial": {"grip": "slim"}}],
        crews=[crew("setters", ["setting"], ("long", 1)), crew("testers", ["testing"], ("day", 1))],
        products=products), rows


def pauses(rng, v):
    """Some runs stop when people go home, others must end before they do."""
    bench = lambda name, run, skill, pause, **more: {
        "id": name, "stations": more.pop("stations", "BENCH"), "run": minutes(run), "may_pause": pause, "needs": [need(skill, "run")], **more}
    products = [
        {"id": "P", "routing": [bench("cut", rng.choice([60, 90, 150]), "finishing", True), bench("glue", rng.choice([100, 150]), "joining", False),
                                bench("pack", 40, "finishing", True, load="5m")]},
        {"id": "Q", "routing": [bench("glue", 80, "joining", False), bench("cut", rng.choice([200, 330, 400]), "finishing", True,
                                                                          after=[{"operation": "glue", "max": "6h"}]),
                                bench("pack", 30, "finishing", True, stations="PACK")]}]
    rows = [order("1", "P", 2 + v % 2, stamp(1, 12), 1), order("2", "Q", 2, stamp(0, 20 - v), 2), order("3", "Q", 1 + v // 3, stamp(1, 9), 3, "event")]
    return plant(
        "8d", calendars=[*TWO_SHIFTS, calendar("late", "14:00-22:00", breaks=["17:00-17:30"]),
                         calendar("pack", "07:00-13:00", exceptions=[{"closed": stamp(1, 8), "for": "2h", "why": "meeting"}])],
        stations=[{"id": "BENCH", "calendar": "long", "places": 2 + v % 2}, {"id": "PACK", "calendar": "pack"}],
        crews=[crew("finishers", ["finishing"], ("day", 1), *([("late", 1)] if v % 2 else [])), crew("joiners", ["joining"], ("day", 1)),
               crew("both", ["joining", "finishing"], ("late", 1))],
        products=products), rows


def split_tubes(rng, v):
    """A tube becomes shafts, its ring speaks for all, and a sample is destroyed."""
    routing = [
        {"id": "wind", "stations": "W", "run": minutes(rng.choice([40, 60])), "needs": [need("winding", "run")]},
        {"id": "cut", "stations": "SAW", "run": "30m", "split": 2 + v % 2, "may_pause": True, "needs": [need("finishing", "run")]},
        {"id": "ring", "stations": "DESK", "run": "20m", "gate": "ring", "needs": [need("quality", "run")], "after": [{"operation": "cut", "min": "1h"}]},
        {"id": "bond", "per": "shaft", "stations": "CELL", "load": "15m", "run": minutes(rng.choice([60, 90])), "unload": "5m", "wait_inside": True,
         "needs": [need("finishing", "load", "unload")], "after": ["cut"] if v % 2 else ["ring"]},
        {"id": "break", "per": "sample", "stations": "TEST", "run": "40m", "gate": "lot", "needs": [need("quality", "run")],
         "after": [{"operation": "bond", "min": "30m"}]},
        {"id": "proof", "per": "shaft", "skip_sample": True, "stations": "TEST", "run": "15m", "needs": [need("quality", "run")], "after": ["bond"]},
        {"id": "pack", "per": "shaft", "skip_sample": True, "stations": "PACK", "run": "10m", "needs": [need("finishing", "run")],
         "after": ["proof", "break", "ring"] if v != 4 else ["proof", "ring"]}]
    plain = [{"id": "wind", "stations": "W", "run": "35m", "needs": [need("winding", "run")]},
             {"id": "proof", "stations": "TEST", "run": "15m", "needs": [need("quality", "run")]}]
    rows = [order("1", "S", 2 + v % 2, stamp(0, 14), 2), order("2", "R", 1 + v % 2, stamp(0, 8 + v % 2), 3, "event")]
    return plant(
        "6d", objective=objective(flow=(3, 1)) if v < 2 else None, calendars=TWO_SHIFTS,
        stations=[{"id": "W", "calendar": "long"}, {"id": "SAW", "calendar": "day"}, {"id": "DESK", "calendar": "day"},
                  {"id": "CELL", "calendar": "day", "unattended": True, "places": 2}, {"id": "TEST", "calendar": "long"}, {"id": "PACK", "calendar": "day"}],
        crews=[crew("winders", ["winding"], ("long", 1)), crew("finishers", ["finishing"], ("day", 1)), crew("quality", ["quality"], ("day", 1))],
        products=[{"id": "S", "samples": 1, "routing": routing}, {"id": "R", "routing": plain}]), rows


def bonding(rng, v):
    """Prepared ends expire, fixtures are held over two bonds, cells cure alone."""
    hold = rng.choice([90, 120])
    routing = lambda prep: [
        {"id": "prep-1", "stations": "BLAST", "run": minutes(prep), "needs": [need("bonding", "run")]},
        {"id": "bond-1", "stations": ["BC1", "BC2"], "load": "20m", "run": minutes(hold), "run_at": {"BC2": minutes(3 * hold)}, "unload": "5m",
         "wait_inside": True, "needs": [need("bonding", "load", "unload")], "takes": [{"tool": "F", "until": "bond-2"}],
         "after": [{"operation": "prep-1", "max": "2h"}]},
        {"id": "prep-2", "stations": "BLAST", "run": minutes(prep), "needs": [need("bonding", "run")]},
        {"id": "bond-2", "stations": ["BC1", "BC2"], "load": "20m", "run": minutes(hold + 30), "run_at": {"BC2": "9h"}, "unload": "10m",
         "wait_inside": True, "needs": [need("bonding", "load", "unload")], "after": ["bond-1", {"operation": "prep-2", "max": "2h"}]},
        {"id": "proof", "stations": "TEST", "run": "20m", "needs": [need("testing", "run")], "after": [{"operation": "bond-2", "min": "1h"}]}]
    rows = [order("1", "P", 2 + v % 2, stamp(1, 10), 1), order("2", "Q", 2, stamp(0, 20 - v), 2, "event" if v % 2 else "firm")]
    return plant(
        "6d", objective=[None, DUE_ONLY, None, objective(flow=(3, 1)), DUE_ONLY][v],
        calendars=[*TWO_SHIFTS, calendar("late", "13:30-22:00", breaks=["18:00-18:30"])],
        stations=[{"id": "BLAST", "calendar": "long"}, {"id": "BC1", "calendar": "long", "unattended": True, "places": 2},
                  {"id": "BC2", "calendar": "long", "unattended": True, "places": 1}, {"id": "TEST", "calendar": "day"}],
        crews=[crew("bonders", ["bonding"], ("day", 1), ("late", 1)), crew("tester", ["testing"], ("day", 1))],
        tools=[{"id": "F", "kind": "fixture", "count": 2, "turnaround": "15m"}],
        products=[{"id": "P", "routing": routing(20)}, {"id": "Q", "routing": routing(30)}]), rows


def material(rng, v):
    """Stock comes in late, orders are released late, events and firm orders compete."""
    routing = lambda name, run, milli: [
        {"id": "wind", "stations": ["W1", "W2"], "run": minutes(run), "needs": [need("winding", "run")],
         "draws": [{"material": "tow", "quantity": f"{milli} m"}]},
        {"id": "fit", "stations": "BENCH", "run": minutes(rng.choice([25, 40])), "needs": [need("fitting", "run")],
         "draws": [{"material": "ends", "quantity": "1 sets"}], "after": [{"operation": "wind", "min": "45m"}]},
        {"id": "pack", "stations": "PACK", "run": "15m", "may_pause": True, "needs": [need("fitting", "run")]}]
    rows = [order("1", "P", 2, stamp(0, 11), 2), order("2", "Q", 2 + v % 2, stamp(0, 13), 4, "event"),
            order("2", "P", 1, stamp(0, 13), 3, "event", line=2),
            order("3", "Q", 1, stamp(0, 10), 5, release=stamp(0, 7, 30)), order("4", "P", 1 + v % 3, stamp(0, 12), 1, "event", release=stamp(0, 6, 45))]
    return plant(
        "5d", objective=DUE_ONLY if v % 2 else None, calendars=TWO_SHIFTS,
        shipping={"days": "Mon-Fri", "cut_off": "13:00" if v % 2 else "11:30", "closed": ["2026-03-03"]} if v >= 3 else None,
        stations=[{"id": "W1", "calendar": "long"}, {"id": "W2", "calendar": "long", "speed": 0.5},
                  {"id": "BENCH", "calendar": "day"}, {"id": "PACK", "calendar": "day"}],
        crews=[crew("winders", ["winding"], ("long", 2)), crew("fitters", ["fitting"], ("day", 1 + v % 2))],
        materials=[{"id": "tow", "unit": "m", "stock": "260 m", "receipts": [{"at": stamp(0, 8), "quantity": "150 m"}, {"at": stamp(0, 10), "quantity": "600 m"}]},
                   {"id": "ends", "unit": "sets", "stock": "3 sets", "receipts": [{"at": stamp(0, 9, 30), "quantity": "2 sets"}, {"at": stamp(1, 6), "quantity": "9 sets"}]}],
        products=[{"id": "P", "routing": routing("P", 40, 60)}, {"id": "Q", "routing": routing("Q", 55, rng.choice([80, 90]))}]), rows


def shared_loads(rng, v):
    """Loads all along: spindles, an oven whose run depends on its members, a polishing head."""
    heat = v % 2 == 1
    recipe = {"group": "hot"} if not heat else {}
    recipes = [{"id": "R1", "fixed": "2h", **recipe}, {"id": "R2", "fixed": "3h", **recipe}] if not heat else [
        {"id": r, "group": "hot", "start": "25 C", "steps": [{"rate": "2 C/min", "to": f"{to} C", "dwell": "1h"}], "cool_rate": "2 C/min",
         "open_at": "50 C", "tolerance": "3 C"} for r, to in (("R1", 80), ("R2", 95))]
    product = lambda p, recipe, program, run, tau, most: {"id": p, "routing": [
        {"id": "wind", "stations": ["SPIN", "SOLO"], "load": "5m", "load_each": "5m", "run": minutes(run), "size": {"spindles": 1},
         "attributes": {"program": program}, "needs": [need("winding", "load")]},
        {"id": "cure", "stations": "O", "load": "10m", "unload": "5m", "unload_each": "5m", "recipe": recipe, "tau": minutes(tau),
         "size": {"places": 1 if p != "Q" else 2}, "max_run": most, "wait_inside": p != "R", "needs": [need("ovens", "load", "unload")],
         "after": [{"operation": "wind", "max": "2h"}]},
        {"id": "polish", "stations": "POLISH", "run": minutes(20 + 10 * (p == "Q")), "size": {"mounts": 1}, "needs": [need("ovens", "run", people=0.5)]}]}
    products = [product("P", "R1", "a", rng.choice([30, 40]), 5, "150m" if v == 2 else "4h"), product("Q", "R2", "a", 50, 15, "5h"),
                product("R", "R1", "b", 35, 10, "5h")]
    rows = [order("1", "P", 2 + v % 2, stamp(0, 14), 2), order("2", "Q", 1 + v // 4, stamp(0, 13), 3), order("3", "R", 1 + v % 2, stamp(0, 12 + v), 4, "event")]
    return plant(
        "4d", calendars=TWO_SHIFTS,
        stations=[{"id": "SPIN", "calendar": "long", "batch": {"capacity": {"spindles": 2}, "same": ["program"]},
                   "setups": [{"attribute": "program", "time": "20m"}], "initial": {"program": "b"}},
                  {"id": "SOLO", "calendar": "long", "setups": [{"attribute": "program", "time": "10m"}]},
                  {"id": "O", "calendar": "long", "unattended": True, "recipes": ["R1", "R2"], "batch": {"capacity": {"places": 3}, "same": ["recipe"]}},
                  {"id": "POLISH", "calendar": "long", "batch": {"capacity": {"mounts": 2 + v % 2}}}],
        crews=[crew("winders", ["winding"], ("long", 1)), crew("hands", ["ovens"], ("long", 1))],
        recipes=recipes, products=products), rows


def stops(rng, v):
    """Surveys, holidays, meetings and a change of the clocks cut the week up."""
    friday = v >= 3  # the weekend on which the clocks go forward
    day = 25 if friday else 0
    routing = lambda run: [
        {"id": "wind", "stations": "W", "load": "10m", "run": minutes(run), "needs": [need("winding", "load", "run")]},
        {"id": "cure", "stations": ["O1", "O2"], "load": "15m", "run": minutes(rng.choice([150, 180])), "unload": "15m", "wait_inside": True,
         "size": {"places": 1}, "needs": [need("ovens", "load", "unload")], "after": [{"operation": "wind", "max": "4h"}]},
        {"id": "trim", "stations": "BENCH", "run": minutes(rng.choice([45, 90])), "may_pause": True, "needs": [need("ovens", "run")]}]
    rows = [order("1", "P", 3, stamp(day + (4 if friday else 1), 9), 1), order("2", "Q", 2, stamp(day + (3 if friday else 1), 12), 3),
            order("3", "P", 1 + v % 2, stamp(day, 21), 2, "event", release=stamp(day, 8))]
    shifts = calendar("day", "06:00-14:00", breaks=["10:00-10:30"], holidays=[stamp(day + (3 if friday else 1), 0)[:10]] if v % 2 else [],
                      exceptions=[{"closed": stamp(day, 8), "for": "1h", "repeat": "FREQ=DAILY;COUNT=3", "why": "meeting"},
                                  {"open": stamp(day + 1, 15), "for": "3h", "why": "extra hours"}])
    long = calendar("long", "06:00-22:00", days="Mon-Sat" if friday else "Mon-Fri")
    shop = plant(
        "7d", calendars=[{k: x for k, x in shifts.items() if x != []}, long],
        stations=[{"id": "W", "calendar": "long", "stops": [{"from": stamp(day, 7), "for": "45m", "why": "service"}]},
                  {"id": "O1", "unattended": True, "calendar": "long", "batch": {"capacity": {"places": 2}},
                   "stops": [{"from": stamp(day, 11), "for": "3h", "repeat": "FREQ=DAILY;INTERVAL=2", "why": "survey"}]},
                  {"id": "O2", "unattended": True, "batch": {"capacity": {"places": 1}}}, {"id": "BENCH", "calendar": "day",
                   "stops": [{"from": stamp(day, 13), "for": "30m", "why": "cleaning"}]}],
        crews=[crew("winders", ["winding"], ("long", 1)), crew("hands", ["ovens"], ("long", 1))],
        products=[{"id": "P", "routing": routing(40)}, {"id": "Q", "routing": routing(60)}])
    shop["starts_at"] = stamp(day, 6)
    return shop, rows


def shared_people(rng, v):
    """Half people mind machines, several crews know a skill, and lunch is staggered."""
    job = lambda name, run, *needs, **more: {"id": name, "stations": more.pop("stations"), "run": minutes(run), "needs": list(needs), **more}
    products = [
        {"id": p, "routing": [
            job("wind", rng.choice([50, 70, 90]), need("winding", "load"), need("winding", "run", people=rng.choice([0.25, 0.5])), stations=["W1", "W2"], load="10m"),
            job("fit", rng.choice([30, 45]), need("fitting", "run", people=rng.choice([1, 2])), stations="BENCH"),
            job("prove", rng.choice([20, 30]), need("testing", "run"), need("fitting", "run", people=0.5), stations="TEST", load="5m", unload="5m",
                after=[{"operation": "wind", "from": "start", "min": "2h"}, "fit"])]} for p in "PQ"]
    rows = [order("1", "P", 3, stamp(0, 12), 1), order("2", "Q", 2 + v % 2, stamp(0, 11), 2), order("3", "P", 1 + v // 3, stamp(0, 10 + v % 2), 3, "event")]
    return plant(
        "5d", objective=DUE_ONLY if v % 2 else objective(flow=(2, 1)),
        calendars=[*TWO_SHIFTS, calendar("relief", "06:00-14:00", breaks=["09:30-09:45", "12:30-12:45"])],
        stations=[{"id": "W1", "calendar": "long"}, {"id": "W2", "calendar": "long"}, {"id": "BENCH", "calendar": "long", "places": 2}, {"id": "TEST", "calendar": "long"}],
        crews=[crew("winders", ["winding"], ("day", 1), ("relief", 1)), crew("fitters", ["fitting"], ("day", 1), ("relief", 1)),
               crew("handy", ["fitting", "testing", "winding"], ("relief", 1)), crew("testers", ["testing"], ("day", 1))],
        products=products), rows


def whole(rng, v):
    """A little of everything: wet wait, resin, mandrels, an oven, fixtures, changeovers, people, material and a split."""
    wind = {"stations": "W", "load": "10m", "mix": {"resin": "A", "mass": f"{rng.choice([300, 400])} g"},
            "needs": [need("winding", "load"), need("winding", "run", people=0.5)], "draws": [{"material": "tow", "quantity": "80 m"}]}
    routing = lambda p, run, hold: [
        {"id": "wind", **wind, "run": minutes(run), "attributes": {"program": p}, "takes": [{"tool": f"M-{p}", "until": "clean"}]},
        {"id": "cure", "stations": "O", "load": "10m", "unload": "10m", "recipe": "hot", "tau": minutes(5 if p == "P" else 20), "wait_inside": True,
         "size": {"places": 1, "mass": f"{8 if p == 'P' else 14} kg"}, "needs": [need("ovens", "load", "unload")],
         "after": [{"operation": "wind", "max": "90m"}]},
        {"id": "pull", "stations": "PULL", "run": "15m", "needs": [need("ovens", "run")], "after": [{"operation": "cure", "min": "20m"}]},
        {"id": "clean", "stations": "BENCH", "run": "20m", "may_pause": True, "needs": [need("ovens", "run", people=0.5)]},
        {"id": "prep", "stations": "BENCH", "run": "20m", "needs": [need("bonding", "run")], "after": ["pull"]},
        {"id": "bond", "stations": "CELL", "load": "15m", "run": minutes(hold), "unload": "5m", "wait_inside": True,
         "takes": [{"tool": "F", "until": "bond"}], "needs": [need("bonding", "load", "unload")],
         "after": [{"operation": "prep", "max": "2h"}, {"operation": "pull", "min": "30m"}]},
        {"id": "proof", "stations": "TEST", "run": "20m", "needs": [need("testing", "run")], "after": [{"operation": "bond", "min": "1h"}]}]
    products = [{"id": "P", "routing": routing("P", rng.choice([40, 50]), rng.choice([90, 120]))},
                {"id": "Q", "routing": routing("Q", rng.choice([60, 75]), rng.choice([120, 150]))}]
    rows = [order("1", "P", 2, stamp(1, 9), 2), order("2", "Q", 1 + v // 2 % 2, stamp(1, 7 + v % 2), 3, "event"),
            order("3", "P" if v % 2 else "Q", 1, stamp(1, 8), 1, release=stamp(0, 7))]
    return plant(
        "6d", objective=[DUE_ONLY, None, objective(oven=(2, 1), flow=(3, 1)), objective(setup_cost=(2, 1), discard=(3, 10)), None][v],
        calendars=[*TWO_SHIFTS, calendar("late", "13:30-22:00", breaks=["18:00-18:30"])],
        room={"ordinary": "20 C", "periods": [{"from": stamp(0, 9), "to": stamp(0, 12), "temperature": "28 C"}]},
        stations=[{"id": "MIX", "calendar": "long"},
                  {"id": "W", "calendar": "long", "setups": [{"attribute": "program", "time": "20m", "cost": 2}], "initial": {"program": "P"},
                   "setup_skill": "winding"},
                  {"id": "O", "calendar": "long", "unattended": True, "recipes": ["hot"], "batch": {"capacity": {"places": 3, "mass": "30 kg"}}},
                  {"id": "PULL", "calendar": "long"}, {"id": "BENCH", "calendar": "day", "places": 2},
                  {"id": "CELL", "calendar": "long", "unattended": True, "places": 2}, {"id": "TEST", "calendar": "day"}],
        crews=[crew("winders", ["winding", "mixing"], ("long", 1)), crew("hands", ["ovens"], ("long", 1)),
               crew("bonders", ["bonding"], ("day", 1), ("late", 1)), crew("tester", ["testing"], ("day", 1))],
        tools=[{"id": "M-P", "count": 2, "turnaround": "45m"}, {"id": "M-Q", "count": 1 + v % 2, "turnaround": "45m"},
               {"id": "F", "kind": "fixture", "count": 1 + v // 3, "turnaround": "15m"}],
        recipes=[{"id": "hot", "start": "25 C", "steps": [{"rate": "2 C/min", "to": "80 C", "dwell": "1h"}], "cool_rate": "2 C/min",
                  "open_at": "50 C", "tolerance": "3 C"}],
        resins=[{"id": "A", "pot_life": "150m", "at": "20 C", "halves_every": "10 C", "max_mass": "1300 g", "heel": "100 g", "mixing": "15m",
                 "station": "MIX", "skill": "mixing"}],
        materials=[{"id": "tow", "unit": "m", "stock": "250 m", "receipts": [{"at": stamp(0, 10), "quantity": "400 m"}]}],
        products=products), rows


def season(rng, v):
    """Some weeks of a whole shop: two winders, an oven, mandrels, resin, bond cells with fixtures, prepared ends, a tester."""
    pieces = 60 + 10 * v
    wind = {"stations": ["W1", "W2"], "load": "10m", "mix": {"resin": "A", "mass": f"{rng.choice([300, 350])} g"},
            "needs": [need("winding", "load"), need("winding", "run", people=0.5)]}
    routing = lambda p, run, hold: [
        {"id": "wind", **wind, "run": minutes(run), "attributes": {"program": p}, "takes": [{"tool": f"M-{p}", "until": "clean"}]},
        {"id": "cure", "stations": "O", "load": "10m", "unload": "10m", "recipe": "hot", "wait_inside": True,
         "size": {"places": 1 if p != "Q" else 2}, "needs": [need("ovens", "load", "unload")], "after": [{"operation": "wind", "max": "4h"}]},
        {"id": "pull", "stations": "PULL", "run": "15m", "needs": [need("ovens", "run")], "after": [{"operation": "cure", "min": "20m"}]},
        {"id": "clean", "stations": "BENCH", "run": "20m", "needs": [need("ovens", "run", people=0.5)]},
        {"id": "prep", "stations": "BENCH", "run": "20m", "needs": [need("bonding", "run")], "after": ["pull"]},
        {"id": "bond", "stations": "CELL", "load": "15m", "run": minutes(hold), "unload": "5m", "wait_inside": True,
         "takes": [{"tool": "F", "until": "bond"}], "needs": [need("bonding", "load", "unload")],
         "after": [{"operation": "prep", "max": "3h"}, {"operation": "pull", "min": "30m"}]},
        {"id": "proof", "stations": "TEST", "run": "20m", "needs": [need("testing", "run")], "after": [{"operation": "bond", "min": "1h"}]}]
    products = [{"id": p, "routing": routing(p, rng.choice(run), rng.choice(hold))}
                for p, run, hold in (("P", (40, 45, 50), (90, 120)), ("Q", (60, 70, 80), (120, 150)), ("R", (50, 55), (100, 120)))]
    days = pieces / 18  # what the shop does in a day, about
    rows, left, number = [], pieces, 0
    while left:
        number += 1
        quantity = min(left, rng.choice([1, 2, 3, 4, 4, 6, 8]))
        left -= quantity
        day = 1 + int(days * rng.random() * (1 + v % 3 * 0.15))
        day += day // 5 * 2 + (2 if day % 7 in (5, 6) else 0)
        event = rng.random() < 0.4
        rows.append(order(str(number), rng.choice("PPQR"), quantity, stamp(day, rng.choice([12, 14, 16])), rng.choice([1, 2, 3, 5]),
                          "event" if event else "firm"))
    return plant(
        f"{int(days * 2) + 10}d", objective=DUE_ONLY,
        calendars=[*TWO_SHIFTS, calendar("late", "13:30-22:00", breaks=["18:00-18:30"])],
        stations=[{"id": "MIX", "calendar": "long"},
                  *({"id": w, "calendar": "long", "setups": [{"attribute": "program", "time": "20m"}], "initial": {"program": "P"},
                     "setup_skill": "winding"} for w in ("W1", "W2")),
                  {"id": "O", "calendar": "long", "unattended": True, "recipes": ["hot"], "batch": {"capacity": {"places": 6}}},
                  {"id": "PULL", "calendar": "long"}, {"id": "BENCH", "calendar": "long", "places": 3},
                  {"id": "CELL", "calendar": "long", "unattended": True, "places": 5}, {"id": "TEST", "calendar": "day"}],
        crews=[crew("winders", ["winding", "mixing"], ("long", 2)), crew("hands", ["ovens"], ("long", 1)),
               crew("bonders", ["bonding"], ("day", 1), ("late", 1)), crew("tester", ["testing"], ("day", 1))],
        tools=[{"id": f"M-{p}", "count": n, "turnaround": "45m"} for p, n in (("P", 6), ("Q", 4), ("R", 4))]
        + [{"id": "F", "kind": "fixture", "count": 5, "turnaround": "15m"}],
        recipes=[{"id": "hot", "fixed": "150m"}],
        resins=[{"id": "A", "pot_life": "150m", "at": "20 C", "max_mass": "1300 g", "heel": "100 g", "mixing": "15m",
                 "station": "MIX", "skill": "mixing"}],
        products=products), rows


TINY = [wet_hold, mandrels, mixes, changeovers, pauses, split_tubes, bonding, material, shared_loads, stops, shared_people, whole]
