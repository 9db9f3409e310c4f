/* An independent Homie 5 controller: the npm package node-homie.
 *
 *   controller_homie.js PORT DEVICE      prints "ready" once it has the whole device
 *
 * It knows nothing of the device but what its description says. Each line of standard input
 * is one thing to do, and has one line for an answer:
 *
 *   list                       how many properties it has found
 *   faults                     those that have no value, or one that their datatype forbids
 *   await NODE/PROPERTY VALUE  answers when the value is that
 *   set NODE/PROPERTY VALUE    "sent", or "refused" by the description
 *
 * Ends when its input does. */
'use strict'

const readline = require('readline')
const { DeviceDiscovery, HomieDeviceManager } = require('node-homie')
const { filter, firstValueFrom } = require('rxjs')
const { validateHomieValue } = require('node-homie/util')

const [port, wanted] = process.argv.slice(2)
const devices = new HomieDeviceManager()
const discovery = new DeviceDiscovery({ url: `mqtt://127.0.0.1:${port}`, topicRoot: 'homie' })

function properties (device) {
  return Object.values(device.nodes).flatMap(node => Object.values(node.properties))
}

function isOfType (property, value) {
  return validateHomieValue(value, property.attributes.datatype, property.attributes.format)
}

function find (path) {
  const property = devices.getProperty(`${wanted}/${path}`)
  if (!property) throw new Error(`there is no ${path}`)
  return property
}

const verbs = {
  list: device => properties(device).length,
  faults: device => properties(device)
    .filter(one => !isOfType(one, one.value))
    .map(one => `${one.pointer}=${one.value}`).join(' ') || 'none',
  await: async (device, path, value) => {
    await firstValueFrom(find(path).value$.pipe(filter(now => now === value)))
    return value
  },
  set: async (device, path, value) => { // it answers true to what it drops as well
    const property = find(path)
    if (!property.attributes.settable || !isOfType(property, value)) return 'refused'
    await firstValueFrom(property.setCommand$(value))
    return 'sent'
  }
}

async function serve (device) {
  console.log('ready')
  for await (const line of readline.createInterface({ input: process.stdin })) {
    const [verb, path, ...value] = line.split(' ')
    try {
      console.log(String(await verbs[verb](device, path, value.join(' '))))
    } catch (wrong) {
      console.log(`failed ${wrong.message}`)
    }
  }
  process.exit(0)
}

discovery.events$.subscribe(async event => {
  if (event.type !== 'add' || event.deviceId !== wanted || devices.hasDevice(wanted)) return
  const device = devices.add(event.makeDevice())
  device.onInit()
  await firstValueFrom(device.state$.pipe(filter(state => state === 'ready')))
  serve(device)
})
discovery.onInit()
