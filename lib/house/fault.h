/* fault.h - what can go wrong with a load, one by one, as rows that are put in force
 * and taken back. Several may be in force at once.
 *
 * The parts of an element: with several heating rods in parallel one that burns out
 * leaves 1/2 or 2/3 of the power on every phase. Of a three-phase element in star with
 * its neutral a leg that is gone takes its own phase's third with it. In star without
 * neutral the two others are left in series: 3/4 of their power each, half in all. In
 * delta a rod that is gone halves what two phases draw: two thirds in all (Ohm's law
 * on a symmetrical supply). `phases` says whose share is meant, so that each of these
 * can be told. */
#ifndef SLUICE_HOUSE_FAULT_H
#define SLUICE_HOUSE_FAULT_H

#include "house/load.h"

enum house_fault_kind {
    FAULT_WELDED,
    FAULT_COIL_OPEN, /* the contactor does not pull in */
    FAULT_BYPASSED,
    FAULT_BREAKER_OFF,
    FAULT_SUPPLY_OFF,
    FAULT_ELEMENT_BROKEN,
    FAULT_ELEMENT_LEFT,       /* amount: the share that is left */
    FAULT_ELEMENT_RESISTANCE, /* amount: the resistance as a share of the nameplate's */
    FAULT_ELEMENT_DRIFT,      /* amount: by which share it grows in a year */
    FAULT_THERMOSTAT_CLOSED,
    FAULT_THERMOSTAT_OPEN,
    FAULT_THERMOSTAT_OPENS_FOR_GOOD,
    FAULT_CUT_OUT,     /* the thermal cut-out has opened; taken back: someone reset it */
    FAULT_RELIEF_LEAK, /* amount: litres of hot water an hour */
    FAULT_HOT_LEAK,    /* amount: litres of hot water an hour */
    HOUSE_FAULTS
};

struct house_fault {
    enum house_fault_kind kind;
    double amount;
    uint8_t phases; /* of FAULT_ELEMENT_LEFT; 0: all of the load's */
};

void house_fault_begin(struct house_load *load, const struct house_fault *fault);
void house_fault_end(struct house_load *load, const struct house_fault *fault);

/* Everything is repaired; the water stays as it is. */
void house_fault_repair(struct house_load *load);

#endif
