"""A control socket that answers as it is told to, in place of sluiced."""
import contextlib
import json
import os
import socket
import sys
import threading


def load(name="water-heater", **changes):
    """A load's part of the status, with what differs."""
    row = {
        "name": name, "title": "Water heater", "kind": "switched", "priority": 1, "on": False,
        "state": "off", "level_w": 0, "draw_w": 0, "draw": "none", "power_w": 3600,
        "power_measured": False, "basis": "none", "reason": "off: spare 0 W of 3.6 kW needed",
        "reason_name": "off-spare", "output_is": "off", "output": "confirmed", "output_detail": "", "hand": "auto",
        "hand_left_ms": None, "holiday": None, "enabled": True, "inhibited": False, "satisfied": False,
        "today": {"on_ms": 0, "draw_ms": 0, "spare_mwh": 0, "grid_mwh": 0, "starts": 0},
        "total": {"on_ms": 0, "draw_ms": 0, "spare_mwh": 0, "grid_mwh": 0, "starts": 0},
        "floors": [], "heat": None,
    }
    if changes.get("on"):
        row["output_is"] = "on"
    row.update(changes)
    return row


def finding(text, **changes):
    """One of the site that is known, not inferred, with what differs."""
    row = {"id": "ledger", "load": None, "about": "", "inferred": False, "text": text,
           "sure_percent": None, "seen": 1, "since": "2026-01-14T09:30:00+11:00",
           "age_ms": 1800000, "first": "Look at it."}
    row.update(changes)
    return row


def status(**changes):
    """A house at ten on a summer morning, with what differs."""
    whole = {
        "site": "Wattle house", "version": "0.1.0", "time": "2026-01-14T10:00:00+11:00",
        "clock_trusted": True, "uptime_s": 270000,
        "reading": {"quality": "fresh", "age_ms": 400, "grid_power_w": -1200,
                    "phase_power_w": None, "solar_power_w": 5600, "battery_power_w": None,
                    "fault": ""},
        "spare_w": 1150, "import_mwh": 123456789, "export_mwh": 987654321, "gap_ms": 0,
        "holiday_back": None, "inhibited": False,
        "meters": [
            {"name": "grid", "role": "grid", "age_ms": 400, "outcome": "answered", "detail": ""},
            {"name": "roof", "role": "solar", "age_ms": 3200, "outcome": "answered", "detail": ""}],
        "loads": [
            load(on=True, state="on", level_w=3600, draw_w=3590, draw="seen", power_w=3590,
                 power_measured=True, basis="spare", reason="on: spare 4.7 kW, 3.6 kW needed",
                 reason_name="on-spare",
                 today={"on_ms": 5460000, "draw_ms": 5400000, "spare_mwh": 5200000,
                        "grid_mwh": 110000, "starts": 2},
                 floors=[{"measure": "time", "amount": 10800000, "done": 5400000,
                          "left": 5400000, "met": False, "due": False,
                          "deadline": "2026-01-14T17:00:00+11:00",
                          "latest_start": "2026-01-14T15:00:00+11:00"}]),
            load("pool-pump", title="Pool pump", priority=2, power_w=1100,
                 reason="off: settling, spare 1.2 kW, 1.1 kW needed, 1 min left",
                 reason_name="off-settling")],
        "mqtt": {"enabled": True, "connected": True, "trouble": ""}, "ledger": {"trouble": ""},
        "troubles": [], "findings": [],
    }
    whole.update(changes)
    return whole


class FakeControl:
    """Listens at `path`; `answers` maps a request to its answer: an object, or raw
    bytes. Requests that it does not know are obeyed. `heard` keeps them all."""

    def __init__(self, path, answers=None):
        self.path, self.answers, self.heard = path, answers or {}, []
        self.listener = socket.socket(socket.AF_UNIX)
        with contextlib.suppress(FileNotFoundError):
            os.unlink(path)
        self.listener.bind(path)
        self.listener.listen(8)
        self.thread = threading.Thread(target=self.serve, daemon=True)
        self.thread.start()

    def answer(self, request):
        given = self.answers.get(request, {"ok": True, "text": f"heard: {request}"})
        return given if isinstance(given, bytes) else json.dumps(given).encode() + b"\n"

    def serve(self):
        while True:
            try:
                client, _ = self.listener.accept()
            except OSError:
                return
            with client, client.makefile("rb") as lines:
                request = lines.readline().decode().rstrip("\n")
                self.heard.append(request)
                with contextlib.suppress(BrokenPipeError):
                    client.sendall(self.answer(request))

    def close(self):
        self.listener.shutdown(socket.SHUT_RDWR)
        self.thread.join()
        self.listener.close()
        os.unlink(self.path)

    def __enter__(self):
        return self

    def __exit__(self, *unused):
        self.close()


if __name__ == "__main__":
    # fake_control.py SOCKET [STATUS.json]: for looking at the screen by hand.
    whole = json.load(open(sys.argv[2])) if len(sys.argv) > 2 else status()
    FakeControl(sys.argv[1], {"status": whole}).thread.join()
