#!/usr/bin/env python3
"""The optimum against GLPK's simplex and branch-and-bound (glpsol) on short horizons.

The programs below are written from the physics alone: heat in kWh above 0 C, steps of
loss, draw and heat; nothing is shared with the solver under test but the problem's
numbers. Water 4186 J/(kg K) at 1 kg/L; standing loss stated at 55 K."""
import math
import os
import random
import subprocess
import sys
import tempfile
import unittest

PROBE = sys.argv.pop(1)
WATER_KWH = 4186 / 3.6e6
INFINITE = float("inf")


class Problem:
    """Random days; `kind` names what is special about them."""

    def __init__(self, seed, steps, step_s, **kind):
        chance = random.Random(seed)
        self.seed, self.step_s = seed, step_s
        self.volume = chance.choice([50, 125, 315])
        self.loss = chance.uniform(0, 4)
        self.ambient = chance.uniform(5, 25)
        self.full = chance.uniform(60, 75)
        self.start = chance.uniform(30, self.full)
        self.wanted = kind.get("wanted", chance.uniform(38, 50))
        self.element = chance.choice([1000, 1800, 3600, 4800])
        self.switched = kind.get("switched", 0)
        self.layered = kind.get("layered", 0)
        self.within = kind.get("within", 0)
        self.spreads = kind.get("spreads", 0)
        self.limit = kind.get("limit", 0)
        self.unmet_price = kind.get("unmet_price", 10)
        self.left_price = kind.get("left_price", 0)
        inlet = chance.uniform(8, 20)
        self.steps = []
        for n in range(steps):
            hour = (n * step_s / 3600) % 24
            price = chance.choice(kind.get("prices", [0.2, 0.28, 0.45]))
            feed_in = chance.choice(kind.get("feed_ins", [0.05]))
            sun = max(0, math.sin((hour - 6) / 12 * math.pi)) * 6000 * chance.random()
            litres = chance.choice([0, 0, 0, 1, 8, kind.get("gush", 40)]) * step_s / 3600 * 2
            self.steps.append((price, feed_in, chance.uniform(100, 2500), sun, litres,
                               inlet + chance.uniform(-1, 1)))

    def text(self):
        head = (len(self.steps), self.step_s, self.volume, self.loss, self.ambient, self.start,
                self.full, self.wanted, self.element, self.switched, self.layered, self.within, self.spreads,
                self.limit, self.unmet_price, self.left_price)
        return "\n".join(" ".join(repr(value) for value in row) for row in [head] + self.steps)


def probe(problem):
    done = subprocess.run([PROBE], input=problem.text(), text=True, capture_output=True, check=True)
    found = {"steps": []}
    for line in done.stdout.splitlines():
        word, *values = line.split()
        if word == "step":
            found["steps"].append([float(value) for value in values[1:]])
        else:
            found[word] = float(values[0])
    return found


def words_of(path):
    if not os.path.exists(path):
        return []
    with open(path) as file:
        return [line.split() for line in file]


class Program:
    """A linear program in CPLEX's text format, as glpsol reads it."""

    def __init__(self):
        self.costs, self.rows, self.bounds, self.binaries, self.constant = {}, [], [], [], 0.0

    def variable(self, name, low, high, cost=0.0):
        self.costs[name] = cost
        low = "-inf" if low == -INFINITE else repr(low)
        high = "+inf" if high == INFINITE else repr(high)
        self.bounds.append(f" {low} <= {name} <= {high}")
        return name

    def binary(self, name):
        self.costs[name] = 0.0
        self.binaries.append(name)
        return name

    @staticmethod
    def _sum(terms):
        return " ".join(f"{'+' if value >= 0 else '-'} {abs(value)!r} {name}" for value, name in terms)

    def row(self, terms, relation, right):
        self.rows.append(f" {self._sum(terms)} {relation} {right!r}")

    def solve(self):
        text = ["Minimize", " cost: " + "\n  ".join(self._sum([(cost, name)]) for name, cost in self.costs.items()),
                "Subject To", *self.rows, "Bounds", *self.bounds]
        if self.binaries:
            text += ["Binary", *(" " + name for name in self.binaries)]
        text += ["End", ""]
        with tempfile.TemporaryDirectory() as folder:
            model, answer = os.path.join(folder, "model.lp"), os.path.join(folder, "answer")
            with open(model, "w") as file:
                file.write("\n".join(text))
            command = ["glpsol", "--lp", model, "-w", answer]
            command += ["--mipgap", "0", "--tmlim", "60"] if self.binaries else ["--nopresol"]
            run = subprocess.run(command, capture_output=True, text=True)
            for word in words_of(answer):
                if word[:2] == ["s", "bas"] and word[4:6] == ["f", "f"]:
                    return float(word[6]) + self.constant
                if word[:2] == ["s", "mip"] and word[4] == "o":
                    return float(word[5]) + self.constant
            raise AssertionError("glpsol found no optimum:\n" + run.stdout)


