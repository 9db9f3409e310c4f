/* test_lumps.c - the table of lumps, computed anew from the incomplete gamma function:
 * its series (M. Abramowitz, I. A. Stegun, "Handbook of Mathematical Functions", 6.5.29,
 * from memory), its quantiles by halving. */
#include "store.h"

#include <math.h>

enum { CUTS = LUMPS - 1 };

static const double cut[CUTS] = {0.50, 0.75, 0.90, 0.96, 0.985};

/* Share of a gamma distribution of this shape and scale 1 that lies below x. */
static double below(double shape, double x)
{
    double term = 1 / shape, sum = term;
    for (double k = 1; k < 2000 && term > sum * 1e-15; k++) {
        term *= x / (shape + k);
        sum += term;
    }
    return x <= 0 ? 0 : sum * exp(shape * log(x) - x - lgamma(shape));
}

static double quantile(double shape, double share)
{
    double low = -60, high = log(shape + 100); /* of its logarithm */
    for (int k = 0; k < 200; k++) {
        double middle = (low + high) / 2;
        if (below(shape, exp(middle)) < share)
            low = middle;
        else
            high = middle;
    }
    return exp(low);
}

/* Mean of the piece from one cut to the next, where the whole's mean is 1000. */
static double piece_mean(double shape, int k)
{
    double from = k == 0 ? 0 : cut[k - 1], to = k == CUTS ? 1 : cut[k];
    double first = k == 0 ? 0 : below(shape + 1, quantile(shape, from));
    double last = k == CUTS ? 1 : below(shape + 1, quantile(shape, to));
    return 1000 * (last - first) / (to - from);
}

START_TEST(test_each_lump_is_the_mean_of_its_piece_of_a_gamma_distribution)
{
    for (int row = 0; row < 9; row++) {
        struct lumps lumps;
        double shape = ldexp(1, row - 4);
        int32_t mean_j = 1000000;
        lumps_of(mean_j, (int32_t)(mean_j / shape), &lumps);
        ck_assert_int_eq(lumps.count, LUMPS);
        for (int k = 0; k < LUMPS; k++) {
            double from = k == 0 ? 0 : cut[k - 1], to = k == CUTS ? 1 : cut[k];
            ck_assert_double_eq_tol(lumps.share[k] / 1000.0, to - from, 1e-9);
            double mean = piece_mean(shape, k);
            ck_assert_msg(fabs(lumps.amount_j[k] / 1000.0 - mean) <= 1 + mean / 1000,
                          "shape %g piece %d: %d, not %.2f", shape, k, lumps.amount_j[k] / 1000,
                          mean);
        }
    }
}
END_TEST

/* Cuts of the pieces that a guess is made of. */
static double cut_of(int k)
{
    double sum = 0;
    for (int i = 0; i < k; i++)
        sum += piece_share[i];
    return sum / PIECE_WHOLE;
}

START_TEST(test_each_piece_of_a_guess_is_the_mean_of_its_piece_of_a_gamma_distribution)
{
    for (int row = 0; row < 10; row++) {
        double shape = ldexp(1, row - 2), missing = 16384;
        struct piece piece[PIECES];
        belief_pieces((int32_t)missing, (int32_t)lround(missing / sqrt(shape)), piece);
        for (int k = 0; k < PIECES; k++) {
            bool last = k == PIECES - 1;
            double from = cut_of(k), to = cut_of(k + 1);
            double low = k == 0 ? 0 : quantile(shape, from), high = last ? 0 : quantile(shape, to);
            double share = (last ? 1 : below(shape + 1, high)) - (k ? below(shape + 1, low) : 0);
            double mean = missing * share / (to - from);
            double most = missing / sqrt(shape) / 100 + 2;
            ck_assert_msg(fabs(piece[k].missing - mean) <= most, "shape %g piece %d: %d, %.1f",
                          shape, k, piece[k].missing, mean);
            if (k > 0 && !last)
                ck_assert_msg(fabs(piece[k].width - (high - low) * missing / shape) <= 3 * most,
                              "shape %g piece %d: %d wide, not %.1f", shape, k, piece[k].width,
                              (high - low) * missing / shape);
        }
    }
}
END_TEST

