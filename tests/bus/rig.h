/* rig.h - a bus, the peer it talks to, and a clock of the test's own. */
#ifndef SLUICE_TESTS_BUS_RIG_H
#define SLUICE_TESTS_BUS_RIG_H

#include "bus/bus.h"
#include "peers/peer.h"

struct rig {
    struct peer peer;
    struct mailbox *answers;
    struct bus *bus;
    struct mono now; /* goes with each job */
    uint32_t id;
};

/* How long the bus waits for an answer in these tests. Long enough for a busy
 * machine to answer within it, so that only a peer that means to is silent. */
enum { RIG_ANSWER_MS = 700, RIG_UNIT = 17 };

/* `wire`: "tcp", or "rtu" and "pty" for a serial port. */
struct rig rig_start(const char *program, const char *wire);
void rig_stop(struct rig *rig);
struct bus_settings rig_settings(const char *wire, const char *name);

/* Posts and waits for the answer; checks that it belongs to the job. */
struct bus_answer rig_ask(struct rig *rig, struct bus_job job);

struct bus_job rig_holding(uint16_t address, uint16_t count);
struct bus_job rig_coil(uint16_t address);
struct bus_job rig_set_coil(uint16_t address, bool on);
struct bus_job rig_set_register(uint16_t address, uint16_t value);

/* A float meter at the input registers of tests/peers/registers.py: volts at 0,
 * watts at 52, imported kWh (a total) at 72. */
const struct meter_map *rig_map(void);

#endif
