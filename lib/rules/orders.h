/* orders.h - sections 3 and 4: what people ordered, and what the outputs confirm. */
#ifndef SLUICE_RULES_ORDERS_H
#define SLUICE_RULES_ORDERS_H

#include "turn.h"

void obey_orders(struct turn *turn);
void take_confirmations(struct turn *turn);

#endif
