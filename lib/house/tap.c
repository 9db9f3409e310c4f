/* A draw that is defined by energy simply runs longer when the water is colder,
 * as a person who fills a basin does; each step is cut short where the energy is
 * reached, so that the profile's total comes out exactly. */
#include "house/tap.h"

#include "house/tank.h"

#define J_PER_KWH 3.6e6
#define AT(h, m) ((h)*3600 + (m)*60)
#define BASIN(h, m)                                                                                \
    {                                                                                              \
        .at_s = AT(h, m), .flow_l_min = 3, .wanted_c = 40, .energy_kwh = 0.105                     \
    }
#define SHOWER(h, m)                                                                               \
    {                                                                                              \
        .at_s = AT(h, m), .flow_l_min = 6, .wanted_c = 40, .energy_kwh = 1.4                       \
    }

const struct tap_draw tap_profile_m[] = {
    BASIN(7, 0),
    SHOWER(7, 5),
    BASIN(7, 30),
    BASIN(8, 1),
    BASIN(8, 15),
    BASIN(8, 30),
    BASIN(8, 45),
    BASIN(9, 0),
    BASIN(9, 30),
    BASIN(10, 30),
    BASIN(11, 30),
    BASIN(11, 45),
    {.at_s = AT(12, 45), .flow_l_min = 4, .wanted_c = 55, .energy_kwh = 0.315},
    BASIN(14, 30),
    BASIN(15, 30),
    BASIN(16, 30),
    BASIN(18, 0),
    BASIN(18, 15),
    BASIN(18, 30),
    BASIN(19, 0),
    {.at_s = AT(20, 30), .flow_l_min = 4, .wanted_c = 55, .energy_kwh = 0.735},
    BASIN(21, 15),
    SHOWER(21, 30),
};
#define BATH(h, m)                                                                                 \
    {                                                                                              \
        .at_s = AT(h, m), .flow_l_min = 10, .wanted_c = 40, .energy_kwh = 3.605                    \
    }

const struct tap_draw tap_profile_l[] = {
    BASIN(7, 0),   SHOWER(7, 5),
    BASIN(7, 30),  BASIN(7, 45),
    BATH(8, 5),    BASIN(8, 25),
    BASIN(8, 30),  BASIN(8, 45),
    BASIN(9, 0),   BASIN(9, 30),
    BASIN(10, 30), BASIN(11, 30),
    BASIN(11, 45), {.at_s = AT(12, 45), .flow_l_min = 4, .wanted_c = 55, .energy_kwh = 0.315},
    BASIN(14, 30), BASIN(15, 30),
    BASIN(16, 30), BASIN(18, 0),
    BASIN(18, 15), BASIN(18, 30),
    BASIN(19, 0),  {.at_s = AT(20, 30), .flow_l_min = 4, .wanted_c = 55, .energy_kwh = 0.735},
    BATH(21, 0),   BASIN(21, 30),
};
const int tap_profile_l_count = (int)(sizeof(tap_profile_l) / sizeof(tap_profile_l[0]));

const int tap_profile_m_count = (int)(sizeof(tap_profile_m) / sizeof(tap_profile_m[0]));

void tap_init(struct tap *tap, const struct tap_draw draws[], int count, int32_t now_s)
{
    *tap = (struct tap){.count = count, .last_s = now_s - 1};
    for (int i = 0; i < count; i++)
        tap->draw[i] = draws[i];
}

struct draw_kind {
    double share; /* of all draws */
    double least_l_min, most_l_min, wanted_c, least_s, most_s;
};

static const struct draw_kind draw_kinds[] = {
    {0.72, 2, 4, 40, 15, 120},   /* a basin */
    {0.13, 3, 5, 55, 30, 180},   /* dishes */
    {0.13, 6, 10, 40, 150, 540}, /* a shower */
    {0.02, 9, 11, 40, 540, 900}, /* a bath */
};

struct draw_time {
    double share;
    int32_t from_s, to_s;
};

static const struct draw_time draw_times[] = {
    {0.4, AT(6, 0), AT(9, 0)}, {0.4, AT(17, 0), AT(22, 0)}, {0.2, AT(6, 0), AT(23, 0)}};

static struct tap_draw random_draw(struct prng *prng)
{
    double kind = prng_unit(prng), time = prng_unit(prng);
    const struct draw_kind *k = draw_kinds;
    const struct draw_time *t = draw_times;
    for (; kind >= k->share && k < draw_kinds + 3; k++)
        kind -= k->share;
    for (; time >= t->share && t < draw_times + 2; t++)
        time -= t->share;
    return (struct tap_draw){.at_s = (int32_t)prng_between(prng, t->from_s, t->to_s),
                             .flow_l_min = prng_between(prng, k->least_l_min, k->most_l_min),
                             .wanted_c = k->wanted_c,
                             .seconds = prng_between(prng, k->least_s, k->most_s)};
}

/* A day of draws: none is running, they end before midnight. */
static void draw_a_day(struct tap *tap)
{
    double left_l = tap->litres_a_day * prng_between(&tap->prng, 0.5, 1.5);
    tap->count = tap->running = 0;
    while (left_l > 0 && tap->count < TAP_DRAWS_MAX) {
        struct tap_draw draw = random_draw(&tap->prng);
        double most_s = left_l / draw.flow_l_min * 60;
        if (draw.seconds > most_s)
            draw.seconds = most_s;
        left_l -= draw.seconds / 60 * draw.flow_l_min;
        tap->left[tap->count] = 0;
        tap->draw[tap->count++] = draw;
    }
}

