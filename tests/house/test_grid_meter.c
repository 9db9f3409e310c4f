/* What the meter tells, sound and not. */
#include "house/grid_meter.h"
#include "suite.h"

static struct grid grid_with(double l1_w, double l2_w, double l3_w)
{
    struct grid_settings settings = {.phase_count = 3, .nominal_v = 230, .nominal_hz = 50};
    struct grid grid;
    grid_init(&grid, &settings);
    grid_step(&grid, 1, (double[]){l1_w, l2_w, l3_w});
    return grid;
}

static struct measured shown_with(struct grid_meter_settings settings,
                                  struct grid_meter_faults faults, const struct grid *grid)
{
    struct grid_meter meter;
    grid_meter_init(&meter, &settings, grid);
    meter.faults = faults;
    grid_meter_step(&meter, 3600, grid);
    return meter.shown;
}

static void check(struct measured m, double l1_w, double l2_w, double l3_w)
{
    ck_assert_double_eq_tol(m.w[0], l1_w, 1e-9);
    ck_assert_double_eq_tol(m.w[1], l2_w, 1e-9);
    ck_assert_double_eq_tol(m.w[2], l3_w, 1e-9);
    ck_assert_double_eq_tol(m.total_w, l1_w + l2_w + l3_w, 1e-9);
}

static const struct grid_meter_settings plain;

START_TEST(test_a_sound_meter_tells_the_truth)
{
    struct grid grid = grid_with(1000, 200, -500);
    struct measured m = shown_with(plain, (struct grid_meter_faults){0}, &grid);
    check(m, 1000, 200, -500);
    ck_assert_double_eq_tol(m.import_wh, 700, 1e-9);
    ck_assert_double_eq(m.export_wh, 0);
    for (int p = 0; p < 3; p++)
        ck_assert(m.v[p] == grid.phase_v[p] && m.a[p] == grid.phase_a[p]);
}
END_TEST

START_TEST(test_a_transformer_turned_round_changes_its_phases_sign_and_the_energy)
{
    struct grid grid = grid_with(1000, 200, -500);
    struct measured m = shown_with(plain, (struct grid_meter_faults){.reversed = 1}, &grid);
    check(m, -1000, 200, -500);
    ck_assert_double_eq_tol(m.export_wh, 1300, 1e-9);
    ck_assert_double_eq(m.import_wh, 0);
    ck_assert_double_gt(m.a[0], 0);
}
END_TEST

START_TEST(test_exchanged_phases_show_each_others_power)
{
    struct grid grid = grid_with(1000, 200, -500);
    struct measured m = shown_with(plain, (struct grid_meter_faults){.exchanged = 3}, &grid);
    check(m, 200, 1000, -500);
    ck_assert_double_eq(m.v[0], grid.phase_v[1]);
    ck_assert_double_eq(m.a[1], grid.phase_a[0]);
}
END_TEST

/* cos 120 degrees is -1/2. */
START_TEST(test_transformers_exchanged_alone_show_minus_half)
{
    struct grid grid = grid_with(1000, 200, -500);
    struct measured m = shown_with(plain, (struct grid_meter_faults){.crossed = 6}, &grid);
    check(m, 1000, 250, -100);
    ck_assert_double_eq(m.v[1], grid.phase_v[1]);
    ck_assert_double_eq(m.a[1], grid.phase_a[2]);
}
END_TEST

START_TEST(test_a_meter_the_wrong_way_round_counts_the_other_way)
{
    struct grid grid = grid_with(1000, 200, -500);
    struct grid_meter_settings settings = {
        .inverted = true, .start_import_wh = 10, .start_export_wh = 20};
    struct measured m = shown_with(settings, (struct grid_meter_faults){0}, &grid);
    check(m, -1000, -200, 500);
    ck_assert_double_eq_tol(m.export_wh, 710, 1e-9);
    ck_assert_double_eq_tol(m.import_wh, 20, 1e-9);
}
END_TEST

