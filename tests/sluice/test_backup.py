#!/usr/bin/env python3
"""backup and restore: what is in the file, and that a bad one changes nothing.

usage: test_backup.py BUILD-DIR SOURCE-DIR
"""
import fcntl
import hashlib
import io
import os
import shutil
import sqlite3
import stat
import subprocess
import tarfile
import unittest

from command import BUILD, SOURCE, Case, main
from fake_control import FakeControl, status

BROKER = """
mqtt:
  host: broker.example
  user: house
  password_file: "{etc}/broker-password"
  tls: yes
  ca_file: "{etc}/ca.pem"
  certificate_file: "{etc}/board.pem"
  key_file: "{elsewhere}/board.key"
"""


def tree(folder):
    """Every file with its bytes, and every folder."""
    return {str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
            for path in sorted(folder.rglob("*"))}


def seal(parts):
    """An archive of these parts with fresh sums, as somebody with a tar could make it."""
    sums = "".join(f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in parts)
    return pack(parts + [("SHA256SUMS", sums.encode())])


def pack(parts):
    whole = io.BytesIO()
    with tarfile.open(fileobj=whole, mode="w", format=tarfile.USTAR_FORMAT) as tar:
        for name, data in parts:
            info = tarfile.TarInfo(name)
            info.size, info.mode = len(data), 0o640
            tar.addfile(info, io.BytesIO(data))
    return whole.getvalue()


def unpack(path):
    with tarfile.open(path) as tar:
        return [(info.name, tar.extractfile(info).read()) for info in tar]


class Board(Case):
    def setUp(self):
        super().setUp()
        self.etc, self.state = self.folder / "etc", self.folder / "state"
        self.elsewhere = self.folder / "elsewhere"
        self.file = self.folder / "house.backup"
        for folder in (self.etc, self.state, self.elsewhere):
            folder.mkdir()
        shutil.copytree(SOURCE / "conf/meters", self.etc / "meters")
        self.write_settings()
        subprocess.run([BUILD / "tests/sluice/sample_ledger", self.state / "ledger.db"], check=True,
                       input="", text=True)
        (self.state / "ledger.db.orders").write_text("all_inhibited=1\n")
        (self.state / "broker").write_text("broker localhost:1883\n")
        (self.state / "accepted/meters").mkdir(parents=True)
        shutil.copy(self.etc / "sluice.yaml", self.state / "accepted")
        shutil.copy(self.etc / "meters/eastron-sdm630.yaml", self.state / "accepted/meters")

    def write_settings(self, mqtt=""):
        text = self.sluice("example").stdout
        text = text.replace("/var/lib/sluice/ledger.db", f"{self.state}/ledger.db")
        text = text.replace("/run/sluice/control", self.socket)
        if mqtt:
            head, tail = text.split("\nmqtt:\n", 1)
            text = head + mqtt + "\nstorage:" + tail.split("\nstorage:", 1)[1]
            for name in ("broker-password", "ca.pem", "board.pem"):
                (self.etc / name).write_text(f"{name}\n")
            (self.elsewhere / "board.key").write_text("key\n")
        (self.etc / "sluice.yaml").write_text(text)

    def write_broker_settings(self):
        self.write_settings(BROKER.format(etc=self.etc, elsewhere=self.elsewhere))

    def backup(self, *words):
        return self.sluice("backup", self.file, "--settings", self.etc / "sluice.yaml", *words)

    def restore(self, *words, state=True, **environment):
        words = (*words, "--state", self.state) if state else words
        return self.sluice("restore", self.file, "--settings", self.etc / "sluice.yaml", *words,
                           **environment)

    def make_backup(self, *words):
        run = self.backup(*words)
        self.assert_done(run)
        return run.stdout

    def empty_board(self):
        """The same places, as they are on a board that was just installed."""
        for folder in (self.etc, self.state, self.elsewhere):
            shutil.rmtree(folder)
        self.etc.mkdir()

    def assert_refused(self, *wanted, data=None, **choices):
        if data is not None:
            self.file.write_bytes(data)
        before = tree(self.folder)
        run = self.restore(**choices)
        self.assert_complains(run, 1, *wanted, "nothing was changed")
        self.assertEqual(tree(self.folder), before)


