/* quote.h - what a quote takes for granted: what each way of heating water costs to buy,
 * and the home as far as the days do not tell it. */
#ifndef SLUICE_QUOTE_QUOTE_H
#define SLUICE_QUOTE_QUOTE_H

#include "core/hours.h"
#include "core/setting.h"

enum { QUOTE_CURRENCY_MAX = 8 };

/* Costs in whole units of the currency, fitted and commissioned. */
struct quote_settings {
    char currency[QUOTE_CURRENCY_MAX];
    uint32_t timer_cost, controlled_cost, diverter_cost;
    /* Of sluice, piece by piece. */
    uint32_t board_cost, meter_cost, relay_cost, contactor_cost, regulator_cost, labour_cost;
    uint32_t sensor_cost, element_cost, valve_cost; /* of any way that has them */
    uint16_t years;                                 /* over which a purchase has to pay */
    uint16_t valid_days;                            /* how long the customer's page holds */
    struct hours timer_hours;                       /* none: the best of some usual ones */
    struct hours boost_hours; /* of the diverter; none: the best of some usual ones */
    int32_t array_w;          /* at the panels' nameplate, for days told per kWp; 0: not told */
    int32_t water_ml;         /* hot water a day, for days without; 0: a usual profile's */
};

extern const struct section quote_section; /* struct quote_settings */

#endif
