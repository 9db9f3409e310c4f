/* sunspec.h - finding a SunSpec device and writing a map of it.
 *
 * The walk asks for one block of holding registers at a time: the marker "SunS"
 * at 40000, 50000 or 0, then one model header after another until the end
 * marker 0xFFFF. The first meter (models 201-204, 211-214) or inverter (101-103)
 * on the way becomes the points of a map; names are those of the last common
 * model before it. Offsets and types: SunSpec information models
 * (sunspec/models, Apache-2.0).
 *
 * Signs are as the device gives them: the models do not say whether a meter's
 * positive power is import, so the settings must. An inverter's power is what it
 * produces, and its energy what it has given out (METER_EXPORT_ENERGY). */
#ifndef SLUICE_METER_SUNSPEC_H
#define SLUICE_METER_SUNSPEC_H

#include "meter.h"

enum sunspec_state { SUNSPEC_ASKING, SUNSPEC_FOUND, SUNSPEC_NOT_FOUND };

/* An inverter may show a meter of its own further along the same chain. */
enum sunspec_wanted { SUNSPEC_EITHER, SUNSPEC_METER, SUNSPEC_INVERTER };

enum sunspec_step { SUNSPEC_MARKER, SUNSPEC_HEADER, SUNSPEC_COMMON };

struct sunspec_walk {
    enum sunspec_state state;
    enum sunspec_wanted wanted; /* the caller's, between begin and the first feed */
    enum sunspec_step step;     /* what is being asked for */
    uint8_t base;               /* which of the three bases is being tried */
    uint16_t address, count;    /* what to read next, while SUNSPEC_ASKING */
    uint32_t next;              /* the header after the model that is being read */
    uint16_t hops;              /* models passed: a chain without an end ends the walk */
    uint16_t model;             /* the model that the map was made from */
    char maker[33], device[33], serial[33]; /* from the common model; printable ASCII */
    struct meter_map map;
};

void sunspec_begin(struct sunspec_walk *walk);

/* The answer to walk->address, walk->count; NULL: the device refused that
 * address (an exception). Silence is not an answer: ask again later. */
void sunspec_feed(struct sunspec_walk *walk, const uint16_t *registers);

#endif
