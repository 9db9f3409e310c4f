"""A real mosquitto with a configuration of its own, and its clients. Homie topics and
their meaning: homieiot.github.io, "The Homie Convention", version 5."""
import json
import os
import socket
import subprocess
import threading

from programs import PATIENCE_S, Spoken

ROOT = "homie/5/sluice"
CONFIGURATION = """listener {port} 127.0.0.1
allow_anonymous true
persistence false
log_dest stderr
"""


def free_port():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return taken.getsockname()[1]


class Broker:
    """Forgets everything when it stops."""

    def __init__(self, folder, more=""):
        self.port = free_port()
        os.chmod(folder, 0o755)  # it gives up root's rights
        self.configuration = folder / "mosquitto.conf"
        self.configuration.write_text(CONFIGURATION.format(port=self.port) + more)
        self.start()

    def start(self):
        self.process = subprocess.Popen(["mosquitto", "-c", self.configuration],
                                        stderr=subprocess.PIPE, text=True)
        self.said = Spoken(self.process.stderr)
        self.said.wait_for("running")

    def stop(self):
        self.process.kill()  # a polite signal in its first moments is forgotten by it
        self.process.wait(PATIENCE_S)
        self.said.close()

    close = stop

    def publish(self, topic, payload, *words):
        """Comes back when the broker has it for certain."""
        subprocess.run(["mosquitto_pub", "-p", str(self.port), "-q", "2", "-t", topic,
                        "-s" if payload else "-n", *words], input=payload, check=True,
                       timeout=PATIENCE_S)

    def publish_lines(self, topic, lines):
        """A message each, as fast as they go."""
        subprocess.run(["mosquitto_pub", "-p", str(self.port), "-q", "1", "-t", topic, "-l"],
                       input="\n".join(lines) + "\n", text=True, check=True, timeout=PATIENCE_S)

    def publish_file(self, topic, path, *words):
        subprocess.run(["mosquitto_pub", "-p", str(self.port), "-q", "2", "-t", topic, "-f", path,
                        *words], check=True, timeout=PATIENCE_S)

    def order(self, node, property_id, payload, *words):
        data = payload if isinstance(payload, bytes) else payload.encode()
        self.publish(f"{ROOT}/{node}/{property_id}/set", data, *words)


class Topics:
    """All that stands below the device's root, as it comes; and what has ever come."""

    def __init__(self, broker, *below):
        """`below`: what to follow there; all of it unless said."""
        self.news = threading.Condition()
        self.now, self.ever = {}, []
        words = [word for topic in below or ["#"] for word in ("-t", f"{ROOT}/{topic}")]
        self.process = subprocess.Popen(
            ["mosquitto_sub", "-p", str(broker.port), "-q", "1", "-F", "%t %x", *words],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.listener = threading.Thread(target=self.listen, daemon=True)
        self.listener.start()

    def listen(self):
        for line in self.process.stdout:
            topic, octets = line.rstrip("\n").split(" ", 1)
            topic = topic.removeprefix(ROOT + "/")
            value = bytes.fromhex(octets).decode(errors="replace")
            with self.news:
                self.ever.append((topic, value))
                self.now[topic] = value
                self.news.notify_all()

    def wait_for(self, topic, condition=lambda value: True):
        """The value that stands there, once it is as wanted."""
        with self.news:
            if not self.news.wait_for(
                    lambda: topic in self.now and condition(self.now[topic]), PATIENCE_S):
                raise AssertionError(f"{topic} is {self.now.get(topic)!r} in {self.now}")
            return self.now[topic]

    def wait_is(self, topic, wanted):
        return self.wait_for(topic, lambda value: value == wanted)

    def description(self):
        self.wait_is("$state", "ready")
        return json.loads(self.wait_for("$description"))

    def close(self):
        self.process.kill()  # its handler of SIGTERM takes locks, and can wait for itself
        self.process.wait(PATIENCE_S)
        self.listener.join(PATIENCE_S)
        self.process.stdout.close()
