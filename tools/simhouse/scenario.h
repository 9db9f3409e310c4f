/* scenario.h - a house, a day, and what must hold, as a short text.
 *
 * The format is described in tests/scenarios/README.md. Reading it allocates
 * nothing; every mistake is reported as file:line:column. */
#ifndef SIMHOUSE_SCENARIO_H
#define SIMHOUSE_SCENARIO_H

#include <stdio.h>
#include <string.h>

#include "house/fault.h"
#include "house/world.h"

enum {
    EVENTS_MAX = 400,
    MUSTS_MAX = 48,
    SUBMETERS_MAX = 4,
    INPUTS_MAX = 16,
    NAME_MAX_SIM = 32,
    COMMAND_MAX = 256,
};

enum {
    UNIT_ID_METER = 1,
    UNIT_ID_INVERTER = 2,
    UNIT_ID_SECOND_INVERTER = 3,
    UNIT_ID_RELAYS = 10,
    UNIT_ID_CHARGER = 11,
    UNIT_ID_BATTERY = 12
};

/* How a load hangs on the bus; what it is stands in the house. */
struct load_spec {
    char name[NAME_MAX_SIM];
    uint8_t unit; /* the relay board, or where a charger's set-point is written */
    uint16_t coil[CONTACTORS_MAX];
    uint16_t set_point_register; /* charger: 0.1 A */
};

/* What can go wrong on the wire of a unit. */
enum wire_fault {
    WIRE_SOUND,
    WIRE_SILENT,
    WIRE_GARBAGE,
    WIRE_CORRUPT,
    WIRE_WRONG_UNIT,
    WIRE_TRUNCATED,
    WIRE_LATE, /* amount: ms */
    WIRE_PREVIOUS_ANSWER,
    WIRE_EXCEPTION,  /* amount: code */
    WIRE_NAN,        /* the values are "not available" */
    WIRE_STUCK,      /* the values stand still */
    WIRE_JUMP,       /* the power is amount W */
    WIRE_OTHER_UNIT, /* the values of unit number amount, under its own id */
    WIRE_LEAP,       /* the import register shows amount mWh more: another meter's */
    WIRE_REFUSE,     /* writes are answered with exception 4 */
    WIRE_IGNORE,     /* writes are answered well, and not done */
    WIRE_READS_OFF,  /* writes are done, and every coil reads off */
};

/* What a discrete input of a board shows. */
enum input_kind {
    INPUT_VOLTAGE,   /* behind the load's contactors */
    INPUT_CONTACTOR, /* an auxiliary contact of them */
    INPUT_HAND,      /* the load's hand-off-auto switch stands on hand */
    INPUT_AUTO,      /* or on auto */
    INPUT_BUTTON,
};

struct input_spec {
    uint8_t unit;
    uint16_t input;
    enum input_kind kind;
    int load;                /* but of a button */
    char name[NAME_MAX_SIM]; /* of a button */
    bool inverted;           /* a contact that is closed at rest */
};

enum event_kind {
    EVENT_UNIT_FAULT,
    EVENT_LOAD_FAULT,
    EVENT_LOAD_MENDED,   /* that fault is taken back */
    EVENT_LOAD_REPAIRED, /* all of them */
    EVENT_METER_FAULT,   /* the transformers of the meter */
    EVENT_METER_MENDED,
    EVENT_BUTTON, /* amount: 1 pressed, 0 let go */
    EVENT_LET_GO, /* of a button that was pressed for a moment: a step later */
    EVENT_TURN,   /* a load's hand-off-auto switch; amount: enum hand_switch */
    EVENT_BUS_GONE,
    EVENT_BUS_BACK,
    EVENT_CLOCK_STEP,  /* amount: ms */
    EVENT_CLOCK_TRUST, /* amount: 0 or 1 */
    EVENT_CLOCK_RIGHT, /* the wall clock shows the true time again */
    EVENT_RUN,
};

struct event {
    int64_t at_ms; /* since the start */
    enum event_kind kind;
    int line;
    uint8_t unit;
    int load;
    int input; /* of the scenario's, a button */
    enum wire_fault fault;
    struct house_fault load_fault;
    struct grid_meter_faults meter_fault;
    int64_t amount;
    char command[COMMAND_MAX];
};

struct must_row; /* must.c */

enum must_span { SPAN_WHOLE, SPAN_WINDOW, SPAN_BY, SPAN_AFTER_EXIT };
enum must_test { TEST_AT_LEAST, TEST_AT_MOST, TEST_EQUAL };

struct must {
    const struct must_row *row;
    int load; /* -1: the house */
    int phase;
    enum must_test test;
    double value;
    double within_s; /* a breach counts when it lasts longer */
    enum must_span span;
    int day; /* 0: every day; 1: the first */
    int32_t from_s, to_s;
    int line;
    char text[COMMAND_MAX];
};

struct submeter_spec {
    uint8_t unit;
    int load;
};

struct scenario {
    struct world_settings house;
    int32_t start_day; /* local day number */
    int32_t start_s;   /* local second of the day */
    int64_t length_ms, step_ms;
    uint64_t seed;
    bool has_start;
    bool clock_1970, clock_untrusted; /* from the start */
    int meter_model;                  /* SunSpec 203 or 213 */
    double pv_second_share;           /* of the panels, on a second inverter; 0: there is none */

    struct load_spec load[WORLD_LOADS_MAX];
    struct submeter_spec submeter[SUBMETERS_MAX];
    int submeter_count;
    struct input_spec input[INPUTS_MAX];
    int input_count;
    struct event event[EVENTS_MAX]; /* by time */
    int event_count;
    struct must must[MUSTS_MAX];
    int must_count;
    char settings[NAME_MAX_SIM * 2];
};

/* False: mistakes were written to `to`, each as file:line: text. */
bool scenario_read(struct scenario *scenario, const char *path, FILE *to);

/* -1: no load of this name. */
static inline int scenario_load(const struct scenario *scenario, const char *name)
{
    for (int i = 0; i < scenario->house.load_count; i++)
        if (strcmp(scenario->load[i].name, name) == 0)
            return i;
    return -1;
}

#endif
