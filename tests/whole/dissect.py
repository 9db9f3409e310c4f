"""Bytes that went over a connection, as tshark's Modbus dissectors see them. The capture is
written here, so that nobody needs the right to capture."""
import json
import struct
import subprocess

RAW_IP = 101  # the link type of plain IP packets: www.tcpdump.org/linktypes.html
ASKED, ANSWERED = 40000, 502  # ports


def checksum(data):
    """RFC 1071."""
    data += b"\0" * (len(data) % 2)
    total = sum(struct.unpack(f">{len(data) // 2}H", data))
    while total >> 16:
        total = (total & 0xFFFF) + (total >> 16)
    return ~total & 0xFFFF


def packet(source, target, sequence, acknowledged, data):
    """IPv4 (RFC 791) and TCP (RFC 9293) between two ports of one address."""
    address = bytes([127, 0, 0, 1])
    head = struct.pack(">HHIIBBHHH", source, target, sequence, acknowledged, 5 << 4, 0x18, 65535, 0, 0)
    pseudo = address + address + struct.pack(">BBH", 0, 6, len(head) + len(data))
    sum_of_all = checksum(pseudo + head + data)
    head = head[:16] + struct.pack(">H", sum_of_all) + head[18:]
    size = 20 + len(head) + len(data)
    outer = struct.pack(">BBHHHBBH4s4s", 0x45, 0, size, 0, 0x4000, 64, 6, 0, address, address)
    return outer[:10] + struct.pack(">H", checksum(outer)) + outer[12:] + head + data


def write_capture(path, frames):
    """`frames`: pairs of whether it is an answer, and its bytes, in order."""
    sent = {False: 1, True: 1}
    with open(path, "wb") as file:
        file.write(struct.pack("<IHHiIII", 0xA1B2C3D4, 2, 4, 0, 0, 65535, RAW_IP))
        for number, (is_answer, data) in enumerate(frames):
            ports = (ANSWERED, ASKED) if is_answer else (ASKED, ANSWERED)
            one = packet(*ports, sent[is_answer], sent[not is_answer], data)
            sent[is_answer] += len(data)
            file.write(struct.pack("<IIII", number, 0, len(one), len(one)) + one)


def dissect(path, frames, protocol):
    """What tshark says of each frame: its layers as nested names and values. `protocol`:
    mbtcp, or mbrtu for frames as on a serial line."""
    write_capture(path, frames)
    run = subprocess.run(
        ["tshark", "-r", path, "-d", f"tcp.port=={ANSWERED},{protocol}", "-o",
         "mbrtu.crc_verification:TRUE", "-T", "json"],
        capture_output=True, text=True, timeout=120)
    if run.returncode != 0:
        raise AssertionError(run.stderr)
    return [one["_source"]["layers"] for one in json.loads(run.stdout)]
