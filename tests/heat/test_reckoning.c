/* test_reckoning.c - what a kWh in the store is worth, against the same reckoning written
 * again, slowly, in floating point and on a finer store.
 *
 * The naive reckoning shares nothing with the engine's but the model: past days
 * sorted by brightness at each half hour, five skies of which one follows another as
 * counted, two groups of days in each, a few amounts of heat, draws in lumps and in three parts. */
#include "store.h"

#include <math.h>
#include <string.h>

enum {
    FINE = 4,
    NAIVE_LEVELS = (HEAT_LEVELS - 1) * FINE + 1,
    SWEEPS = 4,
    GROUP_COUNT = 2,
    LEVELS_TOGETHER = 6
};

static struct store s;

/* ---- the naive reckoning -------------------------------------------------------- */

struct naive {
    double after[HEAT_SLOTS][HEAT_SKIES][NAIVE_LEVELS]; /* currency */
    double next[HEAT_SKIES][NAIVE_LEVELS];
    double bright[HEAT_SLOTS][HEAT_DAYS];              /* by day, the oldest first */
    double under_w[HEAT_SLOTS][HEAT_SKIES][HEAT_DAYS]; /* in the dark, of every sky the same */
    int under[HEAT_SLOTS][HEAT_SKIES];
    int sky[HEAT_SLOTS][HEAT_DAYS]; /* by day, the oldest first */
    bool light[HEAT_SLOTS];
    double turns[HEAT_SKIES][HEAT_SKIES];
    double full_kwh, step_kwh;
};

static struct naive naive;

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The share of days that had less than day d at time t; as much counts half. */
static double naive_rank(int d, int t)
{
    double less = 0;
    for (int k = 0; k < s.memory.days; k++) {
        int w = s.memory.spare_w[k][t], mine = s.memory.spare_w[d][t];
        less += w < mine ? 1 : w == mine ? 0.5 : 0;
    }
    return less / s.memory.days;
}

/* Two of five half hours' weight to the newest: a mean of about an hour. */
static void naive_bright(void)
{
    int days = s.memory.days;
    double bright = 0.5;
    for (int t = 0; t < HEAT_SLOTS; t++) {
        naive.light[t] = false;
        for (int d = 0; d < days; d++)
            naive.light[t] |= s.memory.spare_w[d][t] > 0;
    }
    for (int d = 0; d < days; d++)
        for (int t = 0; t < HEAT_SLOTS; t++) {
            if (naive.light[t])
                bright += 0.4 * (naive_rank(d, t) - bright);
            naive.bright[t][d] = bright;
        }
}

/* Days by brightness in five parts; in each, what there was to spare, the least first. */
static void naive_skies(void)
{
    int days = s.memory.days;
    naive_bright();
    for (int t = 0; t < HEAT_SLOTS; t++) {
        double edge[HEAT_DAYS];
        memcpy(edge, naive.bright[t], sizeof(edge));
        qsort(edge, (size_t)days, sizeof(double), ascending);
        for (int d = 0; d < days; d++) {
            int sky = 0;
            while (sky < HEAT_SKIES - 1 &&
                   naive.bright[t][d] >= edge[days * (sky + 1) / HEAT_SKIES])
                sky++;
            naive.sky[t][d] = sky;
            for (int k = 0; k < HEAT_SKIES; k++)
                if (k == sky || !naive.light[t])
                    naive.under_w[t][k][naive.under[t][k]++] = s.memory.spare_w[d][t];
        }
        for (int k = 0; k < HEAT_SKIES; k++)
            qsort(naive.under_w[t][k], (size_t)naive.under[t][k], sizeof(double), ascending);
    }
}

static void naive_turns(int slot)
{
    for (int i = 0; i < HEAT_SKIES; i++)
        for (int j = 0; j < HEAT_SKIES; j++)
            naive.turns[i][j] = i == j ? 9 : 1;
    for (int t = slot - 4; t <= slot + 4; t++) {
        bool within = t >= 0 && t < HEAT_SLOTS - 1;
        if (t != slot && !(within && naive.light[t] && naive.light[t + 1] && naive.light[slot]))
            continue;
        for (int d = 0; d < s.memory.days; d++) {
            int next_day = t + 1 == HEAT_SLOTS;
            if (d + next_day < s.memory.days)
                naive.turns[naive.sky[t][d]][naive.sky[(t + 1) % HEAT_SLOTS][d + next_day]] += 16;
        }
    }
}

