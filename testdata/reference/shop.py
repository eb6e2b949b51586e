# SPDX-License-Identifier: Apache-2.0
"""Reads plant.yaml and orders.csv into plain values for the reference model.

Written from resources/README.md alone, so that it is a second opinion: nothing
here is exported from the planner. What the model does not know (touching
stretches kept apart) stops the program; nothing is passed over in silence.

Times are seconds since 1970 (UTC) for instants and seconds for lengths, masses
grams, people and materials thousandths.
"""

import csv
import math
import re
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import yaml
from dateutil.rrule import rrulestr

DAYS = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
TERMS = {  # the default objective: level and weight
    "lost": (0, 1), "tardiness": (1, 1), "churn": (2, 1), "oven": (3, 100),
    "setup_time": (3, 5), "setup_cost": (0, 0), "discard": (3, 20), "flow": (3, 1),
}


class Text(yaml.SafeLoader):
    """YAML whose scalars all stay text; merges and aliases work."""


Text.yaml_implicit_resolvers = {"<": [("tag:yaml.org,2002:merge", re.compile(r"^<<$"))]}


class Unsupported(Exception):
    """The files say something the model does not know."""


def listed(value):
    return [] if value is None else value if isinstance(value, list) else [value]


def flag(value):
    return value == "true"


def length(text):
    """A length of time in seconds, parts of one rounded up."""
    text, sign = str(text).strip(), 1
    if text.startswith("-"):
        text, sign = text[1:], -1
    if text == "0":
        return 0
    total = Decimal(0)
    for amount, unit in re.findall(r"([\d.]+)\s*([wdhms])", text):
        total += Decimal(amount) * {"w": 604800, "d": 86400, "h": 3600, "m": 60, "s": 1}[unit]
    return sign * math.ceil(total)


def number(text):
    """The number a value with a unit begins with."""
    return Decimal(re.match(r"\s*(-?[\d.]+)", str(text)).group(1))


def mass(text):
    return int(number(text) * (1000 if "kg" in text else 1))


def thousandths(text):
    return int(number(text) * 1000)


def degrees_a_second(text):
    return float(number(text)) / (3600 if text.strip().endswith("/h") else 60)


def sizes(value):
    """Sizes by name: millimetres, grams or a plain count."""
    found = {}
    for name, text in (value or {}).items():
        if re.search(r"k?g$", text):
            found[name + "_g"] = mass(text)
        elif text.endswith("mm"):
            found[name + "_mm"] = int(number(text))
        elif text.endswith("m"):
            found[name + "_mm"] = int(number(text) * 1000)
        else:
            found[name] = int(text)
    return found


# Instants and calendars.


def local(zone, text):
    text = text.strip().replace("T", " ")
    for form in ("%Y-%m-%d %H:%M", "%Y-%m-%d %H:%M:%S"):
        try:
            return at(zone, datetime.strptime(text, form))
        except ValueError:
            pass
    raise ValueError(f"no local time: {text}")


def at(zone, naive):
    return int(naive.replace(tzinfo=zone).timestamp())


def clock(text):
    hour, minute = text.strip().split(":")
    return int(hour) * 3600 + int(minute) * 60


def hours(text, not_before=-1):
    start, end = (clock(part) for part in text.split("-"))
    if end <= start:
        end += 86400
    if start < not_before:
        start, end = start + 86400, end + 86400
    return start, end


def weekdays(value):
    on = set()
    for text in listed(value):
        if text == "daily":
            return set(range(7))
        first, _, last = text.partition("-")
        day, last = DAYS.index(first), DAYS.index(last or first)
        on.add(day)
        while day != last:
            day = (day + 1) % 7
            on.add(day)
    return on


def joined(spans):
    out = []
    for start, end in sorted(s for s in spans if s[0] < s[1]):
        if out and start <= out[-1][1]:
            out[-1][1] = max(out[-1][1], end)
        else:
            out.append([start, end])
    return [tuple(s) for s in out]


def without(spans, cuts):
    out = list(spans)
    for low, high in cuts:
        rest = []
        for start, end in out:
            rest += [(start, min(end, low)), (max(start, high), end)]
        out = [s for s in rest if s[0] < s[1]]
    return joined(out)


def common(first, second):
    return joined([(max(a, c), min(b, d)) for a, b in first for c, d in second])


