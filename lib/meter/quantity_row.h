/* quantity_row.h - what is known of each quantity, one row each. Inside lib/meter. */
#ifndef SLUICE_METER_QUANTITY_ROW_H
#define SLUICE_METER_QUANTITY_ROW_H

#include "meter/meter.h"

struct meter_unit {
    const char *name;
    int64_t holds; /* of the inside unit */
};

struct meter_quantity_row {
    const char *word;               /* in map files */
    const struct meter_unit *units; /* ends with a NULL name */
    const char *unit_names;         /* for messages */
    int64_t greatest;               /* magnitude in the inside unit; more is a misread register */
};

/* NULL past the end. */
const struct meter_quantity_row *meter_quantity_row(enum meter_quantity quantity);

#endif