def evenly(pieces):
    amount = sum(amount for _, amount in pieces)
    return [(sum(cost * amount for cost, amount in pieces) / amount, amount)]


def convex(pieces):
    """Neighbours of falling cost taken together until cost rises."""
    for i in range(1, len(pieces)):
        if pieces[i - 1][0] > pieces[i][0]:
            return convex(pieces[:i - 1] + evenly(pieces[i - 1:i + 1]) + pieces[i + 1:])
    return pieces


def program(problem, whole=False):
    """`whole`: the element is off or on for the whole step, or until the tank is full."""
    lp = Program()
    hours = problem.step_s / 3600
    heat = problem.volume * WATER_KWH
    kept = math.exp(-problem.loss / 24 / 55 * hours / heat)
    most = problem.element / 1000 * hours
    full, room = heat * problem.full, heat * problem.ambient
    coldest = problem.start
    before, start = None, heat * problem.start
    for n, (price, feed_in, use, sun, litres, inlet) in enumerate(problem.steps):
        net = (use - sun) / 1000 * hours
        limit = problem.limit / 1000 * hours or INFINITE
        lp.constant += net * price if net > 0 else -min(-net, limit) * feed_in
        spare = max(0.0, -net)
        throttled = min(max(0.0, spare - limit), most)
        spare = min(spare, most) - throttled
        pieces = [(0.0, throttled), (feed_in, spare), (price, most - throttled - spare)]
        pieces = [piece for piece in pieces if piece[1] > 0]
        straight = problem.switched and not (whole and problem.spreads)
        pieces = evenly(pieces) if straight else convex(pieces)
        yields = 1 / kept if problem.within else 1.0
        heats = [(yields, lp.variable(f"q{n}_{i}", 0.0, amount, cost))
                 for i, (cost, amount) in enumerate(pieces)]
        coldest = min(inlet, problem.ambient + (coldest - problem.ambient) * kept)
        wanted = max(0.0, litres * WATER_KWH * (problem.wanted - inlet))
        able, above = wanted, heat * coldest
        if wanted > 0:
            # Unmet heat: none where the tank is as hot as wanted (or, where more is drawn than
            # it holds, has as much); all of it where it is as cold as can be.
            share = wanted / (heat * inlet + wanted / min(1.0, litres / problem.volume) - above)
        if problem.layered:
            able = min(wanted, litres * WATER_KWH * (problem.full - inlet))
            share = 1.0
            lp.constant += (wanted - able) * problem.unmet_price
        # Loss, draw, heat; or, within the step, heat, draw, loss.
        first, last = lp.variable(f"first{n}", -INFINITE, INFINITE), lp.variable(f"held{n}", -INFINITE, full)
        unmet = lp.variable(f"m{n}", 0.0, INFINITE, problem.unmet_price)
        lost = 1.0 if problem.within else kept
        begins = [] if before is None else [(-lost, before)]
        right = (0.0 if problem.within else (1 - kept) * room) + (lost * start if before is None else 0.0)
        early = [(-value, name) for value, name in heats] if problem.within else []
        lp.row([(1.0, first)] + begins + early, "=", right)
        if able > 0:
            lp.row([(1.0, unmet), (share, first)], ">=", able + share * above)
        else:
            lp.row([(1.0, unmet)], "=", 0.0)
        if problem.within:
            lp.row([(1.0, last), (-kept, first), (-kept, unmet)], "=", (1 - kept) * room - kept * able)
        else:
            lp.row([(1.0, last), (-1.0, first), (-1.0, unmet)] + [(-value, name) for value, name in heats],
                   "=", -able)
        if whole:
            on, opens = lp.binary(f"on{n}"), lp.binary(f"opens{n}")
            quantity = [(1.0, name) for _, name in heats]
            lp.row(quantity + [(-most, on)], "<=", 0.0)
            lp.row(quantity + [(-most, on), (most, opens)], ">=", 0.0)
            lp.row([(1.0, last), (-2 * full, opens)], ">=", -full)
        before = last
    lp.costs[before] = -problem.left_price
    lp.constant += problem.left_price * start
    return lp


