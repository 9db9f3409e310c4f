"""A command that switches loads and looks at the meter, beside a house whose day goes on by a
second with each question that the command asks: what it sees does not depend on how fast this
machine is."""
import fcntl
import os
import pty
import select
import signal
import socket
import struct
import subprocess
import termios
import threading

from case import Case
from programs import PATIENCE_S, Spoken, coils

ROOF = "  roof: {role: solar, bus: board, unit: 2, map: sunspec, every: 5 s}\n"
DARK = """
water water-heater 20 C
draws none
pv 6.6 kWp dark seed 2
"""


def take_terminal():
    """As a login does: this terminal is its own, and to lose it ends it, though whoever runs the
    tests may have chosen to outlive his."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
    signal.signal(signal.SIGHUP, signal.SIG_DFL)


class Tapped:
    """A way to the control socket that tells each question."""

    def __init__(self, path, to):
        self.path, self.to = str(path), to
        self.asked = threading.Semaphore(0)
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(self.path)
        self.listener.listen(8)
        threading.Thread(target=self.serve, daemon=True).start()

    def serve(self):
        try:
            while True:
                client, _ = self.listener.accept()
                self.pass_on(client)
        except OSError:
            return  # closed

    def pass_on(self, client):
        with client, socket.socket(socket.AF_UNIX) as daemon:
            line = client.recv(4096)
            try:
                daemon.connect(self.to)
                daemon.sendall(line)
                while data := daemon.recv(65536):
                    client.sendall(data)
            except OSError:
                pass  # it has gone: the client is told by the close
        if line.startswith(b"status"):
            self.asked.release()

    def close(self):
        self.listener.close()


def clock(second):
    return f"{second // 3600:02d}:{second // 60 % 60:02d}:{second % 60:02d}"


class TrialCase(Case):
    """`begin` is the second of the day at which the command is started."""

    seconds = 85  # of the day, that stand still until the command has asked something
    changes = ((ROOF, ""),)

    def trial(self, text, *words, begin=(10 * 60 + 20) * 60 + 20, settings=(), acts=None,
              before=None, length="4 min", ends_well=True, terminal=None,
              start="10:20"):
        self.acts, self.words = acts or {}, words
        self.terminal = terminal
        self.client = None
        self.at(clock(begin - 5), before or (lambda: None))
        for k in range(self.seconds):
            self.at(clock(begin + k), lambda k=k: self.second(k))
        self.open_house(f"start 2026-01-14 {start}\nstep 1 s\nlength {length}\n{DARK}{text}")
        self.fill_settings()
        self.change_settings(*self.changes, *settings)
        self.tapped = Tapped(self.folder / "tapped", str(self.folder / "control"))
        self.addCleanup(self.tapped.close)
        self.start()
        if ends_well:
            self.play()
        else:
            self.serve_hooks()
        self.status = self.client.wait(PATIENCE_S)
        self.said = self.spoken.text() if terminal is None else self.read_terminal()
        return self.said

    def second(self, k):
        if k == 0:
            self.run_client()
        if k in self.acts:
            self.acts[k]()
        while self.client.poll() is None and not self.tapped.asked.acquire(timeout=0.1):
            pass

    def run_client(self):
        environment = dict(os.environ, SLUICE_SOCKET=self.tapped.path)
        command = [self.built.sluice, *self.words]
        if self.terminal:
            self.run_on_terminal(command, environment)
            return
        self.client = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                                       text=True, env=environment)
        self.spoken = Spoken(self.client.stdout)
        self.addCleanup(self.end_client)

    def run_on_terminal(self, command, environment):
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, self.terminal, 0, 0))
        self.client = subprocess.Popen(
            command, stdin=slave, stdout=slave, stderr=slave, env=environment,
            start_new_session=True, preexec_fn=take_terminal)
        os.close(slave)
        self.seen = b""
        self.let_go, self.letting_go = os.pipe()
        self.watcher = threading.Thread(target=self.watch_terminal, daemon=True)
        self.watcher.start()

    def watch_terminal(self):
        try:
            while self.let_go not in select.select([self.master, self.let_go], [], [])[0]:
                self.seen += os.read(self.master, 4096)
        except OSError:
            return  # the other end has closed

    def drop_terminal(self):
        """A terminal hangs up with its last reader: closed beneath one that waits for more, it
        would stay until there is more."""
        os.write(self.letting_go, b"x")
        self.watcher.join()
        os.close(self.master)

    def read_terminal(self):
        return self.seen.decode().replace("\r\n", "\n")

    def end_client(self):
        if self.client.poll() is None:
            self.client.kill()
        self.client.wait(PATIENCE_S)
        self.spoken.close()

    def look_for(self, *wanted):
        for words in wanted:
            self.assertIn(words, " ".join(self.said.split()))

    def relay(self, k=0):
        return coils(self.house.port)[k]