class Backup(Board):
    def test_it_is_a_tar_with_the_sum_of_each_part(self):
        self.make_backup()
        parts = dict(unpack(self.file))
        self.assertEqual(sorted(parts), [
            "MANIFEST", "SHA256SUMS", "settings/meters/eastron-sdm630.yaml", "settings/sluice.yaml",
            "state/accepted/meters/eastron-sdm630.yaml", "state/accepted/sluice.yaml",
            "state/broker", "state/ledger.db", "state/orders"])
        self.assertEqual(parts["settings/sluice.yaml"], (self.etc / "sluice.yaml").read_bytes())
        sums = dict(reversed(line.split("  ")) for line in parts["SHA256SUMS"].decode().splitlines())
        for name, data in parts.items():
            if name != "SHA256SUMS":
                self.assertEqual(sums[name], hashlib.sha256(data).hexdigest(), name)
        self.assertIn("program 0.", parts["MANIFEST"].decode())
        self.assertIn("site Wattle house\n", parts["MANIFEST"].decode())
        self.assertEqual(stat.S_IMODE(self.file.stat().st_mode), 0o600)

    def test_the_sums_are_right_at_every_length_of_a_block(self):
        """FIPS 180-4, 5.1.1: the padding differs by the length modulo 64."""
        for size in (*range(54, 66), *range(118, 130)):
            data = bytes(range(256))[:size]
            (self.state / "broker").write_bytes(data)
            self.make_backup()
            self.assertIn(f"{hashlib.sha256(data).hexdigest()}  state/broker",
                          dict(unpack(self.file))["SHA256SUMS"].decode())

    def test_secrets_are_left_out_and_named(self):
        self.write_broker_settings()
        said = self.make_backup()
        self.assertIn(f"{self.etc}/broker-password", said)
        self.assertIn(f"{self.elsewhere}/board.key", said)
        names = [name for name, _ in unpack(self.file)]
        self.assertIn("broker/ca", names)
        self.assertFalse([name for name in names if name.startswith("secrets/")])
        self.assertNotIn(b"broker-password\n", b"".join(d for n, d in unpack(self.file)
                                                        if not n.endswith(".yaml")))

    def test_secrets_that_were_asked_for_are_in_it_and_said(self):
        self.write_broker_settings()
        self.assertIn("It holds secrets", self.make_backup("--with-secrets"))
        parts = dict(unpack(self.file))
        self.assertEqual(parts["secrets/password"], b"broker-password\n")
        self.assertEqual(parts["secrets/key"], b"key\n")
        self.assertEqual(stat.S_IMODE(self.file.stat().st_mode), 0o600)

    def test_a_secret_that_cannot_be_read_is_said_and_nothing_written(self):
        self.write_broker_settings()
        (self.elsewhere / "board.key").unlink()
        self.assert_complains(self.backup("--with-secrets"), 3, "board.key", "nothing was written")
        self.assertFalse(self.file.exists())

    def test_a_board_without_a_ledger_is_told_as_such(self):
        (self.state / "ledger.db").unlink()
        self.assertIn("there is no ledger at", self.make_backup())

    def test_a_damaged_ledger_is_not_taken_for_a_backup(self):
        (self.state / "ledger.db").write_bytes(b"no database at all" * 100)
        self.assert_complains(self.backup(), 3, "ledger.db", "cannot be copied")
        self.assertFalse(self.file.exists())

    def test_without_settings_or_with_bad_ones_nothing_is_written(self):
        (self.etc / "sluice.yaml").write_text("site: [\n")
        self.assertEqual(self.backup().returncode, 1)
        (self.etc / "sluice.yaml").unlink()
        self.assert_complains(self.backup(), 3, "settings file is expected")
        self.assertFalse(self.file.exists())

    def test_where_it_cannot_be_written_is_said_first(self):
        self.file = self.folder / "nowhere/house.backup"
        self.assert_complains(self.backup(), 3, "nowhere/house.backup", "cannot be written")
        self.file = self.etc
        self.assert_complains(self.backup(), 3, "cannot be written")

    def test_a_full_disk_leaves_the_backup_that_was_there(self):
        self.make_backup()
        good = self.file.read_bytes()
        self.prefix = ("sh", "-c", 'ulimit -f 8 && exec "$@"', "sh")
        self.assertNotEqual(self.backup().returncode, 0)
        self.assertEqual(self.file.read_bytes(), good)

    def test_the_copy_of_the_ledger_takes_no_other_files_place(self):
        self.prefix = ("sh", "-c", 'echo mine > "$0.$$.ledger"; exec "$@"', self.file)
        self.make_backup()
        others = list(self.folder.glob("house.backup.*"))
        self.assertEqual([path.read_text() for path in others], ["mine\n"])

    def test_it_is_on_the_disk_before_it_takes_the_old_ones_place(self):
        (self.state / "ledger.db").unlink()
        self.make_backup()
        good = self.file.read_bytes()
        run = self.sluice("backup", self.file, "--settings", self.etc / "sluice.yaml",
                          LD_PRELOAD=str(BUILD / "tests/sluice/libfailing_fsync.so"),
                          ASAN_OPTIONS="verify_asan_link_order=0")
        self.assert_complains(run, 3, "house.backup", "cannot be written", "Input/output error")
        self.assertEqual(self.file.read_bytes(), good)
        self.assertFalse(list(self.folder.glob("house.backup.*")))


