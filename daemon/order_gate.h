/* order_gate.h - how many orders a source may give, and how often they are written down.
 *
 * A person's use is far below it. What only stops a load always passes. */
#ifndef SLUICE_DAEMON_ORDER_GATE_H
#define SLUICE_DAEMON_ORDER_GATE_H

#include "site.h"

/* Before the order is looked at. `verb` is order, inhibit, enable, holiday. False: dropped,
 * and the answer says so. */
bool order_gate_admit(struct site *site, enum order_source source, const char *verb,
                      const char *text, struct text *answer);

/* Of a command that was understood: does it change anything worth writing down? One that
 * does not costs its source nothing. */
bool order_gate_is_news(struct site *site, const struct command *command);

/* Each turn: is it time to write the orders since the last time; ends what is over. */
bool order_gate_turn(struct site *site);

#endif
