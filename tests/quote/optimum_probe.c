/* optimum_probe - an optimum for scripts: the problem as words on standard input, figures
 * on standard output. First line: count, step_s, volume_l, loss_kwh_day, ambient_c,
 * start_c, full_c, wanted_c, element_w, switched, layered, within_step, spreads_last,
 * export_limit_w, unmet_price, left_price; then each step's six. */
#include <stdio.h>
#include <stdlib.h>

#include "quote/optimum.h"

static double number(void)
{
    double value;
    if (scanf("%lf", &value) != 1)
        exit(2);
    return value;
}

static void print_step(void *context, size_t step, double heat_w, double water_c)
{
    printf("step %zu %.17g %.17g %.17g\n", step, heat_w, water_c,
           optimum_worth(context, step, water_c));
}

int main(void)
{
    size_t count = (size_t)number();
    struct optimum_problem problem = {.count = count};
    problem.step_s = number();
    problem.volume_l = number();
    problem.loss_kwh_day = number();
    problem.ambient_c = number();
    problem.start_c = number();
    problem.full_c = number();
    problem.wanted_c = number();
    problem.element_w = number();
    problem.element = number() > 0 ? OPTIMUM_SWITCHED : OPTIMUM_PROPORTIONAL;
    problem.layered = number() > 0;
    problem.within_step = number() > 0;
    problem.spreads_last = number() > 0;
    problem.export_limit_w = number();
    problem.unmet_price = number();
    problem.left_price = number();
    struct optimum_step *step = calloc(count, sizeof(*step));
    for (size_t n = 0; n < count; n++) {
        step[n].import_price = number();
        step[n].feed_in_price = number();
        step[n].use_w = number();
        step[n].solar_w = number();
        step[n].draw_l = number();
        step[n].inlet_c = number();
    }
    problem.step = step;
    struct trouble trouble;
    struct optimum_outcome outcome = {0};
    struct optimum *optimum = optimum_new(&problem, &trouble);
    if (!optimum) {
        fprintf(stderr, "%s\n", trouble.text);
        return 1;
    }
    printf("bound %.17g\n", optimum_cost(optimum));
    if (!problem.within_step && !optimum_follow(optimum, print_step, optimum, &outcome))
        return 1;
    printf("follow %.17g\nunmet %.17g\nend %.17g\ncycles %ld\n", outcome.cost, outcome.unmet_kwh,
           outcome.end_c, outcome.cycles);
    optimum_free(optimum);
    free(step);
    return 0;
}
