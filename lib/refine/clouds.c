/* clouds.c - clouds that make up an hour's mean.
 *
 * A row's mean tells how much of a clear sky's light came through, but not how: seventy
 * hundredths may be an even layer or bright gaps between thick clouds, and for a switched
 * load that is all the difference. So a row is either even (a clear sky or a layer, whose
 * thickness drifts over minutes) or broken (clouds and gaps in turn, each of its own
 * length and thickness; between clouds their bright sides add to the light). Which one is
 * drawn, by the share of the light, and tends to stay from row to row.
 *
 * Lengths of clouds spread over a decade and more, so each spell of broken sky draws its
 * own mean between LENGTH_LEAST_S and LENGTH_MOST_S, evenly by ratio. The share of gaps
 * follows from the row's mean, and in the end everything is scaled to it.
 *
 * Figures were set by three measured days of minutes (see tests/trial/test_refine.c for
 * which, and for what still differs). */
#include "refine/clouds.h"

#include <math.h>

static const double LENGTH_LEAST_S = 60, LENGTH_MOST_S = 400;
static const double EDGE_S = 12;                         /* how fast the light follows */
static const double GAP_LEAST = 1.0, GAP_MOST = 1.35;    /* the light between clouds */
static const double CLOUD_LEAST = 0.8, CLOUD_MOST = 1.2; /* of the clouds' mean share */
static const double DRIFT_LEAST_S = 180, DRIFT_MOST_S = 600;
static const double STAYS = 0.6; /* the chance that a row is as the one before */

/* By the light's share: how often the sky is broken, how far an even one drifts. */
static const struct sky_row {
    double below;
    double broken, drift;
} sky_rows[] = {
    {0.25, 0.02, 0.2}, {0.45, 0.04, 0.15}, {0.92, 0.3, 0.13}, {0.97, 0.1, 0.02}, {99, 0, 0.004},
};

enum { SAMPLES_MAX = REFINE_PIECES_MAX };

void refine_sun_begin(struct refine_sun *sun, uint64_t seed)
{
    *sun = (struct refine_sun){.prng = {seed}, .share = 1, .aims = 1, .from = 0, .to = 0};
}

static const struct sky_row *sky_of(double share)
{
    const struct sky_row *row = sky_rows;
    while (share >= row->below)
        row++;
    return row;
}

/* A bright hour beside a dim one is bright between clouds. */
static double chance_of_broken(const struct refine_row *row)
{
    double chance = sky_of(row->share)->broken;
    double dimmest = fmin(row->before_share, row->after_share);
    return dimmest < row->share - 0.15 && row->share > 0.8 ? fmax(chance, 0.6) : chance;
}

static void draw_sky(struct refine_sun *sun, const struct refine_row *row)
{
    double chance = chance_of_broken(row);
    bool was = sun->broken;
    if (chance < 0.05 || !(prng_unit(&sun->prng) < STAYS))
        sun->broken = prng_unit(&sun->prng) < chance;
    if (sun->broken && !was)
        sun->cloud_mean_s =
            LENGTH_LEAST_S * pow(LENGTH_MOST_S / LENGTH_LEAST_S, prng_unit(&sun->prng));
}

/* ---- even ---------------------------------------------------------------------- */

static double drift(struct refine_sun *sun, double dt_s, double extent)
{
    sun->drifted_s += dt_s;
    if (sun->drifted_s >= sun->drift_s) {
        sun->from = sun->to;
        sun->to = prng_between(&sun->prng, -1, 1);
        sun->drift_s = prng_between(&sun->prng, DRIFT_LEAST_S, DRIFT_MOST_S);
        sun->drifted_s = 0;
    }
    return 1 + extent * (sun->from + (sun->to - sun->from) * sun->drifted_s / sun->drift_s);
}

/* ---- broken --------------------------------------------------------------------- */

/* Shares of the light in clouds, and of time in gaps, that give the row's mean. */
struct mix {
    double cloud_share, gap_time;
};

static struct mix mix_of(double share)
{
    const double gap_share = (GAP_LEAST + GAP_MOST) / 2;
    struct mix mix = {.cloud_share = fmin(0.55, share * 0.75)};
    mix.gap_time = (share - mix.cloud_share) / (gap_share - mix.cloud_share);
    mix.gap_time = fmin(0.9, fmax(0.05, mix.gap_time));
    return mix;
}

static double cloud(struct refine_sun *sun, double dt_s, double follows, const struct mix *mix)
{
    sun->left_s -= dt_s;
    if (sun->left_s <= 0) {
        double gap_mean_s = sun->cloud_mean_s * mix->gap_time / (1 - mix->gap_time);
        sun->in_cloud = !sun->in_cloud;
        sun->left_s = prng_exponential(&sun->prng, sun->in_cloud ? sun->cloud_mean_s : gap_mean_s);
        sun->aims = sun->in_cloud
                        ? mix->cloud_share * prng_between(&sun->prng, CLOUD_LEAST, CLOUD_MOST)
                        : prng_between(&sun->prng, GAP_LEAST, GAP_MOST);
    }
    sun->share += (sun->aims - sun->share) * follows;
    return sun->share;
}

/* ---- a row ------------------------------------------------------------------------ */

/* A line through the rows' middles; at: 0..1 of the row. */
static double between(double before, double here, double after, double at)
{
    return at < 0.5 ? here + (before - here) * (0.5 - at) : here + (after - here) * (at - 0.5);
}

void refine_sun_row(struct refine_sun *sun, const struct refine_row *row,
                    struct refine_pieces *pieces)
{
    double sample_w[SAMPLES_MAX];
    int32_t sample_s = row->step_s % 5 ? 1 : 5;
    int count = row->step_s / sample_s;
    const struct mix mix = mix_of(row->share);
    double extent = sky_of(row->share)->drift, follows = 1 - exp(-sample_s / EDGE_S);
    if (row->mean_w > 0)
        draw_sky(sun, row);
    for (int k = 0; k < count; k++) {
        double at = (k + 0.5) / count;
        double clear_w = between(row->before_clear_w, row->clear_w, row->after_clear_w, at);
        double share = between(row->before_share, row->share, row->after_share, at);
        double drifts = drift(sun, sample_s, sun->broken ? 0.02 : extent);
        sample_w[k] =
            clear_w * drifts * (sun->broken ? cloud(sun, sample_s, follows, &mix) : share);
    }
    const struct refine_want want = {row->mean_w, row->most_w, fmax(10, 0.01 * row->clear_w)};
    refine_pieces_of(pieces, sample_w, count, sample_s, &want);
}