KINDS = {
    "plain days": {},
    "flat prices": {"prices": [0.3]},
    "negative prices": {"prices": [-0.2, 0.05, 0.4], "feed_ins": [-0.25, -0.3]},
    "export charged": {"feed_ins": [-0.05, 0.05]},
    "feed-in worth more than import": {"prices": [0.1, 0.3], "feed_ins": [0.2]},
    "more drawn than the tank holds": {"gush": 400},
    "water wanted hotter than the tank gets": {"wanted": 80},
    "cheap cold showers": {"unmet_price": 0.25},
    "an inverter throttled": {"limit": 800},
    "an inverter throttled, export charged": {"limit": 800, "feed_ins": [-0.05]},
    "heat left has a price": {"left_price": 0.15},
}


class Optimum(unittest.TestCase):
    def agree(self, **more):
        for name, kind in KINDS.items():
            for seed in range(3):
                problem = Problem(seed, 96, random.Random(seed).choice([300, 900, 1800]), **kind, **more)
                with self.subTest(kind=name, seed=seed, **more):
                    expected, found = program(problem).solve(), probe(problem)
                    self.assertLessEqual(abs(found["bound"] - expected), 1e-6 * max(1, abs(expected)))
                    if not problem.within:
                        self.assertGreaterEqual(found["follow"], found["bound"] - 1e-9)

    def test_a_proportional_element_costs_what_simplex_says(self):
        self.agree()

    def test_a_switched_element_costs_no_less_than_simplex_says(self):
        self.agree(switched=1)

    def test_heat_before_the_draw_of_its_step_costs_what_simplex_says(self):
        self.agree(within=1)

    def test_the_layered_tank_s_relaxation_costs_what_simplex_says(self):
        self.agree(layered=1)

    def test_a_proportional_schedule_reaches_the_bound(self):
        for name, kind in KINDS.items():
            if name in ("feed-in worth more than import", "an inverter throttled, export charged"):
                continue  # the bound goes straight there
            with self.subTest(kind=name):
                found = probe(Problem(11, 288, 300, **kind))
                self.assertAlmostEqual(found["follow"], found["bound"], delta=1e-9)

    def test_whole_steps_cost_between_the_bound_and_the_schedule(self):
        for seed in range(8):
            problem = Problem(seed, 14, 1800, switched=1, left_price=0.1)
            with self.subTest(seed=seed):
                exact, found = program(problem, whole=True).solve(), probe(problem)
                self.assertLessEqual(found["bound"], exact + 1e-6)
                self.assertLessEqual(exact, found["follow"] + 1e-6)

    def test_a_last_step_spread_over_its_time_costs_no_less_than_the_bound(self):
        for seed in range(8):
            problem = Problem(seed, 14, 1800, switched=1, spreads=1, prices=[0.3], left_price=0.15)
            with self.subTest(seed=seed):
                exact, found = program(problem, whole=True).solve(), probe(problem)
                self.assertLessEqual(found["bound"], exact + 1e-6)
                self.assertLessEqual(exact, found["follow"] + 1e-6)

    def test_worth_of_heat_is_the_slope_of_cost(self):
        """A little more heat at the start saves its worth (GLPK's costs, not ours)."""
        problem = Problem(5, 48, 1800, left_price=0.05)
        problem.start = 50.0
        worth, cost = probe(problem)["steps"][0][2], program(problem).solve()
        problem.start += 1e-3
        less = cost - program(problem).solve()
        kwh = 1e-3 * problem.volume * WATER_KWH
        # The value of left heat is counted from the start's, so it moves with it.
        self.assertAlmostEqual((less + problem.left_price * kwh) / kwh, worth, delta=1e-4)


if __name__ == "__main__":
    unittest.main(verbosity=1)
