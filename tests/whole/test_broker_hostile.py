#!/usr/bin/env python3
"""Whatever comes from the broker's side, the house goes on: messages far too large, at the
topics of orders or anywhere, at an honest broker and at one that keeps to no rule; and a
connection that ends in death is not tried for ever.

usage: test_broker_hostile.py BUILD-DIR SOURCE-DIR
"""
import json
import re
import signal
import socket
import sqlite3
import threading

from broker import ROOT, Broker, Topics
from case import Case, long, main
from programs import eventually, load_of

NOBODY = "{host: 127.0.0.1, tcp_port: 9, answer: 300 ms}"
HUGE = 50_000_000
# The unit's MemoryMax is 64 MiB, of which the kernel's own buffers take some.
MOST_KIB = 48 * 1024


def read_exactly(line, count):
    got = b""
    while len(got) < count:
        more = line.recv(count - len(got))
        if not more:
            raise OSError("closed")
        got += more
    return got


def read_packet(line):
    """MQTT 3.1.1, 2.2.3: the remaining length has seven bits a byte."""
    head, length, shift = read_exactly(line, 1), 0, 0
    while True:
        byte = read_exactly(line, 1)
        head += byte
        length |= (byte[0] & 0x7F) << shift
        shift += 7
        if byte[0] < 0x80:
            return head + read_exactly(line, length)


def protocol_of(connect):
    """MQTT 3.1.1 and 5, 3.1.2.2: after the name "MQTT"."""
    return connect[connect.index(b"MQTT") + 4]


class FakeBroker:
    """One connection after another; `serve` plays the broker on each."""

    def __init__(self, serve, port=0):
        self.serve, self.seen = serve, []
        self.listener = socket.create_server(("127.0.0.1", port))
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        try:
            while True:
                line, _ = self.listener.accept()
                threading.Thread(target=self.meet, args=(line,), daemon=True).start()
        except OSError:
            return  # closed

    def meet(self, line):
        with line:
            try:
                connect = read_packet(line)
                self.seen.append(protocol_of(connect))
                self.serve(line, connect)
            except OSError:
                return

    def close(self):
        self.listener.close()


def only_the_old_protocol(port):
    """A broker that has not learnt MQTT 5: 3.1.1, 3.1.2.2 and 3.2.2.3."""
    def serve(line, connect):
        if protocol_of(connect) != 4:
            line.sendall(b"\x20\x02\x00\x01")
            return
        with socket.create_connection(("127.0.0.1", port)) as inner:
            inner.sendall(connect)
            back = threading.Thread(target=carry, args=(inner, line), daemon=True)
            back.start()
            carry(line, inner)
    return serve


def carry(source, sink):
    try:
        while data := source.recv(65536):
            sink.sendall(data)
        sink.shutdown(socket.SHUT_RDWR)
    except OSError:
        return


def say_yes(line, connect):
    line.sendall(b"\x20\x03\x00\x00\x00" if protocol_of(connect) == 5 else b"\x20\x02\x00\x00")


def flood(line, connect):
    """The longest message that a fixed header can announce: 256 MB."""
    say_yes(line, connect)
    line.sendall(b"\x30\xff\xff\xff\x7f" + b"\x00\x01a" + b"x" * 1_000_000)
    while True:
        line.sendall(b"x" * 1_000_000)


def be_still(line, connect):
    say_yes(line, connect)
    while line.recv(65536):
        pass


class RealTime(Case):
    def start_at(self, port):
        text = (self.built.scenarios / "house.yaml").read_text()
        for key, value in (("BUS", NOBODY), ("SOCKET", str(self.folder / "control")),
                           ("STATE", str(self.folder)),
                           ("PORT", str(port))):
            text = text.replace(f"@{key}@", value)
        self.settings.write_text(text.replace(
            "storage:", f"mqtt: {{host: 127.0.0.1, port: {port}}}\nstorage:"))
        self.start_in_real_time()

    def start_broker(self, more=""):
        self.broker = Broker(self.folder, more)
        self.addCleanup(self.broker.close)
        return self.broker

    def start_fake(self, serve, port=0):
        fake = FakeBroker(serve, port)
        self.addCleanup(fake.close)
        return fake

    def follow(self):
        topics = Topics(self.broker, "$state", "$description", "+/+", "+/+/$target")
        self.addCleanup(topics.close)
        return topics

    def publish_huge(self, topic, octets=HUGE, retain=True):
        (self.folder / "huge").write_bytes(b"x" * octets)
        self.broker.publish_file(topic, self.folder / "huge", *(["-r"] if retain else []))

    def peak_kib(self):
        with open(f"/proc/{self.daemon.process.pid}/status") as status:
            return int(re.search(r"VmHWM:\s+(\d+)", status.read()).group(1))

    def mqtt(self):
        return self.daemon.status()["mqtt"]

    def assert_small_and_alive(self):
        self.assertIsNone(self.daemon.process.poll())
        print(f"peak RSS {self.peak_kib()} KiB", flush=True)
        self.assertLess(self.peak_kib(), MOST_KIB)


