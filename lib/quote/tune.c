/* tune.c - start, margin and daily floor to where the days cost least, missing hot water and
 * worn contacts counted.
 *
 * Where the search begins does not depend on what is configured: always with the same
 * recipes, on the first sample. From the best few of them one setting after another is
 * moved, until none makes it better. What came of it meets on all samples, the settings
 * as configured among them. All values of a step are run before one is taken, so the result
 * is the same however many processors there are. */
#include "quote/tune.h"

#include <math.h>

#include "quote/recipes.h"

enum { VALUES_MAX = 32, ROUNDS = 3, BEGINNINGS = 2 };

#define WORTH_A_CHANGE 0.5 /* money a year */

/* A contactor is replaced, for two and a half times its own price, after so many closings:
 * common practice, no source. */
#define CLOSINGS 100000.0
#define REPLACED_FOR 2.5

/* A setting to try: writes its k-th value. False: there is no k-th, or it does not suit. */
struct knob {
    const char *what;
    bool (*turn)(struct load_settings *load, const struct compare *compare, int k);
};

static bool turn_start(struct load_settings *load, const struct compare *compare, int k)
{
    static const uint16_t permille[] = {
        RULES_START_LEARNT, 100, 200, 300, 400, 500, 600, 700, 850, 1000};
    if (k >= (int)(sizeof permille / sizeof permille[0]))
        return false;
    if (permille[k] == RULES_START_LEARNT)
        recipe_learn(compare, load);
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

static bool turn_by(struct load_settings *load, const struct compare *compare, int k)
{
    static const int32_t by_s[] = {19800, 25200, 43200, 54000, 61200, 64800, 68400, 72000, 75600};
    struct floor_settings *floor = recipe_daily_floor(load);
    (void)compare;
    if (!floor || k >= (int)(sizeof by_s / sizeof by_s[0]))
        return false;
    floor->by_s = by_s[k];
    return true;
}

static bool turn_amount(struct load_settings *load, const struct compare *compare, int k)
{
    static const int64_t percent[] = {25, 50, 75, 125, 150, 200};
    struct floor_settings *floor = recipe_daily_floor(load);
    int64_t unit = floor && floor->measure == FLOOR_ENERGY ? 100000 : 5 * MS_PER_MIN;
    (void)compare;
    if (!floor || k >= (int)(sizeof percent / sizeof percent[0]))
        return false;
    floor->amount = (floor->amount * percent[k] / 100 + unit / 2) / unit * unit;
    return floor->amount > 0;
}

static bool turn_grid(struct load_settings *load, const struct compare *compare, int k)
{
    struct floor_settings *floor = recipe_daily_floor(load);
    if (!floor || k >= 2 || compare->tariff.count == 0)
        return false;
    floor->grid = (uint8_t)(k == 0 ? FLOOR_AT_LATEST_START : FLOOR_IN_CHEAPEST_HOURS);
    return true;
}

static const struct knob knobs[] = {
    {"the start fraction", turn_start}, {"when a floor is bought", turn_grid},
    {"the floor's deadline", turn_by},  {"the floor's amount", turn_amount},
    {"the stop margin", turn_stop},
};
enum { KNOBS = sizeof knobs / sizeof knobs[0] };

/* ---- the search ----------------------------------------------------------------- */

static double score(const struct compare *compare, const struct compare_figures *figures)
{
    return figures->cost +
           figures->cycles * compare->wish.quote->contactor_cost * REPLACED_FOR / CLOSINGS;
}

/* Mean scores on the first `samples` samples. */
static bool evaluate(struct compare *compare, const char *what, const struct compare_fit fits[],
                     int count, int samples, double scores[], struct trouble *trouble)
{
    struct compare_job job[VALUES_MAX * COMPARE_SAMPLES_MAX] = {0};
    struct compare_figures each[VALUES_MAX * COMPARE_SAMPLES_MAX];
    if (count == 0)
        return true;
    for (int k = 0; k < count * samples; k++)
        job[k] = (struct compare_job){
            .way = WAY_TUNED, .sample = k % samples, .fit = &fits[k / samples]};
    if (!compare_do(compare, what, job, count * samples, each, trouble))
        return false;
    compare->tune_runs += count * samples;
    for (int k = 0; k < count; k++) {
        scores[k] = 0;
        for (int s = 0; s < samples; s++)
            scores[k] += score(compare, &each[k * samples + s]) / samples;
    }
    return true;
}

struct tuning {
    struct compare_fit fit;
    double score; /* on the first sample */
};

static bool turn_knob(struct compare *compare, const struct knob *knob, struct tuning *tuning,
                      bool *better, struct trouble *trouble)
{
    struct compare_fit fits[VALUES_MAX];
    double scores[VALUES_MAX];
    int count = 0;
    for (int k = 0; k < VALUES_MAX; k++) {
        fits[count] = tuning->fit;
        count += knob->turn(&fits[count].load, compare, k) && recipe_suits(compare, &fits[count]);
    }
    if (!evaluate(compare, knob->what, fits, count, 1, scores, trouble))
        return false;
    for (int k = 0; k < count; k++)
        if (scores[k] < tuning->score - WORTH_A_CHANGE) {
            *tuning = (struct tuning){fits[k], scores[k]};
            *better = true;
        }
    return true;
}

static bool improve(struct compare *compare, struct tuning *tuning, struct trouble *trouble)
{
    bool better = true;
    for (int round = 0; round < ROUNDS && better; round++) {
        better = false;
        for (int k = 0; k < KNOBS; k++)
            if (!turn_knob(compare, &knobs[k], tuning, &better, trouble))
                return false;
    }
    return true;
}

/* The best recipes, that of least cost first. Returns how many; -1: in trouble. */
static int begin(struct compare *compare, struct tuning tuning[static BEGINNINGS],
                 struct trouble *trouble)
{
    struct compare_fit fits[VALUES_MAX];
    double scores[VALUES_MAX];
    int count = 0, begun = 0;
    for (int k = 0; k < VALUES_MAX; k++) {
        fits[count] = compare->fit[WAY_SLUICE];
        fits[count].as_configured = false;
        count +=
            recipe_write_tuning(compare, k, &fits[count]) && recipe_suits(compare, &fits[count]);
    }
    if (!evaluate(compare, "usual settings", fits, count, 1, scores, trouble))
        return -1;
    for (; begun < BEGINNINGS && begun < count; begun++) {
        int best = 0;
        for (int k = 1; k < count; k++)
            if (scores[k] < scores[best])
                best = k;
        tuning[begun] = (struct tuning){fits[best], scores[best]};
        scores[best] = INFINITY;
    }
    return begun;
}

bool compare_tune(struct compare *compare, struct trouble *trouble)
{
    struct tuning tuning[BEGINNINGS];
    struct compare_fit last[BEGINNINGS + 1] = {compare->fit[WAY_SLUICE]};
    double scores[BEGINNINGS + 1];
    int count = begin(compare, tuning, trouble), best = 0;
    if (count < 0)
        return false;
    for (int k = 0; k < count; k++) {
        if (!improve(compare, &tuning[k], trouble))
            return false;
        last[k + 1] = tuning[k].fit;
    }
    if (!evaluate(compare, "on all samples", last, count + 1, compare->sample_count, scores,
                  trouble))
        return false;
    for (int k = 1; k <= count; k++)
        if (scores[k] < scores[best] - WORTH_A_CHANGE)
            best = k;
    compare->fit[WAY_TUNED] = last[best];
    return true;
}
