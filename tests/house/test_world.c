/* The whole house, stepped. */
#include "house/world.h"

#include <math.h>
#include <string.h>

#include "house/fault.h"
#include "suite.h"

static struct world_settings house_with_a_heater(void)
{
    struct world_settings house = world_usual();
    house.household.base_w = 300;
    house.pv_peak_w = 6600;
    house.sky = SKY_CLOUDS;
    house.sky_seed = 3;
    house.start.ms = 1767225600000; /* 2026-01-01 00:00 UTC */
    for (int i = 0; i < tap_profile_m_count; i++)
        house.draw[house.draw_count++] = tap_profile_m[i];
    house.load[house.load_count++] = (struct house_load_settings){.kind = HOUSE_HEATER,
                                                                  .power_w = 3600,
                                                                  .phases = 1,
                                                                  .contactors = 1,
                                                                  .heater = heater_usual(315, 3600),
                                                                  .start_c = 40,
                                                                  .inlet_c = 15};
    return house;
}

START_TEST(test_the_meter_sees_what_the_house_takes_and_gives)
{
    struct world_settings house = house_with_a_heater();
    static struct world world;
    world_init(&world, &house);
    double sum_j = 0, worst_w = 0;
    for (int s = 0; s < 86400; s++) {
        world.load[0].coil[0] = s % 7200 < 3600;
        world_step(&world, 1000);
        double w = world.use_w + world.load[0].draw_w - world.pv_w;
        worst_w = fmax(worst_w, fabs(world.meter.shown.total_w - w));
        sum_j += w;
    }
    ck_assert_double_lt(worst_w, 1e-6);
    ck_assert_double_gt(world.pv_j, 20 * 3.6e6);
    ck_assert_double_gt(world.load[0].energy_j, 5 * 3.6e6);
    ck_assert_double_eq_tol(world.grid.import_j - world.grid.export_j, sum_j, 1);
    ck_assert_double_eq_tol(world.load[0].energy_j, world.load[0].heater.tank.heated_j, 1);
    ck_assert_double_eq_tol(world.load[0].energy_j, world.load[0].sun_j + world.load[0].grid_j, 1);
}
END_TEST

START_TEST(test_the_same_orders_give_the_same_house)
{
    struct world_settings house = house_with_a_heater();
    static struct world one, two;
    world_init(&one, &house);
    world_init(&two, &house);
    int differs = 0;
    for (int s = 0; s < 20000; s++) {
        one.load[0].coil[0] = two.load[0].coil[0] = s > 9000;
        world_step(&one, 1000);
        world_step(&two, 1000);
        differs += one.meter.shown.total_w != two.meter.shown.total_w;
    }
    ck_assert_int_eq(differs, 0);
    ck_assert_double_eq(heater_top_c(&one.load[0].heater), heater_top_c(&two.load[0].heater));
}
END_TEST

START_TEST(test_local_time_is_the_zones_over_both_changes_of_the_clock)
{
    struct world_settings house = world_usual();
    struct trouble trouble;
    ck_assert(zone_parse("AEST-10AEDT,M10.1.0,M4.1.0/3", &house.zone, &trouble));
    /* 2026-04-04 12:00 and 2026-10-03 12:00 UTC: the Sundays after them have a change. */
    const int64_t starts[] = {1775304000000, 1791028800000};
    static struct world world;
    for (int i = 0; i < 2; i++) {
        house.start.ms = starts[i];
        world_init(&world, &house);
        for (int step = 0; step < 24 * 60; step++) {
            struct local local = local_of_wall(&house.zone, world_wall(&world));
            world_step(&world, 60000);
            ck_assert_int_eq(world.local.day, local.day);
            ck_assert_int_eq(world.local.second, local.second);
        }
    }
}
END_TEST

