/* search.c - not all that could be fitted is run.
 *
 * For each way first all its recipes on the hardware at hand, on one sample; then, with the
 * two best recipes, other elements; with the best of those, other thermostats and a
 * thermometer in the tank; then all recipes once more on what came of it. The best two
 * sets of hardware of each way meet on all samples. What counts is what is left over
 * after the years, so a price decides as much as a bill. */
#include "quote/search.h"

#include <stdlib.h>

#include "quote/recipes.h"

enum { RECIPES_MAX = 16, CANDIDATES_MAX = 512, ELEMENTS_MAX = 8, LEAST_STAGE_W = 600 };

struct candidate {
    enum compare_way way;
    int recipe;
    struct compare_fit fit;
    struct compare_figures figures; /* on the first sample */
    double net;
    bool run;
};

struct search {
    struct compare *compare;
    struct compare_figures always[COMPARE_SAMPLES_MAX];
    struct candidate *all;
    int count;
};

/* ---- what is possible -------------------------------------------------------------------- */

static const uint8_t drives[WAY_COUNT] = {
    [WAY_REFITTED] = DRIVE_NONE,       [WAY_TIMER] = DRIVE_TIMER,
    [WAY_CONTROLLED] = DRIVE_OFF_PEAK, [WAY_DIVERTER] = DRIVE_DIVERTER,
    [WAY_CONTACTOR] = DRIVE_CONTACTOR, [WAY_STAGES] = DRIVE_STAGES,
    [WAY_REGULATOR] = DRIVE_REGULATOR,
};

static bool is_searched(const struct compare *compare, enum compare_way way)
{
    const struct load_settings *load = &compare->rules.loads[0];
    bool one_phase = phases_count(load->phases) == 1;
    switch (way) {
    case WAY_REFITTED:
    case WAY_TIMER:
    case WAY_DIVERTER:
        return true;
    case WAY_CONTROLLED:
        return compare->wish.home->tariff->controlled.there;
    case WAY_CONTACTOR:
        return load->kind != LOAD_REQUEST;
    case WAY_STAGES:
    case WAY_REGULATOR:
        return load->kind != LOAD_REQUEST && one_phase;
    default:
        return false;
    }
}

static bool may_be_refitted(const struct compare *compare)
{
    const struct load_settings *load = &compare->rules.loads[0];
    return load->kind != LOAD_REQUEST && phases_count(load->phases) == 1;
}

/* Smaller ones than there is, for the circuit is made for that. */
static int elements(const struct compare *compare, enum compare_way way,
                    struct hardware hardware[static ELEMENTS_MAX])
{
    static const int32_t usual_w[] = {3000, 2400, 1800};
    const struct hardware *present = &compare->present;
    int count = 0;
    struct hardware base = *present;
    base.drive = drives[way];
    if (way == WAY_STAGES) {
        for (uint8_t stages = 2; stages <= 3; stages++) {
            base.stages = stages;
            if (present->element_w / stages >= LEAST_STAGE_W)
                hardware[count++] = base;
        }
        return count;
    }
    hardware[count++] = base;
    base.stages = 1;
    for (size_t k = 0; k < sizeof usual_w / sizeof usual_w[0] && may_be_refitted(compare); k++) {
        base.element_w = usual_w[k];
        if (base.element_w < present->element_w)
            hardware[count++] = base;
    }
    return count;
}

/* ---- candidates -------------------------------------------------------------------------- */

static bool is_known(const struct search *search, enum compare_way way, int recipe,
                     const struct hardware *hardware)
{
    for (int k = 0; k < search->count; k++)
        if (search->all[k].way == way && search->all[k].recipe == recipe &&
            hardware_same(&search->all[k].fit.hardware, hardware))
            return true;
    return false;
}

static bool add(struct search *search, enum compare_way way, int recipe,
                const struct hardware *hardware)
{
    struct candidate one = {.way = way, .recipe = recipe, .fit.hardware = *hardware};
    if (!recipe_write(search->compare, way, recipe, &one.fit))
        return false;
    bool suits = !compare_is_sluice(way) || recipe_suits(search->compare, &one.fit);
    if (suits && search->count < CANDIDATES_MAX && !is_known(search, way, recipe, hardware))
        search->all[search->count++] = one;
    return true;
}

static void add_all_recipes(struct search *search, enum compare_way way,
                            const struct hardware *hardware)
{
    for (int recipe = 0; recipe < RECIPES_MAX && add(search, way, recipe, hardware); recipe++)
        ;
}