static double at_level(const double value[NAIVE_LEVELS], double held_kwh)
{
    double level = held_kwh / naive.step_kwh;
    level = level < 0 ? 0 : level > NAIVE_LEVELS - 1 ? NAIVE_LEVELS - 1 : level;
    int low = level >= NAIVE_LEVELS - 1 ? NAIVE_LEVELS - 2 : (int)level;
    return value[low] + (level - low) * (value[low + 1] - value[low]);
}

/* What remains when so much is drawn, and what was missing. */
static double naive_draw(double held_kwh, double amount_kwh, double *missing_kwh)
{
    double least_kwh = naive.full_kwh * (1 - s.settings.usable_permille / 1000.0);
    double over_k = (s.settings.cold_mc - s.settings.room_mc) / 1000.0 +
                    held_kwh / naive.full_kwh * (s.settings.set_mc - s.settings.cold_mc) / 1000.0;
    held_kwh -= s.settings.loss_mwh / 1e6 / HEAT_SLOTS * over_k / 55;
    for (int k = 0; k < 3; k++) {
        double share = held_kwh >= least_kwh ? 1 : held_kwh <= 0 ? 0 : held_kwh / least_kwh;
        *missing_kwh += amount_kwh / 3 * (1 - share);
        held_kwh -= amount_kwh / 3 * share;
    }
    return held_kwh;
}

static void naive_before_draws(int slot, double before[HEAT_SKIES][NAIVE_LEVELS])
{
    struct lumps lumps;
    lumps_of(s.memory.drawn_j[slot], s.memory.lump_j / 5 * 7, &lumps);
    memset(before, 0, sizeof(double[HEAT_SKIES][NAIVE_LEVELS]));
    for (int g = 0; g < NAIVE_LEVELS; g++)
        for (int k = 0; k < lumps.count; k++) {
            double missing_kwh = 0;
            double held_kwh =
                naive_draw(g * naive.step_kwh, (double)lumps.amount_j[k] / J_PER_KWH, &missing_kwh);
            for (int i = 0; i < HEAT_SKIES; i++)
                before[i][g] += lumps.share[k] / 1000.0 *
                                (at_level(naive.next[i], held_kwh) +
                                 missing_kwh * s.settings.missing_micro / 1e6);
        }
}

static double heat_cost(double heat_kwh, double sun_share, double price, double feed_in)
{
    return heat_kwh * (sun_share * feed_in + (1 - sun_share) * price);
}

/* The cheapest of not heating and of some amounts of heat. */
static double naive_best(const double after[NAIVE_LEVELS], int g, double spare_w, double price,
                         double feed_in)
{
    double power_w = s.outlook.power_w, sun_w = fmin(fmax(spare_w, 0), power_w);
    double held_kwh = g * naive.step_kwh, best = after[g];
    for (int k = 0; k <= 3; k++) {
        double heat_kwh = k > 0 ? power_w * k / 3 / 2000 : sun_w / 2000;
        double share = k > 0 ? sun_w / power_w : 1;
        if (k == 0 && s.outlook.element == HEAT_SWITCHED)
            continue;
        heat_kwh = fmin(heat_kwh, naive.full_kwh - held_kwh);
        best = fmin(best, heat_cost(heat_kwh, share, price, feed_in) +
                              at_level(after, held_kwh + heat_kwh));
    }
    return best;
}

static void naive_before_heating(int slot, double price, double feed_in)
{
    for (int i = 0; i < HEAT_SKIES; i++) {
        int count = naive.under[slot][i];
        memset(naive.next[i], 0, sizeof(naive.next[i]));
        for (int k = 0; k < GROUP_COUNT; k++) {
            int first = count * k / 2, last = count * (k + 1) / 2;
            double mean_w = 0;
            for (int d = first; d < last; d++)
                mean_w += naive.under_w[slot][i][d] / (last - first);
            for (int g = 0; g < NAIVE_LEVELS; g++)
                naive.next[i][g] += naive_best(naive.after[slot][i], g, mean_w, price, feed_in) *
                                    (last - first) / count;
        }
    }
}

