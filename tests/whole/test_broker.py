#!/usr/bin/env python3
"""The house on a real broker: what stands in the tree, which orders are obeyed, and that
the house goes on without it.

usage: test_broker.py BUILD-DIR SOURCE-DIR
"""
import re
import subprocess

from broker import Broker, Topics
from case import Case, long, main
from programs import PATIENCE_S, Spoken, load_of

MQTT = "mqtt: {{host: 127.0.0.1, port: {port}}}\nstorage:"
ALERT = "$alert/order-refused"
ORDERS, AT_ONCE = 200, 20
# An order that leaked a quarter of a kB, less than its message, would show.
GROWTH_KIB = 48
# Of 3.6 kW, and a second more: energies are told each ten seconds.
TEN_SECONDS_MWH = 3_600_000 * 11 // 3600


class Controller:
    """tests/peers/controller_homie.js: a process of its own."""

    def __init__(self, case, broker):
        self.process = subprocess.Popen(
            ["node", case.built.peers / "controller_homie.js", str(broker.port), "sluice"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.said = Spoken(self.process.stdout)
        case.addCleanup(self.close)
        self.said.wait_for("^ready")

    def ask(self, question):
        before = len(self.said.lines)
        self.process.stdin.write(question + "\n")
        self.process.stdin.flush()
        with self.said.news:
            self.said.news.wait_for(lambda: len(self.said.lines) > before or self.said.ended,
                                    PATIENCE_S)
        return self.said.lines[-1]

    def close(self):
        self.process.stdin.close()
        self.process.wait(PATIENCE_S)
        self.said.close()


class OnBroker(Case):
    def setUp(self):
        super().setUp()
        self.broker = Broker(self.folder)
        self.addCleanup(self.broker.close)

    def play_with(self, day, *changes):
        self.open_house(day)
        self.fill_settings()
        self.change_settings(*changes)
        self.change_settings(("storage:", MQTT.format(port=self.broker.port)))
        self.topics = Topics(self.broker)
        self.addCleanup(lambda: self.topics.close())
        self.start()
        self.play()

    def look_at_topics(self):
        """Everything that is described is there, and means what the daemon says."""
        topics, status = self.topics, self.daemon.status()
        description = topics.description()
        self.assertEqual(description["homie"], "5.0")
        self.assertEqual(list(description["nodes"]),
                         ["site", "bus-board", "water-heater", "pool-pump"])
        for node, described in description["nodes"].items():
            for name, row in described["properties"].items():
                value = topics.wait_for(f"{node}/{name}")
                self.assert_of_type(f"{node}/{name}", row, value)
        for load in status["loads"]:
            node = load["name"]
            topics.wait_is(f"{node}/on", "true" if load["on"] else "false")
            topics.wait_is(f"{node}/basis", load["basis"].replace(" ", "-"))
            topics.wait_is(f"{node}/order", "auto")
            topics.wait_is(f"{node}/enable", "true")
            topics.wait_is(f"{node}/output", load["output"])
            topics.wait_is(f"{node}/starts-today", str(load["today"]["starts"]))
        topics.wait_is("site/grid-power", str(status["reading"]["grid_power_w"]))
        topics.wait_is("site/solar-power", str(status["reading"]["solar_power_w"]))
        topics.wait_is("site/spare-power", str(status["spare_w"]))
        topics.wait_is("site/reading", "fresh")
        floor = status["loads"][0]["floors"][0]
        topics.wait_is("water-heater/floor-1-met", "true" if floor["met"] else "false")
        topics.wait_is("water-heater/floor-1-deadline", floor["deadline"])

    def assert_of_type(self, topic, row, value):
        """Homie 5, "Payload"."""
        forms = {"integer": r"-?\d+", "float": r"-?\d+(\.\d+)?", "boolean": "true|false",
                 "string": r".+", "datetime": r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d",
                 "enum": row.get("format", "").replace(",", "|")}
        self.assertRegex(value, f"^({forms[row['datatype']]})$", topic)

    def test_the_tree_stands_and_a_broker_that_restarts_gets_all_of_it_again(self):
        def gone():
            self.broker.stop()
            self.topics.close()

        def without():
            status = self.daemon.status()
            self.assertEqual(status["reading"]["quality"], "fresh")
            self.assertTrue(load_of(status, "water-heater")["on"])
            self.assertFalse(status["mqtt"]["connected"])
            self.assertIn(str(self.broker.port), status["mqtt"]["trouble"])
            self.assertIn("no connection to the broker", " ".join(status["troubles"]))

        def back():
            self.broker.start()
            self.topics = Topics(self.broker)  # nothing is retained: all there is comes anew
            self.look_at_topics()
            self.assertTrue(self.daemon.status()["mqtt"]["connected"])

        def changes_follow():
            self.look_at_topics()

        def losing_it_was_said_once():
            lines = [line for line in self.daemon.said.lines if "broker" in line]
            self.assertEqual(len(lines), 2, lines)
            self.assertRegex(lines[0], f"no connection to the broker: .*:{self.broker.port}: .+")
            self.assertIn("solved: no connection to the broker", lines[1])
            self.assertEqual(self.daemon.status()["troubles"], [])

        self.at("10:20:30", self.look_at_topics)
        self.at("10:40", gone)
        self.at("11:10", without)
        self.at("11:40", back)
        self.at("12:00", changes_follow)
        self.at("12:01", losing_it_was_said_once)
        self.play_with("""
start 2026-01-14 10:20
length 2 h
water water-heater 20 C
draws none
must water-heater relay on 10:30..12:20
""")
        self.topics.wait_is("$state", "disconnected")

    def test_a_broker_that_is_not_there_at_the_start_is_found_later(self):
        self.broker.stop()

        def without():
            self.assertFalse(self.daemon.status()["mqtt"]["connected"])

        def there():
            self.broker.start()
            self.topics.close()
            self.topics = Topics(self.broker)
            self.look_at_topics()

        self.at("10:30", without)
        self.at("10:50", there)
        self.play_with("""
start 2026-01-14 10:20
length 40 min
water water-heater 20 C
draws none
must water-heater relay on 10:30..11:00
""")

    def test_what_is_not_known_is_not_told(self):
        """Without a clock no moment and no "today"; of a silent board no state of its relay."""
        today = ["energy-today", "energy-spare-today", "energy-grid-today", "run-time-today",
                 "starts-today"]
        of_the_clock = [f"water-heater/{name}" for name in today] + ["water-heater/floor-1-deadline"]

        def without_a_clock():
            self.topics.description()
            self.topics.wait_is("water-heater/on", "true")
            for topic in of_the_clock:
                self.assertEqual(self.topics.now.get(topic, ""), "", topic)
            self.give("pool-pump", "order", "off 2 h")

        def ordered():
            self.topics.wait_is("pool-pump/order", "off")

        def with_a_clock():
            for topic in of_the_clock:
                self.topics.wait_for(topic, lambda value: value != "")
            self.topics.wait_is("water-heater/floor-1-deadline", "2026-01-14T17:00:00+11:00")
            self.topics.wait_for("pool-pump/order", lambda value: "off until 2026-01-14" in value)
            self.assertNotIn("1970", " ".join(value for _, value in self.topics.ever))

        def board_is_silent():
            self.topics.wait_is("water-heater/output", "failed")
            self.topics.wait_is("water-heater/on", "")

        self.at("10:40", without_a_clock)
        self.at("10:40:05", ordered)
        self.at("11:00:30", with_a_clock)
        self.at("11:07:30", board_is_silent)
        self.play_with("""
start 2026-01-14 10:00
length 70 min
water water-heater 20 C
draws none
clock 1970
at 11:00 clock right
at 11:05 fault relay silent for 3 min
must water-heater relay on 10:30..11:00
""")

    def test_two_loads_whose_long_names_begin_alike_have_two_troubles(self):
        names = ["three-phase-water-heater-upper", "three-phase-water-heater-lower"]

        def both_are_told():
            self.topics.description()
            for name in names:
                self.topics.wait_for(f"$alert/output-{name}", lambda value: name in value)
            troubles = "\n".join(self.daemon.status()["troubles"])
            for name in names:
                self.assertIn(f"output of {name}:", troubles)

        self.at("02:07:30", both_are_told)
        self.play_with(self.NIGHT + "at 02:05 fault relay silent for 3 min",
                       ("  water-heater:", f"  {names[0]}:"), ("  pool-pump:", f"  {names[1]}:"))

    def give(self, node, property_id, payload):
        """An order that the daemon has in hand when this returns."""
        self.broker.order(node, property_id, payload)
        self.topics.wait_is(f"{node}/{property_id}/$target", payload)

    def test_a_switch_and_minutes_are_orders_like_any_other(self):
        def look(hand, minutes, on):
            def act():
                heater = self.daemon.load()
                self.assertEqual((heater["hand"], heater["on"]), (hand, on))
                self.topics.wait_is("water-heater/mode", hand)
                self.topics.wait_is("water-heater/run-for", minutes)
            return act

        def give(property_id, payload):
            return lambda: self.give("water-heater", property_id, payload)

        def begin():
            self.topics.description()
            self.give("water-heater", "mode", "on")

        def wrong():
            self.refuse("water-heater", "run-for", "1441", "whole number from 0 to 1440")
            self.refuse("water-heater", "run-for", "2 h", "whole number from 0 to 1440")
            self.refuse("water-heater", "mode", "On", "one of auto,on,off")

        def in_one_turn():
            self.give("water-heater", "run-for", "90")
            self.give("water-heater", "mode", "on")

        self.at("02:05", begin)
        self.at("02:05:02", look("on", "1440", True))
        self.at("02:06", give("run-for", "120"))
        self.at("02:06:02", look("on", "120", True))
        self.at("02:07", give("mode", "on"))  # it is: its end stays as it was
        self.at("02:07:02", look("on", "119", True))
        self.at("02:08", wrong)
        self.at("02:08:02", look("on", "118", True))
        self.at("02:16:10", give("run-for", "0"))  # a minimum on is over
        self.at("02:16:12", look("auto", "0", False))
        self.at("02:17", give("mode", "off"))
        self.at("02:17:02", look("off", "0", False))
        self.at("02:18", give("run-for", "0"))  # ends a run; there is none
        self.at("02:18:02", look("off", "0", False))
        self.at("02:19", give("mode", "auto"))
        self.at("02:19:02", look("auto", "0", False))
        self.at("02:25", in_one_turn)
        self.at("02:25:02", look("on", "90", True))
        self.play_with(self.NIGHT)
        said = "\n".join(self.daemon.said.lines)
        self.assertIn("water-heater/mode/set: water-heater: on manually for 1 d,", said)
        self.assertIn("ordered over MQTT: run for 120 min", said)

    def test_another_controller_finds_all_of_it_and_operates_it(self):
        def find():
            self.controller = Controller(self, self.broker)
            described = self.topics.description()["nodes"]
            self.assertEqual(self.controller.ask("list"), str(
                sum(len(node["properties"]) for node in described.values())))

        def run():
            self.assertEqual(self.controller.ask("set water-heater/run-for 1441"), "refused")
            self.assertEqual(self.controller.ask("set water-heater/mode maybe"), "refused")
            self.assertEqual(self.controller.ask("set water-heater/run-for 120"), "sent")
            self.topics.wait_is("water-heater/run-for/$target", "120")

        def runs():
            self.assertEqual(self.controller.ask("await water-heater/mode on"), "on")
            self.assertEqual(self.controller.ask("await water-heater/on true"), "true")
            self.assertEqual(self.controller.ask("await water-heater/run-for 120"), "120")
            self.assertEqual(self.controller.ask("set water-heater/mode off"), "sent")
            self.topics.wait_is("water-heater/mode/$target", "off")

        def is_off():
            self.assertEqual(self.controller.ask("await water-heater/mode off"), "off")
            self.assertEqual(self.controller.ask("await water-heater/run-for 0"), "0")
            self.assertEqual(self.daemon.load()["hand"], "off")
            self.assertEqual(self.controller.ask("faults"), "none")

        self.at("02:10", find)
        self.at("02:10:10", run)
        self.at("02:10:12", runs)
        self.at("02:20", is_off)
        self.play_with(self.NIGHT)

    def test_totals_never_run_backwards_over_a_crash_and_a_reload(self):
        def crash():
            today = self.daemon.load()["today"]
            counted_mwh = today["spare_mwh"] + today["grid_mwh"]
            self.topics.wait_for(  # the broker has all that was said up to now
                "water-heater/energy-today",
                lambda value: value and float(value) * 1e6 >= counted_mwh - TEN_SECONDS_MWH)
            self.daemon.kill()
            self.start()

        def reload():
            self.change_settings(("  pool-pump:", "  another-pump:"))
            self.daemon.order("reload", "--yes")

        # Between two commits: what was counted since the last one is lost.
        self.at("11:04:50", crash)
        self.at("11:04:55", lambda: self.topics.wait_is("$state", "ready"))
        self.at("11:40:30", reload)
        self.play_with("""
start 2026-01-14 10:20
length 2 h
water water-heater 20 C
draws none
""")
        for name in ("energy-total", "energy-spare-total", "energy-grid-total", "run-time-total",
                     "starts-total"):
            told = [float(value) for topic, value in self.topics.ever
                    if topic == f"water-heater/{name}" and value]
            self.assertEqual(told, sorted(told), name)
        self.assertGreater(len(told), 0)
        energy = [float(value) for topic, value in self.topics.ever
                  if topic == "water-heater/energy-total" and value]
        self.assertGreater(energy[-1], 1)
        self.assertGreater(len(energy), 30)

    def refuse(self, node, property_id, payload, wanted):
        """An order that is refused by its type or place alone."""
        said = len(self.topics.ever)
        self.broker.order(node, property_id, payload)
        with self.topics.news:
            self.assertTrue(self.topics.news.wait_for(
                lambda: any(topic == ALERT and re.search(wanted, value)
                            for topic, value in self.topics.ever[said:]), PATIENCE_S),
                f"{node}/{property_id} {payload[:20]!r}: {self.topics.now.get(ALERT)!r}")
        self.assertIn(f"{node}/{property_id}", self.topics.now[ALERT])

    NIGHT = """
start 2026-01-14 02:00
length 30 min
water water-heater 40 C
draws none
"""

    def test_orders_by_broker_are_obeyed_and_told(self):
        def on():
            self.topics.description()
            self.give("water-heater", "order", "on 2 h")

        def is_on():
            heater = self.daemon.load()
            self.assertEqual((heater["hand"], heater["on"], heater["basis"]),
                             ("on", True, "manual"))
            self.topics.wait_is("water-heater/on", "true")
            self.topics.wait_for("water-heater/order", lambda value: value.startswith("on until"))
            self.give("water-heater", "order", "auto")
            self.give("pool-pump", "inhibit", "true")
            self.give("water-heater", "enable", "false")
            self.give("site", "holiday", "until 2026-01-20 17:00")

        def is_auto():
            status = self.daemon.status()
            self.assertEqual(load_of(status, "water-heater")["hand"], "auto")
            self.assertFalse(load_of(status, "water-heater")["enabled"])
            self.assertTrue(load_of(status, "pool-pump")["inhibited"])
            self.assertEqual(status["holiday_back"], "2026-01-20T17:00:00+11:00")
            self.topics.wait_is("site/holiday", "until 2026-01-20T17:00:00+11:00")
            self.topics.wait_is("pool-pump/inhibit", "true")
            self.give("site", "inhibit", "true")

        def is_inhibited():
            self.assertTrue(self.daemon.status()["inhibited"])
            self.assertNotIn(ALERT, self.topics.now)

        self.at("02:10", on)
        self.at("02:10:02", is_on)
        self.at("02:20", is_auto)
        self.at("02:20:02", is_inhibited)
        self.play_with(self.NIGHT + """
must water-heater relay on 02:10:02..02:15
must water-heater relay off 02:16..02:30
must pool-pump relay off
""")

    def test_orders_that_say_nothing_are_refused_aloud_and_change_nothing(self):
        # Text that passes as text, and that nobody can obey; what the answer must name.
        wrong = {"on": "needs an end", "on 2": "2 has no unit", "off yesterday": "yesterday",
                 "banana": "banana", "ON 2 H": "ON", "on -1 h": "-1", "on 99999999999 h": "9999",
                 "on 2 h; off": ";", "auto auto": "auto", "%s%s%n": "%s%s%n",
                 "\u0436" * 70: "\u0436"}

        def send(text):
            def act():
                self.topics.description()
                self.give("water-heater", "order", text)
            return act

        def refused(text, named):
            def act():
                said = self.topics.wait_for(ALERT, lambda value: named in value)
                self.assertIn("water-heater/order", said)
                heater = self.daemon.load()
                self.assertEqual((heater["hand"], heater["on"]), ("auto", False), text)
                self.assertIn("water-heater/order", " ".join(self.daemon.status()["troubles"]))
                self.topics.wait_is("water-heater/order/$target", "auto")
            return act

        def solved():
            self.assertEqual(self.daemon.load()["hand"], "off")
            self.assertEqual(self.daemon.status()["troubles"], [])
            self.topics.wait_is(ALERT, "")

        for k, (text, named) in enumerate(wrong.items()):
            self.at(f"02:{10 + k}", send(text))
            self.at(f"02:{10 + k}:02", refused(text, named))
        self.at("02:25", lambda: self.give("water-heater", "order", "off 1 h"))
        self.at("02:25:02", solved)
        self.play_with(self.NIGHT + "must water-heater relay off")

    @long
    def test_wrong_types_to_every_property_that_can_be_set_are_refused(self):
        def send():
            description = self.topics.description()
            settable = [(node, name, row) for node, described in description["nodes"].items()
                        for name, row in described["properties"].items() if row.get("settable")]
            self.assertEqual(len(settable), 2 + 2 * 5)
            for node, name, row in settable:
                for payload in (b"", b"\xff\xfe", b"a\0b", b"\x1b[2J", b"x" * 5000, b"1\n2"):
                    self.refuse(node, name, payload, "empty|UTF-8|control|at most")
                if row["datatype"] == "boolean":
                    for payload in ("1", "TRUE", "yes", "on", " true", "{}", "null", "-0"):
                        self.refuse(node, name, payload, "true or false")
            self.refuse("site", "holiday", b"y" * 200_000, "at most")
            # Topics that are nobody's, and packets larger than we take, don't even come here.
            self.broker.order("water-heater", "on", "true")
            self.broker.order("nobody", "order", "on 2 h")
            self.broker.order("site", "holiday", b"y" * 1_000_000)

        def unchanged():
            status = self.daemon.status()
            self.assertFalse(status["inhibited"])
            self.assertIsNone(status["holiday_back"])
            for load in status["loads"]:
                self.assertEqual((load["hand"], load["enabled"], load["inhibited"], load["on"]),
                                 ("auto", True, False, False))

        self.at("02:10", send)
        self.at("02:10:05", unchanged)
        self.play_with(self.NIGHT + "must water-heater relay off; pool-pump relay off")

    def test_a_retained_order_is_an_old_one_and_is_not_obeyed(self):
        self.broker.order("water-heater", "order", "on 2 h", "-r")

        def look():
            self.topics.wait_for(ALERT, lambda value: "retained" in value)
            heater = self.daemon.load()
            self.assertEqual((heater["hand"], heater["on"]), ("auto", False))

        self.at("02:10", look)
        self.play_with(self.NIGHT + "must water-heater relay off")

    def test_a_bad_settings_file_is_an_alert_that_outlives_the_broker(self):
        def spoil():
            self.topics.description()
            line = self.settings.read_text().split("priority: 1")[0].count("\n") + 1
            place = f"{self.settings}:{line}:15"
            self.change_settings(("priority: 1", "priority: one"))
            self.assertNotEqual(self.daemon.ask("reload").returncode, 0)
            self.topics.wait_for("$alert/settings", lambda value: place in value)
            self.broker.stop()
            self.topics.close()
            self.broker.start()
            self.topics = Topics(self.broker)
            self.topics.wait_for("$alert/settings", lambda value: place in value)

        def repair():
            self.change_settings(("priority: one", "priority: 1"))
            self.daemon.order("reload")
            self.topics.wait_is("$alert/settings", "")

        self.at("02:10", spoil)
        self.at("02:12", repair)
        self.play_with(self.NIGHT + "must water-heater relay off")

    def test_another_broker_is_told_what_is_wrong_already(self):
        def spoil():
            self.topics.description()
            self.broker.order("water-heater", "order", "banana")
            self.topics.wait_is("water-heater/order/$target", "banana")

        def move():
            (self.folder / "other").mkdir()
            other = Broker(self.folder / "other")
            self.addCleanup(other.close)
            topics = Topics(other)
            self.addCleanup(topics.close)
            self.change_settings((f"port: {self.broker.port}}}", f"port: {other.port}}}"))
            self.daemon.order("reload")
            topics.description()
            topics.wait_for(ALERT, lambda value: "banana" in value)
            self.topics.wait_is("$state", "disconnected")

        self.at("02:10", spoil)
        self.at("02:10:02", move)
        self.play_with(self.NIGHT + "must water-heater relay off")

    @long
    def test_two_hundred_orders_leave_the_daemon_as_small_as_it_was(self):
        def burst(count):
            for k in range(count):
                self.give("pool-pump", "order", f"off {k % 50 + 1} h" if k % 2 else "banana")

        def anon_kib():
            with open(f"/proc/{self.daemon.process.pid}/status") as status:
                return int(re.search(r"RssAnon:\s+(\d+)", status.read()).group(1))

        def burst_and_measure():
            self.topics.description()
            burst(AT_ONCE)
            self.sizes.append(anon_kib())

        # As many again before, for what the libraries keep once they have needed it.
        self.sizes = []
        for k in range(2 * ORDERS // AT_ONCE):
            self.at(f"+{5 + k} min", burst_and_measure)
        self.play_with(self.NIGHT)
        print(f"RssAnon, KiB: {self.sizes}")
        self.assertLessEqual(self.sizes[-1] - self.sizes[ORDERS // AT_ONCE - 1], GROWTH_KIB)


if __name__ == "__main__":
    main()