/* The best of the way that is worse than `below`; NULL: none. */
static const struct candidate *next_best(const struct search *search, enum compare_way way,
                                         const struct candidate *below)
{
    const struct candidate *best = NULL;
    for (int k = 0; k < search->count; k++) {
        const struct candidate *one = &search->all[k];
        bool worse = !below || one->net < below->net || (one->net == below->net && one > below);
        if (one->way == way && one->run && worse && (!best || one->net > best->net))
            best = one;
    }
    return best;
}

static bool run_new(struct search *search, struct trouble *trouble)
{
    struct compare *compare = search->compare;
    struct compare_job *job = calloc(CANDIDATES_MAX, sizeof *job);
    struct compare_figures *figures = calloc(CANDIDATES_MAX, sizeof *figures);
    int count = 0, at = 0;
    for (int k = 0; k < search->count && job; k++)
        if (!search->all[k].run)
            job[count++] =
                (struct compare_job){.way = search->all[k].way, .fit = &search->all[k].fit};
    bool good = (job && figures) || trouble_set(trouble, "", "out of memory");
    good = good && compare_do(compare, "trying hardware", job, count, figures, trouble);
    for (int k = 0; k < search->count && good; k++)
        if (!search->all[k].run) {
            search->all[k].run = true;
            search->all[k].figures = figures[at++];
            search->all[k].net = compare_net(compare, &search->all[k].fit.hardware,
                                             &search->all[k].figures, &search->always[0]);
        }
    compare->searched += count;
    free(job);
    free(figures);
    return good;
}

/* ---- rounds ------------------------------------------------------------------------------- */

typedef void round_of(struct search *search, enum compare_way way);

static void begin(struct search *search, enum compare_way way)
{
    struct hardware possible[ELEMENTS_MAX];
    if (elements(search->compare, way, possible) > 0)
        add_all_recipes(search, way, &possible[0]);
}

static void try_elements(struct search *search, enum compare_way way)
{
    struct hardware possible[ELEMENTS_MAX];
    int count = elements(search->compare, way, possible);
    const struct candidate *best = next_best(search, way, NULL);
    const struct candidate *second = best ? next_best(search, way, best) : NULL;
    int recipes[] = {best ? best->recipe : -1, second ? second->recipe : -1};
    for (int k = 1; k < count; k++)
        for (int r = 0; r < 2; r++)
            if (recipes[r] >= 0)
                add(search, way, recipes[r], &possible[k]);
}

/* A diverter's boosts by a thermometer are recipes of their own. */
static void try_thermostat_and_sensor(struct search *search, enum compare_way way)
{
    static const int32_t set_mc[] = {60000, 65000, 70000};
    const struct candidate *best = next_best(search, way, NULL);
    if (!best)
        return;
    struct hardware hardware = best->fit.hardware;
    int recipe = best->recipe;
    bool sensor = hardware.sensor;
    hardware.sensor = true;
    if (way == WAY_DIVERTER) {
        add_all_recipes(search, way, &hardware);
    } else if (compare_is_sluice(way)) {
        add(search, way, RECIPE_LEARNT, &hardware);
        add(search, way, recipe, &hardware);
    }
    hardware.sensor = sensor;
    for (int k = 0; k < 3; k++) {
        hardware.set_mc = set_mc[k];
        if (search->compare->rules.loads[0].kind != LOAD_REQUEST)
            add(search, way, recipe, &hardware);
    }
}

/* Each by itself may pay, and both together then. */
static void try_once_more(struct search *search, enum compare_way way)
{
    const struct candidate *best = next_best(search, way, NULL);
    if (!best)
        return;
    struct hardware hardware = best->fit.hardware;
    try_thermostat_and_sensor(search, way);
    add_all_recipes(search, way, &hardware);
}

static bool do_round(struct search *search, round_of *round, struct trouble *trouble)
{
    for (int way = 0; way < WAY_COUNT; way++)
        if (is_searched(search->compare, (enum compare_way)way))
            round(search, (enum compare_way)way);
    return run_new(search, trouble);
}

/* ---- the last two of each ---------------------------------------------------------------- */

struct finalist {
    const struct candidate *candidate;
    struct compare_figures figures[COMPARE_SAMPLES_MAX];
    double net; /* of all samples together */
};
enum { FINALISTS_EACH = 2 };

