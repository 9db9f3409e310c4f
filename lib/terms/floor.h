/* floor.h - how a floor is measured. */
#ifndef SLUICE_TERMS_FLOOR_H
#define SLUICE_TERMS_FLOOR_H

enum floor_measure {
    FLOOR_TIME,      /* milliseconds drawing power */
    FLOOR_ENERGY,    /* mWh */
    FLOOR_SATISFIED, /* the thermostat has opened after heating */
};

#endif
