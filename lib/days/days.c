/* days.c - days in memory: freeing, and turning uneven or finer rows into even steps.
 *
 * Every step of the result takes in the energy of the time that it covers, so sums over
 * the days stay what they were. */
#include "days/days.h"

#include <stdlib.h>
#include <string.h>

void days_free(struct days *days)
{
    free(days->use_w);
    free(days->solar_w);
    free(days->lasts);
    free(days->draw_l);
    memset(days, 0, sizeof(*days));
}

/* Walks rows as time goes by: hands out the means of the next `span_s` seconds. */
struct walk {
    const struct days *days;
    size_t row;
    int64_t left_s; /* of the row */
};

static int64_t row_s(const struct days *days, size_t row)
{
    return (int64_t)days->step_s * (days->lasts ? days->lasts[row] : 1);
}

static void walk_on(struct walk *walk, int64_t span_s, float *use_w, float *solar_w)
{
    double use = 0, solar = 0;
    for (int64_t wanted = span_s; wanted > 0;) {
        int64_t part = walk->left_s < wanted ? walk->left_s : wanted;
        use += (double)walk->days->use_w[walk->row] * (double)part;
        solar += (double)walk->days->solar_w[walk->row] * (double)part;
        wanted -= part;
        walk->left_s -= part;
        if (walk->left_s == 0 && ++walk->row < walk->days->count)
            walk->left_s = row_s(walk->days, walk->row);
    }
    *use_w = (float)(use / (double)span_s);
    *solar_w = (float)(solar / (double)span_s);
}

static bool copy_draws(const struct days *days, struct days *even)
{
    if (!days->draw_l)
        return true;
    even->draw_l = malloc(days->draw_count * sizeof(float));
    if (!even->draw_l)
        return false;
    memcpy(even->draw_l, days->draw_l, days->draw_count * sizeof(float));
    even->draw_count = days->draw_count;
    even->draw_step_s = days->draw_step_s;
    return true;
}

bool days_in_steps(const struct days *days, int32_t step_s, struct days *even)
{
    size_t count = (size_t)((int64_t)days->steps * days->step_s / step_s);
    *even = (struct days){.first = days->first, .step_s = step_s, .count = count, .steps = count};
    if (count == 0 || (days->step_s % step_s && step_s % days->step_s))
        return false;
    even->use_w = malloc(count * sizeof(float));
    even->solar_w = malloc(count * sizeof(float));
    if (!even->use_w || !even->solar_w || !copy_draws(days, even)) {
        days_free(even);
        return false;
    }
    struct walk walk = {.days = days, .left_s = row_s(days, 0)};
    for (size_t k = 0; k < count; k++)
        walk_on(&walk, step_s, &even->use_w[k], &even->solar_w[k]);
    return true;
}

double days_year_factor(const struct days *days)
{
    return 365.0 * 86400 / ((double)days->steps * days->step_s);
}