class Restore(Board):
    def test_a_fresh_board_has_it_all(self):
        before = tree(self.state), (self.etc / "sluice.yaml").read_bytes()
        self.make_backup()
        self.empty_board()
        run = self.restore()
        self.assert_done(run)
        after = tree(self.state)
        for name in ("ledger.db.orders", "broker", "accepted/sluice.yaml",
                     "accepted/meters/eastron-sdm630.yaml"):
            self.assertEqual(after[name], before[0][name], name)
        self.assertEqual((self.etc / "sluice.yaml").read_bytes(), before[1])
        self.assertEqual(sorted(after), ["accepted", "accepted/meters",
                                         "accepted/meters/eastron-sdm630.yaml",
                                         "accepted/sluice.yaml", "broker", "ledger.db",
                                         "ledger.db.orders"])
        with sqlite3.connect(self.state / "ledger.db") as ledger:
            self.assertEqual(ledger.execute("pragma integrity_check").fetchall(), [("ok",)])
        check = self.sluice("check", self.etc / "sluice.yaml")
        self.assert_done(check)
        for left in ("the port of bus switchboard", "old board", "switch each"):
            self.assertIn(left, run.stdout)

    def test_what_it_replaces_stays_beside_it(self):
        self.make_backup()
        (self.etc / "sluice.yaml").write_text("another: house\n")
        (self.state / "ledger.db.orders").write_text("another=1\n")
        (self.state / "ledger.db-wal").write_bytes(b"of another ledger")
        (self.state / "ledger.db").write_bytes(b"another ledger")
        (self.state / "accepted/sluice.yaml").write_text("another: accepted\n")
        self.assert_done(self.restore())
        self.assertEqual((self.etc / "sluice.yaml.before").read_text(), "another: house\n")
        self.assertEqual((self.state / "ledger.db.orders.before").read_text(), "another=1\n")
        self.assertEqual((self.state / "ledger.db.before-wal").read_bytes(), b"of another ledger")
        self.assertEqual((self.state / "ledger.db.before").read_bytes(), b"another ledger")
        self.assertEqual((self.state / "accepted.before/sluice.yaml").read_text(),
                         "another: accepted\n")
        self.assertFalse((self.state / "ledger.db-wal").exists())
        (self.etc / "sluice.yaml").write_text("a third: house\n")
        self.assert_done(self.restore())
        self.assertEqual((self.etc / "sluice.yaml.before-2").read_text(), "a third: house\n")
        self.assertEqual((self.etc / "sluice.yaml.before").read_text(), "another: house\n")

    def test_orders_of_another_past_do_not_stay_in_force(self):
        (self.state / "ledger.db.orders").unlink()
        self.make_backup()
        (self.state / "ledger.db.orders").write_text("another=1\n")
        self.assertIn("ledger.db.orders: not in the backup", self.restore().stdout)
        self.assertFalse((self.state / "ledger.db.orders").exists())

    def test_done_twice_it_changes_nothing_and_leaves_nothing(self):
        self.make_backup()
        self.empty_board()
        self.assert_done(self.restore())
        before = tree(self.etc), (self.state / "ledger.db").read_bytes()
        self.assertIn("the same already", self.restore().stdout)
        self.assertEqual((tree(self.etc), (self.state / "ledger.db").read_bytes()), before)

    def test_secrets_come_back_into_the_settings_folder_alone(self):
        self.write_broker_settings()
        self.make_backup("--with-secrets")
        self.empty_board()
        run = self.restore()
        self.assert_done(run)
        self.assertEqual((self.etc / "broker-password").read_text(), "broker-password\n")
        self.assertFalse((self.elsewhere / "board.key").exists())
        self.assertIn(f"{self.elsewhere}/board.key, is not there: take it from the backup", run.stdout)

    def test_secrets_that_are_not_in_it_are_left_to_do(self):
        self.write_broker_settings()
        self.make_backup()
        self.empty_board()
        self.assertIn(f"the broker's password, {self.etc}/broker-password, is not there: it is not "
                      "in the backup", self.restore().stdout)

    def test_modes_come_back_and_give_no_rights(self):
        self.write_broker_settings()
        places = [(self.state / "ledger.db", 0o666, 0o640), (self.state / "broker", 0o600, 0o600),
                  (self.state / "accepted/sluice.yaml", 0o777, 0o640),
                  (self.etc / "sluice.yaml", 0o666, 0o644), (self.etc / "ca.pem", 0o604, 0o604),
                  (self.etc / "broker-password", 0o644, 0o600)]
        for path, mode, _ in places:
            path.chmod(mode)
        self.make_backup("--with-secrets")
        self.empty_board()
        run = self.restore()
        self.assert_done(run)
        for path, _, mode in places:
            self.assertEqual(stat.S_IMODE(path.stat().st_mode), mode, path)
        self.assertIn(f"{self.etc}/broker-password, is for its owner alone", run.stdout)

    @unittest.skipIf(os.geteuid() != 0, "only root gives files away")
    def test_files_become_those_of_the_folders_owner_and_not_of_the_archives(self):
        for path in (self.state / "ledger.db", self.etc / "sluice.yaml", self.state / "broker"):
            shutil.chown(path, "nobody")
        self.make_backup()
        self.empty_board()
        self.state.mkdir()
        shutil.chown(self.state, "daemon", "daemon")
        self.assert_done(self.restore())
        for name in ("ledger.db", "ledger.db.orders", "broker", "accepted", "accepted/sluice.yaml"):
            path = self.state / name
            self.assertEqual((path.owner(), path.group()), ("daemon", "daemon"), name)
        self.assertEqual((self.etc / "sluice.yaml").owner(), "root")

    # ---- where its state may go ----

    def test_state_goes_nowhere_that_only_the_backup_names(self):
        self.make_backup()
        (self.etc / "sluice.yaml").unlink()
        for name in ("ledger.db", "broker"):
            (self.state / name).write_text("a file of somebody else's\n")
        self.assert_refused(f'"{self.state}"', "give it as --state", state=False)
        parts = [part for part in unpack(self.file)[:-1] if part[0] != "state/ledger.db"]
        self.assert_refused("give it as --state", state=False, data=seal(parts))
        shutil.rmtree(self.state)
        self.assert_refused("give it as --state", state=False)

    def test_it_may_go_where_this_boards_own_settings_have_it(self):
        self.make_backup()
        (self.state / "broker").unlink()
        self.assert_done(self.restore(state=False))
        self.assertEqual((self.state / "broker").read_text(), "broker localhost:1883\n")

    def test_settings_with_mistakes_vouch_for_no_place(self):
        self.make_backup()
        with (self.etc / "sluice.yaml").open("a") as settings:
            settings.write("nosuch: 1\n")
        self.assert_refused("give it as --state", state=False)

    # ---- a daemon that runs here ----

    def test_a_daemon_at_the_boards_usual_socket_is_seen(self):
        self.make_backup()
        self.empty_board()
        other = str(self.folder / "another control")
        with FakeControl(other, {"status": status()}):
            self.assert_refused("sluiced runs here", SLUICE_SOCKET=other)

    def test_a_daemon_where_the_boards_own_settings_have_it_is_seen(self):
        self.make_backup()
        path, other = self.etc / "sluice.yaml", str(self.folder / "another control")
        text = path.read_text()
        path.write_text(text.replace(self.socket, other))
        with FakeControl(other, {"status": status()}):
            self.assert_refused("sluiced runs here")
        path.write_text(text.replace(f"{self.state}/ledger.db", f"{self.elsewhere}/own.db"))
        with (self.elsewhere / "own.db.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            self.assert_refused("sluiced runs here")
        self.assert_done(self.restore())

    def test_a_folder_that_was_made_for_nothing_goes_again(self):
        self.make_backup()
        self.empty_board()
        with FakeControl(self.socket, {"status": status()}):
            self.assert_refused("sluiced runs here")
        self.assertFalse(self.state.exists())

    # ---- what is refused ----

    def test_cut_off_anywhere_it_is_refused(self):
        self.make_backup()
        whole = self.file.read_bytes()
        (self.etc / "sluice.yaml").write_text("what is there\n")
        for tenth in range(10):
            self.assert_refused(data=whole[:len(whole) * tenth // 10])
        for missing in (1, 511, 512, 513, 1024, 1025):
            self.assert_refused("cut off", data=whole[:-missing])

    def test_one_changed_bit_anywhere_is_refused(self):
        self.make_backup()
        whole = self.file.read_bytes()
        for k in range(33):
            spoilt = bytearray(whole)
            spoilt[k * (len(whole) - 1) // 32] ^= 0x10
            self.assert_refused(data=bytes(spoilt))

    def test_another_part_with_old_sums_is_refused_by_name(self):
        self.make_backup()
        parts = [(name, data.replace(b"17:00", b"18:00")) if name == "settings/sluice.yaml"
                 else (name, data) for name, data in unpack(self.file)]
        self.assert_refused('"settings/sluice.yaml"', "SHA-256", data=pack(parts))

    def test_archives_of_something_else_are_refused(self):
        self.assert_refused("not a backup of sluice", data=pack([("etc/passwd", b"root\n")]))
        self.assert_refused("not a backup of sluice", data=seal([("MANIFEST", b"something else\n")]))
        self.assert_refused("is empty", data=b"")
        self.assert_refused(data=b"PK\x03\x04" + bytes(2000))
        self.assert_refused(data=bytes(10240))
        self.assert_refused(data=os.urandom(5000))

    def test_names_that_lead_elsewhere_are_refused(self):
        self.make_backup()
        parts = unpack(self.file)[:-1]
        for name in ("../evil", "/etc/passwd", "settings/meters/../../x.yaml", "state/other",
                     "settings/meters/.yaml", "state/accepted/meters/a/b.yaml"):
            self.assert_refused("no part of a backup", data=seal(parts + [(name, b"x")]))

    def test_what_somebody_else_wrote_steers_no_terminal(self):
        self.make_backup()
        parts = unpack(self.file)[:-1]
        evil = "\x1b]0;title\x07\x7f\u009b2J"
        shown = "?]0;title???2J"
        self.assert_refused(f'"{shown}" is no part', data=seal(parts + [(evil, b"x")]))
        self.assert_refused(f'"{shown}" is one file too many',
                            data=seal([*parts, (evil, b"x"), (evil, b"x")]))
        self.assert_refused(f'"{shown}" is not as it was', data=pack(
            [*parts, (evil, b"x"), ("SHA256SUMS", b"".join(
                f"{hashlib.sha256(data).hexdigest()}  {name}\n".encode() for name, data in parts))]))
        site = [(name, data.replace(b"Wattle house", evil.encode()) if name == "MANIFEST" else data)
                for name, data in parts]
        self.file.write_bytes(seal(site))
        run = self.restore()
        self.assert_done(run)
        self.assertTrue(run.stdout.startswith(f"{shown}: the backup of"), run.stdout)

    def test_links_and_devices_are_refused(self):
        whole = io.BytesIO()
        with tarfile.open(fileobj=whole, mode="w", format=tarfile.USTAR_FORMAT) as tar:
            info = tarfile.TarInfo("MANIFEST")
            info.type, info.linkname = tarfile.SYMTYPE, "/etc/passwd"
            tar.addfile(info)
        self.assert_refused("not an archive of plain files", data=whole.getvalue())

    def test_a_newer_program_or_format_is_refused_with_both_versions(self):
        self.make_backup()
        for old, new in ((b"program 0.1.0", b"program 0.10.0"), (b"program 0.1.0", b"program 9"),
                         (b"format 1", b"format 2")):
            parts = [(name, data.replace(old, new)) if name == "MANIFEST" else (name, data)
                     for name, data in unpack(self.file)[:-1]]
            self.assert_refused("newer than this one, 0.1.0", data=seal(parts))

    def test_a_newer_or_foreign_ledger_is_refused(self):
        self.make_backup()
        ledger = self.folder / "newer.db"
        for sql, wanted in (("pragma user_version = 99", "a newer program wrote it"),
                            ("drop table note", "it is not a ledger")):
            parts = dict(unpack(self.file)[:-1])
            ledger.write_bytes(parts["state/ledger.db"])
            with sqlite3.connect(ledger) as other:
                other.execute(sql)
            other.close()
            parts["state/ledger.db"] = ledger.read_bytes()
            good = self.file.read_bytes()
            self.assert_refused("its ledger", wanted, data=seal(list(parts.items())))
            self.file.write_bytes(good)

    def test_settings_that_are_refused_here_are_not_put_in_place(self):
        self.make_backup()
        parts = [(name, data.replace(b"Australia/Sydney", b"Nowhere/Atall")) for name, data in
                 unpack(self.file)[:-1]]
        self.file.write_bytes(seal(parts))
        before = tree(self.folder)
        run = self.restore()
        self.assertEqual(run.returncode, 1)
        self.assertIn("Nowhere/Atall", run.stderr)
        self.assertIn("nothing was changed", run.stderr)
        self.assertEqual(tree(self.folder), before)

    def test_a_place_that_cannot_be_written_leaves_all_as_it_was(self):
        self.make_backup()
        (self.etc / "sluice.yaml").write_text("what is there\n")
        shutil.rmtree(self.etc / "meters")
        (self.etc / "meters").write_text("a file in the way of a folder\n")
        self.assert_refused("is not a folder")

    def test_a_file_that_is_not_there_is_named(self):
        self.assert_complains(self.restore(), 3, "house.backup", "cannot be read")


if __name__ == "__main__":
    main()
