/* findings.h - what has failed, by what the one meter shows of each switching.
 *
 * Each turn is told what was switched and what the meter showed (experiments),
 * what the house did by itself (background), and what the engine knows of each
 * load. Evidence is weighed as likelihoods and added up (stat_wald.h), so that
 * a kettle at the wrong second delays a finding and does not make one; a
 * finding ends when the evidence turns. What it takes to find each, and what
 * cannot be told apart, is written out in FINDINGS.md.
 *
 * Pure: whole numbers, no clock, no allocation; the memory is the caller's.
 * O(loads) a turn. */
#ifndef SLUICE_OBSERVE_FINDINGS_H
#define SLUICE_OBSERVE_FINDINGS_H

#include "observe/stat_steps.h"
#include "observe/stat_survival.h"
#include "terms/experiment.h"
#include "terms/finding.h"
#include "terms/reading.h"

enum { FINDINGS_FLOORS_MAX = 4, FINDINGS_PARTS = 3, FINDINGS_DAY_SLOTS = 48 };

/* ---- settings ---------------------------------------------------------------
 */

struct findings_load_settings {
    int32_t power_w;          /* nameplate */
    uint8_t phases;           /* bit 0 is L1; never 0 */
    bool thermostat;          /* it may stop drawing by itself */
    bool resistive;           /* an element, no motor: its power follows the voltage squared
                               */
    int64_t full_mj;          /* what its tank holds from cold to its set point; 0: not
                                 known */
    int64_t band_mj;          /* what it loses until its thermostat closes; 0: not known */
    int32_t loss_w;           /* mean standing loss of a full one; 0: not known */
    int32_t set_mc, band_mc;  /* of the thermostat, for a sensor in the tank; 0: not known */
    int32_t rated_operations; /* of its contactor; 0: not given */
};

struct findings_settings {
    uint16_t load_count;
    const struct findings_load_settings *loads;
    int32_t voltage_mv; /* nominal, phase to neutral: nameplates are taken to be
                           at it */
    uint8_t phase_count;
    bool solar; /* a meter of solar power is set up */
};

/* ---- what a turn is told
 * ------------------------------------------------------ */

struct findings_floor {
    bool open;          /* begun, and neither met nor waiting for a clock */
    uint8_t measure;    /* enum floor_measure */
    uint8_t denied_by;  /* enum of the engine: what keeps it off */
    int32_t deadline_s; /* local second of the day */
    int64_t missing;    /* of its amount, ms or mWh */
    int64_t needs_ms;   /* of run */
    int64_t left_ms;    /* until its deadline; permitted time, where that is known */
};

struct findings_load {
    bool on;                            /* its output is confirmed on */
    bool ordered_on;                    /* and so it should be */
    bool tested;                        /* by order of a test */
    bool idle;                          /* on, and shown to draw nothing, now */
    bool satisfied;                     /* it is known why: its thermostat has opened, proven or
                                           supposed */
    bool supply_off_known;              /* the supply before its contactor is off, and that is
                                           known */
    bool contact_known, contact_closed; /* its contact, where sensed and fresh */
    bool tank_known;
    bool contradicts, restarted; /* in this turn: its output did other than it
                                    said; it was found off though ordered on */
    int32_t tank_mc;
    int32_t draw_w;          /* what it takes now, as far as shown */
    int64_t heated_mj;       /* drawn since the last proven opening */
    int64_t since_opened_ms; /* -1: none is known */
    int64_t drawn_mj;        /* in all */
    int64_t operations;      /* of its contactor */
    uint8_t floor_count;
    struct findings_floor floor[FINDINGS_FLOORS_MAX];
};

struct findings_input {
    struct moment now;
    int32_t local_s; /* second of the local day; -1: the clock is not trusted */
    const struct reading *reading;
    const struct experiment *experiments;
    uint16_t experiment_count;
    const struct background *background;
    const struct findings_load *loads; /* load_count of them */
};

/* ---- memory
 * ------------------------------------------------------------------- */

/* Of one thing that may be wrong: the evidence so far. */
struct suspicion {
    int32_t sum_mn; /* of the logarithms of likelihood ratios, thousandths of a nat */
    uint16_t seen;
    bool stands;
    struct moment since; /* the first observation that speaks for it */
    int64_t number[FINDING_NUMBERS];
};

/* A step of a load's size up that nobody ordered, until the same comes down. */
struct findings_run {
    bool runs;
    int32_t step_w;
    struct moment from;
};

enum findings_of_load {
    OF_NO_POWER, /* or, with a sensed contact, not closing or element open */
    OF_NOT_CLOSING,
    OF_PART, /* FINDINGS_PARTS of them */
    OF_DRIFT = OF_PART + FINDINGS_PARTS,
    OF_STUCK,
    OF_FOREIGN,
    OF_THERMOSTAT,
    OF_NOT_SATISFIED,
    OF_LOSES_HEAT,
    OF_AT_RISK,
    OF_WORN,
    OF_CONTRADICTS,
    OF_RESTARTED,
    OF_OTHER_PHASE, /* PHASES of them: its steps show on that one */
    OF_TESTED = OF_OTHER_PHASE + PHASES,
    OF_LOAD_COUNT, /* they are kept by their number: a new one comes last */
};

enum findings_of_site {
    OF_GRID_REVERSED,
    OF_PHASE_REVERSED, /* PHASES of them */
    OF_METER_STUCK = OF_PHASE_REVERSED + PHASES,
    OF_SOLAR_GONE,
    OF_SITE_COUNT,
};

