/* quantity.h - quantities and their text: "3.6 kW", "2 h 30 min", "17:00".
 *
 * One whole-number unit inside, named in the kind; text always carries a unit,
 * and a bare number where a unit is needed is an error that says so. Decimal
 * text is converted exactly, without floating point; more digits than the
 * inside unit can hold are an error, not rounded away. */
#ifndef SLUICE_CORE_QUANTITY_H
#define SLUICE_CORE_QUANTITY_H

#include <stdint.h>

#include "text.h"
#include "trouble.h"

enum quantity_kind {
    QUANTITY_POWER_W,        /* W kW MW, and of panels Wp kWp */
    QUANTITY_ENERGY_MWH,     /* milliwatt-hours: Wh kWh MWh */
    QUANTITY_DURATION_MS,    /* ms s min h d, and sums: "2 h 30 min" */
    QUANTITY_TIME_S,         /* second of the day: "17:00", "6:30", "24:00" */
    QUANTITY_SHARE_PERMILLE, /* "80 %", "7.5 %" */
    QUANTITY_CURRENT_MA,     /* A mA */
    QUANTITY_VOLTAGE_MV,     /* V mV kV */
    QUANTITY_PRICE_MICRO,  /* price of energy in millionths of the currency per kWh: "0.30 /kWh" */
    QUANTITY_DAILY_MICRO,  /* what a day costs, in millionths: "1.10 /day" */
    QUANTITY_DEMAND_MICRO, /* what a kW of demand costs, in millionths: "12.50 /kW" */
    QUANTITY_TEMPERATURE_MC, /* milli degrees: "60 °C", "60 C" */
    QUANTITY_VOLUME_ML,      /* L l mL */
    QUANTITY_RESISTANCE_OHM, /* ohm kohm Mohm */
    QUANTITY_COUNT,          /* a bare whole number */
};

/* Parses the whole of `text`; false fills trouble->text (the place is the
 * caller's to add). */
bool quantity_parse(enum quantity_kind kind, const char *text, int64_t *value,
                    struct trouble *trouble);

/* Appends the value as people write it: 3600 -> "3.6 kW", 9000000 ms -> "2 h 30 min". */
void quantity_write(enum quantity_kind kind, int64_t value, struct text *text);

/* "a power, such as 3.6 kW": for messages that say what was expected. */
const char *quantity_expected(enum quantity_kind kind);

#endif