def occurrences(zone, begin, rule, span, first, last):
    """Starts of something that is once at begin (naive), or repeats from there."""
    if not rule:
        return [at(zone, begin)]
    until = datetime.fromtimestamp(last, zone).replace(tzinfo=None) + timedelta(days=1)
    return [t for t in (at(zone, d) for d in rrulestr(rule, dtstart=begin).between(begin, until, inc=True))
            if t < last and t + span > first]


def exception_spans(zone, entry, key, first, last):
    if flag(entry.get("apart")):
        raise Unsupported("stretches kept apart")
    span = length(entry["for"])
    begin = datetime.strptime(entry[key].strip()[:16], "%Y-%m-%d %H:%M")
    return joined([(t, t + span) for t in occurrences(zone, begin, entry.get("repeat"), span, first, last)])


def open_hours(zone, calendar, first, last):
    """When a calendar is open between two instants."""
    day0 = datetime.fromtimestamp(first, zone).replace(tzinfo=None, hour=0, minute=0, second=0) - timedelta(days=8)
    spans = []
    for shift in listed(calendar.get("shifts")):
        on = weekdays(shift["days"])
        start, end = hours(shift["hours"])
        breaks = [hours(b, start) for b in listed(shift.get("breaks"))]
        work = without([(start, end)], joined(breaks))
        for n in range(int((last - first) / 86400) + 18):
            day = day0 + timedelta(days=n)
            if day.weekday() in on:
                spans += [tuple(at(zone, day + timedelta(seconds=s)) for s in w) for w in work]
    spans = joined(spans)
    for text in listed(calendar.get("holidays")):
        day = datetime.strptime(text, "%Y-%m-%d")
        spans = without(spans, [(at(zone, day), at(zone, day + timedelta(days=1)))])
    for entry in listed(calendar.get("exceptions")):
        if "open" in entry:
            spans = joined(spans + exception_spans(zone, entry, "open", first, last))
        else:
            spans = without(spans, exception_spans(zone, entry, "closed", first, last))
    return common(spans, [(first, last)])


def due(zone, shipping, text):
    """The last cut-off on a ship day not after what was asked."""
    shipping = shipping or {}
    cut = clock(shipping["cut_off"]) if "cut_off" in shipping else 0
    on = weekdays(shipping["days"]) if "days" in shipping else set(range(7))
    shut = set(listed(shipping.get("closed")))

    def leaves(day):
        return at(zone, day + timedelta(seconds=cut)) if cut else at(zone, day + timedelta(days=1)) - 1

    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        day = datetime.strptime(text, "%Y-%m-%d")
        asked = leaves(day)
    else:
        asked = local(zone, text)
        day = datetime.fromtimestamp(asked, zone).replace(tzinfo=None, hour=0, minute=0, second=0)
    if not shipping:
        return asked
    for _ in range(732):
        if day.weekday() in on and day.strftime("%Y-%m-%d") not in shut:
            out = leaves(day) if cut else min(leaves(day), asked)
            if out <= asked:
                return out
        day -= timedelta(days=1)
    return asked


# Cure, pot life and changeovers.


def cure_time(recipe, tau):
    """How long a load is closed whose slowest part follows the air with time
    constant tau: a first-order lag, T. L. Bergman and others, Fundamentals of
    Heat and Mass Transfer, chapter 5 (title from memory)."""
    if "fixed" in recipe:
        return length(recipe["fixed"])
    start = air = float(number(recipe["start"]))
    near = max(float(number(recipe["tolerance"])), 0.1)
    behind, total = 0.0, 0.0  # how far the part is behind the air

    def follow(behind, rate, seconds):
        if tau == 0:
            return 0.0
        return rate * tau + (behind - rate * tau) * math.exp(-seconds / tau)

    for step in listed(recipe["steps"]):
        to, rate = float(number(step["to"])), degrees_a_second(step["rate"])
        took = abs(to - air) / rate
        behind = follow(behind, math.copysign(rate, to - air), took)
        total, air = total + took, to
        if tau and abs(behind) > near:
            wait = tau * math.log(abs(behind) / near)
            behind, total = follow(behind, 0, wait), total + wait
        dwell = length(step["dwell"])
        behind, total = follow(behind, 0, dwell), total + dwell
    door, rate = max(float(number(recipe["open_at"])), start + near), degrees_a_second(recipe["cool_rate"])
    part = lambda t: (max(start, air - rate * t)  # while cooling, t after its begin
                      - (follow(behind, -rate, t) if air - rate * t >= start
                         else follow(follow(behind, -rate, (air - start) / rate), 0, t - (air - start) / rate)))
    if part(0) > door:
        early, late = 0.0, 1.0
        while part(late) > door:
            late *= 2
        for _ in range(100):
            middle = (early + late) / 2
            early, late = (middle, late) if part(middle) > door else (early, middle)
        total += late
    return math.ceil(total - 1e-6)


