"""What the tests with the real programs share: a folder of their own, a house whose day
stands still while a test acts, and an end in which nothing is left running."""
import os
import pathlib
import random
import select
import shutil
import sys
import tempfile
import unittest

import programs

BUILD, SOURCE = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
LONG = "--long" in sys.argv
HOOK = """#!/bin/sh
echo "$1" > "$HOOK_FOLDER/hook" && read -r answer < "$HOOK_FOLDER/answer" && [ "$answer" = go ]
"""


class Case(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="sluice-")
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)
        self.built = programs.Built(BUILD, SOURCE)
        self.settings = self.folder / "house.yaml"
        self.hooks, self.daemons = [], []
        self.ledger = self.folder / "ledger.db"

    # ---- the house ----

    def at(self, when, act):
        """At that moment of the day, while its clock stands still, `act` is called."""
        self.hooks.append((when, act))

    def write_scenario(self, text):
        """A scenario that includes the shared house, with the hooks in it. Its day goes on in
        steps that a day keeps its promises in, unless the text asks for seconds."""
        for name in ("sydney.house", "house.yaml"):
            shutil.copy(self.built.scenarios / name, self.folder / f"shared-{name}")
        script = self.folder / "hook.sh"
        script.write_text(HOOK)
        script.chmod(0o755)
        lines = [f"at {when} run {script} {k}" for k, (when, _) in enumerate(self.hooks)]
        path = self.folder / "day.txt"
        step = "" if "\nstep " in text else "step 5 s"
        path.write_text("\n".join(["include shared-sydney.house", step, text, *lines, ""]))
        return path

    def open_house(self, text, **choices):
        scenario = self.write_scenario(text)
        for name in ("hook", "answer"):
            os.mkfifo(self.folder / name)
        self.asked = os.open(self.folder / "hook", os.O_RDWR)
        self.answer = os.open(self.folder / "answer", os.O_RDWR)
        self.addCleanup(os.close, self.asked)
        self.addCleanup(os.close, self.answer)
        environment = dict(os.environ, HOOK_FOLDER=str(self.folder))
        self.house = programs.Simhouse(self.built, scenario, self.folder, environment=environment,
                                       **choices)
        self.addCleanup(self.house.close)
        self.addCleanup(os.write, self.answer, b"no\n")  # a hook that nobody came to serve
        return self.house

    def fill_settings(self, source=None, **more):
        values = {"BUS": self.house.bus, "TCP_PORT": str(self.house.port),
                  "SOCKET": str(self.folder / "control"), "STATE": str(self.folder), **more}
        programs.fill_in(source or self.folder / "shared-house.yaml", self.settings, values)

    def change_settings(self, *pairs):
        """Replaces texts that must be there."""
        text = self.settings.read_text()
        for old, new in pairs:
            self.assertIn(old, text)
            text = text.replace(old, new)
        self.settings.write_text(text)

    def start(self, **choices):
        clock = self.house.clock if hasattr(self, "house") else None
        self.daemon = programs.Sluiced(self.built, self.settings, self.folder, clock=clock,
                                       **choices)
        self.daemons.append(self.daemon)
        self.addCleanup(self.daemon.close)
        return self.daemon

    def start_in_real_time(self, environment=None, **choices):
        """Without a house that grants moments; ready when this returns."""
        notified = programs.Notified(self.folder)
        self.addCleanup(notified.close)
        environment = dict(environment or {}, NOTIFY_SOCKET=notified.path)
        self.start(environment=environment, **choices)
        notified.wait_for("READY=1", self.daemon)
        return notified

    def play(self):
        """The day to its end, with its hooks; both programs must have gone well."""
        self.serve_hooks()
        self.assertEqual(self.house.end(), 0, self.what_was_said())
        self.assertEqual(self.daemon.end(), 0, self.what_was_said())
        return self.house.sums()

    def serve_hooks(self):
        ended = os.pidfd_open(self.house.process.pid)
        try:
            while True:
                ready, _, _ = select.select([self.asked, ended], [], [], programs.DAY_S)
                self.assertTrue(ready, "the day stands still: " + self.what_was_said())
                if self.asked not in ready:
                    return
                self.serve(int(os.read(self.asked, 64).split()[0]))
        finally:
            os.close(ended)

    def serve(self, index):
        """The day goes on when `act` has come to its end; what it returns is called then."""
        answer = b"no\n"
        try:
            after = self.hooks[index][1]()
            answer = b"go\n"
        finally:
            os.write(self.answer, answer)
        if callable(after):
            after()

    def what_was_said(self):
        return "\n".join([*self.house.complained.lines, *self.house.said.lines,
                          *(daemon.said.tail(25) for daemon in self.daemons[-2:])])


def seeded(default):
    """SLUICE_TEST_SEED chooses other moments; the seed is printed."""
    seed = int(os.environ.get("SLUICE_TEST_SEED", default))
    print(f"seed {seed}", flush=True)
    return random.Random(seed)


def long(test):
    """One that `tools/test long` runs: with --long those alone are run, without it the others."""
    test.is_long = True
    return test


class Loader(unittest.TestLoader):
    def getTestCaseNames(self, case):
        return [name for name in super().getTestCaseNames(case)
                if hasattr(getattr(case, name), "is_long") == LONG]


def main():
    """The tests of the program's own file; the last line is counted by tools/test."""
    words = [word for word in sys.argv[3:] if word != "--long"]
    program = unittest.main(argv=[sys.argv[0], *words], testLoader=Loader(), exit=False,
                            verbosity=2)
    result = program.result
    bad = len(result.failures) + len(result.errors)
    print(f"{result.testsRun - bad} passed, {bad} failed", flush=True)
    sys.exit(bad > 0 or result.testsRun == 0)
