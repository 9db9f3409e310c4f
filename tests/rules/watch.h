/* watch.h - looks over the engine's shoulder, turn by turn.
 *
 * Knows only what goes in and what comes out (and the draws that the engine
 * believes in), and says which promise of the design was broken. */
#ifndef SLUICE_TESTS_WATCH_H
#define SLUICE_TESTS_WATCH_H

#include "houses.h"

enum { WATCH_STARTS = 16 };

struct watched_load {
    bool inhibited;
    enum hand hand;
    int64_t hand_until;
    enum hand test;
    int64_t test_until;
    enum output_health health;
    bool was_on, confirmed_on, tripped;
    int64_t on_since, off_since; /* as the output confirmed it */
    bool rests;                  /* confirmed off */
    int64_t start[WATCH_STARTS]; /* newest last */
    int start_count;
    int64_t on_today_ms;
    struct draw_view view; /* of the turn before */
    struct load_totals total;
    bool was_running;
    int32_t was_level_w;
    uint8_t was_basis;
};

struct watch {
    const struct house *house;
    struct watched_load load[HOUSE_LOADS_MAX];
    bool all_inhibited, trusted, begun;
    int32_t today;
    struct moment last;
    int64_t last_start;
    const char *broken; /* NULL: nothing yet */
    int broken_load;
    int64_t missed, missed_undenied, met;
};

void watch_begin(struct watch *watch, const struct house *house, struct moment now);

/* After rules_turn and before house_obey. False: watch->broken says what. */
bool watch_turn(struct watch *watch, const struct rules_memory *memory,
                const struct decision decision[], const struct rules_outcome *outcome);

#endif
