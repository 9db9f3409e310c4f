/* meter_reading.h - one meter on a line: what to ask it, and one round of
 * asking. Used by the bus's worker only. */
#ifndef SLUICE_BUS_METER_READING_H
#define SLUICE_BUS_METER_READING_H

#include "bus/line.h"
#include "bus/pass_tap.h"

struct metered {
    uint8_t unit;
    bool sunspec; /* the map is found by walking */
    bool mapped;  /* map and plan are there */
    struct meter_map map;
    struct meter_plan plan;
    char trouble[BUS_DETAIL_MAX];  /* why a given map has no plan; "" */
    char left_out[BUS_DETAIL_MAX]; /* what the unit refuses, and is not asked for; "": nothing */
    struct mono left_out_until;    /* then it is asked for again */
    enum sunspec_wanted wanted;
    struct sunspec_walk walk;
    struct pass_tap *tap; /* hears each block; NULL: nobody does */
};

/* `map` NULL: SunSpec. */
void metered_begin(struct metered *metered, uint8_t unit, const struct meter_map *map,
                   enum sunspec_wanted wanted);

/* Fills in outcome, sample, exception, took_us and detail of `answer`. The
 * sample is whole or empty. */
void metered_read(struct metered *metered, struct line *line, bool totals, struct mono now,
                  struct bus_answer *answer);

#endif
