#!/usr/bin/env python3
"""The gateway of a real sluiced under 64 clients, beside a bare libmodbus server loop in the
same run; prints `figure` lines.

usage: gateway_bench.py BUILD-DIR SOURCE-DIR
"""
import contextlib
import pathlib
import statistics
import subprocess
import sys
import tempfile

import bench

CLIENTS, SECONDS, ROUNDS = 64, 2, 5
PERIOD_MS = 50  # 20 requests a second each, which the settings allow unless told otherwise
GATEWAY = """
gateway: {{tcp_port: {gateway_port}, connections: 64, connections_each: 64, rate: 100000, age: 60 s,
  serve: [{{meter: grid}}]}}
"""


def ask(given, port, period_ms=0):
    """Requests a second, and the 99th percentile in ms."""
    run = subprocess.run([given.build / "tests/bench/gateway_load", "ask", str(port), "1",
                          str(CLIENTS), str(SECONDS), str(period_ms)], capture_output=True, text=True)
    if run.returncode != 0:
        raise SystemExit(run.stderr)
    throughput, p99, _ = map(float, run.stdout.split())
    return throughput, p99


def main():
    class given:
        build, source = map(pathlib.Path, sys.argv[1:3])

    with contextlib.ExitStack() as stack:
        folder = pathlib.Path(stack.enter_context(tempfile.TemporaryDirectory()))
        meter = bench.Meter()
        meter.start()
        port = bench.free_port()
        settings = folder / "house.yaml"
        settings.write_text((bench.REACTION + GATEWAY).format(
            folder=folder, port=meter.port, poll_ms=1000, map="eastron-sdm630",
            gateway_port=port))
        stack.enter_context(bench.running(given.build / "daemon/sluiced", "--settings", settings,
                                          "--maps", given.source / "conf/meters",
                                          stderr=subprocess.DEVNULL))
        bare = stack.enter_context(bench.running(given.build / "tests/bench/gateway_load", "serve",
                                                 stdout=subprocess.PIPE, text=True))
        bare_port = int(bare.stdout.readline().split()[1])
        bench.wait_for_port(port)
        ask(given, port)  # the first poll has been, whatever it took
        _, paced = ask(given, port, PERIOD_MS)
        rounds = [(ask(given, bare_port), ask(given, port)) for _ in range(ROUNDS)]
    ratios = [ours[0] / theirs[0] for theirs, ours in rounds]
    ours = statistics.median(one[0] for _, one in rounds)
    theirs = statistics.median(one[0] for one, _ in rounds)
    bench.figure("gateway_over_bare_loop", round(statistics.median(ratios), 3), "ratio",
                 f"{CLIENTS} clients, {ours:.0f} beside {theirs:.0f} requests/s; "
                 f"{ROUNDS} rounds from {min(ratios):.2f} to {max(ratios):.2f}")
    bench.figure("gateway_p99", round(statistics.median(one[1] for _, one in rounds), 3), "ms",
                 f"the same clients, asking as fast as they can; the bare loop "
                 f"{statistics.median(one[1] for one, _ in rounds):.3f} ms")
    bench.figure("gateway_p99_paced", round(paced, 3), "ms",
                 f"{CLIENTS} clients, each asking every {PERIOD_MS} ms")


if __name__ == "__main__":
    sys.exit(main())