/* 20 L/h of water 40 K above the main are 20 x 40 x 4186 J an hour. */
START_TEST(test_a_leaking_relief_valve_costs_heat_day_and_night)
{
    struct world_settings house = house_with_a_heater();
    house.draw_count = 0;
    house.load[0].start_c = 55;
    static struct world sound, leaks;
    world_init(&sound, &house);
    world_init(&leaks, &house);
    house_fault_begin(&leaks.load[0], &(struct house_fault){FAULT_RELIEF_LEAK, 20, 0});
    for (int s = 0; s < 3600; s++) {
        world_step(&sound, 1000);
        world_step(&leaks, 1000);
    }
    double lost_j =
        tank_heat_j(&sound.load[0].heater.tank, 0) - tank_heat_j(&leaks.load[0].heater.tank, 0);
    ck_assert_double_eq_tol(lost_j, 20 * 40 * WATER_J_PER_L_K, 0.01 * lost_j);
    house_fault_end(&leaks.load[0], &(struct house_fault){FAULT_RELIEF_LEAK, 20, 0});
    double drawn_j = leaks.load[0].heater.tank.drawn_j;
    world_step(&leaks, 1000);
    ck_assert_double_eq(leaks.load[0].heater.tank.drawn_j, drawn_j);
}
END_TEST

/* A day of draws and sun; between them the one heater is looked at once in ten seconds. */
START_TEST(test_an_idle_heater_may_be_stepped_more_coarsely)
{
    struct world_settings fine = house_with_a_heater(), coarse = house_with_a_heater();
    coarse.load[0].heater.idle_step_s = 10;
    static struct world one, other;
    world_init(&one, &fine);
    world_init(&other, &coarse);
    double apart_k = 0;
    for (int s = 0; s < 86400; s++) {
        one.load[0].coil[0] = other.load[0].coil[0] = s % 20000 < 5000;
        world_step(&one, 1000);
        world_step(&other, 1000);
        apart_k = fmax(
            apart_k, fabs(heater_top_c(&one.load[0].heater) - heater_top_c(&other.load[0].heater)));
    }
    ck_assert_double_gt(one.tap.drawn_j, 5 * 3.6e6);
    ck_assert_double_lt(apart_k, 0.2);
    ck_assert_double_eq_tol(other.load[0].energy_j, one.load[0].energy_j, 0.002 * 3.6e6 * 10);
    ck_assert_double_eq_tol(other.load[0].heater.tank.lost_j, one.load[0].heater.tank.lost_j,
                            0.001 * one.load[0].heater.tank.lost_j);
}
END_TEST

static void heat_until_it_opens(struct world *world)
{
    for (int s = 0; s < 86400 && world->load[0].heater.calls; s++)
        world_step(world, 1000);
}

START_TEST(test_a_thermostat_that_opens_for_good_lets_the_water_go_cold)
{
    struct world_settings house = house_with_a_heater();
    static struct world world;
    world_init(&world, &house);
    world.load[0].coil[0] = true;
    struct house_fault fault = {FAULT_THERMOSTAT_OPENS_FOR_GOOD, 0, 0};
    house_fault_begin(&world.load[0], &fault);
    world_step(&world, 1000);
    ck_assert_double_gt(world.load[0].draw_w, 3000); /* it was closed and still is */
    heat_until_it_opens(&world);
    double drawn_j = world.load[0].energy_j;
    for (int s = 0; s < 3 * 86400 / 10; s++)
        world_step(&world, 10000);
    ck_assert_double_eq(world.load[0].energy_j, drawn_j);
    ck_assert_double_lt(heater_top_c(&world.load[0].heater), 40);
    house_fault_end(&world.load[0], &fault);
    world_step(&world, 1000);
    world_step(&world, 1000);
    ck_assert_double_gt(world.load[0].draw_w, 3000);
}
END_TEST

START_TEST(test_an_element_drifts_by_its_share_in_a_year)
{
    struct heater_settings settings = heater_usual(250, 3600);
    struct heater heater;
    heater_init(&heater, &settings, 20);
    heater.faults.drift_a_year = 0.25;
    for (int hour = 0; hour < 8766; hour++)
        heater_step(&heater, 3600, 0, 0, 15);
    ck_assert_double_eq_tol(heater_draw_w(&heater, 240, true), 3600 / 1.25, 0.01);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_the_meter_sees_what_the_house_takes_and_gives,
        test_the_same_orders_give_the_same_house,
        test_local_time_is_the_zones_over_both_changes_of_the_clock,
        test_a_leaking_relief_valve_costs_heat_day_and_night,
        test_an_idle_heater_may_be_stepped_more_coarsely,
        test_a_thermostat_that_opens_for_good_lets_the_water_go_cold,
        test_an_element_drifts_by_its_share_in_a_year,
    };
    return RUN("world", tests);
}
