/* reference_home.c - see reference_home.h. */
#include "reference_home.h"

void reference_home(struct trial_home *home, const struct zone *zone, const struct tariff *tariff)
{
    static const double hour_l[TRIAL_DAY_HOURS] = {1,  0,  0, 0, 0, 2, 50, 50, 4,  3, 3, 3,
                                                   16, 16, 3, 3, 3, 3, 10, 10, 10, 6, 3, 1};
    trial_home_usual(home, zone, tariff, 315, 3600);
    struct heater_settings *heater = &home->tank[0].heater;
    heater->tank.layers = 1;
    heater->tank.loss_kwh_day = 2.66;
    heater->set_c = 70;
    heater->hysteresis_k = 6;
    home->tank[0].start_c = 67;
    home->tank[0].start_calls = true;
    home->unmet_per_kwh = 10;
    for (int h = 0; h < TRIAL_DAY_HOURS; h++)
        home->taps.hour_l[h] = hour_l[h];
}