struct findings_load_memory {
    struct suspicion suspicion[OF_LOAD_COUNT];
    struct stat_survival survival;

    /* The spell since something was last known of its thermostat: attempts in it
     * are one. */
    bool closed;          /* it was drawing when it was switched off: it cannot be full */
    bool flat, was_flat;  /* the last start was seen to draw nothing; before the
                             last stop */
    bool unclear;         /* the last start may have drawn: its run may have filled the tank */
    bool doubted;         /* since then something of its size has come on: it may be its
                             own */
    uint32_t tried_bits;  /* survival_spell_bit of each attempt in it */
    struct moment opened; /* when it last seemed to open, MONO_NEVER: not known */
    struct moment last_try;
    int64_t closed_part, open_part; /* of SURVIVAL_WHOLE: what the attempts leave of it having
                                       closed, and still being open */

    /* What the element takes, at nominal voltage. */
    int32_t full_w;
    uint16_t full_count;
    int32_t first_mohm, recent_mohm, spread_mohm; /* 0: not known yet */
    uint16_t first_count, recent_count;
    struct moment first_at;
    uint8_t lost_phase;      /* 1..3 at the last switching; 0: none */
    uint8_t at_risk_measure; /* enum floor_measure */
    bool past_contact;       /* no draw is suspected behind a contact that was sensed closed when
                                that began */

    /* What the household needs. */
    int32_t needs_w, spread_w; /* mean from opening to opening, and how far from it usually */
    uint16_t openings;
    int32_t quiet_w, usual_quiet_w; /* the least of this week, usually in a week; -1: none */
    int64_t quiet_ms;               /* the time from opening to opening that gave it */
    struct moment week_began;
    int64_t last_heated_mj, last_since_ms; /* as of the last turn */
    bool shown;                            /* the start of this run rose by its whole power */
    int64_t shown_mj;                      /* drawn in such runs since the last opening */
    int64_t run_mj, run_ms;                /* drawn in this one without a break */
    int64_t last_drawn_mj;
    int32_t excess_mn;      /* how unusual the heat was that the last opening took */
    int64_t opening_mj;     /* and that heat */
    bool was_contradicting; /* as of the last turn */

    struct findings_run foreign; /* while it was off */
    struct mono rested;          /* last thought full, proven or not; 0: not since the beginning */
    int32_t part_mn[FINDINGS_PARTS]; /* of the start of this run, until its end agrees */
    int32_t part_step_w;             /* 0: none */
    uint16_t foreign_runs;           /* since one of its own starts drew */
    uint16_t idle_starts;            /* since then, that showed nothing */
    int64_t foreign_mj;              /* of these runs together */
    struct mono drew;                /* when that was; MONO_NEVER: not known */
    struct moment cycled; /* off, and suspected to be closed: the last step of its size */
};

struct findings_memory {
    bool begun;
    struct moment last;
    struct stat_steps steps;
    struct suspicion suspicion[OF_SITE_COUNT];
    struct mono faded;

    /* The meter's last change. */
    bool has_value;
    int32_t value_w, phase_value_w[PHASES];
    uint32_t sequence;
    struct moment changed;
    int64_t longest_ms; /* the longest spell without one, of the last weeks */
    uint16_t samples;   /* since it changed */

    /* The sun by half hours of the day. */
    int16_t light_permille[FINDINGS_DAY_SLOTS]; /* how many of the last days it
                                                   produced in */
    bool lit;                                   /* in the half hour under way */
    bool whole_day;                             /* it has been watched since midnight */
    int8_t slot;                                /* -1: none */
    uint16_t light_days;
    int64_t dark_ms;    /* of the house's daylight, without any */
    struct mono lit_at; /* when it last gave something */

    struct findings_load_memory *loads; /* the caller's, load_count of them */
};

void findings_begin(const struct findings_settings *settings, struct findings_memory *memory,
                    struct findings_load_memory loads[], struct moment now);

/* What was learnt under other settings of the load no longer holds where they
 * differ. */
void findings_load_change(const struct findings_load_settings *before,
                          const struct findings_load_settings *after,
                          struct findings_load_memory *load);

void findings_turn(const struct findings_settings *settings, struct findings_memory *memory,
                   const struct findings_input *input);

/* All that is suspected enough, each with its standing, at most `most`; how many. What is not
 * among them has been ended by the evidence. */
uint16_t findings_list(const struct findings_settings *settings,
                       const struct findings_memory *memory, struct finding findings[],
                       uint16_t most);

/* What must survive, as lines "key=value" with a sum (core/kept.h): less than
 * FINDINGS_NOTE_MAX, whatever is suspected. */
enum { FINDINGS_NOTE_MAX = 8192 };
void findings_load_save(const struct findings_memory *memory, uint16_t load, struct text *text);
void findings_site_save(const struct findings_memory *memory, struct text *text);

/* After findings_begin. `away_ms`: how long nothing was recorded, -1 where the
 * clock cannot tell. False: the text is not as it was written, and nothing of
 * it was taken. */
bool findings_load_restore(struct findings_memory *memory, uint16_t load, const char *text,
                           struct moment now, int64_t away_ms);
bool findings_site_restore(struct findings_memory *memory, const char *text, struct moment now,
                           int64_t away_ms);

#endif
