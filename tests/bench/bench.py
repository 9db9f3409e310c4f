#!/usr/bin/env python3
"""Measures what sluiced costs and how fast it reacts, and prints a line
`figure NAME VALUE UNIT` for each. Runs the programs of a build folder against a
simulated house and a real broker; leaves nothing running.

usage: bench.py BUILD-DIR SOURCE-DIR [--seconds N] [--house-days N]
"""
import argparse
import contextlib
import os
import pathlib
import random
import select
import shutil
import socket
import struct
import subprocess
import sys
import tempfile
import threading
import time

MQTT = """
mqtt:
  host: localhost
  port: @PORT@
"""
TLS = """  tls: yes
  ca_file: "@STATE@/ca.crt"
"""


def figure(name, value, unit, note=""):
    print(f"figure {name} {value} {unit}" + (f" ({note})" if note else ""), flush=True)


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextlib.contextmanager
def running(*command, **options):
    process = subprocess.Popen([str(word) for word in command], **options)
    try:
        yield process
    finally:
        if process.poll() is None:
            process.terminate()
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def wait_for_port(port):
    limit = time.monotonic() + 20
    while time.monotonic() < limit:
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
            return
        select.select([], [], [], 0.02)
    raise SystemExit(f"nothing listens on port {port}")


def certificates(folder):
    """A certificate authority and a broker's certificate, for this run alone."""
    def openssl(*words):
        subprocess.run(["openssl", *words], check=True, cwd=folder,
                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    openssl("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj",
            "/CN=bench authority", "-keyout", "ca.key", "-out", "ca.crt")
    openssl("req", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=localhost",
            "-keyout", "broker.key", "-out", "broker.csr")
    openssl("x509", "-req", "-in", "broker.csr", "-CA", "ca.crt", "-CAkey", "ca.key",
            "-CAcreateserial", "-days", "2", "-out", "broker.crt")


@contextlib.contextmanager
def broker(folder, tls):
    port = free_port()
    text = f"listener {port} 127.0.0.1\nallow_anonymous true\n"
    if tls:
        certificates(folder)
        text += (f"cafile {folder}/ca.crt\ncertfile {folder}/broker.crt\n"
                 f"keyfile {folder}/broker.key\n")
    config = folder / "mosquitto.conf"
    config.write_text(text + "user root\n")
    program = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
    with running(program, "-c", config, stderr=subprocess.DEVNULL):
        wait_for_port(port)
        yield port


def fill_in(source, target, extra, values):
    text = source.read_text() + extra
    for key, value in values.items():
        text = text.replace(f"@{key}@", str(value))
    target.write_text(text)


def read_ready(process, wanted):
    while True:
        words = process.stdout.readline().split()
        if not words:
            raise SystemExit("simhouse ended before it was ready")
        if words[:2] == ["ready", wanted]:
            return words[2]


def memory_kib(pid):
    fields = {}
    for line in pathlib.Path(f"/proc/{pid}/status").read_text().splitlines():
        key, _, value = line.partition(":")
        if key in ("VmRSS", "RssAnon"):
            fields[key] = int(value.split()[0])
    return fields


def cpu_s(pid):
    """Time on a processor of all threads, to the nanosecond."""
    return sum(int((task / "schedstat").read_text().split()[0])
               for task in pathlib.Path(f"/proc/{pid}/task").iterdir()) / 1e9


def written(pid):
    for line in pathlib.Path(f"/proc/{pid}/io").read_text().splitlines():
        if line.startswith("write_bytes"):
            return int(line.split()[1])
    return 0


@contextlib.contextmanager
def beside_a_house(given, tls):
    """sluiced and a house in real time, one poll a second; the folder has its `house.yaml` and
    its `control` socket."""
    with contextlib.ExitStack() as stack:
        folder = pathlib.Path(stack.enter_context(tempfile.TemporaryDirectory()))
        port = stack.enter_context(broker(folder, tls))
        house = stack.enter_context(running(
            given.build / "tools/simhouse/simhouse", "--scenario",
            given.source / "tests/scenarios/demo-day.txt", "--tcp", "0",
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True))
        bus = f"{{host: 127.0.0.1, tcp_port: {read_ready(house, 'tcp')}}}"
        settings = folder / "house.yaml"
        fill_in(given.source / "tests/scenarios/house.yaml", settings,
                MQTT + (TLS if tls else ""),
                {"BUS": bus, "PORT": port, "SOCKET": folder / "control", "STATE": folder})
        daemon = stack.enter_context(running(
            given.build / "daemon/sluiced", "--settings", settings, "--maps",
            given.source / "conf/meters", stderr=subprocess.DEVNULL))
        select.select([], [], [], 5)  # settled: connected, all published, walk done
        yield daemon, folder


def real_time(given, seconds, tls):
    """Memory and processor."""
    with beside_a_house(given, tls) as (daemon, _):
        begun, began_at = cpu_s(daemon.pid), time.monotonic()
        select.select([], [], [], seconds)
        used, took = cpu_s(daemon.pid) - begun, time.monotonic() - began_at
        if daemon.poll() is not None:
            raise SystemExit("sluiced ended while it was measured")
        return memory_kib(daemon.pid), 100 * used / took, took


def watch_bytes(given, seconds):
    """What `sluice watch` sends to a terminal of 80 x 24 once its screen stands there."""
    sys.path.insert(0, str(given.source / "tests/sluice"))
    from vt import Terminal
    with beside_a_house(given, False) as (_, folder):
        terminal = Terminal([given.build / "tools/sluice/sluice", "watch", "--settings",
                             folder / "house.yaml", "--maps", given.source / "conf/meters"],
                            SLUICE_SOCKET=str(folder / "control"))
        terminal.until_shown("q quit")
        before, until = len(terminal.raw), time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            terminal.read(left)
        sent = len(terminal.raw) - before
        terminal.close()
        return 60 * sent / seconds, before


def expanded(path):
    """A scenario's text with what it includes, so that it can stand elsewhere."""
    lines = []
    for line in path.read_text().splitlines():
        words = line.split("#")[0].split()
        lines.append(expanded(path.parent / words[1]) if words[:1] == ["include"] else line)
    return "\n".join(lines) + "\n"


def simulated(given, scenario, preload=None, cut=None):
    """A day in lock-step; bytes that sluiced wrote, and what the preload counted."""
    with contextlib.ExitStack() as stack:
        folder = pathlib.Path(stack.enter_context(tempfile.TemporaryDirectory()))
        text = expanded(given.source / "tests/scenarios" / scenario)
        if cut:
            text = "\n".join(line for line in text.splitlines() if not line.startswith("must"))
            text = text.replace("length 24 h", f"length {cut}")
        (folder / "day.txt").write_text(text)
        house = stack.enter_context(running(
            given.build / "tools/simhouse/simhouse", "--scenario", folder / "day.txt",
            "--tcp", "0", "--clock", folder / "clock", stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL, text=True,
            env=dict(os.environ, SLUICE_SOCKET=str(folder / "control"),
                     PATH=f"{given.build / 'tools/sluice'}:{os.environ['PATH']}")))
        bus = f"{{host: 127.0.0.1, tcp_port: {read_ready(house, 'tcp')}}}"
        read_ready(house, "clock")
        settings = folder / "house.yaml"
        fill_in(given.source / "tests/scenarios/house.yaml", settings, "",
                {"BUS": bus, "SOCKET": folder / "control", "STATE": folder})
        environment = dict(os.environ)
        if preload:
            environment.update(LD_PRELOAD=str(preload), ALLOCATIONS_FILE=str(folder / "count"))
        daemon = stack.enter_context(running(
            given.build / "daemon/sluiced", "--settings", settings, "--maps",
            given.source / "conf/meters", "--clock", folder / "clock",
            stderr=subprocess.DEVNULL, env=environment))
        bytes_written, rss = 0, {}
        while daemon.poll() is None:
            with contextlib.suppress(OSError, IndexError):
                bytes_written = written(daemon.pid)
            with contextlib.suppress(subprocess.TimeoutExpired):
                daemon.wait(0.2)
        if daemon.returncode != 0:
            raise SystemExit(f"sluiced ended with {daemon.returncode}")
        count = int((folder / "count").read_text()) if preload else 0
        return bytes_written, count


class Meter(threading.Thread):
    """A meter and a relay board on one TCP port, as plain bytes of the Modbus
    Messaging on TCP/IP Implementation Guide V1.0b; notes when coil 0 is written."""

    def __init__(self):
        super().__init__(daemon=True)
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        self.power_w, self.coil = 0.0, 0
        self.changed = threading.Condition()

    def answer(self, pdu):
        function, address, count = struct.unpack(">BHH", pdu[:5])
        if function == 4:
            words = [0] * count
            for offset, value in ((0x34, self.power_w), (0x0C, self.power_w), (0x00, 230.0),
                                  (0x02, 230.0), (0x04, 230.0), (0x46, 50.0)):
                if address <= offset and offset + 2 <= address + count:
                    words[offset - address:offset - address + 2] = struct.unpack(
                        ">HH", struct.pack(">f", value))
            return struct.pack(f">BB{count}H", 4, 2 * count, *words)
        if function == 5:
            with self.changed:
                self.coil = 1 if count == 0xFF00 else 0
                self.written_at = time.monotonic()
                self.changed.notify_all()
            return pdu[:5]
        if function == 1:
            return struct.pack(">BBB", 1, 1, self.coil)
        return struct.pack(">BB", function | 0x80, 1)

    def run(self):
        peer, _ = self.listener.accept()
        peer.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        stream = peer.makefile("rb")
        while True:
            head = stream.read(7)
            if len(head) < 7:
                return
            transaction, _, length, unit = struct.unpack(">HHHB", head)
            pdu = self.answer(stream.read(length - 1))
            peer.sendall(struct.pack(">HHHB", transaction, 0, len(pdu) + 1, unit) + pdu)


REACTION = """
site: {{name: Bench, timezone: UTC, phases: 1, supply_limit: 100 A, margin: 0 W, start_gap: 0 s,
  restart_spread: 0 s, control_socket: "{folder}/control"}}
buses:
  lan: {{host: 127.0.0.1, tcp_port: {port}}}
meters:
  grid: {{role: grid, bus: lan, unit: 1, map: {map}, every: {poll_ms} ms}}
loads:
  heater:
    power: 2 kW
    phases: L1
    settle_start: 0 s
    settle_stop: 0 s
    minimum_on: 0 s
    minimum_off: 0 s
    starts_per_hour: 0
    thermostat: no
    output: {{kind: coil, bus: lan, unit: 10, address: 0}}
storage: {{path: "{folder}/ledger.db"}}
"""


def reaction(given, poll_ms, samples):
    """From a change of the meter's register to the coil's write, both on one clock."""
    with contextlib.ExitStack() as stack:
        folder = pathlib.Path(stack.enter_context(tempfile.TemporaryDirectory()))
        meter = Meter()
        meter.start()
        settings = folder / "house.yaml"
        settings.write_text(REACTION.format(folder=folder, port=meter.port, poll_ms=poll_ms,
                                            map="eastron-sdm630"))
        stack.enter_context(running(
            given.build / "daemon/sluiced", "--settings", settings, "--maps",
            given.source / "conf/meters", stderr=subprocess.DEVNULL))
        chance, delays = random.Random(1), []
        for number in range(samples + 5):
            wanted = 1 - meter.coil
            # anywhere within a poll; and the change before must have been seen
            select.select([], [], [], poll_ms / 1000 * (1.5 + chance.random()))
            with meter.changed:
                changed_at = time.monotonic()
                meter.power_w = -5000.0 if wanted else 5000.0
                if not meter.changed.wait_for(lambda: meter.coil == wanted, 20):
                    raise SystemExit(f"the coil was not written in 20 s (sample {number})")
                delays.append(1000 * (meter.written_at - changed_at))
        delays = sorted(delays[5:])
        return delays[int(0.99 * (len(delays) - 1))], delays[len(delays) // 2]


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("build", type=pathlib.Path)
    arguments.add_argument("source", type=pathlib.Path)
    arguments.add_argument("--seconds", type=int, default=60)
    arguments.add_argument("--house-days", type=int, default=20000,
                           help="of diagnosis; some 25 minutes of a processor, two at once")
    given = arguments.parse_args()
    for loads in ("3", "1000"):
        subprocess.run([given.build / "tests/bench/engine_turns", loads], check=True)
    for program in ("poll_over_wire", "listened", "house_seconds"):
        subprocess.run([given.build / "tests/bench" / program], check=True)

    preload = given.build / "tests/bench/libcount_allocations.so"
    _, short = simulated(given, "demo-day.txt", preload, "2 h")
    _, long = simulated(given, "demo-day.txt", preload, "4 h")
    figure("turn_allocations", (long - short) / 7200, "per-turn",
           f"own code, {long - short} in 7,200 turns of a night")

    plain, percent, took = real_time(given, given.seconds, tls=False)
    secure, _, _ = real_time(given, 5, tls=True)
    figure("daemon_anon", round(plain["RssAnon"] / 1024, 2), "MiB")
    figure("daemon_rss", round(plain["VmRSS"] / 1024, 2), "MiB")
    figure("daemon_rss_tls", round(secure["VmRSS"] / 1024, 2), "MiB")
    figure("daemon_cpu", round(percent, 3), "%-of-a-core", f"1 Hz, sample of {took:.0f} s")

    steady, first = watch_bytes(given, given.seconds)
    figure("watch_bytes_per_minute", round(steady), "bytes",
           f"a night in the house, noise of its meter; the first screen {first}")

    bytes_written, _ = simulated(given, "demo-day.txt")
    figure("disk_per_day", round(bytes_written / 2**20, 2), "MiB",
           "write_bytes of a simulated day with history")

    poll_ms = 200
    p99, median = reaction(given, poll_ms, 200)
    figure("reaction_p99", round(p99, 1), "ms",
           f"TCP, settle 0, polled each {poll_ms} ms: {p99 - poll_ms:+.1f} ms beside that; "
           f"median {median:.1f} ms, 200 samples")

    subprocess.run([sys.executable, given.source / "tests/bench/gateway_bench.py", given.build,
                    given.source], check=True)
    for script in ("capture.py", "layered.py"):
        subprocess.run([sys.executable, given.source / "tests/bench" / script, given.build,
                        given.source], check=True)
    subprocess.run([given.build / "tests/bench/diagnosis", "--days", str(given.house_days)],
                   check=True)


if __name__ == "__main__":
    sys.exit(main())
