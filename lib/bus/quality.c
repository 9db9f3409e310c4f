/* quality.c - counters, and percentiles from a histogram whose steps grow.
 *
 * Sorting thousands of times would cost memory for each unit; 64 buckets, each a
 * fifth longer than the one before, reach from 0.1 ms to 10 s and are as exact as
 * anybody needs. When a unit's histogram is full it is halved: old answers fade. */
#include "bus/quality.h"

#include <string.h>

enum { FIRST_US = 100, FULL = 4096 };

void quality_begin(struct quality *quality)
{
    memset(quality, 0, sizeof *quality);
    pthread_mutex_init(&quality->mutex, NULL);
}

void quality_end(struct quality *quality)
{
    pthread_mutex_destroy(&quality->mutex);
}

static int64_t next_limit(int64_t limit_us)
{
    return limit_us * 6 / 5;
}

static unsigned bucket_of(int64_t took_us)
{
    unsigned bucket = 0;
    for (int64_t limit_us = FIRST_US; took_us > limit_us && bucket < QUALITY_BUCKETS - 1;
         limit_us = next_limit(limit_us))
        bucket++;
    return bucket;
}

static void time_answer(struct quality_unit *unit, int64_t took_us)
{
    if (unit->total >= FULL) {
        unit->total = 0;
        for (unsigned i = 0; i < QUALITY_BUCKETS; i++)
            unit->total += unit->bucket[i] /= 2;
    }
    unit->bucket[bucket_of(took_us)]++;
    unit->total++;
}

/* The upper end of the bucket in which that answer lies. */
static int32_t percentile_us(const struct quality_unit *unit, unsigned percent)
{
    uint32_t wanted = (unit->total * percent + 99) / 100, passed = 0;
    int64_t limit_us = FIRST_US;
    if (unit->total == 0)
        return 0;
    for (unsigned i = 0; i < QUALITY_BUCKETS; i++, limit_us = next_limit(limit_us)) {
        passed += unit->bucket[i];
        if (passed >= wanted)
            break;
    }
    return (int32_t)limit_us;
}

/* NULL where there are more units than places: those are counted nowhere. */
static struct quality_unit *unit_of(struct quality *quality, uint8_t number)
{
    for (uint8_t i = 0; i < quality->counts.unit_count; i++)
        if (quality->unit[i].counts.unit == number)
            return &quality->unit[i];
    if (quality->counts.unit_count == BUS_QUALITY_UNITS_MAX)
        return NULL;
    struct quality_unit *unit = &quality->unit[quality->counts.unit_count++];
    unit->counts.unit = number;
    return unit;
}

static void count(struct quality_unit *unit, enum bus_outcome outcome, int64_t took_us)
{
    struct bus_unit_quality *counts = &unit->counts;
    bool answered = outcome == BUS_OK || outcome == BUS_EXCEPTION;
    counts->asked++;
    counts->retries += unit->failed;
    counts->answered += answered;
    counts->exceptions += outcome == BUS_EXCEPTION;
    counts->timeouts += outcome == BUS_TIMEOUT;
    counts->corrupt += outcome == BUS_CORRUPT;
    unit->failed = !answered;
    if (answered)
        time_answer(unit, took_us);
}

void quality_count(struct quality *quality, uint8_t number, enum bus_outcome outcome,
                   int64_t took_us)
{
    pthread_mutex_lock(&quality->mutex);
    struct quality_unit *unit = unit_of(quality, number);
    if (unit)
        count(unit, outcome, took_us);
    pthread_mutex_unlock(&quality->mutex);
}

void quality_line(struct quality *quality, uint64_t noise_bytes, uint64_t doubtful,
                  uint64_t foreign, bool two_masters)
{
    pthread_mutex_lock(&quality->mutex);
    quality->counts.noise_bytes = noise_bytes;
    quality->counts.doubtful = doubtful;
    quality->counts.foreign = foreign;
    quality->counts.two_masters = two_masters;
    pthread_mutex_unlock(&quality->mutex);
}

void quality_read(struct quality *quality, struct bus_quality *into)
{
    pthread_mutex_lock(&quality->mutex);
    *into = quality->counts;
    for (uint8_t i = 0; i < into->unit_count; i++) {
        const struct quality_unit *unit = &quality->unit[i];
        into->unit[i] = unit->counts;
        into->unit[i].p50_us = percentile_us(unit, 50);
        into->unit[i].p95_us = percentile_us(unit, 95);
        into->unit[i].p99_us = percentile_us(unit, 99);
    }
    pthread_mutex_unlock(&quality->mutex);
}
