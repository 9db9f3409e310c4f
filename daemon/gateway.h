/* gateway.h - the meter given to others, as the settings in force say. */
#ifndef SLUICE_DAEMON_GATEWAY_H
#define SLUICE_DAEMON_GATEWAY_H

#include "common.h"
#include "gateway/gateway.h"
#include "lines.h"

struct serving {
    struct gateway *gateway;    /* NULL: none */
    struct gateway_state state; /* as of the last turn */
    struct mono moved;
};

void gateway_begin(struct serving *serving, struct lines *lines,
                   struct common *common);                        /* once the buses are there */
void gateway_end(struct serving *serving, struct common *common); /* before they go */

/* Whether the same gateway, on the same buses, would do for both. */
bool gateway_is_same(const struct settings *a, const struct settings *b);

/* A plausible sample of that meter has come. */
void gateway_tell(struct serving *serving, const struct settings *settings, uint8_t meter,
                  const struct meter_sample *sample, int64_t age_ms);

/* Once a turn: what is wrong with it. */
void gateway_turn(struct serving *serving, struct common *common);

/* For how long its thread has done nothing; it does something each second. */
int64_t gateway_still_ms(const struct serving *serving, struct mono now);

#endif
