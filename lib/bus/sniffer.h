/* sniffer.h - a serial line that is only listened to. Used by the bus's worker only.
 *
 * The port is opened for reading alone: no code in this program can write to it. */
#ifndef SLUICE_BUS_SNIFFER_H
#define SLUICE_BUS_SNIFFER_H

#include "bus/pass_tap.h"
#include "bus/quality.h"

struct sniffer;

/* Opens nothing yet. `tap` gets each block that comes by. */
struct sniffer *sniffer_new(const struct bus_settings *settings, struct quality *quality,
                            struct pass_tap *tap, struct trouble *trouble);
void sniffer_free(struct sniffer *sniffer);

/* In the order of the bus's meters. `map` NULL (SunSpec): nobody can be asked for it. */
void sniffer_add_meter(struct sniffer *sniffer, uint8_t unit, const struct meter_map *map);

/* Waits until there is post in the box, hearing what comes meanwhile. */
void sniffer_wait(struct sniffer *sniffer, const struct mailbox *box);

/* The newest sample of a meter, with its age; or why there is none. */
void sniffer_answer(struct sniffer *sniffer, uint8_t meter, struct bus_answer *answer);

#endif
