#!/usr/bin/python3
"""An independent Modbus master: python3-pymodbus on a serial port.

    rounds_pymodbus.py PATH    prints "ready"; asks one round for each line on standard
                               input and then prints "done"
"""
import sys

import registers

try:
    from pymodbus.client import ModbusSerialClient
    from pymodbus.framer.rtu_framer import ModbusRtuFramer
except ImportError as missing:
    sys.exit(f"{missing}: install Debian's python3-pymodbus")

client = ModbusSerialClient(sys.argv[1], framer=ModbusRtuFramer, baudrate=19200, timeout=3)
if not client.connect():
    sys.exit("the port does not open")
print("ready", flush=True)
for _ in sys.stdin:
    answers = [client.read_input_registers(address, 2, slave=registers.UNIT)
               for address in (0, 52, 72)]
    answers.append(client.read_holding_registers(107, 3, slave=registers.UNIT))
    wrong = [str(answer) for answer in answers if answer.isError()]
    print("; ".join(wrong) if wrong else "done", flush=True)