class Hostile(RealTime):
    @long
    def test_huge_retained_messages_at_a_broker_of_today_cost_nothing(self):
        self.start_broker()
        for topic in ("stranger/deep/below", "water-heater/order/set", "site/inhibit/set",
                      "$description"):
            self.publish_huge(f"{ROOT}/{topic}")
        self.start_at(self.broker.port)
        topics = self.follow()
        topics.description()
        self.broker.order("pool-pump", "inhibit", "true")
        topics.wait_is("pool-pump/inhibit", "true")
        self.broker.order("water-heater", "order", "off")  # beside the huge one, live
        topics.wait_is("water-heater/order", "off")
        self.assertEqual(self.mqtt(), {"enabled": True, "connected": True, "trouble": ""})
        self.assert_small_and_alive()

    def test_a_huge_stranger_at_an_old_broker_is_not_asked_for(self):
        self.start_broker()
        old = self.start_fake(only_the_old_protocol(self.broker.port))
        self.publish_huge(f"{ROOT}/stranger")
        self.start_at(old.port)
        topics = self.follow()
        topics.description()
        self.broker.order("pool-pump", "inhibit", "true")
        topics.wait_is("pool-pump/inhibit", "true")
        self.assertEqual(old.seen[:2], [5, 4])
        self.assert_small_and_alive()

    def test_a_huge_order_at_an_old_broker_leaves_values_and_takes_no_life(self):
        self.start_broker()
        old = self.start_fake(only_the_old_protocol(self.broker.port))
        self.publish_huge(f"{ROOT}/water-heater/order/set")
        self.start_at(old.port)
        eventually("it goes on without listening", lambda: self.mqtt()["connected"] and
                   "too large" in self.mqtt()["trouble"])
        topics = self.follow()
        topics.description()
        self.daemon.order("off", "pool-pump")
        topics.wait_is("pool-pump/order", "off")
        eventually("it is said", lambda: any("too large" in text
                                             for text in self.daemon.status()["troubles"]))
        self.assert_small_and_alive()

    def test_the_largest_messages_that_pass_leave_nothing_behind(self):
        """An old broker has no way to be told what we take; these are read and refused. One at
        a time: of quality of service 2, the library keeps a message until the broker releases it,
        and several such at once are more than the process may hold."""
        self.start_broker()
        old = self.start_fake(only_the_old_protocol(self.broker.port))
        self.start_at(old.port)
        topics = self.follow()
        topics.description()
        order = f"{ROOT}/water-heater/order/set"
        for inhibit in ("true", "false", "true"):
            self.publish_huge(order, 12_000_000, retain=False)
            self.broker.order("pool-pump", "inhibit", inhibit)
            topics.wait_is("pool-pump/inhibit", inhibit)
        self.assertEqual(self.mqtt(), {"enabled": True, "connected": True, "trouble": ""})
        self.assert_small_and_alive()

    def test_a_broker_that_keeps_to_no_rule_takes_no_life(self):
        fake = self.start_fake(flood)
        self.start_at(fake.port)
        eventually("it has come again", lambda: len(fake.seen) >= 3)
        self.assertIn("too large", self.mqtt()["trouble"])
        self.assertEqual(self.daemon.order("inhibit", "pool-pump").split(":")[0], "pool-pump")
        self.assert_small_and_alive()

    # ---- deaths ----

    def die_connected(self, fake):
        before = len(fake.seen)
        self.start_at(fake.port)
        eventually("it connects", lambda: len(fake.seen) > before)
        self.daemon.kill()

    def test_after_two_deaths_the_broker_is_left_alone_until_somebody_reloads(self):
        fake = self.start_fake(be_still)
        self.die_connected(fake)
        self.die_connected(fake)
        self.start_at(fake.port)
        eventually("it says so", lambda: "not connecting" in self.mqtt()["trouble"])
        self.daemon.said.wait_for("no connection to the broker: not connecting: the last 2 connections")
        self.assertIn("15 min", self.mqtt()["trouble"])
        self.assertEqual(len(fake.seen), 2)
        self.daemon.order("off", "water-heater")  # everything else goes on
        self.daemon.order("reload")
        eventually("it connects", lambda: len(fake.seen) == 3)

    def test_an_end_in_good_order_is_no_death(self):
        fake = self.start_fake(be_still)
        self.die_connected(fake)
        self.start_at(fake.port)
        eventually("it connects", lambda: len(fake.seen) == 2)
        self.daemon.signal(signal.SIGTERM)
        self.assertEqual(self.daemon.end(), 0)
        self.die_connected(fake)
        self.start_at(fake.port)
        eventually("it connects", lambda: len(fake.seen) == 4)

    def test_deaths_by_another_broker_do_not_count(self):
        fake, other = self.start_fake(be_still), self.start_fake(be_still)
        self.die_connected(fake)
        self.die_connected(fake)
        self.die_connected(other)

    def test_a_broker_that_is_refused_or_away_is_no_death(self):
        fake = self.start_fake(lambda line, connect: line.sendall(b"\x20\x02\x00\x05"))
        for round in range(3):
            self.start_at(fake.port)
            eventually("it is told", lambda: "refuses us" in self.mqtt()["trouble"])
            eventually("it waits", lambda: "young 0" in (self.folder / "broker").read_text())
            self.daemon.kill()


