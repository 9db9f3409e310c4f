/* confirmation.h - what an output says has become of an order. */
#ifndef SLUICE_TERMS_CONFIRMATION_H
#define SLUICE_TERMS_CONFIRMATION_H

#include "core/moment.h"

enum output_health {
    OUTPUT_UNKNOWN,     /* not heard of since start */
    OUTPUT_CONFIRMED,   /* the device has it: read back where it can be, else acknowledged */
    OUTPUT_PENDING,     /* ordered, not yet answered */
    OUTPUT_FAILED,      /* silent for a minute, or refusing: its state is not known */
    OUTPUT_UNSAFE,      /* says one thing and reads back another */
    OUTPUT_UNCONFIRMED, /* was confirmed, and has not answered for less than a minute */
};

struct confirmation {
    uint16_t load;
    enum output_health health;
    int32_t level_w; /* what is in force, where confirmed; else what last was; 0 is off */
    struct mono at;
};

/* It is as it was ordered, or about to be. Else it may be on whatever was ordered: it is silent,
 * or does other than it says. */
bool output_is_known(enum output_health health);

const char *output_health_text(enum output_health health); /* "confirmed", ... */

#endif
