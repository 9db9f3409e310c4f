/* bill.h - what a household pays, added up step by step.
 *
 * Energy is kept by band in whole mWh and priced when asked for, so nothing is lost on
 * the way and each part is rounded once, to the nearest millionth. A step belongs as a
 * whole to the band, the demand window and the day of its beginning: whoever wants it
 * otherwise makes smaller steps.
 *
 * A zeroed bill is an empty one. The same tariff and zone go with it all its life. */
#ifndef SLUICE_TARIFF_BILL_H
#define SLUICE_TARIFF_BILL_H

#include "tariff.h"

/* One demand charge: the window that is being filled, the month's highest so far. */
struct bill_demand {
    bool counts; /* at the last step's stretch of time */
    int64_t window_end_ms;
    int64_t window_mwh, window_ms;
    int64_t month_mw;  /* milliwatts */
    int64_t charge_mw; /* of the months that have ended: each times what it is paid for */
};

struct bill {
    bool begun;
    int32_t days, month_days; /* local days in which a step began; those of this month */
    int32_t day;              /* the last of them */
    int64_t last_ms;          /* where the last step ended */
    int64_t since_ms, until_ms, midnight_ms; /* the stretch of time that is alike */
    int8_t in_band, out_band, controlled_band;
    /* The last place is for energy that no band covers: imported and controlled free, and
     * exported for tariff's feed_in_micro. */
    int64_t import_mwh[TARIFF_BANDS_MAX + 1];
    int64_t export_mwh[TARIFF_BANDS_MAX + 1];
    int64_t controlled_mwh[TARIFF_BANDS_MAX + 1];
    struct bill_demand demand[TARIFF_DEMANDS_MAX];
};

/* Millionths of the currency. */
struct bill_parts {
    int64_t import_micro, controlled_micro;
    int64_t feed_in_micro; /* what is paid back; negative where export costs */
    int64_t demand_micro;  /* the month that runs counts as if it ended now */
    int64_t daily_micro;   /* the controlled supply's included */
    int64_t total_micro;
};

/* Adds a step of at most a day. False, and nothing is added, where it ends before it
 * begins, begins before the last one ended (or 1970), is longer, or has negative energy. */
bool bill_add(struct bill *bill, const struct tariff *tariff, const struct zone *zone,
              struct wall from, struct wall to, int64_t import_mwh, int64_t export_mwh,
              int64_t controlled_mwh);

struct bill_parts bill_parts(const struct bill *bill, const struct tariff *tariff);

#endif