def pot_life(resin, celsius):
    """Arrhenius' law through the stated life, halved over halves_every degrees
    with the stated temperature in their middle; rounded down."""
    life = length(resin["pot_life"])
    halving = float(number(resin.get("halves_every", "0 C")))
    if halving <= 0:
        return life
    ref = float(number(resin["at"])) + 273.15
    energy = math.log(2) / (1 / (ref - halving / 2) - 1 / (ref + halving / 2))
    return math.floor(life * math.exp(energy * (1 / (celsius + 273.15) - 1 / ref)) + 1e-6)


def changeover(station, before, after):
    """Time and cost of setting a station up; before None is unknown."""
    times, costs = [0], [0]
    seen = set()
    for rule in station["setups"]:
        name = rule["attribute"]
        if before is None or name in seen:
            continue
        seen.add(name)
        a, b = before.get(name), after.get(name)
        best, rank = None, 0
        for r in station["setups"]:
            if r["attribute"] != name or not a or not b:
                continue
            fits = (r["from"], r["to"])
            this = {(a, b): 4, ("any", b): 3, (a, "any"): 2, ("any", "any"): 1}.get(fits, 0)
            if this < 4 and a == b:
                this = 0
            if this > rank:
                best, rank = r, this
        if best:
            times.append(best["time"])
            costs.append(best["cost"])
    total = sum if station["setup_sum"] else max
    return total(times), total(costs)


# The shop.


@dataclass
class Task:
    """One operation of one piece."""
    piece: "Piece"
    op: dict
    product: dict
    index: int = 0
    links: list = field(default_factory=list)  # (task, from_start, least, most or None)
    last: bool = False  # its end completes the order line


@dataclass
class Piece:
    serial: str
    line: dict
    shaft: bool = False
    sample: bool = False
    parent: "Piece" = None
    tasks: dict = field(default_factory=dict)  # by operation


