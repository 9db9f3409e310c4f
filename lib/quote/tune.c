/* tune.c - few settings, one after another, each to where the days cost least.
 *
 * A value is taken only if showers stay as warm as configured, or nearly as with always
 * on, and the contactor does not wear out sooner. Rounds end when one changes nothing. All on the
 * first two samples, so that the others say whether it was luck. */
#include "quote/tune.h"

#include <math.h>

enum {
    VALUES_MAX = 16,
    ROUNDS = 2,
    USABLE_PERMILLE = 850,
    LEFT_FOR_OTHER_SAMPLES = 1,
    TUNED_ON = 2,
    CYCLES_PER_YEAR_MAX = 1500,
};

#define SATISFIED_WITHIN_MS (3 * MS_PER_HOUR)
#define WORTH_A_CHANGE 0.5 /* money a year */

/* A setting to try: writes its k-th value. False: there is no k-th, or it does not suit. */
struct knob {
    const char *what;
    bool (*turn)(struct load_settings *load, const struct compare *compare, int k);
};

/* What the learning wants to know of the tank, where the settings do not tell it. */
static struct heat_settings water_of(const struct trial_home *home)
{
    const struct heater_settings *heater = &home->tank[0].heater;
    return (struct heat_settings){
        .volume_ml = (int32_t)lround(heater->tank.volume_l * 1000),
        .set_mc = (int32_t)lround(heater->set_c * 1000),
        .hysteresis_mc = (int32_t)lround(heater->hysteresis_k * 1000),
        .cold_mc = (int32_t)lround(home->inlet.mean_c * 1000),
        .room_mc = (int32_t)lround(heater->tank.ambient_c * 1000),
        .loss_mwh = (int32_t)lround(heater->tank.loss_kwh_day * 10) * 100000,
        .usable_permille = USABLE_PERMILLE,
        .missing_micro = (int32_t)lround(home->unmet_per_kwh * 1e6),
    };
}

static void leave_weekly_floors(struct load_settings *load)
{
    uint8_t kept = 0;
    for (uint8_t k = 0; k < load->floor_count; k++)
        if (load->floor[k].every_days > 0)
            load->floor[kept++] = load->floor[k];
    load->floor_count = kept;
}

/* With the floors as they are; and without those of each day, since what is learnt buys
 * heat by itself where it will be missed. */
static bool turn_learnt(struct load_settings *load, const struct compare *compare, int k)
{
    if (k > 1)
        return false;
    if (k == 1)
        leave_weekly_floors(load);
    load->start_permille = RULES_START_LEARNT;
    if (load->water.volume_ml == 0)
        load->water = water_of(&compare->home);
    return true;
}

static bool turn_start(struct load_settings *load, const struct compare *compare, int k)
{
    static const uint16_t permille[] = {50, 100, 200, 300, 400, 500, 600, 700, 850, 1000};
    (void)compare;
    if (k >= (int)(sizeof permille / sizeof permille[0]))
        return false;
    load->start_permille = permille[k];
    return true;
}

static bool turn_stop(struct load_settings *load, const struct compare *compare, int k)
{
    static const int32_t permille[] = {25, 50, 100, 200, 350, 500};
    (void)compare;
    if (k >= (int)(sizeof permille / sizeof permille[0]))
        return false;
    load->stop_margin_w = (load->power_w * permille[k] / 1000 + 25) / 50 * 50;
    return true;
}

/* The first floor that each day has; a weekly one stays as it is. */
static struct floor_settings *daily_floor(struct load_settings *load)
{
    for (int k = 0; k < load->floor_count; k++)
        if (load->floor[k].every_days == 0)
            return &load->floor[k];
    return NULL;
}

/* One more, of each day, as yet without measure, amount and deadline. */
static struct floor_settings *add_daily_floor(struct load_settings *load)
{
    if (load->floor_count == RULES_FLOORS_MAX)
        return NULL;
    struct floor_settings *floor = &load->floor[load->floor_count++];
    *floor = (struct floor_settings){.weekdays = WEEKDAYS_ALL};
    return floor;
}

/* The deadline, in steps of an hour and a half through the day. */
static bool turn_by(struct load_settings *load, const struct compare *compare, int k)
{
    static const int32_t by_s[] = {19800, 25200, 43200, 54000, 61200, 64800, 75600};
    struct floor_settings *floor = daily_floor(load);
    (void)compare;
    if (!floor || k >= (int)(sizeof by_s / sizeof by_s[0]))
        return false;
    floor->by_s = by_s[k];
    return true;
}

static bool turn_amount(struct load_settings *load, const struct compare *compare, int k)
{
    static const int64_t percent[] = {25, 50, 75, 125, 150, 200};
    struct floor_settings *floor = daily_floor(load);
    int64_t unit = floor && floor->measure == FLOOR_ENERGY ? 100000 : 5 * MS_PER_MIN;
    (void)compare;
    if (!floor || floor->measure == FLOOR_SATISFIED ||
        k >= (int)(sizeof percent / sizeof percent[0]))
        return false;
    floor->amount = (floor->amount * percent[k] / 100 + unit / 2) / unit * unit;
    return floor->amount > 0;
}

