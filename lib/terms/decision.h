/* decision.h - what a load does, on what basis, and why.
 *
 * A reason is a code and a few whole numbers; text is made at the edges, from
 * one table of rows, so that two decisions compare without comparing prose. */
#ifndef SLUICE_TERMS_DECISION_H
#define SLUICE_TERMS_DECISION_H

#include "core/moment.h"
#include "core/text.h"

enum basis {
    BASIS_NONE, /* off */
    BASIS_MANUAL,
    BASIS_FLOOR,       /* due: the latest safe start has come */
    BASIS_CHEAP_HOURS, /* a floor in its cheapest hours */
    BASIS_AHEAD,       /* heat bought now because it will be dearer later */
    BASIS_SPARE,
    BASIS_PROBE,
    BASIS_MINIMUM_ON, /* finishing minimum on after the basis has gone */
};

/* Their words, in their order: stable, for machines. */
#define BASIS_WORDS "none,manual,floor,cheap-hours,ahead,spare,probe,minimum-on"

/* The numbers that go with each code stand in the comment, in order. */
enum reason_code {
    REASON_NONE,
    /* on */
    REASON_ON_MANUAL,      /* left_ms */
    REASON_ON_TEST,        /* left_ms */
    REASON_ON_FLOOR,       /* amount, left, by_s, latest_s: floor's measure in `measure` */
    REASON_ON_CHEAP_HOURS, /* amount, left, by_s */
    REASON_ON_AHEAD,       /* what a kWh of heat costs now, and is worth: price_micro */
    REASON_ON_SPARE,       /* spare_w with the load's own draw given back, needed_w */
    REASON_ON_PROBE,       /* power_w */
    REASON_ON_LEARNING,    /* the first days of a load that learns */
    REASON_ON_MINIMUM_ON,  /* left_ms */
    REASON_ON_RETURN,      /* heat-up before a holiday's end: left_ms */
    /* off: somebody's will */
    REASON_OFF_INHIBIT,
    REASON_OFF_ISLANDED,
    REASON_OFF_IN_HAND,     /* in hand at the board: it runs whatever is ordered */
    REASON_OFF_AT_BOARD,    /* off at the board */
    REASON_OFF_NOT_IN_AUTO, /* one of the two */
    REASON_OFF_NO_SUPPLY,   /* its off-peak supply is off */
    REASON_OFF_MANUAL,      /* left_ms; -1: no end time */
    REASON_OFF_TEST,        /* left_ms */
    REASON_OFF_DISABLED,
    REASON_OFF_HOLIDAY,
    /* off: it may not */
    REASON_OFF_OUTPUT,      /* enum output_health */
    REASON_OFF_SUPPLY,      /* phase 1..3, amps_ma, limit_ma */
    REASON_OFF_GROUP,       /* group's limit_ma, or 0 for one at a time */
    REASON_OFF_MINIMUM_OFF, /* left_ms */
    REASON_OFF_STARTS,      /* starts per hour, left_ms */
    REASON_OFF_RESTART,     /* staggered after a start of the daemon: left_ms */
    REASON_OFF_UNSHOWN,     /* the meter has yet to show what another load's switching did */
    REASON_OFF_HOURS,       /* until open: left_ms or -1 */
    REASON_OFF_QUIET_HOURS,
    REASON_OFF_DAILY_MAXIMUM, /* maximum_ms */
    REASON_OFF_CLOCK,         /* strict hours without a trusted clock */
    /* off: it need not */
    REASON_OFF_SATISFIED,  /* tried again in left_ms */
    REASON_OFF_SUPPOSED,   /* it stopped drawing, not yet proven why: tried again in left_ms */
    REASON_OFF_NO_DRAW,    /* it drew nothing, not known why: tried again in left_ms */
    REASON_OFF_NO_READING, /* enum reading_quality */
    REASON_OFF_NO_BATTERY, /* a battery is declared but not read */
    REASON_OFF_SPARE,      /* spare_w, needed_w */
    REASON_OFF_SETTLING,   /* spare_w, needed_w, left_ms */
    REASON_OFF_TAKEOVER,   /* waits for a lower one to give way: expected_w */
    REASON_OFF_TAKEN_OVER, /* gave way: index of the load it gave way to */
    REASON_OFF_WORTH,      /* what heat costs even on spare power, and is worth: price_micro */
    REASON_OFF_IDLE,       /* uses no spare power and no floor is due */
    REASON_COUNT,
};

struct reason {
    enum reason_code code;
    uint8_t measure; /* enum floor_measure of the floor that is spoken of */
    int64_t number[4];
};

struct decision {
    bool on;
    uint8_t stage;   /* staged loads: contactors closed, 0.. */
    int32_t level_w; /* 0 is off; set-point loads: the set-point */
    enum basis basis;
    struct reason reason;
};

const char *reason_name(enum reason_code code); /* "off-spare": stable, for machines */

/* "off: spare 1.2 kW of 3.6 kW needed", with the name of the load that the reason speaks
 * of; NULL: "another load". reason_load says which one that is, -1: none. */
void reason_write(const struct reason *reason, const char *load, struct text *text);
int reason_load(const struct reason *reason);

#endif
