/* bound.c - the least that these days could have cost, known beforehand.
 *
 * Reckoned in steps of five minutes where the days are finer: what a step costs is convex
 * in its power as long as feed-in is worth no more than import, so the mean of a step
 * costs no more than its parts, and the bound stays one. Each step has the least import
 * price and the greatest feed-in of its minutes. */
#include "quote/bound.h"

#include <math.h>
#include <stdlib.h>

#include "quote/optimum.h"

enum { BOUND_STEP_S = 300 };

/* A thermostat that opens a second late lets through some thousandths of a kelvin. */
#define THERMOSTAT_LATE_K 0.01

static bool feed_in_is_worth_more(const struct tariff *tariff)
{
    int32_t import = INT32_MAX, feed_in = tariff->feed_in_micro;
    for (int k = 0; k < tariff->count; k++)
        import = tariff->band[k].price_micro < import ? tariff->band[k].price_micro : import;
    for (int k = 0; k < tariff->feed_in_count; k++)
        feed_in = tariff->feed_in_band[k].price_micro > feed_in
                      ? tariff->feed_in_band[k].price_micro
                      : feed_in;
    return tariff->count == 0 || feed_in > import;
}

static size_t rows_a_step(const struct trial_home *home, const struct days *days)
{
    bool own = days->lasts || days->step_s >= BOUND_STEP_S || BOUND_STEP_S % days->step_s != 0 ||
               feed_in_is_worth_more(home->tariff);
    return own ? 1 : (size_t)(BOUND_STEP_S / days->step_s);
}

static void price(const struct trial_home *home, const struct days *days, size_t first, size_t rows,
                  struct optimum_step *step)
{
    step->import_price = INFINITY;
    step->feed_in_price = -INFINITY;
    for (size_t row = first; row < first + rows; row++) {
        struct wall at = {days->first.ms + (int64_t)row * days->step_s * MS_PER_S};
        struct local local = local_of_wall(home->zone, at);
        double import = 1e-6 * tariff_price(home->tariff, &local);
        double feed_in = 1e-6 * tariff_feed_in(home->tariff, &local);
        step->import_price = fmin(step->import_price, import);
        step->feed_in_price = fmax(step->feed_in_price, feed_in);
    }
}

static struct optimum_step step_of(const struct trial_home *home, const struct days *days,
                                   size_t first, size_t rows)
{
    struct optimum_step step = {0};
    struct wall from = {days->first.ms + (int64_t)first * days->step_s * MS_PER_S};
    struct wall to = {from.ms + (int64_t)rows * days->step_s * MS_PER_S};
    for (size_t row = first; row < first + rows; row++) {
        step.use_w += days->use_w[row] * home->use_scale / (double)rows;
        step.solar_w += days->solar_w[row] * home->solar_scale / (double)rows;
    }
    price(home, days, first, rows, &step);
    step.draw_l = trial_litres(home, days, from, to);
    step.inlet_c = trial_inlet_c(home, from);
    return step;
}

static double element_w(const struct trial_home *home)
{
    const struct heater_settings *heater = &home->tank[0].heater;
    double plate_w = home->load[0].power_w > 0 ? home->load[0].power_w : heater->element_w;
    double volts = home->tank[0].volts;
    return volts > 0 ? plate_w * volts * volts / (heater->element_v * heater->element_v) : plate_w;
}

static struct optimum_problem problem_of(const struct trial_home *home, bool switched,
                                         double left_price)
{
    const struct heater_settings *heater = &home->tank[0].heater;
    return (struct optimum_problem){
        .volume_l = heater->tank.volume_l,
        .loss_kwh_day = heater->tank.loss_kwh_day,
        .ambient_c = heater->tank.ambient_c,
        .start_c = home->tank[0].start_c,
        .full_c = heater->set_c + THERMOSTAT_LATE_K,
        .wanted_c = home->taps.wanted_c,
        .element_w = element_w(home),
        .element = switched ? OPTIMUM_SWITCHED : OPTIMUM_PROPORTIONAL,
        .layered = heater->tank.layers > 1,
        .within_step = true,
        .export_limit_w = home->export_limit_w,
        .unmet_price = home->unmet_per_kwh,
        .left_price = left_price,
    };
}

/* Daily charges are the same for all and not in the bound; demand charges only add. */
static double daily_of(const struct trial_home *home, const struct days *days)
{
    double days_long = (double)days->steps * days->step_s / 86400;
    return 1e-6 * home->tariff->daily_micro * days_long;
}

bool bound_of_year(const struct trial_home *home, const struct days *days, bool switched,
                   double left_price, double *cost, struct trouble *trouble)
{
    size_t rows = rows_a_step(home, days), count = days->count / rows;
    struct optimum_step *steps = calloc(count, sizeof(*steps));
    if (!steps)
        return trouble_set(trouble, "", "no memory for %zu steps", count);
    for (size_t k = 0; k < count; k++)
        steps[k] = step_of(home, days, k * rows, rows);
    struct optimum_problem problem = problem_of(home, switched, left_price);
    problem.step = steps;
    problem.count = count;
    problem.step_s = (double)rows * days->step_s;
    struct optimum *optimum = optimum_new(&problem, trouble);
    if (optimum)
        *cost = (optimum_cost(optimum) + daily_of(home, days)) * days_year_factor(days);
    optimum_free(optimum);
    free(steps);
    return optimum != NULL;
}