class Shop:
    """The plant laid out from its starts_at to the end of its horizon, with
    the pieces of the orders and their operations."""

    def __init__(self, folder):
        with open(f"{folder}/plant.yaml", encoding="utf-8") as f:
            self.plant = plant = yaml.load(f, Text)
        self.zone = ZoneInfo(plant["zone"])
        self.now = local(self.zone, plant["starts_at"])
        self.end = self.now + length(plant.get("horizon", "26w"))
        self.objective = dict(TERMS)
        for term, value in plant.get("objective", {}).items():
            self.objective[term] = (int(value["level"]), int(value["weight"]))
        self.calendars = {c["id"]: open_hours(self.zone, c, self.now, self.end) for c in plant["calendars"]}
        self.stations = {s["id"]: self.station(s) for s in plant["stations"]}
        self.crews = {c["id"]: self.crew(c) for c in plant["crews"]}
        self.tools = {t["id"]: self.tool(t) for t in listed(plant.get("tools"))}
        self.recipes = {r["id"]: r for r in listed(plant.get("recipes"))}
        self.resins = {r["id"]: self.resin(r) for r in listed(plant.get("resins"))}
        self.materials = {m["id"]: self.material(m) for m in listed(plant.get("materials"))}
        self.products = {p["id"]: self.product(p) for p in plant["products"]}
        with open(f"{folder}/orders.csv", encoding="utf-8") as f:
            self.lines = [self.order_line(row) for row in csv.DictReader(f)]
        self.pieces = [p for line in self.lines for p in self.make(line)]
        self.tasks = [t for p in self.pieces for t in p.tasks.values()]
        for i, task in enumerate(self.tasks):
            task.index = i
        for task in self.tasks:
            self.link(task)

    def station(self, s):
        spans = self.calendars[s["calendar"]] if "calendar" in s else [(self.now, self.end)]
        stops = joined([x for stop in listed(s.get("stops"))
                        for x in exception_spans(self.zone, stop, "from", self.now, self.end)])
        return {
            "id": s["id"], "unattended": flag(s.get("unattended")), "places": int(s.get("places", 1)),
            "always": without([(self.now, self.end)], stops), "open": without(spans, stops),
            "capacity": sizes(s["batch"]["capacity"]) if "batch" in s else None,
            "same": listed(s["batch"].get("same")) if "batch" in s else [],
            "speed": Decimal(s.get("speed", "1")), "recipes": listed(s.get("recipes")), "limits": sizes(s.get("limits")),
            "setup_skill": s.get("setup_skill"), "setup_share": thousandths(s.get("setup_people", "1")),
            "setup_sum": flag(s.get("setup_sum")), "initial": s.get("initial"),
            "setups": [{"attribute": r["attribute"], "from": r.get("from", "any"), "to": r.get("to", "any"),
                        "time": length(r["time"]), "cost": int(r.get("cost", 0))} for r in listed(s.get("setups"))],
        }

    def crew(self, c):
        change = {}
        for shift in listed(c["shifts"]):
            for start, end in self.calendars[shift["calendar"]]:
                change[start] = change.get(start, 0) + 1000 * int(shift["heads"])
                change[end] = change.get(end, 0) - 1000 * int(shift["heads"])
        levels, head, times = [], 0, sorted(change)
        for t, following in zip(times, times[1:]):
            head += change[t]
            if levels and levels[-1][2] == head and levels[-1][1] == t:
                levels[-1] = (levels[-1][0], following, head)
            else:
                levels.append((t, following, head))
        return {"id": c["id"], "skills": listed(c["skills"]), "levels": [x for x in levels if x[2] > 0]}

    def tool(self, t):
        units = listed(t.get("units")) or [f"{t['id']}-{i + 1}" for i in range(int(t["count"]))]
        return {"id": t["id"], "units": units, "turnaround": length(t.get("turnaround", "0"))}

    def resin(self, r):
        room = self.plant.get("room", {})
        ordinary = float(number(room.get("ordinary", "20 C")))
        changes = [(self.now, ordinary)]
        for p in listed(room.get("periods")):
            changes += [(local(self.zone, p["from"]), float(number(p["temperature"]))), (local(self.zone, p["to"]), ordinary)]
        if "bath" in r:
            changes = [(self.now, float(number(r["bath"])))]
        return {
            "id": r["id"], "life": [(t, pot_life(r, c)) for t, c in sorted(changes)], "most": mass(r["max_mass"]),
            "heel": mass(r.get("heel", "0 g")), "mixing": length(r["mixing"]), "station": r["station"],
            "skill": r.get("skill"), "share": thousandths(r.get("people", "1")),
        }

    def material(self, m):
        receipts = sorted((local(self.zone, r["at"]), thousandths(r["quantity"])) for r in listed(m.get("receipts")))
        return {"id": m["id"], "stock": thousandths(m["stock"]), "receipts": receipts}

    def product(self, p):
        routing, before = [], None
        for o in p["routing"]:
            routing.append(self.operation(p, o, before))
            before = o["id"]
        followed = {link["operation"] for o in routing if o["per"] != "sample" for link in o["after"]}
        gives = {until for o in routing for _, until in o["takes"] if until != o["id"]}
        last = [o for o in routing if o["per"] != "sample" and o["id"] not in followed and o["id"] not in gives]
        if not last:
            last = [o for o in routing if o["per"] != "sample" and o["id"] not in followed]
        return {"id": p["id"], "samples": int(p.get("samples", 0)), "routing": routing,
                "by": {o["id"]: o for o in routing}, "last": {o["id"] for o in last},
                "split": next((o["split"] for o in routing if o["split"]), 0)}

    def operation(self, p, o, before):
        after = [{"operation": before}] if "after" not in o and before else \
                [a if isinstance(a, dict) else {"operation": a} for a in listed(o.get("after"))]
        needs = {}
        for n in listed(o.get("needs")):
            for part in listed(n["parts"]):
                key = (part, n["skill"])
                needs[key] = needs.get(key, 0) + thousandths(n.get("people", "1"))
        dimensions = sizes(p.get("dimensions"))
        stations = [s for s in (self.stations[x] for x in listed(o["stations"]))
                    if all(dimensions[d] <= limit for d, limit in s["limits"].items())
                    and ("recipe" not in o or o["recipe"] in s["recipes"])]
        attributes = dict(o.get("attributes") or {})
        group = None
        if "recipe" in o:
            group = self.recipes[o["recipe"]].get("group", o["recipe"])
        return {
            "id": o["id"], "per": o.get("per", "tube"), "skip_sample": flag(o.get("skip_sample")), "split": int(o.get("split", 0)),
            "stations": [s["id"] for s in stations], "run": {s["id"]: self.run_time(o, s) for s in stations},
            "load": length(o.get("load", "0")), "load_each": length(o.get("load_each", "0")),
            "unload": length(o.get("unload", "0")), "unload_each": length(o.get("unload_each", "0")),
            "max_run": length(o.get("max_run", "0")), "may_pause": flag(o.get("may_pause")), "wait_inside": flag(o.get("wait_inside")),
            "needs": needs, "after": after, "size": sizes(o.get("size")), "attributes": attributes, "recipe": o.get("recipe"), "group": group,
            "setup": {"recipe": o["recipe"], **attributes} if "recipe" in o else attributes,
            "takes": [(t["tool"], t["until"]) for t in listed(o.get("takes"))],
            "draws": [(d["material"], thousandths(d["quantity"])) for d in listed(o.get("draws"))],
            "mix": (o["mix"]["resin"], mass(o["mix"]["mass"])) if "mix" in o else None,
        }

    def run_time(self, o, s):
        if s["id"] in o.get("run_at", {}):
            return length(o["run_at"][s["id"]])
        if "recipe" in o:
            return cure_time(self.recipes[o["recipe"]], length(o.get("tau", "0")))
        return math.ceil(length(o.get("run", "0")) / s["speed"] - Decimal("0.000001"))

    def order_line(self, row):
        release = (row.get("earliest_start") or "").strip()
        return {
            "order": row["order"].strip(), "line": (row.get("line") or "").strip() or "1", "product": self.products[row["product"].strip()],
            "quantity": int(row["quantity"]), "due": due(self.zone, self.plant.get("shipping"), row["ship_by"].strip()),
            "weight": int(row.get("weight") or 1), "event": (row.get("kind") or "firm").strip() == "event",
            "release": local(self.zone, release if ":" in release else release + " 00:00") if release else 0,
        }

    def make(self, line):
        """The pieces of a line: the customer's first, then the samples; tubes
        are numbered, and a tube that is cut gives so many shafts in turn."""
        product, pieces = line["product"], []
        serial = lambda n: f"{line['order']}-{line['line']}-{n:02d}"
        count, split = line["quantity"] + product["samples"], product["split"]
        for i in range(count):
            sample = i >= line["quantity"]
            if not split:
                pieces.append(Piece(serial(i + 1), line, sample=sample))
                continue
            if i % split == 0:
                tube = Piece(serial(i // split + 1), line)
                pieces.append(tube)
            pieces.append(Piece(f"{tube.serial}.{i % split + 1}", line, shaft=True, sample=sample, parent=tube))
        for p in pieces:
            for op in product["routing"]:
                if op["per"] == "sample" and not p.sample or op["skip_sample"] and p.sample:
                    continue
                if not split or p.shaft == (op["per"] != "tube"):
                    p.tasks[op["id"]] = Task(p, op, product, last=op["id"] in product["last"] and not p.sample)
        line["pieces"] = pieces
        return pieces

    def link(self, task):
        for a in task.op["after"]:
            most = length(a["max"]) if "max" in a else None
            for source in self.sources(task, a["operation"]):
                task.links.append((source, a.get("from") == "start", length(a.get("min", "0")), most))

    def sources(self, task, name):
        """The tasks an operation's name stands for, seen from a task: on the
        same piece; on the tube for a shaft; on every shaft for a tube; and one
        that only samples pass, on every sample of the line."""
        piece, per = task.piece, task.product["by"][name]["per"]
        mates = piece.line["pieces"]
        if per == "sample" and not piece.sample:
            return [p.tasks[name] for p in mates if p.sample and name in p.tasks]
        if name in piece.tasks:
            return [piece.tasks[name]]
        if piece.parent and per == "tube" and name in piece.parent.tasks:
            return [piece.parent.tasks[name]]
        if not piece.shaft and task.product["split"] and per != "tube":
            return [p.tasks[name] for p in mates if p.parent is piece and name in p.tasks]
        return []
