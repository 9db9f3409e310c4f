/* refine.c - goes through the rows, and weaves the sun's pieces and the household's into
 * rows of seconds.
 *
 * What a clear sky would give is taken from the days themselves where nobody tells it:
 * the most that the same time of day gave within a fortnight to either side. The calmest
 * use is the least within half a day to either side. */
#include "refine/refine.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "refine/appliances.h"
#include "refine/clouds.h"

enum { FORTNIGHT = 14, S_PER_DAY = 86400, S_PER_MIN = 60, S_PER_HOUR = 3600 };

/* How far the bright edges of clouds pass the best hour's mean. */
static const float BRIGHT_EDGES = 1.25f;

struct weave {
    const struct days *days;
    const struct refine_settings *settings;
    float *clear_w, *middle_w, *base_w;
    float most_w; /* that the roof gives at any moment */
    struct refine_sun sun;
    struct refine_use use;
    struct refine_pieces sun_pieces, use_pieces;
    struct days *fine;
    size_t capacity;
};

/* ---- around a row ---------------------------------------------------------------- */

static float most_around(const struct days *days, size_t row)
{
    size_t a_day = (size_t)(S_PER_DAY / days->step_s);
    float most = 0;
    for (int day = -FORTNIGHT; day <= FORTNIGHT; day++) {
        int64_t other = (int64_t)row + day * (int64_t)a_day;
        if (other >= 0 && other < (int64_t)days->count && days->solar_w[other] > most)
            most = days->solar_w[other];
    }
    return most;
}

static float least_around(const struct days *days, size_t row)
{
    int64_t half = S_PER_DAY / 2 / days->step_s;
    int64_t from = (int64_t)row - half, to = (int64_t)row + half;
    float least = days->use_w[row];
    for (int64_t k = from < 0 ? 0 : from; k <= to && k < (int64_t)days->count; k++)
        least = days->use_w[k] < least ? days->use_w[k] : least;
    return least;
}

/* What a line has at the rows' middles whose means are the rows': a line through the
 * means themselves would cut off the tops. Its mean over a row is an eighth of either
 * neighbour and six eighths of its own; what that lacks is added, a few times over. */
static void find_middles(const float *mean_w, size_t count, float *middle_w)
{
    memcpy(middle_w, mean_w, count * sizeof(float));
    for (int round = 0; round < 4; round++)
        for (size_t k = 0; k < count; k++) {
            float before = middle_w[k > 0 ? k - 1 : k];
            float after = middle_w[k + 1 < count ? k + 1 : k];
            float lacks = mean_w[k] - (before + 6 * middle_w[k] + after) / 8;
            middle_w[k] = fmaxf(0, middle_w[k] + lacks);
        }
}

static bool look_around(struct weave *weave)
{
    const struct days *days = weave->days;
    weave->clear_w = malloc(days->count * sizeof(float));
    weave->middle_w = malloc(days->count * sizeof(float));
    weave->base_w = malloc(days->count * sizeof(float));
    if (!weave->clear_w || !weave->middle_w || !weave->base_w)
        return false;
    if (weave->settings->clear_w)
        memcpy(weave->clear_w, weave->settings->clear_w, days->count * sizeof(float));
    for (size_t row = 0; row < days->count; row++) {
        if (!weave->settings->clear_w)
            weave->clear_w[row] = most_around(days, row);
        weave->base_w[row] = least_around(days, row);
    }
    for (size_t row = 0; row < days->count; row++)
        weave->most_w = fmaxf(weave->most_w, BRIGHT_EDGES * weave->clear_w[row]);
    find_middles(weave->clear_w, days->count, weave->middle_w);
    return true;
}

static double share_of(const struct weave *weave, size_t row)
{
    double clear_w = weave->clear_w[row], mean_w = weave->days->solar_w[row];
    return clear_w < 1 ? 1 : fmin(1.3, mean_w / clear_w);
}

static struct refine_row sun_row(const struct weave *weave, size_t row)
{
    size_t before = row > 0 ? row - 1 : row;
    size_t after = row + 1 < weave->days->count ? row + 1 : row;
    return (struct refine_row){
        .step_s = weave->days->step_s,
        .mean_w = weave->days->solar_w[row],
        .most_w = weave->most_w,
        .before_clear_w = weave->middle_w[before],
        .clear_w = weave->middle_w[row],
        .after_clear_w = weave->middle_w[after],
        .before_share = share_of(weave, before),
        .share = share_of(weave, row),
        .after_share = share_of(weave, after),
    };
}

