/* order_gate.h - how many orders a source may give, and how often they are written down.
 *
 * A person's use is far below it. What only stops a load always passes. */
#ifndef SLUICE_DAEMON_ORDER_GATE_H
#define SLUICE_DAEMON_ORDER_GATE_H

#include "common.h"

struct engine;

enum order_source { ORDERS_BY_SOCKET, ORDERS_BY_BROKER, ORDERS_BY_BUTTON, ORDER_SOURCES };

struct order_bucket {
    bool begun;
    int64_t tokens;
    struct mono since; /* the tokens were as many then */
};

struct order_gate {
    struct order_bucket others, stopping;
    uint32_t dropped; /* in this burst */
    struct mono dropped_at;
};

struct orders {
    struct order_gate gate[ORDER_SOURCES];
    struct order_bucket saves;
    struct order_bucket *spent; /* from which the order at hand took its token; NULL: from none */
    enum order_source source;   /* of the order at hand */
    bool record;                /* it is written down */
    bool unsaved;               /* an order has changed something since the last save */
    struct mono told_until[SETTINGS_LOADS_MAX]; /* the end of an order as last written down */
};

/* Before the order is looked at. `verb` is order, mode, run-for, test, inhibit, enable,
 * holiday. False: dropped, and the answer says so. */
bool order_gate_admit(struct orders *orders, struct common *common, enum order_source source,
                      const char *verb, const char *text, struct text *answer);

/* How the order at hand came: "locally", "over MQTT", "at the board". */
const char *order_gate_source(const struct orders *orders);

/* Of a command that was understood: does it change anything worth writing down? One that
 * does not costs its source nothing. */
bool order_gate_is_news(struct engine *engine, const struct command *command);

/* Each turn: is it time to write the orders since the last time; ends what is over. */
bool order_gate_turn(struct orders *orders, struct common *common);

#endif
