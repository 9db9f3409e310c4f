/* wirefault.h - a unit's answer, as a fault makes it. */
#ifndef SIMHOUSE_WIREFAULT_H
#define SIMHOUSE_WIREFAULT_H

#include "house/prng.h"
#include "units.h"

struct answer {
    uint8_t bytes[WIRE_FRAME_MAX];
    int length;   /* 0: silence */
    int delay_ms; /* before it is sent */
};

/* The unit's answer to a whole, well-formed request. */
struct answer unit_answer(struct wire *wire, enum wire_kind kind, struct unit *unit,
                          struct prng *prng, const uint8_t *request, int length);

#endif
