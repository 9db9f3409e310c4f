/* hardware.h - what can be fitted to heat a home's water, and what each piece costs. */
#ifndef SLUICE_QUOTE_HARDWARE_H
#define SLUICE_QUOTE_HARDWARE_H

#include <stdbool.h>

#include "quote/quote.h"

/* What switches the element. */
enum hardware_drive {
    DRIVE_NONE, /* the thermostat alone */
    DRIVE_TIMER,
    DRIVE_OFF_PEAK, /* the supplier's circuit */
    DRIVE_DIVERTER,
    DRIVE_CONTACTOR, /* from here on by sluice */
    DRIVE_STAGES,    /* a contactor for each */
    DRIVE_REGULATOR, /* any power, by a set-point */
};

struct hardware {
    uint8_t drive;     /* enum hardware_drive */
    uint8_t stages;    /* elements, or parts of one that are switched apart; 1 or more */
    bool sensor;       /* a thermometer in the tank */
    int32_t element_w; /* of all of them together */
    int32_t set_mc;    /* of the thermostat */
};

bool hardware_same(const struct hardware *a, const struct hardware *b);

struct price_item {
    const char *what; /* "contactor" */
    int count;
    double cost; /* of all of them */
};
enum { PRICE_ITEMS_MAX = 12 };

/* What has to be bought to come from `present` (an element and its thermostat, whatever
 * switches it) to `wanted`. Items that cost nothing are left out. Returns how many. */
int hardware_items(const struct quote_settings *quote, const struct hardware *present,
                   const struct hardware *wanted, struct price_item items[static PRICE_ITEMS_MAX]);

double hardware_price(const struct quote_settings *quote, const struct hardware *present,
                      const struct hardware *wanted);

#endif
