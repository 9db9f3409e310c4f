/* What the findings are told of the engine. */
#include "suite.h"

#include "values/finding_input.h"

enum { HOUR = MS_PER_HOUR };

static struct load_settings heater(void)
{
    return (struct load_settings){
        .kind = LOAD_SWITCHED,
        .phases = 1,
        .power_w = 3600,
        .thermostat = true,
        .uses_spare = true,
        .group = RULES_NO_GROUP,
        .water = {.volume_ml = 300000,
                  .set_mc = 65000,
                  .hysteresis_mc = 6000,
                  .cold_mc = 15000,
                  .room_mc = 20000,
                  .loss_mwh = 2640000},
        .floor_count = 1,
        .floor = {{.measure = FLOOR_TIME,
                   .weekdays = WEEKDAYS_ALL,
                   .by_s = 17 * 3600,
                   .reserve_ms = HOUR / 2,
                   .amount = 3 * HOUR}},
    };
}

struct house {
    struct load_settings loads[2];
    uint16_t order[2];
    struct rules_settings rules;
    struct rules_memory memory;
    struct load_memory load_memory[2];
    struct findings_load told[2];
    struct decision decisions[2];
    struct rules_outcome outcome;
    struct confirmation news;
    struct reading reading;
};

/* 1970-01-02 at this hour. */
static struct moment at_hour(int64_t hour)
{
    return (struct moment){{(100 + hour) * HOUR}, {(24 + hour) * HOUR}, true};
}

static void begin(struct house *house)
{
    *house = (struct house){.loads = {heater(), heater()}};
    house->loads[1].thermostat = false;
    house->loads[1].motor = true;
    house->loads[1].water.volume_ml = 0;
    house->loads[1].floor_count = 0;
    rules_order(house->loads, 2, house->order);
    house->rules = (struct rules_settings){.load_count = 2,
                                           .loads = house->loads,
                                           .order = house->order,
                                           .zone = zone_utc,
                                           .phase_count = 1,
                                           .voltage_mv = 230000,
                                           .solar = true};
    rules_begin(&house->rules, &house->memory, house->load_memory, at_hour(0), 1);
}

static struct findings_input turn(struct house *house, int64_t hour, uint16_t confirmed)
{
    struct rules_input input = {.reading = &house->reading,
                                .confirmations = &house->news,
                                .confirmation_count = confirmed,
                                .now = at_hour(hour)};
    rules_turn(&house->rules, &house->memory, &input, house->decisions, &house->outcome);
    return finding_input(&house->rules, &house->memory, &input, house->decisions, &house->outcome,
                         house->told);
}

START_TEST(test_of_a_water_heater_the_tank_is_told_and_of_others_none)
{
    static struct house house;
    begin(&house);
    struct findings_load_settings loads[2];
    struct findings_settings settings = finding_settings(&house.rules, loads);
    ck_assert_int_eq(settings.load_count, 2);
    ck_assert(settings.solar && settings.loads == loads);
    ck_assert(loads[0].resistive && loads[0].thermostat);
    ck_assert_int_eq(loads[0].full_mj / 3600000, 300 * 50 * 4186 / 3600); /* Wh */
    ck_assert_int_eq(loads[0].band_mj, loads[0].full_mj * 6 / 50);
    ck_assert_int_eq(loads[0].loss_w, 2640 * 45 / 55 / 24);
    ck_assert(!loads[1].resistive && loads[1].full_mj == 0 && loads[1].loss_w == 0);
}
END_TEST

START_TEST(test_a_floor_needs_what_is_missing_and_once_due_what_fits_no_more)
{
    static struct house house;
    begin(&house);
    turn(&house, 1, 0);
    const struct findings_floor *floor = &house.told[0].floor[0];
    ck_assert(floor->open);
    ck_assert_int_eq(floor->needs_ms, 3 * HOUR);
    turn(&house, 16, 0);
    turn(&house, 16, 0);
    ck_assert_int_eq(floor->left_ms, HOUR);
    ck_assert_int_ge(floor->needs_ms, 3 * HOUR);
    ck_assert_int_eq(floor->missing, 3 * HOUR);
    ck_assert_int_eq(floor->deadline_s, 17 * 3600);
}
END_TEST

START_TEST(test_an_output_contradicts_by_what_it_reads_back_and_not_by_another_hand)
{
    static struct house house;
    begin(&house);
    turn(&house, 1, 0);
    house.news = (struct confirmation){.load = 1, .health = OUTPUT_CONFIRMED, .level_w = 3600};
    turn(&house, 1, 1);
    ck_assert(house.told[1].on && !house.told[1].contradicts);
    house.news.health = OUTPUT_UNSAFE;
    turn(&house, 1, 1);
    ck_assert(house.told[1].contradicts && !house.told[0].contradicts);
    turn(&house, 1, 0);
    ck_assert(!house.told[1].contradicts);
}
END_TEST

START_TEST(test_the_local_second_is_told_while_the_clock_is_trusted)
{
    static struct house house;
    begin(&house);
    ck_assert_int_eq(turn(&house, 7, 0).local_s, 7 * 3600);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_of_a_water_heater_the_tank_is_told_and_of_others_none,
        test_a_floor_needs_what_is_missing_and_once_due_what_fits_no_more,
        test_an_output_contradicts_by_what_it_reads_back_and_not_by_another_hand,
        test_the_local_second_is_told_while_the_clock_is_trusted,
    };
    return suite_run("finding_input", tests, COUNT_OF(tests));
}
