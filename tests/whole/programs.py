"""The real programs as the tests start them: sluiced, sluice and simhouse, joined by
real sockets. Nothing here waits for a time: it waits for a line, an answer or an end,
with a limit so generous that reaching it is a failure."""
import json
import os
import pathlib
import re
import socket
import sqlite3
import struct
import subprocess
import threading
import time

PATIENCE_S = 60  # for any one thing to happen
DAY_S = 600      # for a whole simulated day

# What the settings of the scenarios leave open: a line to the house.
TCP_BUS = "{{host: 127.0.0.1, tcp_port: {port}, answer: 300 ms}}"
PTY_BUS = "{{port: {path}, baud: 115200, parity: none, answer: 300 ms}}"


def fill_in(source, target, values):
    text = source.read_text()
    for key, value in values.items():
        text = text.replace(f"@{key}@", value)
    target.write_text(text)


def eventually(what, condition, patience_s=PATIENCE_S):
    """Asks until it is so, and returns what it got."""
    limit = time.monotonic() + patience_s
    while True:
        got = condition()
        if got:
            return got
        if time.monotonic() > limit:
            raise AssertionError(f"within {patience_s} s never: {what}")
        time.sleep(0.02)  # leaves the processor to those who are asked


class Built:
    """Where the programs were built, and from which sources."""

    def __init__(self, build, source):
        self.sluiced = build / "daemon/sluiced"
        self.sluice = build / "tools/sluice/sluice"
        self.simhouse = build / "tools/simhouse/simhouse"
        self.maps = source / "conf/meters"
        self.scenarios = source / "tests/scenarios"
        self.peers = source / "tests/peers"


class Spoken:
    """The lines of a stream, kept as they come."""

    def __init__(self, stream):
        self.lines, self.stream = [], stream
        self.news = threading.Condition()
        self.ended = False
        self.listener = threading.Thread(target=self.listen, daemon=True)
        self.listener.start()

    def listen(self):
        for line in self.stream:
            with self.news:
                self.lines.append(line.rstrip("\n"))
                self.news.notify_all()
        with self.news:
            self.ended = True
            self.news.notify_all()

    def find(self, pattern, since=0):
        for line in self.lines[since:]:
            match = re.search(pattern, line)
            if match:
                return match
        return None

    def wait_for(self, pattern, since=0, patience_s=PATIENCE_S):
        with self.news:
            self.news.wait_for(lambda: self.find(pattern, since) or self.ended, patience_s)
            match = self.find(pattern, since)
            if not match:
                raise AssertionError(f"never said: {pattern}\n" + self.tail())
            return match

    def text(self):
        self.listener.join(PATIENCE_S)
        return "\n".join(self.lines)

    def close(self):
        """Once the speaker has ended. A child of it may hold the stream open still: then
        the listener is left to end with it."""
        self.listener.join(PATIENCE_S)
        if self.ended:
            self.stream.close()

    def tail(self, count=60):
        return "\n".join(["--- said, at the end:"] + self.lines[-count:])


class Notified:
    """What a service manager would hear: sd_notify(3)."""

    def __init__(self, folder):
        self.path = str(folder / "notify")
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        pathlib.Path(self.path).unlink(missing_ok=True)
        self.socket.bind(self.path)
        self.socket.settimeout(PATIENCE_S)

    def wait_for(self, word, daemon):
        """The whole message that has this line in it."""
        while True:
            try:
                message = self.socket.recv(4096).decode()
            except TimeoutError:
                raise AssertionError(f"never notified: {word}\n" + daemon.said.tail())
            if word in message.splitlines():
                return message

    def close(self):
        self.socket.close()


class Sluiced:
    """One run of the daemon."""

    def __init__(self, built, settings, folder, clock=None, words=(), environment=None):
        self.built, self.control = built, str(folder / "control")
        command = [built.sluiced, "--settings", settings, "--maps", built.maps, *words]
        if clock:
            command += ["--clock", clock]
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True,
                                        errors="replace",
                                        env=dict(os.environ, **(environment or {})))
        self.said = Spoken(self.process.stderr)

    def ask(self, *words):
        """`sluice` as a person runs it."""
        return subprocess.run([self.built.sluice, *words], capture_output=True, text=True,
                              timeout=PATIENCE_S,
                              env=dict(os.environ, SLUICE_SOCKET=self.control))

    def order(self, *words):
        run = self.ask(*words)
        if run.returncode != 0:
            raise AssertionError(f"sluice {words}: {run.stderr}{run.stdout}")
        return run.stdout

    def status(self):
        return json.loads(self.order("status", "--json"))

    def load(self, name="water-heater"):
        return load_of(self.status(), name)

    def signal(self, number):
        self.process.send_signal(number)

    def kill(self):
        self.process.kill()
        self.process.wait(PATIENCE_S)

    def end(self, patience_s=PATIENCE_S):
        """Its exit status, once it has gone by itself."""
        return self.process.wait(patience_s)

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(PATIENCE_S)
        self.said.close()


