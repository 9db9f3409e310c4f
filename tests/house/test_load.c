/* A load with its wiring, and what can go wrong with it. */
#include "house/fault.h"
#include "suite.h"

static const double volts[PHASES_MAX] = {240, 240, 240};

static struct house_load_settings heater_on(uint8_t phases)
{
    return (struct house_load_settings){.kind = HOUSE_HEATER,
                                        .power_w = 3600,
                                        .phases = phases,
                                        .contactors = 1,
                                        .heater = heater_usual(250, 3600),
                                        .start_c = 30,
                                        .inlet_c = 15};
}

static double draw_at(struct house_load *load, int32_t now_s)
{
    house_load_draw(load, 1, now_s, volts);
    return load->draw_w;
}

static double draw(struct house_load *load)
{
    return draw_at(load, 43200);
}

/* What flows with this fault while the coil is off and while it is on. */
static void check_fault(struct house_fault fault, double off_w, double on_w)
{
    struct house_load_settings settings = heater_on(1);
    struct house_load load;
    house_load_init(&load, &settings);
    house_fault_begin(&load, &fault);
    ck_assert_double_eq_tol(draw(&load), off_w, 1e-9);
    load.coil[0] = true;
    ck_assert_double_eq_tol(draw(&load), on_w, 1e-9);
    house_fault_end(&load, &fault);
    ck_assert_double_eq_tol(draw(&load), 3600, 1e-9);
    load.coil[0] = false;
    ck_assert_double_eq_tol(draw(&load), 0, 1e-9);
}

START_TEST(test_each_fault_of_wiring_shows_and_goes_again)
{
    check_fault((struct house_fault){FAULT_WELDED, 0, 0}, 3600, 3600);
    check_fault((struct house_fault){FAULT_BYPASSED, 0, 0}, 3600, 3600);
    check_fault((struct house_fault){FAULT_COIL_OPEN, 0, 0}, 0, 0);
    check_fault((struct house_fault){FAULT_BREAKER_OFF, 0, 0}, 0, 0);
    check_fault((struct house_fault){FAULT_SUPPLY_OFF, 0, 0}, 0, 0);
}
END_TEST

/* P = U^2/R: 2/3 of the rods are 2/3 of the power, 125 % of the resistance 80 %. */
START_TEST(test_each_fault_of_the_element_shows_and_goes_again)
{
    check_fault((struct house_fault){FAULT_ELEMENT_BROKEN, 0, 0}, 0, 0);
    check_fault((struct house_fault){FAULT_ELEMENT_LEFT, 0.5, 0}, 0, 1800);
    check_fault((struct house_fault){FAULT_ELEMENT_LEFT, 1.0 / 3, 0}, 0, 1200);
    check_fault((struct house_fault){FAULT_ELEMENT_LEFT, 2.0 / 3, 0}, 0, 2400);
    check_fault((struct house_fault){FAULT_ELEMENT_RESISTANCE, 1.25, 0}, 0, 2880);
    check_fault((struct house_fault){FAULT_THERMOSTAT_OPEN, 0, 0}, 0, 0);
    check_fault((struct house_fault){FAULT_CUT_OUT, 0, 0}, 0, 0);
}
END_TEST

START_TEST(test_faults_add_up_and_a_repair_takes_them_all)
{
    struct house_load_settings settings = heater_on(1);
    struct house_load load;
    house_load_init(&load, &settings);
    house_fault_begin(&load, &(struct house_fault){FAULT_WELDED, 0, 0});
    house_fault_begin(&load, &(struct house_fault){FAULT_ELEMENT_LEFT, 0.5, 0});
    house_fault_begin(&load, &(struct house_fault){FAULT_ELEMENT_RESISTANCE, 2, 0});
    ck_assert_double_eq_tol(draw(&load), 900, 1e-9);
    house_fault_begin(&load, &(struct house_fault){FAULT_BREAKER_OFF, 0, 0});
    ck_assert_double_eq(draw(&load), 0);
    house_fault_repair(&load);
    load.coil[0] = true;
    ck_assert_double_eq_tol(draw(&load), 3600, 1e-9);
}
END_TEST

START_TEST(test_a_leg_that_is_gone_is_missing_on_its_own_phase)
{
    struct house_load_settings settings = heater_on(7);
    struct house_load load;
    house_load_init(&load, &settings);
    load.coil[0] = true;
    house_fault_begin(&load, &(struct house_fault){FAULT_ELEMENT_LEFT, 0, 2});
    ck_assert_double_eq_tol(draw(&load), 2400, 1e-9);
    ck_assert_double_eq_tol(load.phase_w[0], 1200, 1e-9);
    ck_assert_double_eq(load.phase_w[1], 0);
    ck_assert_double_eq_tol(load.phase_w[2], 1200, 1e-9);
    house_fault_begin(&load, &(struct house_fault){FAULT_ELEMENT_LEFT, 0.75, 5});
    ck_assert_double_eq_tol(draw(&load), 1800, 1e-9); /* star without neutral: half in all */
}
END_TEST

/* A load on L2 and L3 has its first leg on L2. */
START_TEST(test_legs_are_counted_from_the_loads_own_phases)
{
    struct house_load_settings settings = heater_on(6);
    struct house_load load;
    house_load_init(&load, &settings);
    load.coil[0] = true;
    house_fault_begin(&load, &(struct house_fault){FAULT_ELEMENT_LEFT, 0, 4});
    ck_assert_double_eq_tol(draw(&load), 1800, 1e-9);
    ck_assert_double_eq_tol(load.phase_w[1], 1800, 1e-9);
}
END_TEST