void tap_init_random(struct tap *tap, double litres_a_day, uint64_t seed, int32_t now_s)
{
    *tap = (struct tap){.prng = {seed}, .litres_a_day = litres_a_day, .last_s = now_s - 1};
    draw_a_day(tap);
}

/* Draws of a skipped hour (summer time) come late, those of a repeated one twice. */
static void begin_due(struct tap *tap, int32_t now_s)
{
    if (now_s > tap->last_s && now_s < tap->next_s) {
        tap->last_s = now_s;
        return;
    }
    bool new_day = now_s < tap->last_s && tap->last_s - now_s > 12 * 3600;
    tap->next_s = INT32_MAX;
    if (new_day && tap->litres_a_day > 0)
        draw_a_day(tap);
    for (int i = 0; i < tap->count; i++) {
        const struct tap_draw *draw = &tap->draw[i];
        bool due = new_day ? draw->at_s <= now_s || draw->at_s > tap->last_s
                           : draw->at_s <= now_s && draw->at_s > tap->last_s;
        if (draw->at_s > now_s && draw->at_s < tap->next_s)
            tap->next_s = draw->at_s;
        if (!due)
            continue;
        tap->running -= tap->left[i] > 0;
        tap->left[i] = draw->energy_kwh > 0 ? draw->energy_kwh * J_PER_KWH : draw->seconds;
        tap->running += tap->left[i] > 0;
    }
    tap->last_s = now_s;
}

/* One running draw for at most dt_s; returns its hot litres. */
static double run_draw(struct tap *tap, int i, double dt_s, double hot_c, double inlet_c)
{
    const struct tap_draw *draw = &tap->draw[i];
    double mixed_c = hot_c < draw->wanted_c ? hot_c : draw->wanted_c;
    double l_s = draw->flow_l_min / 60;
    double w = l_s * WATER_J_PER_L_K * (mixed_c - inlet_c);
    bool by_energy = draw->energy_kwh > 0;
    if (w <= 0) {
        tap->left[i] = 0; /* a tank as cold as the main gives no heat: the tap is turned off */
        return 0;
    }
    double ends_s = by_energy ? tap->left[i] / w : tap->left[i];
    double run_s = ends_s < dt_s ? ends_s : dt_s;
    tap->left[i] = ends_s <= dt_s ? 0 : tap->left[i] - (by_energy ? w * run_s : run_s);
    tap->drawn_j += w * run_s;
    if (draw->wanted_c >= TAP_SPOILT_C && mixed_c < TAP_SPOILT_C)
        tap->spoilt_s += run_s;
    tap->mixed_c = mixed_c;
    return l_s * run_s * (mixed_c - inlet_c) / (hot_c - inlet_c);
}

double tap_step_l(struct tap *tap, int32_t now_s, double dt_s, double hot_c, double inlet_c)
{
    if (now_s != tap->last_s)
        begin_due(tap, now_s);
    tap->mixed_c = 0;
    double hot_l = 0;
    for (int i = 0; tap->running > 0 && i < tap->count; i++) {
        if (tap->left[i] <= 0)
            continue;
        hot_l += run_draw(tap, i, dt_s, hot_c, inlet_c);
        tap->running -= tap->left[i] <= 0;
    }
    return hot_l;
}

/* A layer at a time: the next one down may be colder. */
static double take_slice(struct tank *tank, const struct tap_flow *flow, double litres,
                         struct tap_taken *taken)
{
    double top_c = tank_at_c(tank, 1), wanted_k = flow->wanted_c - flow->inlet_c;
    double most_l = tank->settings.volume_l / tank->settings.layers / 2;
    double hot_share = top_c > flow->wanted_c ? wanted_k / (top_c - flow->inlet_c) : 1;
    if (litres * hot_share > most_l)
        litres = most_l / hot_share;
    double mixed_c = top_c < flow->wanted_c ? top_c : flow->wanted_c;
    if (mixed_c < flow->inlet_c)
        mixed_c = flow->inlet_c; /* a store colder than the main: the cold tap is as good */
    else
        tank_draw(tank, litres * hot_share, flow->inlet_c);
    double heat_j = litres * WATER_J_PER_L_K * (mixed_c - flow->inlet_c);
    taken->heat_j += heat_j;
    if (mixed_c < TAP_COOL_C && flow->wanted_c >= TAP_COOL_C)
        taken->cool_j += heat_j;
    taken->lack_j += litres * WATER_J_PER_L_K * (flow->wanted_c - mixed_c);
    if (mixed_c < taken->coldest_c)
        taken->coldest_c = mixed_c;
    return litres;
}

struct tap_taken tap_take(struct tank *tank, const struct tap_flow *flow)
{
    struct tap_taken taken = {.coldest_c = flow->wanted_c};
    if (flow->wanted_c <= flow->inlet_c)
        return taken; /* the main is warm enough */
    for (double left_l = flow->litres; left_l > 0;)
        left_l -= take_slice(tank, flow, left_l, &taken);
    return taken;
}
