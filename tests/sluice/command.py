"""Running `sluice` and judging what it says."""
import os
import pathlib
import subprocess
import sys
import tempfile
import unittest

BUILD, SOURCE = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
SLUICE = BUILD / "tools/sluice/sluice"
WIDTH = 80  # a terminal's


class Case(unittest.TestCase):
    prefix = ()  # a command that runs sluice in another way

    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="sluice-")
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)
        self.socket = str(self.folder / "control")

    def sluice(self, *words, **environment):
        # LSAN in a sandbox without ptrace is none of this test's business, so the
        # environment is kept but for what sluice itself reads.
        whole = {k: v for k, v in os.environ.items() if k not in ("SLUICE_SOCKET", "NO_COLOR", "COLUMNS")}
        whole.update(environment)
        return subprocess.run([*self.prefix, SLUICE, *map(str, words)], capture_output=True, text=True,
                              timeout=60, env=whole)

    def ask(self, *words):
        return self.sluice(*words, SLUICE_SOCKET=self.socket)

    def assert_done(self, run):
        self.assertEqual((run.returncode, run.stderr), (0, ""))

    def assert_complains(self, run, status, *wanted):
        """The status, the words, one line on standard error, nothing elsewhere."""
        self.assertEqual(run.returncode, status, run)
        self.assertEqual(run.stdout, "")
        for text in wanted:
            self.assertIn(text, run.stderr)

    def assert_fits(self, text):
        for line in text.splitlines():
            self.assertLessEqual(len(line), WIDTH, line)
            self.assertEqual(line, line.rstrip(), "blanks at the end of a line")
            self.assertNotIn("\033", line)


def all_cases(test):
    """Of tests that are many and alike: with CASES=all in the environment (`tools/test long`)."""
    return test if os.environ.get("CASES") == "all" else None


def main():
    """The tests of the program's own file; the last line is counted by tools/test."""
    program = unittest.main(argv=[sys.argv[0]], exit=False, verbosity=2)
    result = program.result
    bad = len(result.failures) + len(result.errors)
    print(f"{result.testsRun - bad} passed, {bad} failed", flush=True)
    sys.exit(bad > 0 or result.testsRun == 0)
