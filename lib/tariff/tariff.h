/* tariff.h - what energy costs at a moment, and what is paid besides.
 *
 * Prices come in bands; the last band that holds at a moment gives the price, so
 * the first is usually the flat one and the others are exceptions. Prices are
 * millionths of the currency per kWh and may be negative: energy that one is paid
 * to take, or export that one is charged for.
 *
 * A controlled supply is a circuit of its own, counted by its own register, on
 * which the supplier switches power on and off by the clock. */
#ifndef SLUICE_TARIFF_TARIFF_H
#define SLUICE_TARIFF_TARIFF_H

#include "core/hours.h"

enum { TARIFF_BANDS_MAX = 16, TARIFF_DEMANDS_MAX = 4, TARIFF_NO_BAND = -1 };

struct tariff_band {
    int32_t price_micro;
    struct hours hours;              /* none: at any time */
    uint8_t first_month, last_month; /* 1..12, may wrap (11..2); 0: the whole year */
};

enum tariff_per { TARIFF_PER_MONTH, TARIFF_PER_DAY };

/* What a kW of a month's highest mean power costs. Power is the import's mean over a
 * window of the local clock; what is used outside hours and season counts nothing. */
struct tariff_demand {
    int32_t price_micro; /* per kW and month, or per kW and day of that month */
    int32_t window_ms;   /* 0: half an hour */
    uint8_t per;         /* enum tariff_per */
    uint8_t first_month, last_month;
    struct hours hours;
};

/* Where `there` is false all else is zero. */
struct tariff_controlled {
    bool there;
    uint8_t count;
    int32_t daily_micro;
    struct hours hours; /* when the supplier gives it power */
    struct tariff_band band[TARIFF_BANDS_MAX];
};

struct tariff {
    uint8_t count; /* 0: prices are not known */
    struct tariff_band band[TARIFF_BANDS_MAX];
    int32_t feed_in_micro; /* credit for a kWh exported, where none of those below holds */
    uint8_t feed_in_count;
    struct tariff_band feed_in_band[TARIFF_BANDS_MAX];
    int32_t daily_micro;
    uint8_t demand_count;
    struct tariff_demand demand[TARIFF_DEMANDS_MAX];
    struct tariff_controlled controlled;
};

/* The price of import at a local time; 0 where no band holds. */
int32_t tariff_price(const struct tariff *tariff, const struct local *local);

/* The credit for export at a local time. */
int32_t tariff_feed_in(const struct tariff *tariff, const struct local *local);

/* The first moment after `wall` at which the price of import or the credit for export
 * changes, or `limit`. */
struct wall tariff_next_change(const struct tariff *tariff, const struct zone *zone,
                               struct wall wall, struct wall limit);

/* For whoever counts by bands (bill.h): which holds, or TARIFF_NO_BAND. */
int tariff_band_at(const struct tariff_band band[], int count, const struct local *local);
bool tariff_demand_counts(const struct tariff_demand *demand, const struct local *local);

/* The first moment after `wall` at which anything of the above may change: no later than
 * the next local midnight, and than any change of the zone's offset. */
struct wall tariff_next_edge(const struct tariff *tariff, const struct zone *zone,
                             struct wall wall);

#endif
