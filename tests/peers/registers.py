"""What every peer of these tests serves, so that any of them can stand in for
another. Unit 17. Addresses count from 0, as on the wire.

The values of registers 107-109, input register 8 and coils 19-37 are those of
the worked examples of the Modbus Application Protocol V1.1b3, sections 6.1, 6.3
and 6.4; those of discrete inputs 196-217 of section 6.2 (from memory). The floats are IEEE 754: 230.2 = 43 66 33 33, -1500.0 = C4 BB 80 00.
"""

UNIT = 17
SIZE = 400

HOLDING = {107: 0x022B, 108: 0x0000, 109: 0x0064}
# As a float meter lays them out: volts at 0, total watts at 52, import kWh at 72.
INPUT = {0: 0x4366, 1: 0x3333, 8: 0x000A, 52: 0xC4BB, 53: 0x8000, 72: 0x449A, 73: 0x5000}
COIL_BYTES = bytes([0xCD, 0x6B, 0x05])
COILS = {19 + i: COIL_BYTES[i // 8] >> (i % 8) & 1 for i in range(19)}
DISCRETE_BYTES = bytes([0xAC, 0xDB, 0x35])
DISCRETE = {196 + i: DISCRETE_BYTES[i // 8] >> (i % 8) & 1 for i in range(22)}


def text(words, value):
    raw = value.encode().ljust(2 * words, b"\0")
    return [raw[i] << 8 | raw[i + 1] for i in range(0, 2 * words, 2)]


def sunspec_meter(power, exponent):
    """Model 203 (wye three-phase meter): its points by offset from the id, all
    else not implemented. github.com/sunspec/models, json/model_203.json."""
    model = [203, 105] + [0x8000] * 105
    for accumulator in range(38, 54):
        model[accumulator] = 0
    model[18], model[22] = power & 0xFFFF, exponent & 0xFFFF
    return model


def sunspec(power, exponent):
    """From 40000: marker, common model (L = 66), meter, end."""
    common = [1, 66] + text(16, "Invented") + text(16, "Meter") + text(8, "") + text(8, "1") \
        + text(16, "0001") + [17, 0x8000]
    return dict(enumerate([0x5375, 0x6E53] + common + sunspec_meter(power, exponent)
                          + [0xFFFF, 0], 40000))


HOLDING.update(sunspec(-1234, 1))


def table(values):
    return [values.get(address, 0) for address in range(SIZE)]
