#!/usr/bin/env python3
"""The shipped example of a broker's configuration does what it says: TLS, a size limit, and
who may do what, looked at from outside.

usage: test_broker_rights.py BUILD-DIR SOURCE-DIR
"""
import json
import os
import pathlib
import subprocess

from broker import ROOT, free_port
from case import SOURCE, Case, main
from programs import PATIENCE_S, Spoken, eventually

NOBODY = "{host: 127.0.0.1, tcp_port: 9, answer: 300 ms}"
# The last one has a password, and no rights in the shipped list.
PASSWORDS = {"sluice": "the house's own", "household": "kettle", "dashboard": "wall",
             "neighbour": "fence"}
SHIPPED = pathlib.Path(SOURCE) / "conf/mosquitto"


class Shipped(Case):
    """A real mosquitto with the shipped files, but for their paths and the port."""

    def setUp(self):
        super().setUp()
        os.chmod(self.folder, 0o755)  # it gives up root's rights
        self.port = free_port()
        self.make_certificates()
        for user, password in PASSWORDS.items():
            create = [] if (self.folder / "passwd").exists() else ["-c"]
            subprocess.run(["mosquitto_passwd", "-b", *create, self.folder / "passwd", user,
                            password], check=True)
        (self.folder / "sluice.acl").write_text((SHIPPED / "sluice.acl").read_text())
        text = (SHIPPED / "sluice.conf").read_text()
        for old, new in (("/etc/mosquitto/certs", self.folder), ("/etc/mosquitto", self.folder),
                         ("listener 8883", f"listener {self.port} 127.0.0.1")):
            self.assertIn(old, text)
            text = text.replace(old, str(new))
        (self.folder / "mosquitto.conf").write_text(text + "log_dest stderr\n")
        for name in ("passwd", "sluice.acl", "broker.key"):
            os.chmod(self.folder / name, 0o644)
        self.broker = subprocess.Popen(["mosquitto", "-c", self.folder / "mosquitto.conf"],
                                       stderr=subprocess.PIPE, text=True)
        self.addCleanup(self.stop_broker)
        self.broker_said = Spoken(self.broker.stderr)
        self.broker_said.wait_for("running")

    def stop_broker(self):
        self.broker.kill()
        self.broker.wait(PATIENCE_S)
        self.broker_said.close()

    def openssl(self, *words):
        subprocess.run(["openssl", *words], cwd=self.folder, check=True, capture_output=True)

    def make_certificates(self):
        key = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"]
        self.openssl("req", "-x509", *key, "-days", "2", "-subj", "/CN=authority", "-keyout",
                     "ca.key", "-out", "ca.pem")
        self.openssl("req", *key, "-subj", "/CN=broker", "-keyout", "broker.key", "-out",
                     "broker.csr")
        (self.folder / "names").write_text("subjectAltName=IP:127.0.0.1")
        self.openssl("x509", "-req", "-days", "2", "-in", "broker.csr", "-CA", "ca.pem", "-CAkey",
                     "ca.key", "-CAcreateserial", "-extfile", "names", "-out", "broker.pem")

    def start_house(self):
        text = (self.built.scenarios / "house.yaml").read_text()
        (self.folder / "password").write_text(PASSWORDS["sluice"] + "\n")
        os.chmod(self.folder / "password", 0o600)
        for key, value in (("BUS", NOBODY), ("SOCKET", str(self.folder / "control")),
                           ("STATE", str(self.folder))):
            text = text.replace(f"@{key}@", value)
        self.settings.write_text(text.replace("storage:", f"""mqtt:
  host: 127.0.0.1
  port: {self.port}
  user: sluice
  password_file: {self.folder}/password
  tls: yes
  ca_file: {self.folder}/ca.pem
storage:"""))
        self.start_in_real_time()
        eventually("it is connected", lambda: self.daemon.status()["mqtt"]["connected"])
        self.wait_for("dashboard", "$state", "ready")

    def client(self, program, user, password, *words):
        who = ["-u", user, "-P", password] if user else []
        return subprocess.run([program, "-h", "127.0.0.1", "-p", str(self.port), "--cafile",
                               self.folder / "ca.pem", *who, *words], capture_output=True,
                              text=True, timeout=PATIENCE_S)

    def sees(self, user, topic):
        """What is retained there, as this user sees it; None: nothing."""
        run = self.client("mosquitto_sub", user, PASSWORDS[user], "-t", f"{ROOT}/{topic}", "-C",
                          "1", "-W", "2")
        return run.stdout.rstrip("\n") if run.returncode == 0 else None

    def wait_for(self, user, topic, wanted):
        eventually(f"{topic} is {wanted}", lambda: self.sees(user, topic) == wanted)

    def publish(self, user, topic, payload, *words):
        """Comes back when the broker has answered; it does not say what it did with it."""
        return self.client("mosquitto_pub", user, PASSWORDS[user], "-q", "1", "-t",
                           f"{ROOT}/{topic}", "-m", payload, *words)

    def test_the_house_works_with_tls_and_a_password(self):
        self.start_house()
        self.assertEqual(self.daemon.status()["mqtt"],
                         {"enabled": True, "connected": True, "trouble": ""})
        description = json.loads(self.sees("household", "$description"))
        self.assertIn("water-heater", description["nodes"])

    def test_the_household_sees_and_orders(self):
        self.start_house()
        self.publish("household", "pool-pump/inhibit/set", "true")
        self.wait_for("household", "pool-pump/inhibit", "true")
        self.publish("household", "pool-pump/order", "auto it is not", "-r")  # no value of ours
        self.publish("household", "pool-pump/inhibit/set", "false")
        self.wait_for("household", "pool-pump/inhibit", "false")
        self.assertEqual(self.sees("household", "pool-pump/order"), "auto")

    def test_the_dashboard_sees_and_orders_nothing(self):
        self.start_house()
        self.publish("dashboard", "pool-pump/inhibit/set", "true")
        self.publish("dashboard", "pool-pump/inhibit", "true", "-r")
        self.publish("household", "water-heater/inhibit/set", "true")  # comes after these two
        self.wait_for("dashboard", "water-heater/inhibit", "true")
        self.assertEqual(self.sees("dashboard", "pool-pump/inhibit"), "false")
        load = self.daemon.load("pool-pump")
        self.assertFalse(load["inhibited"])

    def test_a_user_of_something_else_on_the_broker_sees_and_orders_nothing(self):
        self.start_house()
        self.publish("neighbour", "pool-pump/inhibit/set", "true")
        self.publish("neighbour", "pool-pump/mode/set", "on")
        self.publish("neighbour", "pool-pump/mode", "on", "-r")
        self.publish("household", "water-heater/inhibit/set", "true")  # comes after these
        self.wait_for("dashboard", "water-heater/inhibit", "true")
        load = self.daemon.load("pool-pump")
        self.assertEqual((load["hand"], load["inhibited"]), ("auto", False))
        self.assertEqual(self.sees("dashboard", "pool-pump/mode"), "auto")
        for topic in ("$state", "pool-pump/mode", "#"):
            self.assertIsNone(self.sees("neighbour", topic), topic)

    def test_a_switch_is_the_households_and_not_the_dashboards(self):
        self.start_house()
        self.publish("dashboard", "pool-pump/mode/set", "off")
        self.publish("dashboard", "pool-pump/run-for/set", "60")
        self.publish("household", "water-heater/mode/set", "off")
        self.wait_for("dashboard", "water-heater/mode", "off")
        self.assertEqual(self.daemon.load("pool-pump")["hand"], "auto")

    def test_the_password_shows_nowhere(self):
        self.start_house()
        self.daemon.order("reload", "--yes")
        pid = self.daemon.process.pid
        files = [path.read_bytes() for path in pathlib.Path(self.folder).rglob("*")
                 if path.is_file() and path.name not in ("password", "passwd")]
        places = {
            "the log": self.daemon.said.text().encode(),
            "the status": json.dumps(self.daemon.status()).encode(),
            "the command line": pathlib.Path(f"/proc/{pid}/cmdline").read_bytes(),
            "the environment": pathlib.Path(f"/proc/{pid}/environ").read_bytes(),
            "its files": b"".join(files),
            "the broker": self.client("mosquitto_sub", "household", PASSWORDS["household"], "-t",
                                      f"{ROOT}/#", "-W", "1").stdout.encode(),
        }
        for place, text in places.items():
            self.assertGreater(len(text), 0, place)
            self.assertNotIn(PASSWORDS["sluice"].encode(), text, place)

    def test_strangers_are_refused(self):
        for user, password in (("household", "guessed"), ("burglar", "kettle"), (None, None)):
            for program, more in (("mosquitto_pub", ["-m", "true", "-t", f"{ROOT}/site/inhibit/set"]),
                                  ("mosquitto_sub", ["-t", "#", "-C", "1", "-W", "2"])):
                run = self.client(program, user, password, *more)
                self.assertNotEqual(run.returncode, 0, (user, program))
                self.assertIn("not authorised", (run.stdout + run.stderr).lower())

    def test_what_is_too_large_for_a_house_is_not_taken(self):
        (self.folder / "large").write_bytes(b"x" * 200_000)
        self.client("mosquitto_pub", "sluice", PASSWORDS["sluice"], "-q", "1", "-r", "-t",
                    f"{ROOT}/large", "-f", self.folder / "large")
        self.publish("sluice", "small", "x", "-r")
        self.assertEqual(self.sees("dashboard", "small"), "x")
        self.assertIsNone(self.sees("dashboard", "large"))


if __name__ == "__main__":
    main()
