#!/usr/bin/python3
"""A serial line on which two independent pymodbus processes talk, master and server,
and a tap on it.

    peer_overheard.py PIECE [BAUD]   prints "ready PATH" of the tap, which is given what is
                               said in pieces of at most PIECE bytes, and garbage unless it
                               listens at BAUD (and not with a mark in VEOL2: at a wrong
                               parity, tests/sluice/parity_line.c)

Orders on standard input, each answered by "done":

    round           the master asks everything once: input 0, 52 and 72, two each, and
                    holding 107, three
    say HEX         these bytes are heard at the tap alone: noise

Whatever comes from the tap is reported as "asked HEX": a listener must never say
anything. Ends when its standard input does.
"""
import os
import pathlib
import select
import subprocess
import sys
import termios
import tty

HERE = pathlib.Path(__file__).parent
PIECE = int(sys.argv[1])
SPEED = getattr(termios, "B" + sys.argv[2]) if len(sys.argv) > 2 else None


def start(program, *arguments):
    return subprocess.Popen(["/usr/bin/python3", HERE / program, *arguments], text=True,
                            stdin=subprocess.PIPE, stdout=subprocess.PIPE)


def new_pty():
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    return ours, theirs


def hear(tap, data):
    line = termios.tcgetattr(tap)
    if SPEED and (line[5] != SPEED or line[6][termios.VEOL2] != b"\0"):
        data = bytes(byte ^ 0xA5 for byte in data)
    for at in range(0, len(data), PIECE):
        os.write(tap, data[at:at + PIECE])


server = start("peer_pymodbus.py", "rtu")
line = os.open(server.stdout.readline().split()[1], os.O_RDWR | os.O_NOCTTY)
tty.setraw(line)
master_side, master_port = new_pty()
tap, tap_port = new_pty()
master = start("rounds_pymodbus.py", os.ttyname(master_port))
if master.stdout.readline() != "ready\n":
    sys.exit("the master does not come up")
print("ready", os.ttyname(tap_port), flush=True)

while True:
    readable, _, _ = select.select([line, master_side, tap, master.stdout, sys.stdin], [], [])
    for source, sink in ((master_side, line), (line, master_side)):
        if source in readable:
            data = os.read(source, 512)
            hear(tap, data)
            os.write(sink, data)
    if tap in readable:
        print("asked", os.read(tap, 512).hex(), flush=True)
    if master.stdout in readable:
        print(master.stdout.readline().strip() or sys.exit("the master has ended"), flush=True)
    if sys.stdin in readable:
        words = sys.stdin.readline().split()
        if not words:
            break
        if words[0] == "round":
            print("round", file=master.stdin, flush=True)
        else:
            hear(tap, bytes.fromhex(words[1]))
            print("done", flush=True)
for process in (server, master):
    process.stdin.close()
    process.wait()
