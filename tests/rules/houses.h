/* houses.h - random houses and their random days, from a seed.
 *
 * A house is settings that rules_settings_check accepts; its days are clouds,
 * household, thermostats, outputs that answer late or not at all, meters that
 * fall silent, people who give orders, and clocks that step. The same seed gives
 * the same house and, as long as the decisions are the same, the same days.
 * Each load has a stream of chance of its own: a house that is made without some
 * of its loads keeps the others as they were (that is how days are shortened). */
#ifndef SLUICE_TESTS_HOUSES_H
#define SLUICE_TESTS_HOUSES_H

#include "rules/rules.h"

enum { HOUSE_LOADS_MAX = 8, HOUSE_ALL_LOADS = 0xff };

/* The houses that this run takes: one in so many of `all` (see cases_step), and in a run of all
 * of them other ones than the short run's. HOUSES_FROM=SEED in the environment takes those from
 * that seed on, for whoever looks for what none of these has met. */
struct seeds {
    uint64_t first, last, count;
};

struct seeds houses_seeds(uint64_t all);

struct chance {
    uint64_t state;
};

uint64_t chance_next(struct chance *chance);
int64_t chance_between(struct chance *chance, int64_t least, int64_t greatest);
bool chance_of(struct chance *chance, int64_t permille);

/* What may go wrong on its days; a house is made with all of it or with little. */
struct house_trouble {
    bool meter, outputs, orders, clock;
    bool solar, elements,
        contacts, /* the solar meter falls silent; elements break; contacts weld */
        board;    /* switches are turned, supplies go off */
};

struct house_load {
    struct chance chance;
    int64_t error_permille; /* real power by nameplate */
    /* output */
    int32_t ordered_w, told_w, actual_w;
    int32_t answer_in; /* turns; 0: nothing under way */
    int64_t failing_until;
    bool told_failed, confirmed_once;
    enum output_health failing_as;
    /* thermostat */
    int64_t heat_ms, cool_until;
    int64_t meter_silent_until;
    int64_t broken_until, welded_until, held_until;
    enum load_held held;
    bool supplied; /* sensed, whatever the clock says */
    int32_t draw_w;
};

struct house {
    uint64_t seed;
    const char *zone_rule;
    struct rules_settings settings;
    struct load_settings load[HOUSE_LOADS_MAX];
    uint16_t order[HOUSE_LOADS_MAX];
    struct house_trouble trouble;
    int64_t step_ms;
    struct moment begins;

    /* the day */
    struct chance chance;
    struct moment now;
    int64_t true_wall_minus_mono, trusted_from;
    struct house_load at[HOUSE_LOADS_MAX];
    int64_t pv_peak_w, pv_share_permille, cloud_until;
    int64_t base_w, appliance_w, appliance_until;
    int appliance_phase, pv_phase; /* -1: all */
    int64_t battery_most_w, battery_mj, battery_full_mj;
    bool has_phase_power, has_phase_current, says_throttled;
    int64_t meter_bad_until, battery_bad_until, islanded_until;
    enum reading_quality meter_bad_as;
    int64_t solar_every_ms, solar_due, solar_bad_until; /* its meter has a pace of its own */
    struct chance faults; /* apart, so that a house without them is the same */
    uint32_t sequence;

    /* what a turn is given */
    struct reading reading;
    struct load_reading load_reading[HOUSE_LOADS_MAX];
    struct command command[4];
    struct confirmation confirmation[HOUSE_LOADS_MAX];
    struct rules_input input;
};

/* `keep`: bit i keeps load i. */
void house_make(struct house *house, uint64_t seed, uint8_t keep);

/* The first moment of the house: for rules_begin. The wall clock may be wrong
 * and not trusted there. */
/* Every load of it with a thermostat is a water heater that learns, if there are prices;
 * how many. To be called before rules_begin; after it each gets its store. */
int house_learns(struct house *house);
/* Gives load i its store, if it learns: every other house knows 28 random days already. */
void house_give_store(const struct house *house, struct rules_memory *memory, uint16_t i,
                      struct heat_memory *heat);

struct moment house_begins(const struct house *house);

/* One step on: fills house->input. */
void house_step(struct house *house);

/* Takes the decisions of that turn to the outputs. */
void house_obey(struct house *house, const struct decision decision[]);

#endif
