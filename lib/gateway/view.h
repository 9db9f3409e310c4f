/* view.h - any meter as a SunSpec meter: marker, common model, one meter model, end. Pure.
 *
 * Import is positive: the models do not say (see meter/sunspec.h), and this is what
 * meters at a connection point do. */
#ifndef SLUICE_GATEWAY_VIEW_H
#define SLUICE_GATEWAY_VIEW_H

#include "gateway/gateway.h"

enum { VIEW_BASE = 40000, VIEW_REGISTERS_MAX = 200 };

struct view {
    uint16_t count;     /* registers from VIEW_BASE */
    uint16_t live_from; /* index of the first that a reading fills in */
    uint16_t live_to;   /* one past the last */
    bool filled;
    int64_t at_us; /* of the sample */
    uint16_t value[VIEW_REGISTERS_MAX];
};

/* The fixed part; the rest reads as not implemented until filled. */
void view_begin(struct view *view, const struct gateway_served *served, const char *version);

void view_fill(struct view *view, const struct gateway_served *served,
               const struct meter_sample *sample, int64_t at_us);

#endif
