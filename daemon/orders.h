/* orders.h - orders from people, by socket and by MQTT alike. */
#ifndef SLUICE_DAEMON_ORDERS_H
#define SLUICE_DAEMON_ORDERS_H

#include "engine.h"

/* What an order is given to, and what its answer is told from. */
struct ordering {
    struct engine *engine;
    struct common *common;
    const struct inputs *inputs;
    const struct outputs *outputs;
};

/* Each answers in words, and says whether it was obeyed. */
bool order_load(const struct ordering *ordering, const char *load, const char *text,
                struct text *answer);
/* As a switch says it: "auto", "on" or "off". What is in force already keeps its end; a new "on"
 * ends after the longest that a manual run may last. */
bool order_mode(const struct ordering *ordering, const char *load, const char *word,
                struct text *answer);
/* Minutes to run from now, in digits; "0" ends a manual run and changes nothing else. */
bool order_run_for(const struct ordering *ordering, const char *load, const char *minutes,
                   struct text *answer);
/* For whoever watches what it does: not over MQTT. */
bool order_test(const struct ordering *ordering, const char *load, const char *text,
                struct text *answer);
bool order_holiday(const struct ordering *ordering, const char *text, struct text *answer);
bool order_inhibit(const struct ordering *ordering, const char *load, const char *yes_no,
                   struct text *answer);
bool order_enable(const struct ordering *ordering, const char *load, const char *yes_no,
                  struct text *answer);

#endif