static void naive_slot(int slot)
{
    static double by_next[HEAT_SKIES][NAIVE_LEVELS];
    struct local local = {20000, slot * HEAT_SLOT_S};
    naive_before_draws(slot, by_next);
    naive_turns(slot);
    for (int i = 0; i < HEAT_SKIES; i++) {
        double all = 0;
        for (int j = 0; j < HEAT_SKIES; j++)
            all += naive.turns[i][j];
        for (int g = 0; g < NAIVE_LEVELS; g++) {
            naive.after[slot][i][g] = 0;
            for (int j = 0; j < HEAT_SKIES; j++)
                naive.after[slot][i][g] += naive.turns[i][j] / all * by_next[j][g];
        }
    }
    naive_before_heating(slot, tariff_price(&s.tariff, &local) / 1e6,
                         tariff_feed_in(&s.tariff, &local) / 1e6);
}

static void naive_reckon(void)
{
    memset(&naive, 0, sizeof(naive));
    naive.full_kwh = (double)heat_full_mj(&s.settings) / MJ_PER_J / J_PER_KWH;
    naive.step_kwh = naive.full_kwh / (NAIVE_LEVELS - 1);
    naive_skies();
    for (int k = 0; k < SWEEPS; k++)
        for (int slot = HEAT_SLOTS - 1; slot >= 0; slot--)
            naive_slot(slot);
}

static double naive_worth(int slot, int sky, int level)
{
    const double *after = naive.after[slot][sky];
    return (after[level * FINE] - after[(level + 1) * FINE]) / (naive.step_kwh * FINE) * 1e6;
}

/* ---- the comparison ---------------------------------------------------------------- */

static void random_store(uint64_t seed)
{
    store_make(&s);
    store_past(&s, seed, (int)seeded_between(&seed, 10, HEAT_DAYS));
    s.settings.volume_ml = (int32_t)seeded_between(&seed, 125, 400) * 1000;
    s.settings.usable_permille = (int32_t)seeded_between(&seed, 400, 950);
    s.settings.loss_mwh = (int32_t)seeded_between(&seed, 1000, 3000) * 1000;
    s.outlook.element = seeded_between(&seed, 0, 1) ? HEAT_FOLLOWS : HEAT_SWITCHED;
    s.outlook.power_w = (int32_t)seeded_between(&seed, 1800, 4800);
    s.tariff.feed_in_micro = (int32_t)seeded_between(&seed, 0, 120000);
    s.tariff.count = 2;
    s.tariff.band[1].price_micro = (int32_t)seeded_between(&seed, 130000, 550000);
    s.tariff.band[1].hours =
        (struct hours){.count = 1, .span = {{15 * 3600, 21 * 3600, WEEKDAYS_ALL}}};
}

/* Where it decides something: worth of up to a few times the price. */
static double compare(uint64_t seed, double *worst)
{
    double sum = 0;
    int count = 0;
    for (int slot = 0; slot < HEAT_SLOTS; slot++)
        for (int sky = 0; sky < HEAT_SKIES; sky++)
            for (int g = 4; g < HEAT_LEVELS - 1; g++) {
                double mine = fmin(store_worth(&s, slot, sky, g), 1e6);
                double theirs = fmin(naive_worth(slot, sky, g), 1e6);
                sum += fabs(mine - theirs);
                *worst = fmax(*worst, fabs(mine - theirs));
                count++;
            }
    printf("seed %" PRIu64 ": mean off by %.0f millionths, at most %.0f\n", seed, sum / count,
           *worst);
    return sum / count;
}

START_TEST(test_what_is_seen_is_worth_what_a_slow_reckoning_on_a_finer_store_says)
{
    for (uint64_t seed = 1; seed <= 8; seed++) {
        double worst = 0;
        random_store(seed);
        s.settings.probed = true;
        reckon(&s.settings, &s.memory, &s.outlook, 20000);
        naive_reckon();
        ck_assert_msg(compare(seed, &worst) < 10000, "seed %" PRIu64, seed);
    }
}
END_TEST

