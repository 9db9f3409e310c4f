/* orders_copy.h - people's orders, kept twice, so that no damage to the ledger makes a load start
 * that someone has inhibited or switched off. */
#ifndef SLUICE_DAEMON_ORDERS_COPY_H
#define SLUICE_DAEMON_ORDERS_COPY_H

#include "engine.h"
#include "remember.h"

/* How a note of the ledger came back. */
enum note_state { NOTE_NONE, NOTE_WHOLE, NOTE_HARMED };

/* With each snapshot: writes the copy anew where an order has changed. */
void orders_copy_save(struct kept *kept, const struct engine *engine, struct common *common);

/* After the ledger's notes were read, of which `of_site` and `of_load` tell how they came back.
 * Orders that they don't tell come from the copy; where neither tells them, the load, or the
 * whole site, stays inhibited until someone allows it. */
void orders_copy_restore(struct engine *engine, struct common *common, enum note_state of_site,
                         const enum note_state of_load[]);

#endif
