/* overheard.h - one meter that another master reads: its map, and what has come by.
 *
 * The other master reads what it likes in the order it likes. What it has read since
 * the last sample is gathered; a sample is whole when all that the last round held is
 * there again, or when something comes a second time. Pure. */
#ifndef SLUICE_BUS_OVERHEARD_H
#define SLUICE_BUS_OVERHEARD_H

#include "core/text.h"
#include "frame/listen.h"
#include "meter/meter.h"

struct overheard {
    uint8_t unit;
    struct meter_map map;
    uint32_t mapped; /* bit per quantity that the map has */
    uint32_t heard;  /* that has ever come by */
    uint32_t round;  /* quick quantities of the last round: the next is whole with these */
    struct meter_sample gathered;
    int64_t gathered_us; /* when its power, or what stands for it, came */
    struct meter_sample sample;
    int64_t sample_us;
    struct meter_sample totals; /* energy, each new value once: it comes seldom */
    bool ready;                 /* `sample` is new */
};

void overheard_begin(struct overheard *overheard, uint8_t unit, const struct meter_map *map);

/* The registers that an exchange read; false: it is no answered read of registers. */
bool overheard_registers(const struct heard *heard, struct meter_block *block,
                         uint16_t value[static METER_BLOCK_REGISTERS_MAX]);

/* Registers that the unit gave to somebody. */
void overheard_take(struct overheard *overheard, const struct meter_block *block,
                    const uint16_t registers[], int64_t now_us);

/* The newest whole sample, each once; false: there is no new one. */
bool overheard_sample(struct overheard *overheard, struct meter_sample *sample, int64_t *taken_us);

/* What of the map is never read, in words; nothing where all of it is:
 * "total power is never asked for; the sum of the phases stands for it. Never asked for
 * either: frequency". */
void overheard_missing(const struct overheard *overheard, struct text *text);

#endif
