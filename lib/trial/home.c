/* home.c - usual homes, their mains water, and how much hot water is wanted when. */
#include "trial/home.h"

#include <math.h>

enum { FEBRUARY_9 = 40 };

static const struct inlet usual_inlet = {.mean_c = 18, .swing_k = 4, .coldest_day = FEBRUARY_9};

void trial_home_usual(struct trial_home *home, const struct zone *zone, const struct tariff *tariff,
                      double volume_l, double element_w)
{
    *home = (struct trial_home){
        .zone = zone,
        .tariff = tariff,
        .inlet = usual_inlet,
        .taps = {.wanted_c = 45, .scale = 1},
        .solar_scale = 1,
        .use_scale = 1,
        .tank_count = 1,
        .load_count = 1,
        .tank[0] = {.heater = heater_usual(volume_l, element_w), .draw_share = 1},
        .load[0] = {.model = TRIAL_HEATER},
    };
    home->tank[0].start_c = home->tank[0].heater.set_c;
}

void trial_taps_profile(struct trial_taps *taps, const struct tap_draw draws[], int count)
{
    double j_per_l = WATER_J_PER_L_K * (taps->wanted_c - TAP_PROFILE_COLD_C);
    for (int h = 0; h < TRIAL_DAY_HOURS; h++)
        taps->hour_l[h] = 0;
    for (int i = 0; i < count; i++)
        taps->hour_l[draws[i].at_s / 3600] += draws[i].energy_kwh * 3.6e6 / j_per_l;
}

double trial_inlet_c(const struct trial_home *home, struct wall wall)
{
    int32_t day = local_of_wall(home->zone, wall).day;
    struct date new_year = {date_of_days(day).year, 1, 1};
    return inlet_c(&home->inlet, day - days_of_date(new_year) + 1);
}
