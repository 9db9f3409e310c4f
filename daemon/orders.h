/* orders.h - orders from people, by socket and by MQTT alike. */
#ifndef SLUICE_DAEMON_ORDERS_H
#define SLUICE_DAEMON_ORDERS_H

#include <stdbool.h>

#include "core/text.h"

struct site;

/* Each answers in words, and says whether it was obeyed. */
bool order_load(struct site *site, const char *load, const char *text, struct text *answer);
bool order_holiday(struct site *site, const char *text, struct text *answer);
bool order_inhibit(struct site *site, const char *load, const char *yes_no, struct text *answer);
bool order_enable(struct site *site, const char *load, const char *yes_no, struct text *answer);

#endif
