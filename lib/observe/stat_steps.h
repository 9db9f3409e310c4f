/* stat_steps.h - what this house does by itself from one look to the next.
 *
 * Counted by size, in steps of half an octave, and forgotten within some weeks. From that
 * follows how likely it is that a step, or the rest of one that our own switching does not
 * explain, was another appliance's. A new house is taken as a usual one, seen for some hours. */
#ifndef SLUICE_OBSERVE_STAT_STEPS_H
#define SLUICE_OBSERVE_STAT_STEPS_H

#include <stdint.h>

enum { STEP_SIZES = 24 };

struct stat_steps {
    int64_t seen_milli[STEP_SIZES]; /* steps of each size, either way, in thousandths */
    int64_t watched_ms;             /* in how long */
    int32_t resolution_w;           /* the smallest change that the meter has shown; 0: none yet */
};

void steps_begin(struct stat_steps *steps);

/* From one look to the next, `spacing_ms` later, the house changed by step_w. */
void steps_note(struct stat_steps *steps, int32_t step_w, int32_t spacing_ms);

/* Once a day: what is weeks old counts less. */
void steps_fade(struct stat_steps *steps);

/* How likely a change of the house by `rest_w` is in window_ms, per W in 1e-15, where the rest is
 * known within `slack_w` either way (>= 0). Never 0: there is always something else. */
int64_t steps_density(const struct stat_steps *steps, int64_t rest_w, int64_t slack_w,
                      int32_t window_ms);

/* How many steps of a size between least_w and most_w come in window_ms, in millionths. */
int64_t steps_rate_ppm(const struct stat_steps *steps, int32_t least_w, int32_t most_w,
                       int64_t window_ms);

#endif
