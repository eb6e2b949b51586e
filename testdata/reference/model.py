# SPDX-License-Identifier: Apache-2.0
"""The whole problem of a shop as a constraint model for OR-Tools CP-SAT.

A *stay* is what occupies a place of a station: one task on a plain station, a
load of tasks on a batch station, or a mix in the making. A load is known by its
member of lowest index (its representative), a mix by its first user, so that
equal solutions are written in one way only. Time is counted from now in the
greatest unit that divides every number of the shop, which loses nothing: with
all decisions taken, what is left is a system of differences of times with whole
right-hand sides.
"""

import math
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from shop import Unsupported, changeover, common, joined

PARTS = ("setup", "load", "run", "unload")


@dataclass
class Stay:
    """Where and when a task or load may be; times are expressions in units."""
    station: dict
    on: object  # literal
    tasks: list  # possible members, the representative first
    ins: dict  # their literals, by task index
    setup_at: object = None
    setup: object = 0
    start: object = None
    run: object = None
    run_end: object = None
    unload: object = None
    end: object = None
    lengths: dict = field(default_factory=dict)  # by part: (expression, constant or None)
    place: list = field(default_factory=list)  # literals where places must be told apart
    people: list = field(default_factory=list)  # (part, skill, share, crew, literal)


class Model:
    def __init__(self, shop):
        self.shop, self.m = shop, cp_model.CpModel()
        self.unit = self.greatest_unit()
        self.h = (shop.end - shop.now) // self.unit
        self.stays, self.uses, self.mixes, self.costs = [], {c: [] for c in shop.crews}, [], []
        self.occupied = {s: [] for s in shop.stations}  # intervals
        self.S, self.U, self.R, self.E = ([self.time(f"{k}{t.index}") for t in shop.tasks] for k in "SURE")
        self.options = {t.index: [] for t in shop.tasks}
        self.setup_time, self.oven = [], []
        for t in shop.tasks:
            for s in t.op["stations"]:
                if shop.stations[s]["capacity"] is None:
                    self.single(t, shop.stations[s])
        for s in shop.stations.values():
            if s["capacity"] is not None:
                self.loads(s)
        for t in shop.tasks:
            self.m.add_exactly_one(self.options[t.index])
        self.links()
        self.mixing()
        self.changeovers()
        for y in self.stays:
            self.hours(y)
            self.people(y)
        self.places()
        self.crews()
        self.tools()
        self.stock()
        self.symmetry()
        self.levels = self.objective()

    # Time.

    def greatest_unit(self):
        shop, g = self.shop, 0
        marks = [shop.end] + [x for s in shop.stations.values() for w in s["open"] + s["always"] for x in w]
        marks += [x for c in shop.crews.values() for a, b, _ in c["levels"] for x in (a, b)]
        marks += [l["due"] for l in shop.lines] + [l["release"] for l in shop.lines if l["release"]]
        marks += [t for mat in shop.materials.values() for t, _ in mat["receipts"]]
        for t in marks:
            g = math.gcd(g, t - shop.now)
        spans = [r["mixing"] for r in shop.resins.values()] + [x["turnaround"] for x in shop.tools.values()]
        spans += [y for r in shop.resins.values() for t, life in r["life"] for y in (life, t - shop.now)]
        for t in shop.tasks:
            spans += [t.op[k] for k in ("load", "load_each", "unload", "unload_each", "max_run")] + list(t.op["run"].values())
            spans += [x for _, _, least, most in t.links for x in (least, most or 0)]
        spans += [r["time"] for s in shop.stations.values() for r in s["setups"]]
        for x in spans:
            g = math.gcd(g, x)
        return g

    def q(self, seconds):
        return seconds // self.unit

    def windows(self, spans):
        return [(self.q(a - self.shop.now), self.q(b - self.shop.now)) for a, b in spans]

    def time(self, name):
        return self.m.new_int_var(0, self.h, name)

    def yes(self, name):
        return self.m.new_bool_var(name)

    def within(self, low, high, spans, on, length=None, least=0):
        """[low, high) lies in one of the spans. length: when constant."""
        spans = [w for w in spans if w[1] - w[0] >= (length if length is not None else least)]
        if not spans:
            self.m.add_bool_and([~on])
        elif spans == [(0, self.h)]:
            return
        elif length is not None:
            domain = cp_model.Domain.from_intervals([[a, b - length] for a, b in spans])
            self.m.add_linear_expression_in_domain(low, domain).only_enforce_if(on)
        else:
            pick = [self.yes("w") for _ in spans]
            self.m.add(sum(pick) == on)
            for (a, b), lit in zip(spans, pick):
                self.m.add(low >= a).only_enforce_if(lit)
                self.m.add(high <= b).only_enforce_if(lit)

    # Stays.

    def single(self, t, s):
        on = self.yes(f"on{t.index}{s['id']}")
        self.options[t.index].append(on)
        self.stay(Stay(s, on, [t], {t.index: on}))

    def fit(self, s, tasks):
        return all(sum(t.op["size"].get(d, 0) for t in tasks) <= room for d, room in s["capacity"].items())

    def company(self, s, t):
        """What members of a load agree in."""
        shared = lambda key: t.op["group"] if key == "recipe" and t.op["group"] else t.op["attributes"].get(key)
        return tuple(shared(k) for k in [*s["same"], "recipe"])

    def loads(self, s):
        tasks = [t for t in self.shop.tasks if s["id"] in t.op["stations"]]
        for n, r in enumerate(tasks):
            mates = [t for t in tasks[n + 1:] if self.company(s, t) == self.company(s, r) and self.fit(s, [r, t])
                     and not (t.op["mix"] and r.op["mix"] and t.op["mix"][0] != r.op["mix"][0])]
            ins = {t.index: self.yes(f"in{t.index}_{r.index}{s['id']}") for t in [r, *mates]}
            on = ins[r.index]
            for t in mates:
                lit = ins[t.index]
                self.m.add_implication(lit, on)
                for var in (self.S, self.U, self.R, self.E):
                    self.m.add(var[t.index] == var[r.index]).only_enforce_if(lit)
            for i, lit in ins.items():
                self.options[i].append(lit)
            for d, room in s["capacity"].items():
                self.m.add(sum(t.op["size"].get(d, 0) * ins[t.index] for t in [r, *mates]) <= room * on)
            self.stay(Stay(s, on, [r, *mates], ins))

    def same(self, y, key):
        values = {key(t) for t in y.tasks}
        if len(values) > 1:
            raise Unsupported(f"loads of {y.station['id']} whose members differ in pauses or people")
        return values.pop()

    def duration(self, y, longest, each):
        """The longest member's time, and the sum of what is added for each."""
        values = {t.index: self.q(longest(t)) for t in y.tasks}
        adds = {t.index: self.q(each(t)) for t in y.tasks}
        if len(y.tasks) == 1:
            total = values[y.tasks[0].index] + adds[y.tasks[0].index]
            return total, total
        most = max(values.values())
        if len(set(values.values())) > 1:
            top = self.m.new_int_var(0, most, "top")
            self.m.add_max_equality(top, [values[i] * lit for i, lit in y.ins.items()])
        else:
            top = most
        if not any(adds.values()):
            return top, None if top is not most else most
        total = self.m.new_int_var(0, most + sum(adds.values()), "total")
        self.m.add(total == top + sum(adds[i] * lit for i, lit in y.ins.items())).only_enforce_if(y.on)
        self.m.add(total == 0).only_enforce_if(~y.on)
        return total, None

    def stay(self, y):
        m, r, s = self.m, y.tasks[0], y.station["id"]
        i = r.index
        y.start, y.setup_at, y.run_end, y.end = self.S[i], self.U[i], self.R[i], self.E[i]
        y.lengths["load"] = self.duration(y, lambda t: t.op["load"], lambda t: t.op["load_each"])
        y.lengths["run"] = self.duration(y, lambda t: t.op["run"][s], lambda t: 0)
        y.lengths["unload"] = self.duration(y, lambda t: t.op["unload"], lambda t: t.op["unload_each"])
        (load, fixed), (run, _), (unload, _) = (y.lengths[p] for p in PARTS[1:])
        if fixed is not None:
            y.run = y.start + fixed
        else:
            y.run = self.time(f"run{i}")
            m.add(y.run == y.start + load).only_enforce_if(y.on)
        y.pauses = self.same(y, lambda t: t.op["may_pause"])
        if not y.pauses:
            m.add(y.run_end == y.run + run).only_enforce_if(y.on)
        for t in y.tasks:
            most = self.q(t.op["max_run"])
            if most and y.lengths["run"][1] is not None and y.lengths["run"][1] > most:
                m.add_bool_and([~y.ins[t.index]])
            elif most:
                m.add(run <= most).only_enforce_if(y.ins[t.index])
        waits = [t for t in y.tasks if t.op["wait_inside"]]
        if waits:
            y.unload = self.time(f"un{i}")
            m.add(y.unload >= y.run_end).only_enforce_if(y.on)
            for t in y.tasks:
                if not t.op["wait_inside"]:
                    m.add(y.unload == y.run_end).only_enforce_if(y.ins[t.index])
        else:
            y.unload = y.run_end
        m.add(y.end == y.unload + unload).only_enforce_if(y.on)
        if y.station["capacity"] is not None:
            if y.pauses:
                spent = self.time("oven")
                m.add(spent >= y.run_end - y.run).only_enforce_if(y.on)
                self.oven.append(spent)
            elif isinstance(run, int):
                self.oven.append(run * y.on)
            else:
                self.oven.append(run)
        self.stays.append(y)

    def links(self):
        for t in self.shop.tasks:
            release = t.piece.line["release"]
            if release > self.shop.now:
                self.m.add(self.S[t.index] >= self.q(release - self.shop.now))
            for source, from_start, least, most in t.links:
                begin = (self.S if from_start else self.E)[source.index]
                self.m.add(self.S[t.index] >= begin + self.q(least))
                if most is not None:
                    self.m.add(self.S[t.index] <= begin + self.q(most))

    # Changeovers: a tour along each place.

    def changeovers(self):
        for s in self.shop.stations.values():
            here = [y for y in self.stays if y.station is s]
            for y in here:
                if s["setups"] and len({tuple(sorted(t.op["setup"].get(r["attribute"], "") for r in s["setups"])) for t in y.tasks}) > 1:
                    raise Unsupported(f"loads of {s['id']} whose members differ in what it is set up for")
            if not s["setups"]:
                for y in here:
                    self.m.add(y.setup_at == y.start).only_enforce_if(y.on)
                continue
            if any(r["station"] == s["id"] for r in self.shop.resins.values()):
                raise Unsupported("changeovers in a mix room")
            self.tours(s, here)

    def tours(self, s, here):
        m, places = self.m, s["places"]
        into = {j: [] for j in range(len(here))}  # (time, cost, literal)
        for y in here:
            y.place = [y.on] if places == 1 else [self.yes("place") for _ in range(places)]
            if places > 1:
                m.add(sum(y.place) == y.on)
        change = lambda a, j: changeover(s, a, here[j].tasks[0].op["setup"])
        for k in range(places):
            arcs, idle = [], self.yes("idle")
            arcs.append((0, 0, idle))
            for j, y in enumerate(here):
                first, last = self.yes("first"), self.yes("last")
                arcs += [(0, j + 1, first), (j + 1, 0, last), (j + 1, j + 1, ~y.place[k])]
                m.add_implication(idle, ~y.place[k])
                into[j].append((*change(s["initial"], j), first))
                for i, before in enumerate(here):
                    if i == j:
                        continue
                    lit = self.yes("arc")
                    arcs.append((i + 1, j + 1, lit))
                    into[j].append((*change(before.tasks[0].op["setup"], j), lit))
                    m.add(y.setup_at >= before.end).only_enforce_if(lit)
            m.add_circuit(arcs)
        for j, y in enumerate(here):
            most = self.q(max(t for t, _, _ in into[j]))
            y.setup = m.new_int_var(0, most, "setup")
            m.add(y.setup == sum(self.q(t) * lit for t, _, lit in into[j]))
            m.add(y.setup_at + y.setup == y.start).only_enforce_if(y.on)
            y.changed = self.yes("changed")
            m.add(sum(lit for t, _, lit in into[j] if t > 0) == y.changed)
            self.setup_time.append(y.setup)
            self.costs += [cost * lit for _, cost, lit in into[j] if cost]

    # Calendars, places and people.

    def hours(self, y):
        """When the station is open. Unattended parts of a station that may run
        so only keep clear of its stops."""
        s, fixed = y.station, {p: c for p, (_, c) in y.lengths.items()}
        open_, always = self.windows(s["open"]), self.windows(s["always"])
        setup_fixed = 0 if isinstance(y.setup, int) else None
        if not s["unattended"]:
            parts = [fixed["load"]] + ([] if y.pauses else [fixed["run"]])
            length = None if setup_fixed is None or None in parts else sum(parts)
            stop = y.run if y.pauses else y.run_end
            if length != 0:
                self.within(y.setup_at, stop, open_, y.on, length)
            if fixed["unload"] != 0:
                self.within(y.unload, y.end, open_, y.on, fixed["unload"])
            return
        attended = {part for t in y.tasks for part, _ in t.op["needs"]}
        if s["setup_skill"] and setup_fixed is None:
            self.within(y.setup_at, y.start, open_, y.changed)
        elif setup_fixed is None:
            self.within(y.setup_at, y.start, always, y.changed)
        ends = {"load": (y.start, y.run), "run": (y.run, y.run_end), "unload": (y.unload, y.end)}
        for part, (low, high) in ends.items():
            if fixed[part] != 0 and not (part == "run" and y.pauses):
                self.within(low, high, open_ if part in attended else always, y.on, fixed[part])

    def people(self, y):
        needs = self.same(y, lambda t: tuple(sorted(t.op["needs"].items())))
        ends = {"load": (y.start, y.run), "run": (y.run, y.run_end), "unload": (y.unload, y.end)}
        crewless = True
        for (part, skill), share in needs:
            length, fixed = y.lengths[part]
            if fixed == 0:
                continue
            if part == "run" and y.pauses:
                if not crewless:
                    raise Unsupported("two skills in a run that may pause")
                crewless = False
            for crew, lit in self.choose(y, part, skill, share, y.on):
                if part == "run" and y.pauses:
                    self.paused(y, lit, crew, share)
                else:
                    self.book(crew, ends[part][0], ends[part][1], length, fixed, lit, share)
        if y.station["setup_skill"] and not isinstance(y.setup, int):
            for crew, lit in self.choose(y, "setup", y.station["setup_skill"], y.station["setup_share"], y.changed):
                self.book(crew, y.setup_at, y.start, y.setup, None, lit, y.station["setup_share"])
        if y.pauses and crewless:
            self.paused(y, y.on, None, 0)

    def choose(self, y, part, skill, share, on):
        """One crew with the skill, and a literal for each that may be it."""
        crews = [c for c in self.shop.crews.values() if skill in c["skills"]]
        lits = [on] if len(crews) == 1 else [self.yes("crew") for _ in crews]
        if len(crews) != 1:
            self.m.add(sum(lits) == on)
        y.people += [(part, skill, share, c["id"], lit) for c, lit in zip(crews, lits)]
        return list(zip(crews, lits))

    def book(self, crew, low, high, length, fixed, lit, share):
        spans = joined([(a, b) for a, b, head in crew["levels"] if head >= share])
        self.within(low, high, self.windows(spans), lit, fixed)
        size = length if fixed is None else fixed
        self.uses[crew["id"]].append((self.m.new_optional_interval_var(low, size, high, lit, "use"), share))

    def paused(self, y, on, crew, share):
        """A run that stops while station or crew is away: working time from run
        to run end is the run's length, counted over stretches when both are
        there. The crew is free for others in between."""
        m, s = self.m, y.station
        spans = s["always"] if s["unattended"] and crew is None else s["open"]
        if crew is not None:
            spans = common(spans, joined([(a, b) for a, b, _ in crew["levels"]]))
        spans = self.windows(spans)
        if not spans:
            m.add_bool_and([~on])
            return
        need, _ = y.lengths["run"]
        before = [sum(b - a for a, b in spans[:k]) for k in range(len(spans))]
        first, last = ([self.yes("p") for _ in spans] for _ in range(2))
        m.add(sum(first) == on)
        m.add(sum(last) == on)
        inside = [self.yes("i") for _ in spans]  # it begins within the stretch, not before it
        begun = self.m.new_int_var(0, before[-1] + spans[-1][1] - spans[-1][0], "begun")
        for k, (a, b) in enumerate(spans):
            previous = spans[k - 1][1] if k else 0
            m.add(y.run >= previous).only_enforce_if(first[k])
            m.add(y.run < b).only_enforce_if(first[k])
            m.add_implication(inside[k], first[k])
            m.add(y.run >= a).only_enforce_if(inside[k])
            m.add(y.run <= a).only_enforce_if(first[k], ~inside[k])
            m.add(begun == before[k] + y.run - a).only_enforce_if(inside[k])
            m.add(begun == before[k]).only_enforce_if(first[k], ~inside[k])
            m.add(y.run_end > a).only_enforce_if(last[k])
            m.add(y.run_end <= b).only_enforce_if(last[k])
            m.add(y.run_end == a - before[k] + begun + need).only_enforce_if(last[k])
        if crew is None:
            return
        if spans == self.windows(joined([(a, b) for a, b, _ in crew["levels"]])):
            # Away together: nobody else can want the crew in the pauses.
            size = self.m.new_int_var(0, self.h, "paused")
            self.uses[crew["id"]].append((m.new_optional_interval_var(y.run, size, y.run_end, on, "use"), share))
            return
        for k, (a, b) in enumerate(spans):
            lit = self.yes("stretch")
            m.add(sum(first[:k + 1]) - sum(last[:k]) == lit)
            low, high = m.new_int_var(a, b, "low"), m.new_int_var(a, b, "high")
            m.add(low == y.run).only_enforce_if(inside[k])
            m.add(low == a).only_enforce_if(lit, ~inside[k])
            m.add(high == y.run_end).only_enforce_if(last[k])
            m.add(high == b).only_enforce_if(lit, ~last[k])
            size = m.new_int_var(0, b - a, "size")
            self.uses[crew["id"]].append((m.new_optional_interval_var(low, size, high, lit, "use"), share))

    def places(self):
        for y in self.stays:
            fixed = [c for _, c in y.lengths.values()]
            loose = None in fixed or y.pauses or y.unload is not y.run_end or not isinstance(y.setup, int)
            size = self.m.new_int_var(0, self.h, "stay") if loose else sum(fixed)
            for lit in y.place or [y.on]:
                self.occupied[y.station["id"]].append(self.m.new_optional_interval_var(y.setup_at, size, y.end, lit, "stay"))
        for s, intervals in self.occupied.items():
            places = self.shop.stations[s]["places"]
            if places == 1:
                self.m.add_no_overlap(intervals)
            else:
                self.m.add_cumulative(intervals, [1] * len(intervals), places)

    def crews(self):
        for name, uses in self.uses.items():
            levels = self.shop.crews[name]["levels"]
            most = max((head for _, _, head in levels), default=0)
            intervals, shares = [i for i, _ in uses], [s for _, s in uses]
            for a, b, head in levels:
                if head < most:
                    (low, high), = self.windows([(a, b)])
                    intervals.append(self.m.new_interval_var(low, high - low, high, "fewer"))
                    shares.append(most - head)
            self.m.add_cumulative(intervals, shares, most)

    # Resin, tools and material.

    def mixing(self):
        for resin in self.shop.resins.values():
            users = [t for t in self.shop.tasks if t.op["mix"] and t.op["mix"][0] == resin["id"]]
            draw = {}
            for n, r in enumerate(users):
                mix = {t.index: self.yes(f"mix{t.index}_{r.index}") for t in users[n:]}
                draw[r.index] = mix
                on = mix[r.index]
                for i, lit in mix.items():
                    self.m.add_implication(lit, on)
                grams = sum(t.op["mix"][1] * mix[t.index] for t in users[n:])
                self.m.add(grams <= (resin["most"] - resin["heel"]) * on)
                self.mix(resin, users[n:], mix)
            for t in users:
                self.m.add_exactly_one([draw[r.index][t.index] for r in users if t.index in draw[r.index]])
            for y in self.stays:
                for i, lit in y.ins.items():
                    if i == y.tasks[0].index or i not in {t.index for t in users} or y.tasks[0].index not in {t.index for t in users}:
                        continue
                    for mix in draw.values():
                        a, b = mix.get(i, 0), mix.get(y.tasks[0].index, 0)
                        if not (isinstance(a, int) and isinstance(b, int)):
                            self.m.add(a == b).only_enforce_if(lit)

    def mix(self, resin, users, mix):
        m, on = self.m, mix[users[0].index]
        s, length = self.shop.stations[resin["station"]], self.q(resin["mixing"])
        start = self.time("mix")
        attended = bool(resin["skill"])
        y = Stay(s, on, users, mix, start=start, end=start + length)
        y.resin = resin
        self.within(start, start + length, self.windows(s["open"] if attended or not s["unattended"] else s["always"]), on, length)
        self.occupied[s["id"]].append(m.new_optional_fixed_size_interval_var(start, length, on, "mix"))
        if attended:
            for crew, lit in self.choose(y, "mix", resin["skill"], resin["share"], on):
                self.book(crew, start, start + length, length, length, lit, resin["share"])
        lives = resin["life"]
        y.life = life = m.new_int_var(0, self.q(max(x for _, x in lives)), "life")
        spans = [(self.q(t - self.shop.now), v) for t, v in lives]
        warm = [self.yes("warm") for _ in spans]
        m.add_exactly_one(warm)
        for k, (t, v) in enumerate(spans):
            until = spans[k + 1][0] - 1 if k + 1 < len(spans) else self.h
            if until < max(0, t):
                m.add_bool_and([~warm[k]])
                continue
            m.add(start + length >= max(0, t)).only_enforce_if(warm[k])
            m.add(start + length <= until).only_enforce_if(warm[k])
            m.add(life == self.q(v)).only_enforce_if(warm[k])
        for i, lit in mix.items():
            m.add(self.S[i] >= start + length).only_enforce_if(lit)
            m.add(self.R[i] <= start + length + life).only_enforce_if(lit)
        self.mixes.append(y)

    def tools(self):
        self.holds = {name: [] for name in self.shop.tools}
        for t in self.shop.tasks:
            for tool, until in t.op["takes"]:
                back = self.E[(self.shop.sources(t, until) or [t])[0].index]
                high = back + self.q(self.shop.tools[tool]["turnaround"])
                size = self.m.new_int_var(0, 2 * self.h, "hold")
                self.holds[tool].append((t, self.m.new_interval_var(self.U[t.index], size, high, "hold"), high))
        for name, holds in self.holds.items():
            self.m.add_cumulative([i for _, i, _ in holds], [1] * len(holds), len(self.shop.tools[name]["units"]))

    def stock(self):
        for material in self.shop.materials.values():
            draws = [(t, q) for t in self.shop.tasks for name, q in t.op["draws"] if name == material["id"]]
            there = material["stock"]
            for when, quantity in material["receipts"]:
                early = []
                for t, q in draws:
                    lit = self.yes("early")
                    self.m.add(self.S[t.index] >= self.q(when - self.shop.now)).only_enforce_if(~lit)
                    early.append(q * lit)
                if early:
                    self.m.add(sum(early) <= there)
                there += quantity
            self.m.add(sum(q for _, q in draws) <= there)

    def symmetry(self):
        """Pieces of one order line that differ in nothing start in turn."""
        alike = {}
        for p in self.shop.pieces:
            if not p.tasks:
                continue
            kind = (p.line["order"], p.line["line"], p.shaft, p.sample, p.parent.serial if p.parent else "")
            if not p.shaft:
                children = [c.sample for c in p.line["pieces"] if c.parent is p]
                kind += (sum(children), len(children))
            alike.setdefault(kind, []).append(p)
        for pieces in alike.values():
            for a, b in zip(pieces, pieces[1:]):
                first = [next(iter(p.tasks.values())).index for p in (a, b)]
                self.m.add(self.S[first[0]] <= self.S[first[1]])

    # What the plan costs.

    def objective(self):
        """The terms of each level that matters, as expressions."""
        m, unit, goal = self.m, self.unit, self.shop.objective
        terms = {name: [] for name in goal}
        orders = {}
        for line in self.shop.lines:
            orders.setdefault(line["order"], []).append(line)
        for lines in orders.values():
            self.dates(lines, terms)
        terms["oven"] = [unit * x for x in self.oven]
        terms["setup_time"] = [unit * x for x in self.setup_time]
        terms["setup_cost"] = self.costs
        terms["discard"] = [y.resin["heel"] * y.on for y in self.mixes]
        if goal["flow"][1]:
            terms["flow"] = [unit * self.flow(p) for p in self.shop.pieces if p.tasks]
        levels = {}
        for name, (level, weight) in goal.items():
            if weight and terms[name]:
                levels.setdefault(level, []).append(weight * sum(terms[name]))
        return {level: sum(parts) for level, parts in sorted(levels.items())}

    def dates(self, lines, terms):
        """Tardiness and loss are counted for an order: the worst of its lines."""
        m, late, lost = self.m, None, None
        for line in lines:
            ends = [self.E[t.index] for p in line["pieces"] for t in p.tasks.values() if t.last]
            due = self.q(line["due"] - self.shop.now)
            if line["event"]:
                if lost is None:
                    lost = m.new_int_var(0, max(l["weight"] for l in lines if l["event"]), "lost")
                    terms["lost"].append(lost)
                gone = self.yes("lost")
                for e in ends:
                    m.add(e <= due).only_enforce_if(~gone)
                m.add(lost >= line["weight"] * gone)
                continue
            if late is None:
                late = m.new_int_var(0, max(l["weight"] for l in lines) * (self.h + max(0, -due)), "late")
                terms["tardiness"].append(self.unit * late)
            for e in ends:
                m.add(late >= line["weight"] * (e - due))

    def flow(self, piece):
        m, mine = self.m, set(t.index for t in piece.tasks.values())
        inner, outer = set(), set()  # tasks that are surely not the first, not the last
        for t in piece.tasks.values():
            for source, from_start, least, _ in t.links:
                if source.index in mine and least >= 0:
                    inner.add(t.index)
                    if not from_start:
                        outer.add(source.index)
        flow = m.new_int_var(0, self.h, "flow")
        for a in mine - inner:
            for b in mine - outer:
                m.add(flow >= self.E[b] - self.S[a])
        return flow