def load_of(status, name):
    return next(load for load in status["loads"] if load["name"] == name)


class Simhouse:
    """A simulated house. With a clock its day stands still while the test acts: each
    `at TIME run hook NAME` of the scenario comes back here by a pipe."""

    def __init__(self, built, scenario, folder, pty=False, clock=True, environment=None):
        self.clock = str(folder / "clock") if clock else None
        self.log = folder / "day.csv"
        command = [built.simhouse, "--scenario", scenario, "--tcp", "0", "--log", self.log]
        command += ["--clock", self.clock] if clock else []
        command += ["--pty", str(folder / "pty")] if pty else []
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                                        text=True, env=environment)
        self.said = Spoken(self.process.stdout)
        self.complained = Spoken(self.process.stderr)
        self.port = int(self.said.wait_for(r"^ready tcp (\d+)").group(1))
        self.bus = TCP_BUS.format(port=self.port)
        if pty:
            self.bus = PTY_BUS.format(path=self.said.wait_for("^ready pty (.*)").group(1))
        if clock:
            self.said.wait_for("^ready clock")

    def end(self, patience_s=DAY_S):
        return self.process.wait(patience_s)

    def sums(self):
        """What the house knows at the end, by name."""
        words = (line.split() for line in self.said.text().splitlines())
        return {pair[0]: float(pair[1]) for pair in words if len(pair) == 2}

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(PATIENCE_S)
        self.said.close()
        self.complained.close()


# ---- looking past the programs ---------------------------------------------------------

def counters(path):
    """The ledger's counters as they are on the disk."""
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=PATIENCE_S) as ledger:
        return dict(ledger.execute("SELECT key, value FROM counter"))


def modbus(port, unit, pdu):
    """One request of Modbus TCP, written out by hand: Modbus Messaging on TCP/IP V1.0b,
    section 3.1.3 (MBAP header)."""
    with socket.create_connection(("127.0.0.1", port), PATIENCE_S) as line:
        line.sendall(struct.pack(">HHHB", 1, 0, len(pdu) + 1, unit) + pdu)
        header = receive(line, 7)
        return receive(line, struct.unpack(">H", header[4:6])[0] - 1)


def receive(line, count):
    got = b""
    while len(got) < count:
        more = line.recv(count - len(got))
        if not more:
            raise AssertionError("the peer closed in the middle of an answer")
        got += more
    return got


def coils(port, count=2, unit=10, first=0):
    """Modbus Application Protocol V1.1b3, section 6.1: read coils."""
    answer = modbus(port, unit, struct.pack(">BHH", 1, first, count))
    return [bool(answer[2 + k // 8] >> k % 8 & 1) for k in range(count)]


def set_coil(port, address, on, unit=10):
    """Modbus Application Protocol V1.1b3, section 6.5: write single coil."""
    modbus(port, unit, struct.pack(">BHH", 5, address, 0xFF00 if on else 0))


class Door:
    """Another port that leads to the same house: each byte is passed on as it comes."""

    def __init__(self, port):
        self.to = port
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        try:
            while True:
                outer, _ = self.listener.accept()
                if not self.admits():
                    outer.close()
                    continue
                inner = socket.create_connection(("127.0.0.1", self.to))
                for a, b in ((outer, inner), (inner, outer)):
                    threading.Thread(target=self.carry, args=(a, b), daemon=True).start()
        except OSError:
            return  # closed

    def admits(self):
        return True

    @staticmethod
    def carry(source, sink):
        try:
            while data := source.recv(4096):
                sink.sendall(data)
            sink.shutdown(socket.SHUT_WR)
        except OSError:
            return  # the other direction has closed it

    def close(self):
        self.listener.close()
