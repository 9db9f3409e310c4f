/* lamp.h - the lamp that shows what goes on. */
#ifndef SLUICE_DAEMON_LAMP_H
#define SLUICE_DAEMON_LAMP_H

#include "common.h"
#include "engine.h"
#include "lines.h"
#include "output/output.h"

struct lamp {
    struct lines *lines;
    struct outputs *outputs; /* NULL: there is none */
    bool other_range;        /* of jobs, so that an answer to the last lamp is not this one's */
};

bool lamp_open(struct lamp *lamp, struct lines *lines, const struct common *common,
               struct trouble *trouble);
/* Once a turn: as it should be now. */
void lamp_turn(struct lamp *lamp, const struct engine *engine, struct common *common);
void lamp_answer(struct lamp *lamp, const struct bus_answer *answer);
/* At a reload, once the buses are there. False: out of memory, and there is none. */
bool lamp_replace(struct lamp *lamp, struct common *common, const struct settings *before,
                  bool buses_stay, struct trouble *trouble);
/* Before the buses go: it is ordered off. */
void lamp_off(struct lamp *lamp, struct mono now);
void lamp_end(struct lamp *lamp);

#endif
