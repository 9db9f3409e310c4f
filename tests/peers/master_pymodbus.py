#!/usr/bin/python3
"""An independent Modbus master: python3-pymodbus, by TCP or on a serial port.

    master_pymodbus.py tcp PORT      prints "ready"
    master_pymodbus.py rtu PATH

Each line of standard input, "UNIT FUNCTION ADDRESS COUNT", is one read; it prints the
registers as a list, or "exception CODE", or "failed WHY". Ends when its input does.
"""
import sys

try:
    from pymodbus.client import ModbusSerialClient, ModbusTcpClient
except ImportError as missing:
    sys.exit(f"{missing}: install Debian's python3-pymodbus")

wire, where = sys.argv[1:]
client = (ModbusTcpClient("127.0.0.1", port=int(where), timeout=20) if wire == "tcp" else
          ModbusSerialClient(where, baudrate=19200, bytesize=8, parity="N", stopbits=1, timeout=20))
if not client.connect():
    sys.exit(f"no connection to {where}")
print("ready", flush=True)
for line in sys.stdin:
    unit, function, address, count = map(int, line.split())
    read = {3: client.read_holding_registers, 4: client.read_input_registers}[function]
    answer = read(address, count, slave=unit)
    if not answer.isError():
        print(answer.registers, flush=True)
    elif hasattr(answer, "exception_code"):
        print("exception", answer.exception_code, flush=True)
    else:
        print("failed", answer, flush=True)
client.close()
