"""A terminal, as much of one as a screen of ours asks for (ECMA-48), on a pseudo-terminal."""
import fcntl
import os
import pty
import re
import select
import struct
import subprocess
import termios

PATIENCE_S = 60
TOKEN = re.compile(r"\033\[([?\d;]*)([A-Za-z])|([^\033])", re.S)


class Terminal:
    def __init__(self, command, columns=80, rows=24, **environment):
        self.master, self.slave = pty.openpty()
        self.size(columns, rows)
        self.modes = termios.tcgetattr(self.slave)
        self.raw, self.sent = b"", 0
        whole = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "COLUMNS", "TERM")}
        self.process = subprocess.Popen(
            command, stdin=self.slave, stdout=self.slave, stderr=subprocess.PIPE,
            start_new_session=True, env={**whole, "TERM": "xterm", **environment},
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0))

    def size(self, columns, rows):
        self.columns, self.rows = columns, rows
        fcntl.ioctl(self.slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def read(self, wait_s=PATIENCE_S):
        """More of what was written; False: nothing came."""
        if not select.select([self.master], [], [], wait_s)[0]:
            return False
        self.raw += os.read(self.master, 65536)
        return True

    def until(self, condition):
        while not condition():
            if not self.read():
                raise AssertionError(f"not seen in {PATIENCE_S} s; the screen:\n{self.screen()}")

    def until_shown(self, *wanted):
        self.until(lambda: all(words in self.screen() for words in wanted))
        return self.screen()

    def key(self, text):
        os.write(self.master, text.encode())

    def has_left(self):
        return b"\033[?1049l" in self.raw

    def modes_are_back(self):
        return termios.tcgetattr(self.slave) == self.modes

    def screen(self):
        """What stands there: lines without the blanks at their ends."""
        cells = [[" "] * self.columns for _ in range(self.rows)]
        row = column = 0
        for parameters, final, character in TOKEN.findall(self.raw.decode(errors="ignore")):
            if final == "H":
                row, column = (int(n) - 1 for n in parameters.split(";"))
            elif final == "J":
                cells = [[" "] * self.columns for _ in range(self.rows)]
            elif character:
                if not (row < self.rows and column < self.columns):
                    raise AssertionError(f"written at {row + 1};{column + 1}, past the edge")
                cells[row][column] = character
                column += 1
        return "\n".join("".join(line).rstrip() for line in cells)

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(PATIENCE_S)
        self.process.stderr.close()
        os.close(self.master)
        os.close(self.slave)