/* ---- rows of seconds ---------------------------------------------------------------- */

static bool grow(struct days *fine, size_t capacity)
{
    float *use_w = realloc(fine->use_w, capacity * sizeof(float));
    fine->use_w = use_w ? use_w : fine->use_w;
    float *solar_w = realloc(fine->solar_w, capacity * sizeof(float));
    fine->solar_w = solar_w ? solar_w : fine->solar_w;
    uint16_t *lasts = realloc(fine->lasts, capacity * sizeof(uint16_t));
    fine->lasts = lasts ? lasts : fine->lasts;
    return use_w && solar_w && lasts;
}

/* A single row may become as many as it has seconds. */
static bool has_room(struct weave *weave)
{
    if (weave->fine->count + S_PER_HOUR <= weave->capacity)
        return true;
    size_t capacity = weave->capacity ? weave->capacity * 2 : 1 << 16;
    if (!grow(weave->fine, capacity))
        return false;
    weave->capacity = capacity;
    return true;
}

/* Both sequences are as long as the row; each change of either begins a new row. */
static void weave_pieces(struct weave *weave)
{
    struct days *fine = weave->fine;
    const struct refine_piece *sun = weave->sun_pieces.piece, *use = weave->use_pieces.piece;
    int32_t left_s = weave->days->step_s, sun_s = sun->lasts_s, use_s = use->lasts_s;
    while (left_s > 0) {
        int32_t part_s = sun_s < use_s ? sun_s : use_s;
        fine->use_w[fine->count] = (float)use->w;
        fine->solar_w[fine->count] = (float)sun->w;
        fine->lasts[fine->count++] = (uint16_t)part_s;
        left_s -= part_s;
        sun_s -= part_s;
        use_s -= part_s;
        if (left_s > 0 && sun_s == 0)
            sun_s = (++sun)->lasts_s;
        if (left_s > 0 && use_s == 0)
            use_s = (++use)->lasts_s;
    }
}

static void keep(struct refine_pieces *pieces, int32_t step_s, double w)
{
    pieces->count = 1;
    pieces->piece[0] = (struct refine_piece){step_s, w};
}

static bool weave_row(struct weave *weave, size_t row)
{
    const struct days *days = weave->days;
    if (!has_room(weave))
        return false;
    if (weave->settings->keep_solar || days->solar_w[row] <= 0) {
        keep(&weave->sun_pieces, days->step_s, days->solar_w[row]);
    } else {
        struct refine_row sun = sun_row(weave, row);
        refine_sun_row(&weave->sun, &sun, &weave->sun_pieces);
    }
    if (weave->settings->keep_use)
        keep(&weave->use_pieces, days->step_s, days->use_w[row]);
    else
        refine_use_row(&weave->use, days->step_s, days->use_w[row], weave->base_w[row],
                       &weave->use_pieces);
    weave_pieces(weave);
    return true;
}

static bool weave_all(struct weave *weave)
{
    const struct days *days = weave->days;
    if (!look_around(weave))
        return false;
    refine_sun_begin(&weave->sun, weave->settings->seed);
    refine_use_begin(&weave->use, weave->settings->seed ^ UINT64_C(0x5deece66d));
    for (size_t row = 0; row < days->count; row++)
        if (!weave_row(weave, row))
            return false;
    return true;
}

static bool copy_draws(const struct days *days, struct days *fine)
{
    if (!days->draw_l)
        return true;
    fine->draw_l = malloc(days->draw_count * sizeof(float));
    if (!fine->draw_l)
        return false;
    memcpy(fine->draw_l, days->draw_l, days->draw_count * sizeof(float));
    fine->draw_step_s = days->draw_step_s;
    fine->draw_count = days->draw_count;
    return true;
}

bool refine_days(const struct days *days, const struct refine_settings *settings, struct days *fine)
{
    *fine = (struct days){
        .first = days->first, .step_s = 1, .steps = days->steps * (size_t)days->step_s};
    if (days->step_s <= S_PER_MIN || days->step_s > S_PER_HOUR || days->lasts)
        return false;
    struct weave *weave = calloc(1, sizeof(*weave));
    if (!weave)
        return false;
    weave->days = days;
    weave->settings = settings;
    weave->fine = fine;
    bool done = copy_draws(days, fine) && weave_all(weave);
    free(weave->clear_w);
    free(weave->middle_w);
    free(weave->base_w);
    free(weave);
    if (!done)
        days_free(fine);
    return done;
}