START_TEST(test_powers_are_told_as_finely_as_the_meter_can)
{
    struct grid grid = grid_with(1234.5, 43, -51);
    const struct {
        double resolution_w, w[3], total_w;
    } rows[] = {
        {1, {1235, 43, -51}, 1227}, {10, {1230, 40, -50}, 1230}, {100, {1200, 0, -100}, 1200}};
    for (int i = 0; i < 3; i++) {
        struct grid_meter_settings settings = {.resolution_w = rows[i].resolution_w};
        struct measured m = shown_with(settings, (struct grid_meter_faults){0}, &grid);
        for (int p = 0; p < 3; p++)
            ck_assert_double_eq_tol(m.w[p], rows[i].w[p], 1e-9);
        ck_assert_double_eq_tol(m.total_w, rows[i].total_w, 1e-9);
        ck_assert_double_eq_tol(m.import_wh, 1226.5, 1e-9);
    }
}
END_TEST

START_TEST(test_noise_stays_within_its_bounds_and_repeats)
{
    struct grid grid = grid_with(1000, 0, 0);
    struct grid_meter_settings settings = {.noise_w = 20, .seed = 7};
    struct grid_meter one, two;
    grid_meter_init(&one, &settings, &grid);
    grid_meter_init(&two, &settings, &grid);
    double least = 1000, most = 1000;
    for (int i = 0; i < 1000; i++) {
        grid_meter_step(&one, 1, &grid);
        grid_meter_step(&two, 1, &grid);
        ck_assert_double_eq(one.shown.w[0], two.shown.w[0]);
        ck_assert_double_eq_tol(one.shown.w[0], 1000, 20);
        least = one.shown.w[0] < least ? one.shown.w[0] : least;
        most = one.shown.w[0] > most ? one.shown.w[0] : most;
    }
    ck_assert_double_lt(least, 985);
    ck_assert_double_gt(most, 1015);
    ck_assert_double_eq_tol(one.import_wh, 1000.0 * 1000 / 3600, 1e-6);
}
END_TEST

START_TEST(test_a_meter_that_is_looked_at_now_and_then_tells_that_moment)
{
    struct grid_meter_settings settings = {.every_s = 5};
    struct grid grid = grid_with(0, 0, 0);
    struct grid_meter meter;
    grid_meter_init(&meter, &settings, &grid);
    for (int s = 1; s <= 20; s++) {
        grid = grid_with(s, 0, 0);
        grid_meter_step(&meter, 1, &grid);
        ck_assert_double_eq(meter.shown.w[0], s / 5 * 5);
        ck_assert(meter.fresh == (s % 5 == 0));
    }
}
END_TEST

START_TEST(test_a_stuck_meter_stands_still_and_goes_on_counting)
{
    struct grid grid = grid_with(1000, 0, 0);
    struct grid_meter meter;
    grid_meter_init(&meter, &plain, &grid);
    grid_meter_step(&meter, 1, &grid);
    meter.faults.stuck = true;
    grid = grid_with(3000, 0, 0);
    grid_meter_step(&meter, 3600, &grid);
    ck_assert_double_eq(meter.shown.w[0], 1000);
    ck_assert(!meter.fresh);
    meter.faults.stuck = false;
    grid_meter_step(&meter, 1, &grid);
    ck_assert_double_eq(meter.shown.w[0], 3000);
    ck_assert_double_gt(meter.shown.import_wh, 3000);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_sound_meter_tells_the_truth,
        test_a_transformer_turned_round_changes_its_phases_sign_and_the_energy,
        test_exchanged_phases_show_each_others_power,
        test_transformers_exchanged_alone_show_minus_half,
        test_a_meter_the_wrong_way_round_counts_the_other_way,
        test_powers_are_told_as_finely_as_the_meter_can,
        test_noise_stays_within_its_bounds_and_repeats,
        test_a_meter_that_is_looked_at_now_and_then_tells_that_moment,
        test_a_stuck_meter_stands_still_and_goes_on_counting,
    };
    return RUN("grid_meter", tests);
}
