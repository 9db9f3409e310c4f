/* diagnosis_case.h - a house of the bench of diagnosis: what stands in it, how well its meter
 * sees it, what somebody set up, and what fails when. All of it follows from a seed. */
#ifndef SLUICE_BENCH_DIAGNOSIS_CASE_H
#define SLUICE_BENCH_DIAGNOSIS_CASE_H

#include "house/fault.h"
#include "house/world.h"
#include "rules/rules.h"

enum { CASE_LOADS_MAX = 2 };

/* What fails, as an electrician would name it. */
enum case_fault {
    CASE_SOUND,
    CASE_BREAKER_OFF,
    CASE_SUPPLY_OFF,
    CASE_COIL_OPEN,
    CASE_ELEMENT_OPEN,
    CASE_THERMOSTAT_OPEN,
    CASE_CUT_OUT,
    CASE_PART_THIRD, /* of its power is left */
    CASE_PART_HALF,
    CASE_PART_TWO_THIRDS,
    CASE_WELDED,
    CASE_BYPASSED,
    CASE_THERMOSTAT_CLOSED,
    CASE_CT_REVERSED,
    CASE_CTS_EXCHANGED, /* with the voltages */
    CASE_CTS_CROSSED,   /* transformers alone */
    CASE_METER_REVERSED,
    CASE_METER_STUCK,
    /* those that no few days can show */
    CASE_LEAK,
    CASE_DRIFT,
    CASE_FAULTS
};

#define CASE_FIRST_SLOW CASE_LEAK

enum case_view {
    VIEW_FINE,   /* polled each second, 10 W */
    VIEW_COARSE, /* each 5 s, 100 W */
    VIEW_OTHER,
    CASE_VIEWS
};

struct diagnosis_case {
    uint64_t seed;
    struct world_settings world;
    struct rules_settings rules;
    struct load_settings loads[CASE_LOADS_MAX];
    uint16_t order[CASE_LOADS_MAX];
    enum case_view view;
    int32_t poll_s, resolution_w;
    int32_t solar_late_s; /* by which the solar meter's value is older than the grid's */
    bool tells_voltage;
    bool senses_voltage; /* behind the contactor of the first load */
    enum case_fault fault;
    uint16_t fault_load;
    uint8_t fault_phases; /* bit 0 is L1; of a meter's fault, or of a part that is gone */
    double fault_amount;
    int64_t onset_s; /* after the beginning; -1: never */
    int32_t days;
};

/* Holds pointers into itself: must not be copied. */
void diagnosis_case_make(struct diagnosis_case *made, uint64_t seed);

/* Puts its fault in force. */
void diagnosis_case_fail(const struct diagnosis_case *given, struct world *world);

/* What of the weather a day brings. */
enum sky_kind diagnosis_case_sky(const struct diagnosis_case *given, int32_t day);

const char *case_fault_name(enum case_fault fault);

#endif