static bool turn_grid(struct load_settings *load, const struct compare *compare, int k)
{
    struct floor_settings *floor = daily_floor(load);
    if (!floor || k >= 2 || compare->tariff.count == 0)
        return false;
    floor->grid = (uint8_t)(k == 0 ? FLOOR_AT_LATEST_START : FLOOR_IN_CHEAPEST_HOURS);
    return true;
}

/* Where no day has a floor: an hour, or two, before the morning or the evening. */
static bool turn_new(struct load_settings *load, const struct compare *compare, int k)
{
    static const struct floor_settings floors[] = {
        {.amount = MS_PER_HOUR, .by_s = 25200},     {.amount = 2 * MS_PER_HOUR, .by_s = 25200},
        {.amount = MS_PER_HOUR, .by_s = 61200},     {.amount = 2 * MS_PER_HOUR, .by_s = 61200},
        {.amount = 2 * MS_PER_HOUR, .by_s = 75600}, {.amount = 3 * MS_PER_HOUR, .by_s = 61200},
    };
    (void)compare;
    if (daily_floor(load) || k >= (int)(sizeof floors / sizeof floors[0]))
        return false;
    struct floor_settings *floor = add_daily_floor(load);
    if (!floor)
        return false;
    *floor = floors[k];
    floor->weekdays = WEEKDAYS_ALL;
    floor->reserve_ms = 30 * MS_PER_MIN;
    if (load->kind != LOAD_SWITCHED) { /* time says nothing of a set-point */
        floor->measure = FLOOR_ENERGY;
        floor->amount = floors[k].amount / MS_PER_HOUR * load->power_w * 1000;
    }
    return true;
}

/* Of the whole tank from cold, to the next half hour. */
static int64_t heat_up_ms(const struct load_settings *load, const struct compare *compare)
{
    const struct heater_settings *heater = &compare->home.tank[0].heater;
    double kelvin = heater->set_c - compare->home.inlet.mean_c;
    double s = heater->tank.volume_l * kelvin * WATER_J_PER_L_K / load->power_w;
    return (int64_t)ceil(s / 1800) * 30 * MS_PER_MIN;
}

/* Until the thermostat opens, by some hour, in place of so much each day: what a clock
 * would do, with spare power first. First as a tank that is half warm needs it, then as a
 * cold one does. */
static bool turn_satisfied(struct load_settings *load, const struct compare *compare, int k)
{
    enum { BYS = 6 };
    static const int32_t by_s[BYS] = {25200, 61200, 64800, 68400, 72000, 75600};
    struct floor_settings *floor = daily_floor(load);
    if (!floor || k >= 2 * BYS || (load->kind != LOAD_SWITCHED && !load->metered))
        return false;
    floor->measure = FLOOR_SATISFIED;
    floor->amount = k < BYS ? SATISFIED_WITHIN_MS : heat_up_ms(load, compare);
    floor->reserve_ms = 0;
    floor->by_s = by_s[k % BYS];
    return true;
}

/* Start and floor together, also where no day has a floor yet: values that one by one
 * would each be worse. */
static bool turn_both(struct load_settings *load, const struct compare *compare, int k)
{
    enum { STARTS = 3, BY_EARLY = 1, BY_LATE = 4, FROM_COLD = 6 };
    static const uint16_t permille[STARTS] = {600, 850, RULES_START_LEARNT};
    if (k >= 4 * STARTS || (!daily_floor(load) && !add_daily_floor(load)))
        return false;
    load->start_permille = permille[k % STARTS];
    if (load->start_permille == RULES_START_LEARNT)
        turn_learnt(load, compare, 0);
    int by = k / STARTS % 2 == 0 ? BY_EARLY : BY_LATE;
    return turn_satisfied(load, compare, by + (k < 2 * STARTS ? 0 : FROM_COLD));
}

static const struct knob knobs[] = {
    {"start and floor", turn_both},    {"the start fraction", turn_start},
    {"a learnt start", turn_learnt},   {"a floor", turn_new},
    {"the floor's deadline", turn_by}, {"the floor's amount", turn_amount},
    {"a full tank", turn_satisfied},   {"when a floor is bought", turn_grid},
    {"the stop margin", turn_stop},
};
enum { KNOBS = sizeof knobs / sizeof knobs[0] };

/* ---- the search ----------------------------------------------------------------- */

/* What a shower spoilt beyond what may be weighs in the search, in money: so much that
 * settings under which a purchase would not be advised are left as soon as may be. */
#define SPOILT_WEIGHT 50.0

struct limits {
    double spoilt, most_spoilt, cycles;
};

static double score(const struct compare_figures *figures, const struct limits *limits)
{
    return figures->cost + SPOILT_WEIGHT * fmax(0, figures->spoilt - limits->spoilt);
}

/* Each value of each knob in each round, and the settings as they are. */
enum { COLD_MAX = ROUNDS * KNOBS * VALUES_MAX + 1 };

struct tuning {
    struct limits limits;
    struct compare_figures best;
    bool better;
    struct compare_figures cold[COLD_MAX]; /* all that spoil too many showers, refused or not */
    int cold_count;
};

