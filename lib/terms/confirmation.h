/* confirmation.h - what an output says has become of an order. */
#ifndef SLUICE_TERMS_CONFIRMATION_H
#define SLUICE_TERMS_CONFIRMATION_H

#include "core/moment.h"

enum output_health {
    OUTPUT_UNKNOWN,   /* not heard of since start */
    OUTPUT_CONFIRMED, /* the device did it: read back where it can be, else acknowledged */
    OUTPUT_PENDING,   /* ordered, not yet answered */
    OUTPUT_FAILED,    /* silent or refusing after the retries: its state is not known */
    OUTPUT_UNSAFE,    /* says one thing and reads back another */
};

struct confirmation {
    uint16_t load;
    enum output_health health;
    int32_t level_w; /* what is in force, where confirmed; 0 is off */
    struct mono at;
};

const char *output_health_text(enum output_health health); /* "confirmed", ... */

#endif