/* What opens, what goes in and what is left, against the incomplete gamma function. */
START_TEST(test_what_heat_comes_to_is_that_of_a_gamma_distribution)
{
    for (uint64_t seed = 1; seed <= 60; seed++) {
        uint64_t c = seed;
        double missing = (double)seeded_between(&c, LEVEL, 30 * LEVEL);
        double spread = (double)seeded_between(&c, LEVEL / 2, 10 * LEVEL);
        double heat = (double)seeded_between(&c, LEVEL, 8 * LEVEL);
        spread = fmin(spread, 1.5 * missing);
        double shape = missing * missing / spread / spread, scale = missing / shape;
        struct heated heated = belief_heated((int32_t)missing, (int32_t)spread, (int32_t)heat);
        double open = below(shape, heat / scale);
        double used = missing * below(shape + 1, heat / scale) + heat * (1 - open);
        ck_assert_msg(fabs(heated.open / (double)HEATED_WHOLE - open) < 0.04,
                      "seed %" PRIu64 ": opens %d of 65536, not %.4f", seed, heated.open, open);
        ck_assert_msg(fabs(heated.used - used) < 0.02 * missing + 8,
                      "seed %" PRIu64 ": used %d, not %.1f", seed, heated.used, used);
        if (open < 0.9)
            ck_assert_msg(fabs(heated.missing - (missing - used) / (1 - open)) <
                              0.05 * missing + 16,
                          "seed %" PRIu64 ": left %d, not %.1f", seed, heated.missing,
                          (missing - used) / (1 - open));
    }
}
END_TEST

START_TEST(test_lumps_have_the_mean_that_they_were_made_of)
{
    for (uint64_t seed = 1; seed <= 2000; seed++) {
        uint64_t s = seed;
        struct lumps lumps;
        int64_t mean_j = seeded_between(&s, 1, 50 * (int64_t)J_PER_KWH), sum = 0, shares = 0;
        lumps_of(mean_j, (int32_t)seeded_between(&s, 0, 4 * J_PER_KWH), &lumps);
        for (int k = 0; k < lumps.count; k++) {
            ck_assert_int_ge(lumps.amount_j[k], 0);
            shares += lumps.share[k];
            sum += (int64_t)lumps.share[k] * lumps.amount_j[k];
        }
        ck_assert_int_eq(shares, 1000);
        ck_assert_msg(llabs(sum / 1000 - mean_j) <= mean_j / 500 + 6,
                      "seed %" PRIu64 ": mean %" PRId64 " of %" PRId64, seed, sum / 1000, mean_j);
    }
}
END_TEST

START_TEST(test_nothing_drawn_is_nothing_and_what_is_not_lumpy_is_its_mean)
{
    struct lumps lumps;
    lumps_of(0, J_PER_KWH, &lumps);
    ck_assert_int_eq(lumps.count, 1);
    ck_assert_int_eq(lumps.amount_j[0], 0);
    lumps_of(J_PER_KWH, 0, &lumps);
    ck_assert_int_eq(lumps.count, 1);
    ck_assert_int_eq(lumps.amount_j[0], J_PER_KWH);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_each_lump_is_the_mean_of_its_piece_of_a_gamma_distribution,
        test_lumps_have_the_mean_that_they_were_made_of,
        test_each_piece_of_a_guess_is_the_mean_of_its_piece_of_a_gamma_distribution,
        test_what_heat_comes_to_is_that_of_a_gamma_distribution,
        test_nothing_drawn_is_nothing_and_what_is_not_lumpy_is_its_mean,
    };
    return suite_run("lumps", tests, COUNT_OF(tests));
}
