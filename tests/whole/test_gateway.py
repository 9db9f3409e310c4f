#!/usr/bin/env python3
"""The meter given to others, in real time: what is answered and how, limits, and whatever bad
input a meter or a client may bring.

usage: test_gateway.py BUILD-DIR SOURCE-DIR
"""
import contextlib
import os
import socket
import struct

from broker import Broker, Topics
from case import main, seeded
from gateway_case import (ADDRESS, BUSY, FLOATS, FUNCTION, PATH, POLLED, SILENT, UNIT, UNPOLLED,
                          VALUE, VIEW, GatewayCase, read, read_exactly, with_crc, words)
from programs import eventually


class Gateway(GatewayCase):
    # ---- what is answered ----

    def test_what_a_poll_has_read_is_answered_from_it_word_for_word(self):
        self.begin()
        master = self.master()
        self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])  # -1500 W
        self.assertEqual(words(master.ask(read(4, 53, 1))), [0x8000])
        self.assertEqual(self.meter.asked(read(4, 53, 1)), 0)
        self.assertEqual(self.state()["passed"], 0)

    def test_what_no_poll_has_read_is_passed_on(self):
        self.begin()
        master = self.master()
        self.assertEqual(words(master.ask(UNPOLLED)), [555, 0, 100])
        self.assertEqual(master.ask(read(1, 19, 19)), bytes.fromhex("0103cd6b05"))
        self.assertEqual(self.meter.asked(UNPOLLED), 1)
        self.assertEqual(self.state()["passed"], 2)

    def test_an_exception_of_the_meter_is_passed_back(self):
        self.begin()
        self.meter.order("behave exception:2")
        self.assertEqual(self.master().exception(UNPOLLED), ADDRESS)

    def test_what_it_has_done_stands_on_the_broker_too(self):
        broker = Broker(self.folder)
        self.addCleanup(broker.close)
        topics = Topics(broker)
        self.addCleanup(topics.close)
        self.begin(mqtt=f"mqtt: {{host: 127.0.0.1, port: {broker.port}}}")
        master = self.master()
        for _ in range(3):
            master.ask(POLLED)
        master.ask(UNPOLLED)
        self.assertEqual(master.exception(read(3, 40000, 1)[:3]), VALUE)
        topics.wait_is("gateway/answered", "3")
        for name in ("connections", "passed", "refused"):
            topics.wait_is(f"gateway/{name}", "1")
        for name in ("shared", "turned-away", "dropped"):
            topics.wait_is(f"gateway/{name}", "0")
        self.assertIn("gateway", topics.description()["nodes"])

    # ---- what the standard's exceptions say ----

    def test_a_silent_meter_is_told_as_such_and_never_by_old_numbers(self):
        self.begin(age="1 s", wait="5 s")
        master = self.master()
        self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        self.meter.order("behave silent")
        eventually("exception 0B", lambda: master.ask(POLLED) == bytes([0x84, SILENT]))
        self.assertEqual(master.exception(read(3, 40072, 20), VIEW), SILENT)
        self.assertEqual(words(master.ask(read(3, 40000, 2), VIEW)), [0x5375, 0x6E53])
        self.meter.order("behave good")
        eventually("it is back", lambda: master.ask(POLLED) == b"\x04\x04\xc4\xbb\x80\0")

    def test_a_meter_that_answers_wrongly_is_told_as_silent(self):
        # The first question it gets wrong is a poll, or the client's: both are asked so.
        for behaviour in ("wrong-unit", "short", "long", "other-function", "number", "truncated",
                          "garbage", "previous"):
            with self.subTest(behaviour):
                if not hasattr(self, "port"):
                    self.begin(wait="20 s")
                master = self.master()
                self.assertEqual(words(master.ask(UNPOLLED)), [555, 0, 100])
                self.meter.order(f"behave {behaviour}")
                # Whatever the meter says, no number of it may get through. Once its polls
                # have failed too its connection is down for a while: that is 0A.
                answer = master.ask(read(3, 301, 2))
                self.assertIn(answer, (bytes([0x83, SILENT]), bytes([0x83, PATH])))
                self.meter.order("behave good")
                eventually("it is well again",
                           lambda: master.ask(UNPOLLED) == b"\x03\x06\x02\x2b\0\0\0\x64")
                master.close()

    def test_a_serial_meter_gone_wrong_is_told_as_silent_and_the_next_answer_is_right(self):
        self.begin(wire="pty", wait="20 s")
        master = self.master()
        for behaviour in ("late:500", "wrong-unit", "bad-crc", "truncated", "garbage", "previous",
                          "echo", "echo-only"):
            with self.subTest(behaviour):
                self.meter.order(f"behave {behaviour}")
                self.assertEqual(master.exception(read(3, 301, 2)), SILENT)
                self.meter.order("behave good")
                eventually("it is well again",
                           lambda: master.ask(UNPOLLED) == b"\x03\x06\x02\x2b\0\0\0\x64")

    def test_a_meter_that_answers_twice_does_not_answer_the_next_question_with_it(self):
        for wire in ("tcp", "pty"):
            with self.subTest(wire):
                self.tearDown_daemon()
                self.begin(wire=wire, wait="20 s", more="  rate: 1000")
                master = self.master()
                self.meter.order("behave twice")
                for k in range(20):
                    answer = master.ask(read(3, 200 + k, 1))
                    self.assertIn(answer[1:], (struct.pack(">BH", 2, 200 + k), bytes([SILENT]),
                                               bytes([PATH])))

    def tearDown_daemon(self):
        if hasattr(self, "daemon"):
            self.daemon.close()

    def test_a_bus_that_is_down_is_a_path_unavailable(self):
        self.begin(age="1 s", wait="10 s")
        master = self.master()
        self.meter.order("vanish")
        eventually("exception 0A", lambda: master.ask(UNPOLLED) == bytes([0x83, PATH]))

    def test_a_unit_that_is_not_served_is_a_path_unavailable(self):
        self.begin()
        master = self.master()
        for unit in (0, 1, 16, 18, 247, 255):
            self.assertEqual(master.exception(UNPOLLED, unit), PATH)
        self.assertEqual(self.meter.asked(UNPOLLED, 18), 0)

    def test_whoever_waits_too_long_in_the_queue_hears_that_the_gateway_is_busy(self):
        self.begin(wait="700 ms", answer="5 s")
        self.meter.order("behave late:2000")
        masters = [self.master() for _ in range(4)]
        for k, master in enumerate(masters):
            master.send(read(3, 200 + k, 1))
        codes = sorted(master.hear()[2][1] for master in masters)
        # One at most was under way, and the meter did not answer it; the rest never got there.
        self.assertEqual(codes[:3], [BUSY] * 3)
        self.assertIn(codes[3], (BUSY, SILENT))

    # ---- one at a time, in turn, equal ones together ----

    def test_equal_questions_are_asked_once(self):
        self.begin(more="  connections_each: 8", wait="20 s", answer="5 s")
        masters = [self.master() for _ in range(4)]
        slow = self.master()
        self.meter.order("behave late:300")
        slow.send(read(3, 10, 1))  # whatever is under way, the others wait behind it
        for master in masters:
            master.send(UNPOLLED)
        self.assertEqual([words(master.hear()[2]) for master in masters], [[555, 0, 100]] * 4)
        self.assertEqual(words(slow.hear()[2]), [10])
        self.assertEqual(self.meter.asked(UNPOLLED), 1)
        self.assertEqual(self.state()["shared"], 3)

    def test_a_client_that_asks_a_lot_does_not_hold_up_one_that_asks_once(self):
        self.begin(more="  rate: 1000", wait="20 s", answer="5 s")
        greedy, modest = self.master(), self.master()
        self.meter.order("behave late:100")
        since = len(self.meter.said.lines)
        questions = [read(3, 200 + k, 1) for k in range(20)]
        for pdu in questions:
            greedy.send(pdu)
        modest.send(read(3, 300, 1))
        self.assertEqual(words(modest.hear()[2]), [300])
        self.assertEqual([words(greedy.hear()[2]) for _ in questions],
                         [[200 + k] for k in range(20)])
        order = self.meter.order_of([*questions, read(3, 300, 1)], since)
        self.assertEqual([k for k in order if k != 20], list(range(20)))
        self.assertEqual(order.count(20), 1)
        self.assertLess(order.index(20), 5)  # each takes 100 ms and more, so it came in early

    # ---- writing ----

    def test_nothing_is_written_unless_it_is_listed(self):
        self.begin()
        master = self.master()
        for pdu in ("05 0000 ff00", "06 0064 0001", "0f 0000 0001 01 01", "10 0064 0001 02 0001",
                    "16 0064 0000 0001", "17 0000 0001 0064 0001 02 0001"):
            self.assertEqual(master.exception(bytes.fromhex(pdu)), FUNCTION)
            self.assertEqual(master.exception(bytes.fromhex(pdu), VIEW), FUNCTION)
        self.assertEqual(words(master.ask(read(3, 100, 1))), [100])

    def test_what_is_listed_is_written_and_nothing_beside_it(self):
        self.begin(writable="[holding 100-103, coil 5]")
        master = self.master()
        for pdu in ("06 0064 0007", "10 0065 0002 04 0008 0009", "05 0005 ff00"):
            self.assertEqual(master.ask(bytes.fromhex(pdu))[0], int(pdu[:2], 16))
        self.assertEqual(words(master.ask(read(3, 100, 4))), [7, 8, 9, 103])
        self.assertEqual(master.ask(read(1, 5, 1)), b"\x01\x01\x01")
        for pdu in ("06 0063 0001", "06 0068 0001", "10 0067 0002 04 0001 0001", "05 0004 ff00",
                    "0f 0004 0002 01 03", "06 0005 0001", "10 ffff 0002 04 0001 0001"):
            self.assertEqual(master.exception(bytes.fromhex(pdu)), ADDRESS)
        self.assertEqual(words(master.ask(read(3, 99, 1))), [99])

    # ---- bad input ----

    def test_every_function_code_and_length_gets_its_exception_or_its_answer(self):
        """Application Protocol V1.1b3: 4.1 (253 bytes), 6 (functions), 7 (exceptions)."""
        self.begin(more="  rate: 100000")
        master = self.master()
        known = {1: 5, 2: 5, 3: 5, 4: 5, 5: 5, 6: 5, 8: 5, 15: 6, 16: 6, 22: 7, 23: 10}
        for function in range(256):
            for length in (1, 2, 4, 5, 6, 7, 10, 253):
                pdu = bytes([function]).ljust(length, b"\0")
                answer = master.ask(pdu, VIEW)
                self.assertEqual((len(answer), answer[0]), (2, function | 0x80))
                if function in known:  # a quantity of 0 is a wrong value, too
                    right = length == known[function] and function in (5, 6, 8, 22)
                    self.assertEqual(answer[1], FUNCTION if right else VALUE, pdu.hex())
                elif function != 0x2B:
                    self.assertEqual(answer[1], FUNCTION, pdu.hex())
        for unit in (UNIT, VIEW):  # 6.21: identification is well-formed, and not given
            self.assertEqual(master.exception(bytes.fromhex("2b0e0100"), unit), FUNCTION)
        for pdu, code in ((read(3, 40000, 0), VALUE), (read(3, 40000, 126), VALUE),
                          (read(3, 39999, 1), ADDRESS), (read(3, 40178, 2), ADDRESS),
                          (read(3, 65535, 2), ADDRESS), (read(4, 40000, 1), FUNCTION)):
            self.assertEqual(master.exception(pdu, VIEW), code, pdu.hex())
        self.assertEqual(words(master.ask(read(3, 40177, 2), VIEW)), [0xFFFF, 0])

    def test_what_is_no_modbus_is_hung_up_on(self):
        """Messaging on TCP/IP V1.0b, 3.1.3: protocol 0; a length of unit and PDU."""
        self.begin()
        for header in ("0001 0001 0006 11", "0001 0000 0000 11", "0001 0000 0001 11",
                       "0001 0000 00ff 11", "0001 0000 ffff 11", "4745 5420 2f20 48"):
            master = self.master()
            master.line.sendall(bytes.fromhex(header) + b"\3\0\0\0\1")
            self.assertTrue(master.is_hung_up(), header)
        self.assertEqual(words(self.master().ask(POLLED)), [0xC4BB, 0x8000])
        self.assertEqual(self.state()["dropped"], 6)

    def test_random_bytes_do_no_harm(self):
        self.begin_serial(more="  rate: 100000\n  connections_each: 16")
        chance = seeded(7)
        line = os.open(self.wire.theirs, os.O_RDWR | os.O_NOCTTY)
        self.addCleanup(os.close, line)
        for _ in range(300):
            master = self.master()
            header = struct.pack(">HHHB", chance.randrange(65536), 0, chance.randrange(2, 255),
                                 chance.choice((UNIT, VIEW, FLOATS, 0, 255)))
            noise = chance.randbytes(chance.randrange(1, 600))
            with contextlib.suppress(ConnectionError):
                master.line.sendall(chance.choice((noise, header + noise, 3 * header + noise)))
            os.write(line, chance.choice((noise, with_crc(noise[:20]), bytes([UNIT]) + noise)))
            master.close()
        eventually("it answers as ever", lambda: self.state()["connections"] == 0)
        self.assertEqual(words(self.master().ask(POLLED)), [0xC4BB, 0x8000])
        os.write(line, with_crc(bytes([UNIT]) + POLLED))
        answer = with_crc(bytes([UNIT]) + b"\x04\x04\xc4\xbb\x80\0")
        heard = b""
        while not heard.endswith(answer):  # after exceptions, where noise was a request
            heard += read_exactly(line, 1)

    def test_slow_and_half_open_clients_hold_up_nobody(self):
        self.begin(more="  connections_each: 16")
        slow = [self.master() for _ in range(5)]
        frame = struct.pack(">HHHB", 1, 0, 6, UNIT) + POLLED
        for k, master in enumerate(slow):
            master.line.sendall(frame[:2 * k + 1])  # and no more
        master = self.master()
        for _ in range(20):
            self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        for k, late in enumerate(slow):  # byte by byte at last
            for byte in frame[2 * k + 1:]:
                late.line.sendall(bytes([byte]))
            self.assertEqual(words(late.hear()[2]), [0xC4BB, 0x8000])

    def test_half_a_request_does_not_hold_its_place_for_ever(self):
        self.begin()
        master = self.master()
        master.line.sendall(b"\0\1\0\0")
        self.assertTrue(master.is_hung_up())

    def test_a_client_that_shuts_its_side_still_hears_the_answer(self):
        self.begin()
        master = self.master()
        master.send(UNPOLLED)
        master.line.shutdown(socket.SHUT_WR)
        self.assertEqual(words(master.hear()[2]), [555, 0, 100])
        self.assertTrue(master.is_hung_up())

    def test_a_client_that_floods_and_one_that_does_not_read_hold_up_nobody(self):
        self.begin(more="  rate: 50")
        flood = struct.pack(">HHHB", 7, 0, 6, UNIT) + UNPOLLED
        flooding = [self.master() for _ in range(2)]
        for master in flooding:
            master.line.setblocking(False)
            with self.assertRaises(BlockingIOError):
                while True:  # until nobody takes it any more
                    master.line.send(1000 * flood)
        master = self.master()
        before = self.daemon.status()["reading"]
        for _ in range(20):
            self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        polls = self.meter.asked(POLLED)
        eventually("polling goes on", lambda: self.meter.asked(POLLED) > polls + 3)
        self.assertEqual(before["quality"], "fresh")
        self.assertEqual(self.daemon.status()["reading"]["quality"], "fresh")

    def test_connections_are_limited_for_all_and_for_each(self):
        self.begin(more="  connections: 5\n  connections_each: 3\n  allow: [127.0.0.0/8]")
        first = [self.master() for _ in range(3)]
        for master in first:
            self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        self.assertTrue(self.master().is_hung_up())
        others = [self.master(source="127.0.0.2") for _ in range(2)]
        for master in others:
            self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        self.assertTrue(self.master(source="127.0.0.3").is_hung_up())
        first[0].close()
        eventually("its place is free", lambda: self.state()["connections"] == 4)
        self.assertEqual(words(self.master(source="127.0.0.3").ask(POLLED)), [0xC4BB, 0x8000])
        self.assertEqual(self.state()["turned_away"], 2)

    def test_who_is_not_allowed_is_hung_up_on(self):
        self.begin(more="  allow: [127.0.0.2, 127.0.1.0/24, \"2001:db8::/32\"]")
        self.assertTrue(self.master().is_hung_up())
        self.assertTrue(self.master(source="127.0.0.3").is_hung_up())
        for source in ("127.0.0.2", "127.0.1.77"):
            self.assertEqual(words(self.master(source=source).ask(POLLED)), [0xC4BB, 0x8000])

    def test_it_listens_on_loopback_alone(self):
        self.begin()
        # /proc/net/tcp: local address in hex of the machine's byte order; state 0A listens
        with open("/proc/net/tcp") as table:
            listening = [line.split()[1] for line in table if line.split()[3] == "0A"]
        self.assertIn(f"0100007F:{self.port:04X}", listening)
        self.assertNotIn(f"00000000:{self.port:04X}", listening)

    def test_whoever_is_long_unused_makes_room(self):
        self.begin(more="  connections: 2")
        idle = [self.master() for _ in range(2)]
        for master in idle:
            self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])

        def gets_in():
            with contextlib.suppress(AssertionError, ConnectionError):
                return words(self.master().ask(POLLED))

        self.assertIsNone(gets_in())
        eventually("a third gets in", gets_in)
        self.assertTrue(idle[0].is_hung_up())

    # ---- changes ----

    def test_connections_outlive_a_change_that_is_not_about_them(self):
        self.begin()
        master = self.master()
        self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        self.change_settings(("power: 1 kW", "power: 2 kW"))
        self.daemon.order("reload")
        self.assertEqual(words(master.ask(POLLED)), [0xC4BB, 0x8000])
        self.change_settings(("age: 3 s", "age: 4 s"))
        self.daemon.order("reload")
        self.assertTrue(master.is_hung_up())
        eventually("the new gateway has heard a poll",
                   lambda: self.master().ask(POLLED) == b"\x04\x04\xc4\xbb\x80\0")

    def test_a_port_in_use_is_told_and_taken_when_it_is_free(self):
        self.begin()
        with socket.create_server(("127.0.0.1", 0)) as other:
            taken = other.getsockname()[1]
            self.change_settings((f"tcp_port: {self.port}", f"tcp_port: {taken}"))
            self.daemon.order("reload")
            eventually("it is told", lambda: any(
                "in use" in text for text in self.daemon.status()["troubles"]))
        self.port = taken
        eventually("it is solved", lambda: not any(
            "gateway" in text for text in self.daemon.status()["troubles"]))
        self.assertEqual(self.master().exception(UNPOLLED, 1), PATH)


if __name__ == "__main__":
    main()
