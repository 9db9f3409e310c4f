/* What matters to whoever reads the meter: while a battery has room or charge,
 * the meter stands at zero whatever the sun and the loads do, so that the meter
 * alone says nothing about what is spare. It corrects its power by what the
 * meter showed in the step before, as the real ones do. */
#include "house/battery.h"

#include <math.h>

#define J_PER_KWH 3.6e6

void battery_init(struct battery *battery, const struct battery_settings *settings,
                  double charged_kwh)
{
    *battery = (struct battery){.settings = *settings, .charged_kwh = charged_kwh};
}

double battery_step_w(struct battery *battery, double dt_s, double grid_w)
{
    const struct battery_settings *settings = &battery->settings;
    double room_j = (settings->capacity_kwh - battery->charged_kwh) * J_PER_KWH;
    double most_in_w = fmin(settings->most_w, room_j / settings->efficiency / dt_s);
    double most_out_w = fmin(settings->most_w, battery->charged_kwh * J_PER_KWH / dt_s);
    battery->power_w = fmax(-most_out_w, fmin(most_in_w, battery->power_w - grid_w));
    double arrives = battery->power_w > 0 ? settings->efficiency : 1;
    battery->charged_kwh += battery->power_w * arrives * dt_s / J_PER_KWH;
    return battery->power_w;
}
