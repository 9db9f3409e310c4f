/* publish.h - the site as properties on the broker, and the orders that come from there. */
#ifndef SLUICE_DAEMON_PUBLISH_H
#define SLUICE_DAEMON_PUBLISH_H

#include "site.h"

void publish_start(struct site *site);
void publish_describe(struct site *site); /* after a reload */
void publish_listen(struct site *site);   /* to what the outputs' devices report */
void publish_turn(struct site *site);
void publish_take_orders(struct site *site);

#endif
