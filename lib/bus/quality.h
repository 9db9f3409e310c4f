/* quality.h - how well a bus works: counted by its worker, read by the loop.
 *
 * Counts rise for as long as the bus lives. Answer times are those of the last few
 * thousand answers, from the question's first byte to the answer's last, in steps of a
 * fifth. */
#ifndef SLUICE_BUS_QUALITY_H
#define SLUICE_BUS_QUALITY_H

#include <pthread.h>

#include "bus/bus.h"

enum { QUALITY_BUCKETS = 64 };

struct quality_unit {
    struct bus_unit_quality counts;
    bool failed; /* the last question was not answered: the next is a retry */
    uint32_t bucket[QUALITY_BUCKETS];
    uint32_t total;
};

struct quality {
    pthread_mutex_t mutex;
    struct bus_quality counts; /* its units are filled in when read */
    struct quality_unit unit[BUS_QUALITY_UNITS_MAX];
};

void quality_begin(struct quality *quality);
void quality_end(struct quality *quality);

/* One question and what became of it. */
void quality_count(struct quality *quality, uint8_t unit, enum bus_outcome outcome,
                   int64_t took_us);

/* What is known of the line as a whole: totals, not differences. */
void quality_line(struct quality *quality, uint64_t noise_bytes, uint64_t doubtful,
                  uint64_t foreign, bool two_masters);

void quality_read(struct quality *quality, struct bus_quality *into);

#endif
