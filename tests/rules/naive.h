/* naive.h - a second reading of lib/rules/TABLE.md, to compare the engine with.
 *
 * Written for clarity, section by section, by other hands than the engine's and
 * sharing no code with it: everything is worked out anew each turn, time is
 * counted in minutes (minutes.h), and nothing is said about how long a turn
 * holds. */
#ifndef SLUICE_TESTS_NAIVE_H
#define SLUICE_TESTS_NAIVE_H

#include "minutes.h"

enum { NAIVE_STARTS = 64, NAIVE_LOOKS = 4 };

struct naive_look {
    int64_t from, to; /* the moments of its sources */
    int64_t value[MINUTES_LOADS_MAX];
};

struct naive_floor {
    bool begun, elapsed, met, extended, blind;
    int64_t start, deadline; /* wall ms; mono ms while elapsed */
    int64_t done;            /* ms drawn; mJ for energy */
    int64_t unproven;        /* of it, what nothing showed */
    bool due, cheap;
    /* the period that the clock ended last */
    bool has_last, last_met, last_blind;
    int64_t last_start, last_deadline, last_done, last_unproven;
};

struct naive_load {
    enum load_state state;
    int64_t since;
    enum basis basis, last_basis;
    enum output_health health;
    enum hand hand;
    int64_t hand_until;
    int32_t hand_level;
    enum hand test;
    int64_t test_until;
    bool inhibited, disabled, satisfied, was_confirmed;
    int64_t retry_at, restart_at, held_until;
    int64_t enough_since, short_since; /* INT64_MAX: not so */
    int64_t start[NAIVE_STARTS];       /* all, oldest first */
    int start_count;
    int32_t level;
    int64_t raise; /* of the last raise, what no reading can have shown yet */
    int64_t less;  /* what shedding lowered it by, not shown yet either */
    int64_t own;   /* draw of its own, as of section 7 */
    uint8_t stage;
    int64_t level_since, raised, lowered;
    bool relief, off_confirmed;
    int32_t relief_w;
    uint32_t off_sequence;
    int64_t off_at;
    bool takeover;
    int64_t takeover_since, takeover_retry, takeover_again, takeover_failed_w, promised;
    int victim_of; /* -1: none */
    int64_t on_today;
    struct load_totals total;
    struct naive_floor floor[RULES_FLOORS_MAX];
    struct draw_view view;
    /* what heat is worth; its store is the caller's, NULL: it learns nothing */
    struct heat_memory *heat;
    bool ahead, not_worth, could_known;
    int64_t could_w;
    bool asked, doubted, untold;
    enum naive_told { TOLD_NOTHING, TOLD_FULL, TOLD_IT_DRAWS, TOLD_IT_DOES_NOT } told;
    bool before_known, mixed;
    enum naive_stop {
        STOP_NOT_WATCHED,
        STOP_WATCHED,
        STOP_DID_FALL,
        STOP_DID_STAY,
        STOP_NOT_SEEN
    } stop;
    int64_t before; /* the level when it was switched */
    enum draw_state view_when_switched;
    int32_t draw_when_switched;
    bool opened_after_heating, seen_before;
    bool vague;     /* SEEN, by what may be another appliance's step */
    bool shown_run; /* in this run its draw was seen and not vague */
    bool by_itself; /* its state began by a step that no order made */
    bool supposed_vague;
    int64_t started_with; /* the step of its last start, 0: none to compare with */
    int64_t alike_until, rest_again;
    bool rests;
    int64_t level_as_it_opened, level_seen_before, last_level;
    struct moment supposed_at;
    int64_t heated, guessed, needs;
    /* worked out in this turn */
    bool open, manual, due, cheap, buys, spare, probe, automatic, held_off, give_place, held;
    int64_t daily_left;
    int64_t start_need;
};

struct naive {
    const struct rules_settings *settings;
    const struct minutes *minutes;
    bool begun, trusted, all_inhibited;
    struct moment last;
    int64_t last_import; /* -1: not known */
    int64_t heat_tick;   /* when their stores are looked at next */
    int64_t untrusted_since, today, holiday_back, last_start, throttled_since, last_probe;
    int probes_today;
    struct naive_look look[NAIVE_LOOKS]; /* newest first */
    int look_count;
    int64_t last_look_to;
    struct naive_load load[MINUTES_LOADS_MAX];
    /* worked out in this turn */
    int64_t t, w;
    const struct rules_input *input;
    bool fresh, seeing, spare_known, quiet, stepped, stepped_back;
    int64_t S[PHASES], amps[PHASES];
};

struct naive_decision {
    bool on;
    uint8_t stage;
    int32_t level_w;
    enum basis basis;
};

/* The random delays of the first starts are the engine's: `restart_at`. */
void naive_begin(struct naive *naive, const struct rules_settings *settings,
                 const struct minutes *minutes, struct moment now, const struct mono restart_at[]);

/* After naive_begin: load i learns, in a store that is begun already. */
void naive_learns(struct naive *naive, int i, struct heat_memory *heat);

void naive_turn(struct naive *naive, const struct rules_input *input,
                struct naive_decision decision[]);

#endif