START_TEST(test_what_the_sensed_contacts_show)
{
    const struct {
        enum house_fault_kind kind;
        bool coil, pulled_in, live;
    } seen[] = {
        {HOUSE_FAULTS, false, false, false},       {HOUSE_FAULTS, true, true, true},
        {FAULT_WELDED, false, true, true},         {FAULT_COIL_OPEN, true, false, false},
        {FAULT_BYPASSED, false, false, true},      {FAULT_BREAKER_OFF, true, true, false},
        {FAULT_SUPPLY_OFF, true, true, false},     {FAULT_ELEMENT_BROKEN, true, true, true},
        {FAULT_THERMOSTAT_OPEN, true, true, true},
    };
    struct house_load_settings settings = heater_on(1);
    for (size_t i = 0; i < sizeof(seen) / sizeof(seen[0]); i++) {
        struct house_load load;
        house_load_init(&load, &settings);
        load.coil[0] = seen[i].coil;
        house_fault_begin(&load, &(struct house_fault){seen[i].kind, 0, 0});
        draw(&load);
        ck_assert_msg(load.pulled_in == seen[i].pulled_in && load.live == seen[i].live, "row %zu",
                      i);
    }
}
END_TEST

START_TEST(test_the_hand_on_the_switch_goes_before_the_order)
{
    struct house_load_settings settings = heater_on(1);
    struct house_load load;
    house_load_init(&load, &settings);
    load.hand = SWITCH_ON;
    ck_assert_double_gt(draw(&load), 0);
    ck_assert(!load.relay);
    load.hand = SWITCH_OFF;
    load.coil[0] = true;
    ck_assert_double_eq(draw(&load), 0);
    ck_assert(load.relay);
    load.hand = SWITCH_AUTO;
    ck_assert_double_gt(draw(&load), 0);
    load.hand = SWITCH_ON;
    house_fault_begin(&load, &(struct house_fault){FAULT_COIL_OPEN, 0, 0});
    ck_assert_double_eq(draw(&load), 0);
}
END_TEST

START_TEST(test_outside_its_supply_hours_nothing_reaches_the_load)
{
    struct house_load_settings settings = heater_on(1);
    settings.supply[0] = (struct supply_hours){22 * 3600, 6 * 3600};
    settings.supply[1] = (struct supply_hours){12 * 3600, 14 * 3600};
    settings.supply_count = 2;
    struct house_load load;
    house_load_init(&load, &settings);
    load.coil[0] = true;
    const struct {
        int32_t at_s;
        bool live;
    } day[] = {{0, true},          {6 * 3600 - 1, true},   {6 * 3600, false}, {12 * 3600, true},
               {14 * 3600, false}, {22 * 3600 - 1, false}, {22 * 3600, true}};
    for (size_t i = 0; i < sizeof(day) / sizeof(day[0]); i++) {
        ck_assert((draw_at(&load, day[i].at_s) > 0) == day[i].live);
        ck_assert(load.pulled_in);
    }
    house_fault_begin(&load, &(struct house_fault){FAULT_WELDED, 0, 0});
    ck_assert_double_eq(draw_at(&load, 8 * 3600), 0);
}
END_TEST

START_TEST(test_a_normally_closed_contact_that_does_not_pull_in_stays_closed)
{
    struct house_load_settings settings = heater_on(1);
    settings.normally_closed = true;
    struct house_load load;
    house_load_init(&load, &settings);
    ck_assert_double_gt(draw(&load), 0);
    load.coil[0] = true;
    ck_assert_double_eq(draw(&load), 0);
    house_fault_begin(&load, &(struct house_fault){FAULT_COIL_OPEN, 0, 0});
    ck_assert_double_gt(draw(&load), 0);
}
END_TEST

START_TEST(test_a_motor_without_supply_stands)
{
    struct house_load_settings settings = {
        .kind = HOUSE_PUMP, .power_w = 1100, .phases = 1, .contactors = 1};
    struct house_load load;
    house_load_init(&load, &settings);
    load.coil[0] = true;
    ck_assert_double_gt(draw(&load), 1100);
    house_fault_begin(&load, &(struct house_fault){FAULT_BREAKER_OFF, 0, 0});
    ck_assert_double_eq(draw(&load), 0);
    house_fault_repair(&load);
    house_fault_begin(&load, &(struct house_fault){FAULT_ELEMENT_BROKEN, 0, 0});
    ck_assert_double_eq(draw(&load), 0);
}
END_TEST

START_TEST(test_a_step_is_booked_as_the_grids_and_the_suns)
{
    struct house_load_settings settings = heater_on(1);
    struct house_load load;
    house_load_init(&load, &settings);
    load.coil[0] = true;
    draw(&load);
    house_load_account(&load, 10, 600);
    ck_assert_double_eq_tol(load.energy_j, 36000, 1e-9);
    ck_assert_double_eq_tol(load.grid_j, 6000, 1e-9);
    ck_assert_double_eq_tol(load.sun_j, 30000, 1e-9);
    ck_assert_double_eq(load.drawing_s, 10);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_each_fault_of_wiring_shows_and_goes_again,
        test_each_fault_of_the_element_shows_and_goes_again,
        test_faults_add_up_and_a_repair_takes_them_all,
        test_a_leg_that_is_gone_is_missing_on_its_own_phase,
        test_legs_are_counted_from_the_loads_own_phases,
        test_what_the_sensed_contacts_show,
        test_the_hand_on_the_switch_goes_before_the_order,
        test_outside_its_supply_hours_nothing_reaches_the_load,
        test_a_normally_closed_contact_that_does_not_pull_in_stays_closed,
        test_a_motor_without_supply_stands,
        test_a_step_is_booked_as_the_grids_and_the_suns,
    };
    return RUN("load", tests);
}