static int pick_finalists(const struct search *search, struct finalist finalist[])
{
    int count = 0;
    for (int way = 0; way < WAY_COUNT; way++) {
        const struct candidate *one = next_best(search, (enum compare_way)way, NULL);
        for (int k = 0; k < FINALISTS_EACH && one; k++) {
            finalist[count++] =
                (struct finalist){.candidate = one, .figures = {one->figures}, .net = one->net};
            one = next_best(search, (enum compare_way)way, one);
        }
    }
    return count;
}

static bool run_finalists(struct search *search, struct finalist finalist[], int count,
                          struct trouble *trouble)
{
    enum { MOST = FINALISTS_EACH * WAY_COUNT * COMPARE_SAMPLES_MAX };
    struct compare *compare = search->compare;
    struct compare_job job[MOST];
    struct compare_figures figures[MOST];
    int jobs = 0, at = 0;
    for (int s = 1; s < compare->sample_count; s++)
        for (int k = 0; k < count; k++)
            job[jobs++] = (struct compare_job){
                .way = finalist[k].candidate->way, .sample = s, .fit = &finalist[k].candidate->fit};
    if (!compare_do(compare, "the best of each", job, jobs, figures, trouble))
        return false;
    for (int s = 1; s < compare->sample_count; s++)
        for (int k = 0; k < count; k++) {
            finalist[k].figures[s] = figures[at++];
            finalist[k].net += compare_net(compare, &finalist[k].candidate->fit.hardware,
                                           &finalist[k].figures[s], &search->always[s]);
        }
    return true;
}

static void take_best(struct compare *compare, const struct finalist finalist[], int count)
{
    double net[WAY_COUNT];
    for (int k = 0; k < count; k++) {
        enum compare_way way = finalist[k].candidate->way;
        if (compare->result[way].there && finalist[k].net <= net[way])
            continue;
        compare->result[way].there = compare->result[way].run = true;
        compare->fit[way] = finalist[k].candidate->fit;
        for (int s = 0; s < compare->sample_count; s++)
            compare->result[way].sample[s] = finalist[k].figures[s];
        net[way] = finalist[k].net;
    }
}

/* What is there anyway, or stands in the table as configured, is no other way. */
static void leave_out_what_is_there(struct compare *compare)
{
    const struct compare_fit *configured = &compare->fit[WAY_SLUICE];
    struct hardware present = compare->present;
    if (hardware_same(&compare->fit[WAY_REFITTED].hardware, &present))
        compare->result[WAY_REFITTED].there = false;
    for (int way = WAY_CONTACTOR; way <= WAY_REGULATOR; way++)
        if (hardware_same(&compare->fit[way].hardware, &configured->hardware) &&
            (compare->wish.tune || compare->fit[way].as_configured))
            compare->result[way].there = false;
}

static bool run_always(struct search *search, struct trouble *trouble)
{
    struct compare_job job[COMPARE_SAMPLES_MAX];
    int count = search->compare->sample_count;
    for (int s = 0; s < count; s++)
        job[s] = compare_job_of(search->compare, WAY_ALWAYS_ON, s);
    return compare_do(search->compare, "always on", job, count, search->always, trouble);
}

static bool search_all(struct search *search, struct trouble *trouble)
{
    static round_of *const rounds[] = {begin, try_elements, try_thermostat_and_sensor,
                                       try_once_more};
    struct finalist finalist[FINALISTS_EACH * WAY_COUNT];
    if (!run_always(search, trouble))
        return false;
    for (size_t k = 0; k < sizeof rounds / sizeof rounds[0]; k++)
        if (!do_round(search, rounds[k], trouble))
            return false;
    int count = pick_finalists(search, finalist);
    if (!run_finalists(search, finalist, count, trouble))
        return false;
    take_best(search->compare, finalist, count);
    search->compare->result[WAY_ALWAYS_ON].run = true;
    for (int s = 0; s < search->compare->sample_count; s++)
        search->compare->result[WAY_ALWAYS_ON].sample[s] = search->always[s];
    leave_out_what_is_there(search->compare);
    return true;
}

bool compare_search(struct compare *compare, struct trouble *trouble)
{
    struct search search = {.compare = compare,
                            .all = calloc(CANDIDATES_MAX, sizeof(struct candidate))};
    bool good =
        search.all ? search_all(&search, trouble) : trouble_set(trouble, "", "out of memory");
    free(search.all);
    return good;
}
