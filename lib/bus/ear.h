/* ear.h - a serial line that is only listened to. Used by the bus's worker only.
 *
 * The port is opened for reading alone: no code in this program can write to it. */
#ifndef SLUICE_BUS_EAR_H
#define SLUICE_BUS_EAR_H

#include "bus/pass_tap.h"
#include "bus/quality.h"

struct ear;

/* Opens nothing yet. `tap` gets each block that comes by. */
struct ear *ear_new(const struct bus_settings *settings, struct quality *quality,
                    struct pass_tap *tap, struct trouble *trouble);
void ear_free(struct ear *ear);

/* In the order of the bus's meters. `map` NULL (SunSpec): nobody can be asked for it. */
void ear_add_meter(struct ear *ear, uint8_t unit, const struct meter_map *map);

/* Waits until there is post in the box, hearing what comes meanwhile. */
void ear_wait(struct ear *ear, const struct mailbox *box);

/* The newest sample of a meter, with its age; or why there is none. */
void ear_answer(struct ear *ear, uint8_t meter, struct bus_answer *answer);

#endif
