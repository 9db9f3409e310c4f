/* command.h - what a person orders. Times are absolute when they get here: the
 * edge that hears "2 h" turns it into an end, so that an order that arrives
 * late or twice does no more than it says. */
#ifndef SLUICE_TERMS_COMMAND_H
#define SLUICE_TERMS_COMMAND_H

#include "core/moment.h"

enum { LOAD_ALL = 0xffff };

enum command_kind {
    COMMAND_ON,      /* by hand, until `until` (always has an end) */
    COMMAND_OFF,     /* off by hand, until `until`; MONO_NEVER: no end time */
    COMMAND_AUTO,    /* ends a hand order */
    COMMAND_TEST,    /* flag: on, else off, until `until`; above the hand order, which it leaves */
    COMMAND_HOLIDAY, /* off until `back`; hot again at `back`; back.ms 0 ends a holiday */
    COMMAND_INHIBIT, /* flag true: off whatever else; false: lifted */
    COMMAND_ENABLE,  /* flag false: nothing automatic; a hand order still works */
};

struct command {
    enum command_kind kind;
    uint16_t load; /* index in the settings, or LOAD_ALL (holiday, inhibit) */
    bool flag;
    struct mono until;
    struct wall back;
    int32_t level_w; /* COMMAND_ON of a set-point or staged load; 0: its most */
};

#endif
