/* load.h - a load of the house with its wiring: supply, breaker, contactors, what
 * somebody did to them, and the thing itself.
 *
 * Orders come in as coils and set-points, what flows comes out by phase. A load
 * without faults has all of its `faults` zero. */
#ifndef SLUICE_HOUSE_LOAD_H
#define SLUICE_HOUSE_LOAD_H

#include "house/charger.h"
#include "house/heater.h"
#include "house/phases.h"
#include "house/pump.h"

enum { CONTACTORS_MAX = 4, SUPPLY_HOURS_MAX = 4 };

/* A load draws: more than a contactor's coil or a standby would. */
#define DRAWING_W 20.0

enum house_load_kind { HOUSE_HEATER, HOUSE_PUMP, HOUSE_CHARGER, HOUSE_SWITCHED };

/* Seconds of the local day; `to_s` before from_s: past midnight. */
struct supply_hours {
    int32_t from_s, to_s;
};

struct house_load_settings {
    enum house_load_kind kind;
    double power_w;
    uint8_t phases; /* bit 0 is L1 */
    int contactors; /* the power is shared evenly among them */
    bool normally_closed;
    struct heater_settings heater;
    double start_c, inlet_c;
    struct charger_settings charger;
    double start_kwh;
    /* A supply that the utility switches (off-peak, ripple control) upstream of the
     * contactor; count 0: there is none, it is always live. */
    struct supply_hours supply[SUPPLY_HOURS_MAX];
    int supply_count;
};

enum contactor_fault { CONTACTOR_WORKS, CONTACTOR_STAYS_OPEN, CONTACTOR_WELDED };

/* The hand-off-auto switch in the contactor's control line. */
enum hand_switch { SWITCH_AUTO, SWITCH_ON, SWITCH_OFF };

struct house_load_faults {
    enum contactor_fault contactor;
    bool bypassed; /* a wire past the contactor */
    bool breaker_off, supply_off;
    bool dead; /* conducts no more, whatever it is */
};

struct house_load {
    const struct house_load_settings *settings;
    struct house_load_faults faults;
    enum hand_switch hand;
    bool coil[CONTACTORS_MAX]; /* as they are ordered */
    double offered_a;          /* charger */

    struct heater heater;
    struct pump pump;
    struct charger charger;

    /* The step that has just been. */
    bool relay; /* ordered on: any coil, seen through its contact */
    bool switched_on, switched_off;
    bool pulled_in; /* any contactor's armature: what an auxiliary contact shows */
    bool live;      /* voltage behind the contactors */
    double closed;  /* share of its contactors that conduct, or of the way past them */
    double draw_w, phase_w[PHASES_MAX], sun_w, grid_w;
    double ran_s; /* length of the run or rest that has just ended or goes on */
    double last_run_s, last_rest_s;

    /* Since the start. */
    double energy_j, sun_j, grid_j;
    double drawing_s, relay_s;
    long cycles;
};

/* `settings` is kept by reference. */
void house_load_init(struct house_load *load, const struct house_load_settings *settings);

/* What flows in the coming step, which begins at second now_s of the day, with these
 * voltages at its phases: contactors follow orders, then the load draws. */
void house_load_draw(struct house_load *load, double dt_s, int32_t now_s,
                     const double phase_v[PHASES_MAX]);

/* Books the step: of what it drew, grid_w was imported. */
void house_load_account(struct house_load *load, double dt_s, double grid_w);

#endif
