/* finding.h - what may be wrong, what shows it, and what to do first.
 *
 * A finding is inferred: it is always said to be "possible". Its kind is a row with a stable id,
 * a sentence about the evidence, and the first things to do in order of likelihood. */
#ifndef SLUICE_TERMS_FINDING_H
#define SLUICE_TERMS_FINDING_H

#include "core/moment.h"
#include "core/text.h"

/* What a finding is about; `index` says which. */
enum finding_subject { FINDING_OF_LOAD, FINDING_OF_METER, FINDING_OF_PHASE, FINDING_OF_SITE };

/* The numbers that go with each kind stand in the comment, in order; -1 where one is not known. */
enum finding_kind {
    FINDING_NONE,
    /* of a load: nothing reaches it, or nothing comes out of it */
    FINDING_NO_POWER,          /* starts without a step, power_w, element_mohm, since_opened_ms */
    FINDING_TEST_WITHOUT_DRAW, /* switchings by a test without a step, power_w */
    FINDING_NOT_CLOSING,       /* times: ordered on, and the sensed contact stays open */
    FINDING_ELEMENT_OPEN,      /* times, power_w, element_mohm: voltage is sensed, and no draw */
    FINDING_ELEMENT_PART,      /* draws_w, power_w, permille, times */
    FINDING_ELEMENT_DRIFT,     /* element_mohm, was_mohm, permille of its first power, days */
    /* of a load: it draws when it should not */
    FINDING_CONTACT_STUCK,     /* draws_w: off, and the meter did not fall; times */
    FINDING_FOREIGN_SWITCHING, /* times, draws_w: its step without an order */
    FINDING_THERMOSTAT_CLOSED, /* drawn_mwh since it was last full, holds_mwh */
    /* of a load: it works, and it is not enough, or more than usual */
    FINDING_NOT_SATISFIED,     /* days, drawn_mwh a day, usual_mwh a day */
    FINDING_LOSES_HEAT,        /* loss_w, usual_w, hours without use */
    FINDING_GUARANTEE_AT_RISK, /* floor 1.., missing (its measure; -1: it gets none),
                                  deadline_s, denied_by */
    FINDING_CONTACTOR_WORN,    /* operations, rated */
    /* of its output */
    FINDING_OUTPUT_CONTRADICTS, /* times: says one thing and does another */
    FINDING_BOARD_RESTARTED,    /* times found off though ordered on */
    /* of the meters */
    FINDING_GRID_REVERSED,  /* steps seen the wrong way, power_w */
    FINDING_PHASE_REVERSED, /* steps, power_w, seen_w */
    FINDING_PHASES_SWAPPED, /* steps, ordered phase, seen phase */
    FINDING_METER_STUCK,    /* unchanged for ms */
    FINDING_SOLAR_GONE,     /* for ms in daylight */
    FINDING_COUNT,
};

enum { FINDING_NUMBERS = 4 };

/* How what is suspected stands now. Only the first is to be told anew. */
enum finding_standing {
    FINDING_STANDS,
    FINDING_UNJUDGED,  /* nothing that could show it can be trusted now: as it was told before */
    FINDING_EXPLAINED, /* something else explains what was seen better */
};

struct finding {
    uint8_t kind;           /* enum finding_kind */
    uint8_t standing;       /* enum finding_standing */
    uint8_t phase;          /* 1..3, or 0 */
    uint8_t measure;        /* enum floor_measure, of a guarantee */
    uint16_t index;         /* of the load or meter */
    uint16_t sure_permille; /* 0: not given; a rule says it, and no odds were weighed */
    uint16_t seen;          /* how many observations speak for it */
    struct moment since;
    int64_t number[FINDING_NUMBERS];
};

const char *finding_id(enum finding_kind kind); /* "no-power": stable, for machines */
enum finding_subject finding_subject(enum finding_kind kind);

/* "possible: no power reaches it: ...": what is inferred and what shows it. */
void finding_write(const struct finding *finding, struct text *text);

/* What to do first, with the cautions that go with it. */
void finding_write_first(const struct finding *finding, struct text *text);

#endif
