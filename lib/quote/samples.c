/* samples.c - the days as several runs' worth.
 *
 * Days of more than a minute a step are refined, once for each seed, and run by the
 * minute; where they last for two years or more, each year is a sample of its own. */
#include "quote/samples.h"

#include <math.h>

#include "refine/refine.h"

enum { REFINE_ABOVE_S = 60, YEAR_S = 365 * 86400 };

static size_t year_rows(const struct days *days)
{
    return (size_t)(YEAR_S / days->step_s);
}

/* A view of one year; nothing is copied. */
static struct days year_of(const struct days *days, int year, int years)
{
    struct days view = *days;
    if (years < 2)
        return view;
    size_t rows = year_rows(days), from = rows * (size_t)year;
    view.first.ms += (int64_t)year * YEAR_S * MS_PER_S;
    view.use_w += from;
    view.solar_w += from;
    view.count = view.steps = rows;
    if (view.draw_l) {
        view.draw_count = (size_t)(YEAR_S / view.draw_step_s);
        view.draw_l += view.draw_count * (size_t)year;
    }
    return view;
}

/* Never owns what the caller's days hold: free only where it is not a view. */
static bool refine(const struct days *coarse, uint64_t seed, struct days *even,
                   struct trouble *trouble)
{
    const struct refine_settings settings = {.seed = seed};
    struct days fine = {0};
    if (!refine_days(coarse, &settings, &fine))
        return trouble_set(trouble, "", "the days cannot be made finer, or there is no memory");
    bool good = days_in_steps(&fine, REFINE_ABOVE_S, even);
    days_free(&fine);
    return good || trouble_set(trouble, "", "no memory for the days in minutes");
}

/* What the roof gives beyond the household's use. */
static double spare_kwh(const struct days *days)
{
    double w = 0;
    for (size_t k = 0; k < days->count; k++) {
        int32_t steps = days->lasts ? days->lasts[k] : 1;
        w += fmax(0, (double)days->solar_w[k] - (double)days->use_w[k]) * steps;
    }
    return w * days->step_s / 3.6e6 * days_year_factor(days);
}

bool compare_samples(struct compare *compare, struct trouble *trouble)
{
    const struct days *days = compare->wish.days;
    compare->days_long = (double)days->steps * days->step_s / 86400;
    compare->refined = days->step_s > REFINE_ABOVE_S && !days->lasts;
    compare->years = days->lasts ? 1 : (int)(days->count / year_rows(days));
    compare->years = compare->years < 1 ? 1 : compare->years;
    if (compare->years > COMPARE_SAMPLES_MAX)
        compare->years = COMPARE_SAMPLES_MAX;
    compare->seeds = compare->refined && compare->wish.seeds > 0 ? compare->wish.seeds : 1;
    while (compare->seeds * compare->years > COMPARE_SAMPLES_MAX)
        compare->seeds--;
    for (int year = 0; year < compare->years; year++)
        for (int seed = 0; seed < compare->seeds; seed++) {
            struct days view = year_of(days, year, compare->years);
            if (!compare->refined)
                compare->sample[compare->sample_count] = view;
            else if (!refine(&view, (uint64_t)seed + 1, &compare->sample[compare->sample_count],
                             trouble))
                return false;
            compare->sample_count++;
        }
    compare->flat = year_of(days, 0, compare->years);
    compare->flat_spare_kwh = spare_kwh(&compare->flat);
    compare->spare_kwh = spare_kwh(&compare->sample[0]);
    return true;
}
