/* patience.h - when to try again. Pure; time is the jobs'.
 *
 * A line that does not open is tried after 1 s, 2 s, 4 s ... 60 s. A unit that
 * was silent three times running rests for nine times what its silence costs,
 * so that it takes at most a tenth of the bus's time; the first answer ends
 * that. Three, so that one lost frame does not cost ten seconds of readings. */
#ifndef SLUICE_BUS_PATIENCE_H
#define SLUICE_BUS_PATIENCE_H

#include "core/moment.h"

struct patience {
    int64_t delay_ms; /* the line's last; 0: it was open and well */
    struct mono retry_at;
    struct {
        uint8_t silent; /* times running */
        struct mono rests_until;
    } unit[256];
};

bool patience_may_open(const struct patience *patience, struct mono now);
void patience_did_not_open(struct patience *patience, struct mono now);
void patience_line_is_well(struct patience *patience);

bool patience_may_ask(const struct patience *patience, uint8_t unit, struct mono now);
int patience_rest_s(const struct patience *patience, uint8_t unit, struct mono now);
void patience_silent(struct patience *patience, uint8_t unit, int64_t cost_ms, struct mono now);
void patience_heard(struct patience *patience, uint8_t unit);

/* The unit has been given up for now: what was known of it may have changed. */
bool patience_lost(const struct patience *patience, uint8_t unit);

#endif
