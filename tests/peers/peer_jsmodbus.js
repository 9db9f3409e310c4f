/* An independent Modbus TCP server: the npm package jsmodbus. Prints "ready
 * PORT"; ends when its standard input does. Serves what registers.py lists. */
'use strict'

const net = require('net')
const modbus = require('jsmodbus')

const SIZE = 400
const holding = Buffer.alloc(2 * SIZE)
const input = Buffer.alloc(2 * SIZE)
const coils = Buffer.alloc(SIZE / 8)

/* Modbus Application Protocol V1.1b3, sections 6.3, 6.4 and 6.1. */
holding.writeUInt16BE(0x022b, 2 * 107)
holding.writeUInt16BE(0x0064, 2 * 109)
input.writeUInt16BE(0x000a, 2 * 8)
const worked = [0xcd, 0x6b, 0x05]
for (let i = 0; i < 19; i++) {
  const bit = (worked[i >> 3] >> (i & 7)) & 1
  const address = 19 + i
  coils[address >> 3] |= bit << (address & 7)
}
input.writeFloatBE(230.2, 2 * 0)
input.writeFloatBE(-1500.0, 2 * 52)
input.writeFloatBE(1234.5, 2 * 72)

const listener = new net.Server()
new modbus.server.TCP(listener, { holding, input, coils, discrete: Buffer.alloc(SIZE / 8) })
listener.listen(0, '127.0.0.1', () => {
  process.stdout.write(`ready ${listener.address().port}\n`)
})
process.stdin.on('end', () => process.exit(0)).resume()
