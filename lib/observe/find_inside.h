/* find_inside.h - what the files of the findings share.
 *
 * One file for each question: find_power.c (does it draw when switched on), find_contact.c (does
 * it stop when switched off, and who else switches it), find_element.c (does it draw all of its
 * power), find_heat.c (is the heat enough, or too much), find_phase.c (which way and on which
 * phase the meter shows it), find_site.c (do the meters live). */
#ifndef SLUICE_OBSERVE_FIND_INSIDE_H
#define SLUICE_OBSERVE_FIND_INSIDE_H

#include "observe/findings.h"

enum {
    RATIO_ONE = 1000,    /* likelihood ratios in thousandths */
    RATIO_CLEAR = 20000, /* one that leaves no doubt for the small things that hang on it */
    RATIO_MOST = 100000, /* ln 100, see stat_wald.h */
    LEAST_DAYS_OF_HEAT = 5,
};

/* The turn under way, as it concerns one load. */
struct look_at {
    const struct findings_settings *settings;
    const struct findings_load_settings *load;
    struct findings_memory *site;
    struct findings_load_memory *memory;
    const struct findings_load *told;
    struct moment now;
};

/* What each hypothesis says of a switching: how likely its step is, each per W in 1e-15. */
struct weighed {
    int64_t none, full, reversed, part[FINDINGS_PARTS];
    int64_t draws;  /* the greatest of those under which it draws anything */
    int32_t step_w; /* in the sense of its drawing: a fall at a stop counts upwards */
    int32_t full_w; /* what its whole element takes at the voltage then */
    int64_t ratio;  /* draws : none, in thousandths, within RATIO_MOST either way */
};

extern const int32_t part_permille[FINDINGS_PARTS];

/* find_weigh.c */
void weigh(const struct look_at *at, const struct experiment *experiment, struct weighed *weighed);
/* How likely a rest of the step that is not explained is, seen so. */
int64_t density_of(const struct look_at *at, const struct experiment *experiment, int64_t rest_w,
                   int64_t slack_w);
int64_t slack_of(const struct look_at *at, const struct experiment *experiment, int64_t power_w);
int32_t full_at(const struct look_at *at, int32_t voltage_mv);
/* How long physics lets its thermostat stay open. */
int64_t standing_ms(const struct findings_load_settings *load);

/* find_suspect.c: evidence that adds up, and evidence that is weighed as a whole. */
void suspect_add(struct suspicion *suspicion, int32_t ratio_mn, struct moment at);
void suspect_set(struct suspicion *suspicion, int32_t sum_mn, struct moment at);
void suspect_end(struct suspicion *suspicion);

void power_weighed(const struct look_at *at, const struct experiment *experiment,
                   const struct weighed *weighed);
void power_turn(const struct look_at *at);
void power_foreign_run(const struct look_at *at);

void contact_weighed(const struct look_at *at, const struct experiment *experiment,
                     const struct weighed *weighed);

/* Part of its element is suspected to be gone. */
bool is_partly_gone(const struct findings_load_memory *load);
void element_weighed(const struct look_at *at, const struct experiment *experiment,
                     const struct weighed *weighed);

void phase_weighed(const struct look_at *at, const struct experiment *experiment,
                   const struct weighed *weighed);

void heat_weighed(const struct look_at *at, const struct experiment *experiment,
                  const struct weighed *weighed);
void heat_turn(const struct look_at *at, int64_t dt_ms);

void site_turn(const struct findings_settings *settings, struct findings_memory *memory,
               const struct findings_input *input, int64_t dt_ms);

#endif