class Flood(RealTime):
    """Orders by the thousand: few are taken, fewer written down, and a stop always passes."""

    def ask_raw(self, line):
        with socket.socket(socket.AF_UNIX) as control:
            control.connect(str(self.folder / "control"))
            control.sendall(line.encode() + b"\n")
            return json.loads(control.makefile().readline())

    def events(self):
        with sqlite3.connect(f"file:{self.ledger}?mode=ro", uri=True) as ledger:
            return [text for text, in ledger.execute("SELECT text FROM event")]

    def end_well(self):
        self.daemon.signal(signal.SIGTERM)
        self.assertEqual(self.daemon.end(), 0)

    def test_thousands_of_orders_cost_few_lines_and_little_disk(self):
        self.start_broker()
        self.start_at(self.broker.port)
        topics = self.follow()
        topics.description()
        orders = [f"on {k % 900 + 1} min" if k % 2 else f"banana {k}" for k in range(2500)]
        self.broker.publish_lines(f"{ROOT}/water-heater/order/set", orders)
        self.broker.order("pool-pump", "inhibit", "true")
        self.broker.publish_lines(f"{ROOT}/water-heater/order/set", orders)
        self.broker.order("water-heater", "order", "off 3 h")
        self.broker.order("pool-pump", "mode", "off")  # what only stops is not dropped
        topics.wait_is("pool-pump/mode", "off")
        topics.wait_is("pool-pump/inhibit", "true")
        topics.wait_for("water-heater/order", lambda value: value.startswith("off"))
        said = [line for line in self.daemon.said.lines if "too many orders by MQTT" in line]
        print(f"{len(self.daemon.said.lines)} lines", flush=True)
        self.assertEqual(len(said), 1)
        self.assertLess(len(self.daemon.said.lines), 250)
        self.end_well()
        print(f"{len(self.events())} events, {self.ledger.stat().st_size} octets", flush=True)
        self.assertLess(len(self.events()), 150)
        self.assertLess(self.ledger.stat().st_size, 100_000)

    def test_the_same_order_again_and_again_is_written_once(self):
        self.start_at(9)
        for _ in range(300):
            self.assertTrue(self.ask_raw("inhibit pool-pump yes")["ok"])
            self.assertTrue(self.ask_raw("order water-heater off 2 h")["ok"])
            self.assertTrue(self.ask_raw("enable water-heater yes")["ok"])
        self.assertNotIn("too many", " ".join(self.daemon.status()["troubles"]))
        self.end_well()
        ordered = [text for text in self.events() if text.startswith("ordered")]
        self.assertEqual(ordered, ["ordered locally: inhibit yes", "ordered locally: off 2 h"])

    def test_a_flood_by_the_socket_is_answered_and_what_stops_still_passes(self):
        self.start_at(9)
        answers = [self.ask_raw(f"order water-heater on {k + 1} min") for k in range(120)]
        self.assertTrue(all(answer["ok"] for answer in answers[:40]), answers[:40])
        dropped = [answer for answer in answers if not answer["ok"]]
        self.assertGreater(len(dropped), 50)
        self.assertIn("too many orders: this one was dropped", dropped[-1]["text"])
        for line in ("order water-heater off", "inhibit all yes", "enable pool-pump no"):
            self.assertTrue(self.ask_raw(line)["ok"], line)
        self.assertFalse(self.ask_raw("inhibit all no")["ok"])
        status = self.daemon.status()
        self.assertTrue(status["inhibited"])
        self.assertEqual(load_of(status, "water-heater")["hand"], "off")
        self.assertFalse(load_of(status, "pool-pump")["enabled"])
        self.assertIn("too many orders by the control socket", " ".join(status["troubles"]))


if __name__ == "__main__":
    main()
