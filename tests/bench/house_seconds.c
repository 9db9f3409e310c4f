/* What a second of a house costs: household, clouds, battery, a heater under the taps, its
 * meter; an idle tank once in ten seconds. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "house/world.h"

enum { DAYS = 10 };

static double used_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

int main(void)
{
    struct world_settings house = world_usual();
    house.pv_peak_w = 6600;
    house.sky = SKY_CLOUDS;
    house.household.base_w = 300;
    house.household.fridge_w = 120;
    house.household.kettle_w = 2000;
    house.household.kettles_a_day = 6;
    house.meter.resolution_w = 10;
    house.draw_count = tap_profile_m_count;
    for (int i = 0; i < tap_profile_m_count; i++)
        house.draw[i] = tap_profile_m[i];
    house.load[house.load_count++] = (struct house_load_settings){.kind = HOUSE_HEATER,
                                                                  .power_w = 3600,
                                                                  .phases = 1,
                                                                  .contactors = 1,
                                                                  .heater = heater_usual(315, 3600),
                                                                  .start_c = 55,
                                                                  .inlet_c = 15};
    house.load[0].heater.idle_step_s = 10;
    static struct world world;
    world_init(&world, &house);
    double before_s = used_s();
    for (long s = 0; s < DAYS * 86400; s++) {
        world.load[0].coil[0] = world.meter.shown.total_w < -1000 || world.local.second < 3 * 3600;
        world_step(&world, MS_PER_S);
    }
    double ns = (used_s() - before_s) * 1e9 / (DAYS * 86400.0);
    printf("%.0f ns a second of a house, %.1f s a year; %.1f kWh into the heater in %d days\n", ns,
           ns * 365 * 86400 / 1e9, world.load[0].energy_j / 3.6e6, DAYS);
    return 0;
}
