/* tariff.h - what energy costs at a moment.
 *
 * A tariff is a list of bands; the last band that holds at a moment gives the
 * price, so the first is usually the flat one and the others are exceptions.
 * Prices are millionths of the currency per kWh and may be negative. */
#ifndef SLUICE_TARIFF_TARIFF_H
#define SLUICE_TARIFF_TARIFF_H

#include "core/hours.h"

enum { TARIFF_BANDS_MAX = 16 };

struct tariff_band {
    int32_t price_micro;
    struct hours hours;              /* none: at any time */
    uint8_t first_month, last_month; /* 1..12, may wrap (11..2); 0: the whole year */
};

struct tariff {
    uint8_t count; /* 0: prices are not known */
    struct tariff_band band[TARIFF_BANDS_MAX];
    int32_t feed_in_micro; /* credit for a kWh exported */
};

/* The price of import at a local time; 0 where no band holds. */
int32_t tariff_price(const struct tariff *tariff, const struct local *local);

/* The first moment after `wall` at which the price changes, or `limit`. */
struct wall tariff_next_change(const struct tariff *tariff, const struct zone *zone,
                               struct wall wall, struct wall limit);

#endif
