/* sunspec.h - finding a SunSpec device and writing a map of it.
 *
 * The walk asks for one block of holding registers at a time: the marker "SunS"
 * at 40000, 50000 or 0, then one model header after another until the end
 * marker 0xFFFF. Meter models 201-204 and 211-214 and inverter models 101-103
 * become points of a map. Offsets and types: SunSpec information models
 * (sunspec/models, Apache-2.0). */
#ifndef SLUICE_METER_SUNSPEC_H
#define SLUICE_METER_SUNSPEC_H

#include "meter.h"

enum sunspec_state { SUNSPEC_ASKING, SUNSPEC_FOUND, SUNSPEC_NOT_FOUND };

struct sunspec_walk {
    enum sunspec_state state;
    uint8_t base;      /* which of the three bases is being tried */
    uint16_t address, count; /* what to read next, while SUNSPEC_ASKING */
    uint16_t hops;     /* models passed: a chain that bends back on itself ends the walk */
    uint16_t model;    /* the model that the map was made from */
    char maker[33], device[33], serial[33]; /* from the common model */
    struct meter_map map;
};

void sunspec_begin(struct sunspec_walk *walk);

/* The answer to walk->address, walk->count; NULL: the device refused that
 * address (an exception). Silence is not an answer: ask again later. */
void sunspec_feed(struct sunspec_walk *walk, const uint16_t *registers);

#endif
