/* gateway.h - the meter given to others, as the settings in force say. */
#ifndef SLUICE_DAEMON_GATEWAY_H
#define SLUICE_DAEMON_GATEWAY_H

#include "site.h"

void gateway_begin(struct site *site); /* once the buses are there */
void gateway_end(struct site *site);   /* before they go */

/* Whether the same gateway, on the same buses, would do for both. */
bool gateway_is_same(const struct settings *a, const struct settings *b);

/* A plausible answer of that meter has come. */
void gateway_tell(struct site *site, uint8_t meter, int64_t age_ms);

/* Once a turn: what is wrong with it. */
void gateway_turn(struct site *site);

/* For how long its thread has done nothing; it does something each second. */
int64_t gateway_still_ms(const struct site *site);

#endif
