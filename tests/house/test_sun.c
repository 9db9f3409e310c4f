/* The sun against almanacs, the sky against its own promises. */
#include <math.h>

#include "house/sky.h"
#include "house/sun.h"
#include "suite.h"

#define DEG(rad) ((rad)*180 / M_PI)

static const struct roof sydney = {.latitude_deg = -33.87, .longitude_deg = 151.21};

static double noon_altitude_deg(const struct roof *roof, int day)
{
    double best = -90;
    for (double h = -12; h < 36; h += 1.0 / 60)
        best = fmax(best, DEG(sun_at(roof, day, h).altitude_rad));
    return best;
}

/* Textbook geometry: at an equinox the noon sun stands 90 degrees less the
 * latitude high, at the solstices 23.44 degrees more and less. */
START_TEST(test_noon_heights_are_the_textbooks)
{
    ck_assert_double_eq_tol(noon_altitude_deg(&sydney, 80), 90 - 33.87, 0.7);
    ck_assert_double_eq_tol(noon_altitude_deg(&sydney, 355), 90 - 33.87 + 23.44, 0.2);
    ck_assert_double_eq_tol(noon_altitude_deg(&sydney, 172), 90 - 33.87 - 23.44, 0.2);
}
END_TEST

static double crossing_utc_h(int day, double from_h, double to_h)
{
    bool up = sun_at(&sydney, day, from_h).altitude_rad > 0;
    for (double h = from_h; h < to_h; h += 1.0 / 60)
        if ((sun_at(&sydney, day, h).altitude_rad > 0) != up)
            return h;
    return -1;
}

/* Almanac, from memory: on 14 January the sun rises in Sydney at about 5:58 and
 * sets at about 20:09, summer time (UTC+11). Refraction, which makes the day
 * about 8 min longer, is left out here. */
START_TEST(test_sydney_has_its_summer_day)
{
    ck_assert_double_eq_tol(crossing_utc_h(13, 17, 22) + 11 - 24, 5.97, 0.2);
    ck_assert_double_eq_tol(crossing_utc_h(14, 6, 12) + 11, 20.15, 0.2);
}
END_TEST

/* Meinel: about 947 W/m2 direct with the sun overhead, 1.04 kW/m2 with the
 * diffuse tenth, as textbooks of photovoltaics have it. */
START_TEST(test_an_overhead_sun_gives_about_a_kilowatt)
{
    struct roof flat = sydney;
    struct sun overhead = {M_PI / 2, 0};
    ck_assert_double_eq_tol(sun_on_panels_w_m2(&flat, overhead), 1.1 * 947, 2);
    ck_assert_double_eq(sun_on_panels_w_m2(&flat, (struct sun){-0.1, 0}), 0);
}
END_TEST

START_TEST(test_panels_that_face_the_sun_get_most)
{
    struct roof north = sydney, south = sydney;
    north.tilt_deg = south.tilt_deg = 30;
    south.azimuth_deg = 180;
    struct sun noon = sun_at(&sydney, 172, 2); /* winter noon in Sydney is about 02:00 UTC */
    ck_assert_double_gt(sun_on_panels_w_m2(&north, noon), 1.5 * sun_on_panels_w_m2(&south, noon));
    ck_assert_double_eq_tol(fabs(DEG(noon.azimuth_rad)), 0, 3);
}
END_TEST

static double mean_share(enum sky_kind kind, uint64_t seed, int from_h, int to_h)
{
    struct sky sky;
    double sum = 0, least = 1, most = 0;
    sky_init(&sky, kind, seed);
    for (int32_t s = 0; s < 86400; s++) {
        double share = sky_step(&sky, s, 1);
        least = fmin(least, share);
        most = fmax(most, share);
        sum += s >= from_h * 3600 && s < to_h * 3600 ? share : 0;
    }
    ck_assert_double_ge(least, 0);
    ck_assert_double_le(most, 1.1);
    return sum / ((to_h - from_h) * 3600);
}

START_TEST(test_a_wet_morning_is_dark_and_its_afternoon_bright)
{
    for (uint64_t seed = 1; seed <= 20; seed++) {
        ck_assert_double_le(mean_share(SKY_WET_MORNING, seed, 5, 12), 0.12);
        ck_assert_double_ge(mean_share(SKY_WET_MORNING, seed, 13, 18), 0.7);
        ck_assert_double_le(mean_share(SKY_OVERCAST, seed, 0, 24), 0.2);
        ck_assert_double_le(mean_share(SKY_DARK, seed, 0, 24), 0.03);
    }
    ck_assert_double_eq_tol(mean_share(SKY_CLEAR, 1, 0, 24), 1, 1e-9);
}
END_TEST

START_TEST(test_the_same_seed_gives_the_same_sky)
{
    ck_assert_double_eq(mean_share(SKY_CLOUDS, 7, 0, 24), mean_share(SKY_CLOUDS, 7, 0, 24));
    ck_assert_double_ne(mean_share(SKY_CLOUDS, 7, 0, 24), mean_share(SKY_CLOUDS, 8, 0, 24));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_noon_heights_are_the_textbooks,
        test_sydney_has_its_summer_day,
        test_an_overhead_sun_gives_about_a_kilowatt,
        test_panels_that_face_the_sun_get_most,
        test_a_wet_morning_is_dark_and_its_afternoon_bright,
        test_the_same_seed_gives_the_same_sky,
    };
    return RUN("sun", tests);
}
