/* appliances.c - fills an hour's energy with appliances.
 *
 * What the house takes at its calmest is there all the time, the refrigerator's cycles in
 * it. What the row has above that is energy to be spent: appliances are drawn by chance
 * from a table, each with its power and time, put somewhere in the row, and paid from
 * that energy until nothing fits; the rest is lights and the like, evenly. So a row of
 * much energy gets ovens and air conditioners, and one of little gets a kettle or none.
 *
 * Powers and times are common practice, no source: no measured home at this pace was at
 * hand to set them by. */
#include "refine/appliances.h"

#include <math.h>

static const struct appliance {
    double least_w, most_w;
    double least_s, most_s;
    int32_t on_s, off_s; /* cycles within its time; on_s 0: steady */
    double weight;       /* how often it is drawn */
} appliances[] = {
    {1800, 2200, 90, 240, 0, 0, 3},       /* kettle */
    {800, 1300, 60, 300, 0, 0, 3},        /* microwave, toaster */
    {1500, 2200, 600, 1800, 40, 50, 2},   /* hob or oven by its thermostat */
    {1800, 2200, 600, 1200, 0, 0, 1},     /* a washing machine's heater */
    {900, 1600, 1800, 3600, 600, 420, 2}, /* air conditioner's compressor */
    {100, 300, 900, 3600, 0, 0, 3},       /* screens, lights of a room */
    {300, 700, 600, 2400, 0, 0, 2},       /* the washing machine's motor, a pump, irons */
};
enum { APPLIANCES = sizeof(appliances) / sizeof(appliances[0]), TRIES = 30 };

static const double FRIDGE_SHARE = 0.4; /* of the base, while it runs */
static const double FRIDGE_ON_S = 900, FRIDGE_OFF_S = 1500;
static const double FRIDGE_MOST_W = 120;
static const double MAINS_W = 12000; /* a main switch of some 50 A; few homes pass it */

enum { SAMPLES_MAX = REFINE_PIECES_MAX };

struct samples {
    double w[SAMPLES_MAX];
    int count;
    int32_t each_s;
};

void refine_use_begin(struct refine_use *use, uint64_t seed)
{
    *use = (struct refine_use){.prng = {seed}};
    use->fridge_left_s = prng_between(&use->prng, 60, FRIDGE_OFF_S);
}

static double spend_base(struct refine_use *use, struct samples *samples, double base_w)
{
    double fridge_w = fmin(FRIDGE_MOST_W, base_w * FRIDGE_SHARE), spent_ws = 0;
    for (int k = 0; k < samples->count; k++) {
        use->fridge_left_s -= samples->each_s;
        if (use->fridge_left_s <= 0) {
            use->fridge_on = !use->fridge_on;
            use->fridge_left_s =
                (use->fridge_on ? FRIDGE_ON_S : FRIDGE_OFF_S) * prng_between(&use->prng, 0.8, 1.2);
        }
        samples->w[k] = base_w - fridge_w * FRIDGE_ON_S / (FRIDGE_ON_S + FRIDGE_OFF_S) +
                        (use->fridge_on ? fridge_w : 0);
        spent_ws += samples->w[k] * samples->each_s;
    }
    return spent_ws;
}

static const struct appliance *draw(struct prng *prng)
{
    double sum = 0;
    for (int k = 0; k < APPLIANCES; k++)
        sum += appliances[k].weight;
    double at = prng_unit(prng) * sum;
    int k = 0;
    while (k < APPLIANCES - 1 && at >= appliances[k].weight)
        at -= appliances[k++].weight;
    return &appliances[k];
}

static bool is_on(const struct appliance *appliance, int32_t since_s)
{
    return appliance->on_s == 0 || since_s % (appliance->on_s + appliance->off_s) < appliance->on_s;
}

/* Runs it if its energy is there. */
static double run(struct prng *prng, struct samples *samples, const struct appliance *appliance,
                  double left_ws)
{
    double whole_s = (double)samples->count * samples->each_s;
    double w = prng_between(prng, appliance->least_w, appliance->most_w);
    double lasts_s = fmin(whole_s, prng_between(prng, appliance->least_s, appliance->most_s));
    int lasts = (int)ceil(lasts_s / samples->each_s), on = 0;
    int first = (int)(prng_unit(prng) * (samples->count - lasts + 1));
    for (int k = 0; k < lasts; k++)
        on += is_on(appliance, k * samples->each_s);
    double spent_ws = w * on * samples->each_s;
    if (spent_ws > left_ws)
        return 0;
    for (int k = 0; k < lasts; k++)
        if (is_on(appliance, k * samples->each_s))
            samples->w[first + k] += w;
    return spent_ws;
}

void refine_use_row(struct refine_use *use, int32_t step_s, double mean_w, double base_w,
                    struct refine_pieces *pieces)
{
    struct samples samples = {.each_s = step_s % 10 ? (step_s % 5 ? 1 : 5) : 10};
    samples.count = step_s / samples.each_s;
    double left_ws = mean_w * step_s - spend_base(use, &samples, fmin(base_w, mean_w));
    for (int k = 0; k < TRIES && left_ws > 0; k++)
        left_ws -= run(&use->prng, &samples, draw(&use->prng), left_ws);
    for (int k = 0; k < samples.count && left_ws > 0; k++)
        samples.w[k] += left_ws / step_s;
    const struct refine_want want = {mean_w, fmax(MAINS_W, 1.5 * mean_w), 15};
    refine_pieces_of(pieces, samples.w, samples.count, samples.each_s, &want);
}