struct trial_of_values {
    struct rules_settings rules;
    struct load_settings load;
};

static bool suits(const struct trial_of_values *values)
{
    struct trouble trouble;
    return rules_settings_check(&values->rules, &trouble);
}

/* Of each the mean cost and bill, and the most spoilt showers and cycles, of the samples tuned on.
 */
static bool evaluate(struct compare *compare, const char *what,
                     const struct trial_of_values values[], int count,
                     struct compare_figures figures[], struct trouble *trouble)
{
    int samples = compare->sample_count < TUNED_ON ? compare->sample_count : TUNED_ON;
    int runs = count * samples;
    struct compare_job job[VALUES_MAX * TUNED_ON];
    struct compare_figures each[VALUES_MAX * TUNED_ON];
    if (runs <= 0)
        return true;
    for (int k = 0; k < runs; k++) {
        job[k] = compare_job_of(compare, WAY_SLUICE, k % samples);
        job[k].plan.rules = &values[k / samples].rules;
    }
    if (!compare_do(compare, what, job, runs, each, trouble))
        return false;
    compare->tune_runs += runs;
    for (int k = 0; k < count; k++) {
        figures[k] = (struct compare_figures){0};
        for (int s = 0; s < samples; s++) {
            const struct compare_figures *one = &each[k * samples + s];
            figures[k].cost += one->cost / samples;
            figures[k].bill += one->bill / samples;
            figures[k].spoilt = fmax(figures[k].spoilt, one->spoilt);
            figures[k].cycles = fmax(figures[k].cycles, one->cycles);
        }
    }
    return true;
}

static void begin_with(const struct compare *compare, struct trial_of_values *values)
{
    *values = (struct trial_of_values){compare->tuned_rules, compare->tuned_load};
    values->rules.loads = &values->load;
}

static void note_if_cold(struct tuning *tuning, const struct compare_figures *figures)
{
    if (figures->spoilt > tuning->limits.spoilt)
        tuning->cold[tuning->cold_count++] = *figures;
}

static void take_or_refuse(struct tuning *tuning, const struct compare_figures *figures,
                           const struct load_settings *load, struct load_settings *tuned)
{
    const struct limits *limits = &tuning->limits;
    note_if_cold(tuning, figures);
    if (score(figures, limits) < score(&tuning->best, limits) - WORTH_A_CHANGE &&
        figures->spoilt <= limits->most_spoilt && figures->cycles <= limits->cycles) {
        tuning->best = *figures;
        tuning->better = true;
        *tuned = *load;
    }
}

/* Tries all values of one knob; one that is better is taken. */
static bool turn_knob(struct compare *compare, const struct knob *knob, struct tuning *tuning,
                      struct trouble *trouble)
{
    struct trial_of_values values[VALUES_MAX];
    struct compare_figures figures[VALUES_MAX];
    int count = 0;
    for (int k = 0; k < VALUES_MAX; k++) {
        begin_with(compare, &values[count]);
        count += knob->turn(&values[count].load, compare, k) && suits(&values[count]);
    }
    if (!evaluate(compare, knob->what, values, count, figures, trouble))
        return false;
    for (int k = 0; k < count; k++)
        take_or_refuse(tuning, &figures[k], &values[k].load, &compare->tuned_load);
    return true;
}

/* Of those with a smaller bill than the settings taken the warmest is noted. */
static void note_warmest(struct compare *compare, const struct tuning *tuning)
{
    compare->tune_best = tuning->best;
    for (int k = 0; k < tuning->cold_count; k++) {
        const struct compare_figures *cold = &tuning->cold[k];
        if (cold->bill < tuning->best.bill - WORTH_A_CHANGE && cold->spoilt > tuning->best.spoilt &&
            cold->spoilt < compare->tune_cold.spoilt)
            compare->tune_cold = *cold;
    }
}

static bool search(struct compare *compare, struct tuning *tuning, struct trouble *trouble)
{
    tuning->better = true;
    for (int round = 0; round < ROUNDS && tuning->better; round++) {
        tuning->better = false;
        for (int k = 0; k < KNOBS; k++)
            if (!turn_knob(compare, &knobs[k], tuning, trouble))
                return false;
    }
    return true;
}

bool compare_tune(struct compare *compare, const struct compare_figures *always,
                  struct trouble *trouble)
{
    struct trial_of_values configured;
    struct tuning tuning = {.cold_count = 0};
    begin_with(compare, &configured);
    if (!evaluate(compare, "as configured", &configured, 1, &tuning.best, trouble))
        return false;
    double hot = always->spoilt + SPOILT_MORE_PER_YEAR - LEFT_FOR_OTHER_SAMPLES;
    tuning.limits = (struct limits){hot, fmax(hot, tuning.best.spoilt),
                                    fmax(CYCLES_PER_YEAR_MAX, tuning.best.cycles)};
    note_if_cold(&tuning, &tuning.best);
    if (!search(compare, &tuning, trouble))
        return false;
    note_warmest(compare, &tuning);
    return true;
}
