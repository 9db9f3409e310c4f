/* An independent Modbus TCP master: the npm package jsmodbus.
 *
 *   master_jsmodbus.js PORT UNIT...      prints "ready"
 *
 * Each line of standard input, "UNIT FUNCTION ADDRESS COUNT", is one read; it prints the
 * registers as a list, or "exception CODE", or "failed WHY". Ends when its input does. */
'use strict'

const net = require('net')
const readline = require('readline')
const modbus = require('jsmodbus')

const [port, ...units] = process.argv.slice(2).map(Number)
const sockets = new Map() // a client of jsmodbus speaks to one unit, by its own socket
const clients = new Map()

function connect (unit) {
  const socket = new net.Socket()
  sockets.set(unit, socket)
  clients.set(unit, new modbus.client.TCP(socket, unit, 20000))
  return new Promise((resolve, reject) => {
    socket.on('connect', resolve)
    socket.on('error', reject)
    socket.connect({ host: '127.0.0.1', port })
  })
}

async function read (line) {
  const [unit, kind, address, count] = line.split(' ').map(Number)
  const client = clients.get(unit)
  try {
    const done = await (kind === 3 ? client.readHoldingRegisters(address, count)
      : client.readInputRegisters(address, count))
    return `[${Array.from(done.response.body.valuesAsArray).join(', ')}]`
  } catch (wrong) {
    const body = wrong.response && wrong.response.body
    return body && body.code ? `exception ${body.code}` : `failed ${wrong.err} ${wrong.message}`
  }
}

async function serve () {
  await Promise.all(units.map(connect))
  console.log('ready')
  for await (const line of readline.createInterface({ input: process.stdin })) {
    console.log(await read(line))
  }
  sockets.forEach((socket) => socket.end())
}

serve().catch((wrong) => { console.error(wrong.message); process.exit(1) })
