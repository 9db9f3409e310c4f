/* units.h - the devices on the bus: what each shows and what may be written.
 *
 *   1   grid meter: SunSpec 203 or 213 from holding register 40000, and float32
 *       input registers as a common three-phase DIN meter has them
 *   2   solar inverter: SunSpec 103 from holding register 40000
 *   3   a second one, where the scenario has it
 *   10  relay board: coils 0..15, also as holding registers 0..15; discrete inputs
 *       0..15, as the scenario wires them; holding
 *       registers 100..115 for set-points; input registers 2i and 2i+1: top and
 *       bottom temperature of heater i, 0.1 C
 *   11  car charger: holding registers 100..115, set-point in 0.1 A; input
 *       registers 0,1 power in W (uint32, high word first), 2 current in 0.01 A,
 *       3 state: 0 no car, 1 connected, 2 charging
 *   12  battery: the DIN meter's input registers in its line, charging positive;
 *       holding register 0: charge in 0.1 %
 *   sub-meters where the scenario puts them: the DIN meter's input registers */
#ifndef SIMHOUSE_UNITS_H
#define SIMHOUSE_UNITS_H

#include <modbus/modbus.h>

#include "scenario.h"
#include "wire.h"

enum { UNITS_MAX = 12 };

enum unit_kind {
    UNIT_METER,
    UNIT_INVERTER,
    UNIT_RELAYS,
    UNIT_CHARGER,
    UNIT_BATTERY,
    UNIT_SUBMETER
};

struct unit {
    uint8_t id;
    enum unit_kind kind;
    int load; /* charger, sub-meter */
    modbus_mapping_t *map;
    enum wire_fault fault;
    int64_t fault_amount;
    struct unit *other;              /* whose values it shows under WIRE_OTHER_UNIT */
    uint8_t last[2][WIRE_FRAME_MAX]; /* the newest sound answer, by enum wire_kind */
    int last_length[2];
};

struct units {
    struct unit unit[UNITS_MAX];
    int count;
    const struct scenario *scenario;
    bool pressed[INPUTS_MAX]; /* by the scenario's inputs: the buttons */
};

/* False: no memory, or inputs that no board has; told on standard error. */
bool units_init(struct units *units, const struct scenario *scenario);
void units_free(struct units *units);

struct unit *units_find(struct units *units, uint8_t id);
bool unit_takes_writes(const struct unit *unit);

/* From the truth into the registers, and from the boards into the truth. */
void units_show(struct units *units, const struct world *world);
void units_obey(struct units *units, struct world *world);

/* After a write with this function code: the two views of the relays agree. */
void unit_written(struct unit *unit, uint8_t function);

#endif
