#include "made_days.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>

struct days made_days(const struct zone *zone, struct date first, int count, int32_t step_s,
                      made_step *step)
{
    int32_t day = days_of_date(first);
    struct wall from = wall_of_local(zone, day, 0), to = wall_of_local(zone, day + count, 0);
    size_t rows = (size_t)((to.ms - from.ms) / MS_PER_S / step_s);
    struct days days = {.first = from, .step_s = step_s, .count = rows, .steps = rows};
    days.use_w = malloc(rows * sizeof(float));
    days.solar_w = malloc(rows * sizeof(float));
    ck_assert(days.use_w && days.solar_w);
    for (size_t k = 0; k < rows; k++) {
        struct local at =
            local_of_wall(zone, (struct wall){from.ms + (int64_t)k * step_s * MS_PER_S});
        double use_w = 0, solar_w = 0;
        step(at.day - day, at.second, &use_w, &solar_w);
        days.use_w[k] = (float)use_w;
        days.solar_w[k] = (float)solar_w;
    }
    return days;
}

void made_ordinary(int day, int32_t second, double *use_w, double *solar_w)
{
    double hour = second / 3600.0;
    *use_w = 300 + 10 * (day % 7) + 40 * sin(hour + day);
    *use_w += hour >= 18 && hour < 21 ? 1500 + 100 * (day % 5) : 0;
    *solar_w = hour > 6 && hour < 18 ? 4000 * sin((hour - 6) * M_PI / 12) : 0;
    *solar_w *= day % 3 == 2 ? 0.3 : 1;
}