/* Over a few levels: a load that takes all or nothing has small steps in its worth. */
static double worth_of_some(int slot, int sky, int from)
{
    double sum = 0;
    for (int g = from; g < from + LEVELS_TOGETHER; g++)
        sum += store_worth(&s, slot, sky, g);
    return sum / LEVELS_TOGETHER;
}

START_TEST(test_more_heat_held_is_not_worth_more_a_kwh)
{
    for (uint64_t seed = 1; seed <= 8; seed++) {
        random_store(seed);
        reckon(&s.settings, &s.memory, &s.outlook, 20000);
        for (int slot = 0; slot < HEAT_SLOTS; slot++)
            for (int sky = 0; sky < HEAT_SKIES; sky++)
                for (int g = 0; g + 2 * LEVELS_TOGETHER < HEAT_LEVELS; g++) {
                    double less = worth_of_some(slot, sky, g);
                    double more = worth_of_some(slot, sky, g + LEVELS_TOGETHER);
                    ck_assert_msg(more <= less + 0.02 * fabs(less) + 10000,
                                  "seed %" PRIu64 " slot %d sky %d level %d: %.0f after %.0f", seed,
                                  slot, sky, g, more, less);
                }
    }
}
END_TEST

static double mean_worth(int slot)
{
    double sum = 0;
    for (int sky = 0; sky < HEAT_SKIES; sky++)
        for (int g = HEAT_LEVELS / 4; g < HEAT_LEVELS * 3 / 4; g++)
            sum += store_worth(&s, slot, sky, g);
    return sum / HEAT_SKIES / (HEAT_LEVELS / 2);
}

static double worth_with_evening_price(uint64_t seed, int32_t price_micro)
{
    random_store(seed);
    s.tariff.band[1].price_micro = price_micro;
    reckon(&s.settings, &s.memory, &s.outlook, 20000);
    return mean_worth(28);
}

START_TEST(test_dearer_evenings_make_heat_worth_more_in_the_afternoon)
{
    for (uint64_t seed = 1; seed <= 4; seed++) {
        double flat = worth_with_evening_price(seed, 300000);
        ck_assert_double_gt(worth_with_evening_price(seed, 600000), flat);
        ck_assert_double_lt(worth_with_evening_price(seed, 100000), flat);
    }
}
END_TEST

static double noon_worth(int16_t day_w)
{
    store_make(&s);
    store_past_flat(&s, 10, -300, day_w);
    reckon(&s.settings, &s.memory, &s.outlook, 20000);
    return mean_worth(NOON_SLOT);
}

START_TEST(test_a_dull_past_makes_heat_worth_more_at_noon)
{
    ck_assert_double_gt(noon_worth(-300), noon_worth(1500));
    ck_assert_double_gt(noon_worth(1500), noon_worth(5000));
}
END_TEST

/* With sun for all each day a kWh more saves what it would fetch, less what it loses till then. */
START_TEST(test_where_sun_is_plenty_heat_is_worth_its_feed_in)
{
    store_make(&s);
    store_past_flat(&s, 10, -300, 6000);
    reckon(&s.settings, &s.memory, &s.outlook, 20000);
    double worth = store_worth(&s, 19, 2, HEAT_LEVELS * 3 / 4);
    ck_assert_double_gt(worth, 40000);
    ck_assert_double_le(worth, 50500);
}
END_TEST

START_TEST(test_a_full_store_is_worth_nothing_more)
{
    random_store(3);
    reckon(&s.settings, &s.memory, &s.outlook, 20000);
    heat_full(&s.settings, &s.memory);
    memset(s.memory.belief, 0, sizeof(s.memory.belief));
    s.memory.belief[HEAT_LEVELS - 1] = BELIEF_WHOLE;
    s.memory.shift_mj = 0;
    for (int slot = 0; slot < HEAT_SLOTS; slot++)
        ck_assert_int_eq(store_worth_micro(&s.settings, &s.memory, slot, 3600), 0);
}
END_TEST

