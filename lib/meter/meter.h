/* meter.h - from registers to quantities.
 *
 * A map says where a device keeps each quantity and how it is written there;
 * a plan says which blocks to read so that the fewest requests fetch them; a
 * sample is what one round of reading gave. SunSpec devices need no map: a walk
 * along their model chain writes one (sunspec.h), so that everything after it
 * is the same for every device. Pure: the edge does the asking. */
#ifndef SLUICE_METER_METER_H
#define SLUICE_METER_METER_H

#include <stdint.h>

#include "core/trouble.h"

/* What a device may know. Inside units: mW, mA, mV, mHz, mWh, permille, m°C.
 * Signs are the device's own: a grid meter's power is positive when importing if
 * it is wired so (the settings turn it round), an inverter's is what it produces. */
enum meter_quantity {
    METER_POWER, /* total */
    METER_POWER_L1,
    METER_POWER_L2,
    METER_POWER_L3,
    METER_CURRENT_L1,
    METER_CURRENT_L2,
    METER_CURRENT_L3,
    METER_VOLTAGE_L1,
    METER_VOLTAGE_L2,
    METER_VOLTAGE_L3,
    METER_FREQUENCY,
    METER_IMPORT_ENERGY,
    METER_EXPORT_ENERGY, /* what an inverter has produced is its export */
    METER_BATTERY_CHARGE,
    METER_TEMPERATURE,
    METER_STATE, /* SunSpec inverter operating state St, as is */
    METER_QUANTITIES,
};

enum meter_table { METER_HOLDING, METER_INPUT };

enum meter_type {
    METER_INT16,
    METER_UINT16,
    METER_INT32,
    METER_UINT32,
    METER_INT64,
    METER_UINT64,
    METER_FLOAT32,
    METER_FLOAT64,
};

enum meter_order { METER_HIGH_FIRST, METER_LOW_FIRST }; /* of 16-bit words */

enum {
    METER_POINTS_MAX = 24,
    METER_BLOCKS_MAX = 16,
    METER_BLOCK_REGISTERS_MAX = 125,
    METER_NO_REGISTER = -1,
    METER_MARKS_MAX = 4
};

struct meter_point {
    enum meter_quantity quantity;
    enum meter_table table;
    uint16_t address; /* 0-based, as on the wire */
    enum meter_type type;
    enum meter_order order;
    int64_t scale_num, scale_den; /* raw * num / den = inside unit; both >= 1 */
    int32_t scale_register;       /* address of a signed power-of-ten exponent, same table, or
                                     METER_NO_REGISTER */
    bool scale_optional;          /* an exponent that is not implemented (0x8000) counts as 0 */
    bool inverted;
    bool has_absent; /* raw pattern that means "not available" (floats: any NaN always does) */
    uint64_t absent;
    bool absent_zero; /* accumulators where 0 means "not accumulated" (SunSpec acc32) */
};

/* What the device's positive power is, after `inverted` points have been turned round. */
enum meter_positive {
    METER_POSITIVE_WIRED,  /* import, where the meter is wired in the maker's direction */
    METER_POSITIVE_IMPORT, /* by its own definition */
    METER_POSITIVE_PRODUCTION,
    METER_POSITIVE_CHARGE, /* of a battery */
};

/* A register to know the device by: its raw value, as the type (a whole number, no
 * float) gives it, lies between least and greatest. */
struct meter_mark {
    enum meter_table table;
    uint16_t address;
    enum meter_type type;
    enum meter_order order;
    int64_t least, greatest;
};

/* Whether what a map says was compared with published sources. */
enum meter_verified { METER_VERIFIED_UNSAID, METER_VERIFIED_READ, METER_VERIFIED_MEMORY };

struct meter_map {
    char name[32];
    char title[96];
    char source[256];
    char unsure[256];  /* what no source settles, and what to look at on the meter; "": nothing */
    uint8_t verified;  /* enum meter_verified */
    uint8_t stop_bits; /* of its usual line; 0: not said */
    uint32_t baud;     /* the device's usual line; 0: none, since a walk wrote the map */
    uint8_t parity;    /* enum parity */
    uint8_t unit;
    uint8_t positive;     /* enum meter_positive */
    uint8_t phases;       /* how many it measures; 0: not said */
    uint8_t request_most; /* registers that the device gives at once; 0: all that Modbus allows */
    uint8_t mark_count;
    struct meter_mark mark[METER_MARKS_MAX];
    uint8_t point_count;
    struct meter_point point[METER_POINTS_MAX];
};

struct meter_block {
    enum meter_table table;
    uint16_t address, count;
    bool totals; /* holds only slow quantities (energy): read less often */
};

struct meter_plan {
    uint8_t count;
    struct meter_block block[METER_POINTS_MAX]; /* at most METER_BLOCKS_MAX, before any is split */
};

struct meter_sample {
    uint32_t has; /* bit per enum meter_quantity */
    int64_t value[METER_QUANTITIES];
};

/* Registers per value: 1, 2 or 4. */
uint16_t meter_type_registers(enum meter_type type);

/* The fewest blocks that cover the map's points: gaps of up to 16 unused
 * registers are read across; a value is never torn over two blocks, nor parted
 * from its scale register. False: the map has no points, or one that cannot be
 * read like that. */
bool meter_plan_make(const struct meter_map *map, struct meter_plan *plan, struct trouble *trouble);

/* For a device that refuses block `index`: puts its parts in its place, which ask for the same
 * values without the gaps between them, or, where there are none, each value by itself.
 * How many; 0: it holds a single value, and stays. */
uint8_t meter_plan_split(const struct meter_map *map, struct meter_plan *plan, uint8_t index);

/* The raw value at the head of `registers`, put together in the given order and read as
 * a whole number (0 for a float type; a uint64 beyond INT64_MAX counts as that). */
int64_t meter_whole_number(enum meter_type type, enum meter_order order,
                           const uint16_t registers[]);

/* Adds to `sample` each point that lies, with its scale register, wholly in the
 * block; the block is one of a plan of that map. A point is left out whose raw
 * value is absent or not finite, whose exponent is out of -10..10, or whose value
 * no building's meter can show (more than 1 GW, 2 MA, 2 MV...): such a value
 * would only be a misread register. */
void meter_decode(const struct meter_map *map, const struct meter_block *block,
                  const uint16_t registers[], struct meter_sample *sample);

/* The quantity's word in map files ("power", "current-l1"...), NULL past the end. */
const char *meter_quantity_word(enum meter_quantity quantity);
const char *meter_table_word(enum meter_table table);

/* The unit of a map file, an optional decimal factor before a name: "W", "kWh",
 * "0.01 kWh", "0.1 V", "°C". Gives the scale that turns a raw value into the
 * inside unit. A state has no unit: "" or "1". */
bool meter_unit_parse(enum meter_quantity quantity, const char *text, int64_t *num, int64_t *den,
                      struct trouble *trouble);

#endif
