/* publish.h - the site as properties on the broker, and the orders that come from there. */
#ifndef SLUICE_DAEMON_PUBLISH_H
#define SLUICE_DAEMON_PUBLISH_H

#include "common.h"
#include "loop/mailbox.h"
#include "terms/decision.h"

struct site;

struct broker {
    struct mailbox *inbox; /* struct mqtt_message */
    struct mono since;     /* connected without a break since then; MONO_NEVER: not */
    enum reason_code published[SETTINGS_LOADS_MAX];
    struct mono texts_due; /* of slowly changing values */
};

void publish_start(struct site *site);
/* After a reload. Another broker is begun anew: returns the connection to the old one, to be
 * stopped; NULL: the same goes on. */
struct mqtt *publish_reload(struct site *site, const struct settings *before);
void publish_listen(struct site *site); /* to what the outputs' devices report */
void publish_turn(struct site *site);
void publish_take_orders(struct site *site);

#endif