/* Warm air heats it beyond full: no more to pay than with less in it, in any half hour. */
START_TEST(test_a_store_in_air_warmer_than_its_water_is_never_worth_less_when_full)
{
    store_make(&s);
    s.settings.set_mc = 40000;
    s.settings.room_mc = 45000;
    heat_begin(&s.settings, &s.memory);
    store_past_flat(&s, HEAT_DAYS, -300, 1500);
    reckon(&s.settings, &s.memory, &s.outlook, 20000);
    for (int slot = 0; slot < HEAT_SLOTS; slot++)
        for (int sky = 0; sky < HEAT_SKIES; sky++)
            ck_assert_msg(store_worth(&s, slot, sky, HEAT_LEVELS - 2) >= 0, "slot %d sky %d: %.0f",
                          slot, sky, store_worth(&s, slot, sky, HEAT_LEVELS - 2));
}
END_TEST

START_TEST(test_the_same_past_gives_the_same_worth_bit_for_bit)
{
    static struct heat_memory first;
    random_store(5);
    reckon(&s.settings, &s.memory, &s.outlook, 20000);
    first = s.memory;
    random_store(5);
    reckon(&s.settings, &s.memory, &s.outlook, 20000);
    ck_assert_int_eq(memcmp(first.after, s.memory.after, sizeof(first.after)), 0);
    ck_assert_int_eq(memcmp(first.begin, s.memory.begin, sizeof(first.begin)), 0);
}
END_TEST

/* Ends of what heat_rows and the tariff allow; whoever builds with the sanitizers sees more. */
START_TEST(test_extreme_settings_stay_within_their_numbers)
{
    static const int32_t volume[] = {10000, 2000000}, price[] = {-1000000, 100000000};
    for (int k = 0; k < 8; k++) {
        store_make(&s);
        s.settings.volume_ml = volume[k & 1];
        s.settings.set_mc = 90000;
        s.settings.cold_mc = 1000;
        s.settings.usable_permille = k & 1 ? 1000 : 200;
        s.settings.missing_micro = 100000000;
        s.tariff.band[0].price_micro = price[k >> 1 & 1];
        s.outlook.power_w = k & 4 ? 100000 : 500;
        heat_begin(&s.settings, &s.memory);
        store_past_flat(&s, HEAT_DAYS, -32000, 32000);
        for (int day = 0; day < 3; day++)
            reckon(&s.settings, &s.memory, &s.outlook, 20000 + day);
        for (int slot = 0; slot < HEAT_SLOTS; slot++)
            for (int g = 0; g < HEAT_LEVELS - 1; g++)
                ck_assert_msg(store_worth(&s, slot, 2, g) >= -2e6, "case %d slot %d level %d: %.0f",
                              k, slot, g, store_worth(&s, slot, 2, g));
    }
}
END_TEST

/* In a currency of small coins: all amounts tenfold, and the worth as well. */
START_TEST(test_worth_does_not_depend_on_the_currency)
{
    random_store(7);
    reckon(&s.settings, &s.memory, &s.outlook, 20000);
    double one = mean_worth(30);
    random_store(7);
    s.settings.missing_micro = 100000000;
    s.tariff.feed_in_micro *= 10;
    for (int k = 0; k < 2; k++)
        s.tariff.band[k].price_micro *= 10;
    reckon(&s.settings, &s.memory, &s.outlook, 20000);
    ck_assert_double_eq_tol(mean_worth(30), 10 * one, 0.1 * one);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_what_is_seen_is_worth_what_a_slow_reckoning_on_a_finer_store_says,
        test_more_heat_held_is_not_worth_more_a_kwh,
        test_dearer_evenings_make_heat_worth_more_in_the_afternoon,
        test_a_dull_past_makes_heat_worth_more_at_noon,
        test_where_sun_is_plenty_heat_is_worth_its_feed_in,
        test_a_full_store_is_worth_nothing_more,
        test_a_store_in_air_warmer_than_its_water_is_never_worth_less_when_full,
        test_the_same_past_gives_the_same_worth_bit_for_bit,
        test_extreme_settings_stay_within_their_numbers,
        test_worth_does_not_depend_on_the_currency,
    };
    return suite_run("reckoning", tests, COUNT_OF(tests));
}
