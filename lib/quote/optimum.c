/* The cost still to come is a function of the heat in the tank. At the end it is
 * straight; each step backwards keeps it convex and piecewise linear:
 *
 *   heat   cost(E) = min over q of price * q + cost(E + q): a piece with slope -price is
 *          put where it belongs, and as much falls off the empty end;
 *   draw   a tank at or above the wanted temperature loses d: shift. Below, it gives the
 *          share r (litres / volume) of what it holds above the inlet, and the rest is
 *          unmet: slopes s become (1 - r) s - r u, lengths grow by 1 / (1 - r). At the
 *          kink the slope rises by r (s + u), and s >= -u always (a kWh in the tank can
 *          save at most one kWh unmet), so delivered temperature needs no relaxing;
 *   loss   E becomes k E + b: the abscissa is scaled.
 *
 * A tank holds some seventy 5-minute steps of heat, so the function stays at some
 * hundred pieces however long the year. To follow it forwards it is kept at every
 * root-of-steps-th step, and the block between two of those is worked out again. */
#include "quote/optimum.h"

#include <assert.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "house/tank.h"
#include "quote/optimum_curve.h"

#define J_PER_KWH 3.6e6
#define LOSS_TEST_K 55.0

/* A curve laid away. */
struct kept_curve {
    double *piece; /* count slopes, then count lengths */
    size_t count;
    double at_full;
};

struct optimum {
    struct optimum_problem problem;
    double heat_kwh_k;  /* of the whole tank */
    double litre_kwh_k; /* of a litre */
    double full_kwh;    /* above water at 0 C, as all heat here */
    double span_kwh;    /* from the coldest that can be to full */
    double most_kwh;    /* the element in a step */
    double export_kwh;  /* the most that is exported in a step */
    double kept;        /* of the difference to the room, over a step */
    double *coldest_c;  /* [count] the coldest water that can be in the tank by then */
    double house;       /* cost of the house without the heater */
    double bound;
    size_t block;              /* steps */
    size_t mark_count;         /* marks are at multiples of block, and the end */
    struct kept_curve *mark;   /* [mark_count] */
    struct kept_curve *cached; /* [block + 1] the cost at each step of one block */
    size_t cached_block;
};

static double kwh(const struct optimum *optimum, double water_c)
{
    return water_c * optimum->heat_kwh_k;
}

/* What a step asks of the tank: it gives wanted_kwh, or, if that is more, the share of
 * what it holds above `above_kwh`. */
struct draw {
    double wanted_kwh, share, above_kwh;
    double never_kwh; /* wanted, but more than any tank could give */
};

static struct draw draw_of(const struct optimum *optimum, size_t n)
{
    const struct optimum_problem *problem = &optimum->problem;
    const struct optimum_step *step = &problem->step[n];
    if (step->draw_l <= 0 || step->inlet_c >= problem->wanted_c)
        return (struct draw){0};
    double l_kwh_k = step->draw_l * optimum->litre_kwh_k;
    double wanted = l_kwh_k * (problem->wanted_c - step->inlet_c);
    double above = kwh(optimum, optimum->coldest_c[n]);
    if (problem->layered) {
        double hottest = l_kwh_k * (problem->full_c - step->inlet_c);
        double can = wanted < hottest ? wanted : hottest;
        return (struct draw){can, 1, above, wanted - can};
    }
    double share = step->draw_l < problem->volume_l ? step->draw_l / problem->volume_l : 1;
    double enough = kwh(optimum, step->inlet_c) + wanted / share;
    return (struct draw){wanted, wanted / (enough - above), above, 0};
}

/* Where the element's heat comes from in a step, in the order in which it is taken:
 * what the inverter would throttle, what would be exported, the grid. */
enum { SOURCES = 3 };

struct offer {
    double price[SOURCES], kwh[SOURCES];
};

static double spare_kwh(const struct optimum *optimum, size_t n)
{
    const struct optimum_step *step = &optimum->problem.step[n];
    double spare_w = step->solar_w - step->use_w;
    return spare_w > 0 ? spare_w * optimum->problem.step_s / J_PER_KWH : 0;
}

/* All that the element can take in a step. */
static struct offer sources_of(const struct optimum *optimum, size_t n)
{
    const struct optimum_step *step = &optimum->problem.step[n];
    double left = optimum->most_kwh, spare = spare_kwh(optimum, n);
    double throttled = spare > optimum->export_kwh ? spare - optimum->export_kwh : 0;
    struct offer offer = {{0, step->feed_in_price, step->import_price},
                          {throttled, spare - throttled, left}};
    for (int i = 0; i < SOURCES; i++) {
        offer.kwh[i] = offer.kwh[i] < left ? offer.kwh[i] : left;
        left -= offer.kwh[i];
    }
    return offer;
}

/* What the meter makes of this heat: a switched element is at full power for part of the
 * step, so it takes of each source in proportion. */
static void split_heat(const struct optimum *optimum, size_t n, double heat,
                       double taken[static SOURCES])
{
    const struct optimum_problem *problem = &optimum->problem;
    bool evenly = problem->element == OPTIMUM_SWITCHED && !problem->spreads_last;
    struct offer all = sources_of(optimum, n);
    double left = heat, part = heat / optimum->most_kwh;
    for (int i = 0; i < SOURCES; i++) {
        taken[i] = evenly ? all.kwh[i] * part : all.kwh[i] < left ? all.kwh[i] : left;
        left -= taken[i];
    }
}

static double heat_cost(const struct optimum *optimum, size_t n, double heat)
{
    const struct optimum_step *step = &optimum->problem.step[n];
    double taken[SOURCES];
    split_heat(optimum, n, heat, taken);
    return taken[1] * step->feed_in_price + taken[2] * step->import_price;
}

/* As the bound takes it. A switched element takes of all sources evenly, a proportional
 * one by rising price; where a dearer source comes before a cheaper one both are taken
 * evenly (the greatest convex function below the cost). */
static struct offer offer_of(const struct optimum *optimum, size_t n)
{
    double most = optimum->most_kwh;
    if (optimum->problem.element == OPTIMUM_SWITCHED)
        return (struct offer){{heat_cost(optimum, n, most) / most}, {most}};
    struct offer source = sources_of(optimum, n), offer = {0};
    int count = 0;
    for (int i = 0; i < SOURCES; i++) {
        double kwh = source.kwh[i], price = source.price[i];
        if (kwh <= 0)
            continue;
        while (count > 0 && offer.price[count - 1] > price) {
            count--;
            price = price * kwh + offer.price[count] * offer.kwh[count];
            kwh += offer.kwh[count];
            price /= kwh;
        }
        offer.price[count] = price;
        offer.kwh[count++] = kwh;
    }
    return offer;
}

/* `yield`: heat in the tank per heat bought. */
static void back_over_heat(const struct optimum *optimum, size_t n, double yield,
                           struct optimum_curve *curve)
{
    struct offer offer = offer_of(optimum, n);
    for (int i = 0; i < SOURCES; i++)
        optimum_curve_insert(curve, -offer.price[i] / yield, offer.kwh[i] * yield);
}

/* The same where a step in which the thermostat opens has its heat spread over it. That
 * adds ways to get to a full tank, or to one that would be full but for the draw. */
static void back_over_spread_heat(const struct optimum *optimum, size_t n,
                                  struct optimum_curve *curve)
{
    enum { ENDS = 2 };
    double below[ENDS] = {0, draw_of(optimum, n).wanted_kwh}, value[ENDS];
    struct offer sources = sources_of(optimum, n);
    for (int end = 0; end < ENDS; end++)
        value[end] = optimum_curve_value(curve, below[end]);
    back_over_heat(optimum, n, 1, curve);
    optimum_curve_fit(curve, optimum->span_kwh);
    double heat = 0;
    for (int i = 0; i < SOURCES; i++) {
        heat += sources.kwh[i];
        for (int end = 0; end < ENDS; end++)
            optimum_curve_lower(curve, below[end] + heat, value[end] + heat_cost(optimum, n, heat));
    }
}

/* Leaves the function longer at its full end, by what is returned: a tank that was
 * fuller before. */
static double back_over_draw(const struct optimum *optimum, size_t n, double full_kwh,
                             struct optimum_curve *curve)
{
    struct draw draw = draw_of(optimum, n);
    double unmet_price = optimum->problem.unmet_price, share = draw.share;
    curve->at_full += draw.never_kwh * unmet_price;
    if (draw.wanted_kwh <= 0)
        return 0;
    double holds = full_kwh - draw.above_kwh;
    if (share >= 1) {
        double longest = optimum->span_kwh + full_kwh - optimum->full_kwh + draw.wanted_kwh;
        optimum_curve_straighten(curve, holds, -unmet_price, longest - holds);
        return draw.wanted_kwh;
    }
    /* Hot enough afterwards to have been hot enough before. */
    double warm = holds - draw.wanted_kwh * (1 - share) / share;
    optimum_curve_bend(curve, warm, 1 - share, -share * unmet_price);
    if (warm >= 0)
        return draw.wanted_kwh;
    double given = holds * share / (1 - share);
    curve->at_full += unmet_price * (draw.wanted_kwh - given);
    return given;
}

/* The full end goes out by what is returned. */
static double back_over_loss(const struct optimum *optimum, struct optimum_curve *curve)
{
    double over = optimum->full_kwh - kwh(optimum, optimum->problem.ambient_c);
    optimum_curve_bend(curve, 0, optimum->kept, 0);
    return over * (1 - optimum->kept) / optimum->kept;
}

static bool step_back(const struct optimum *optimum, size_t n, struct optimum_curve *curve)
{
    if (!optimum_curve_reserve(curve, 16))
        return false;
    if (optimum->problem.within_step) {
        /* Heat first, and none of it lost within the step; only after draw and loss must
         * the tank be no more than full. */
        double beyond = back_over_loss(optimum, curve);
        beyond += back_over_draw(optimum, n, optimum->full_kwh + beyond, curve);
        back_over_heat(optimum, n, 1 / optimum->kept, curve);
        optimum_curve_cut_full(curve, beyond);
    } else {
        if (optimum->problem.spreads_last)
            back_over_spread_heat(optimum, n, curve);
        else
            back_over_heat(optimum, n, 1, curve);
        optimum_curve_fit(curve, optimum->span_kwh);
        optimum_curve_cut_full(curve, back_over_draw(optimum, n, optimum->full_kwh, curve));
        optimum_curve_cut_full(curve, back_over_loss(optimum, curve));
    }
    optimum_curve_fit(curve, optimum->span_kwh);
    return true;
}

static bool lay_away(const struct optimum_curve *curve, struct kept_curve *kept)
{
    double *piece = realloc(kept->piece, 2 * curve->count * sizeof(*piece));
    if (!piece)
        return false;
    memcpy(piece, curve->slope + curve->first, curve->count * sizeof(*piece));
    memcpy(piece + curve->count, curve->length + curve->first, curve->count * sizeof(*piece));
    *kept = (struct kept_curve){piece, curve->count, curve->at_full};
    return true;
}

/* A curve to look at, on the pieces laid away. */
static struct optimum_curve seen(const struct kept_curve *kept)
{
    return (struct optimum_curve){.slope = kept->piece,
                                  .length = kept->piece + kept->count,
                                  .room = kept->count,
                                  .count = kept->count,
                                  .at_full = kept->at_full};
}

static bool copied(const struct kept_curve *kept, struct optimum_curve *curve)
{
    if (!optimum_curve_init(curve, 0, 0) || !optimum_curve_reserve(curve, kept->count))
        return false;
    curve->count = kept->count;
    curve->at_full = kept->at_full;
    memcpy(curve->slope + curve->first, kept->piece, kept->count * sizeof(double));
    memcpy(curve->length + curve->first, kept->piece + kept->count, kept->count * sizeof(double));
    optimum_curve_measure(curve);
    return true;
}

static size_t mark_step(const struct optimum *optimum, size_t mark)
{
    size_t step = mark * optimum->block;
    return step < optimum->problem.count ? step : optimum->problem.count;
}

static bool solve(struct optimum *optimum)
{
    const struct optimum_problem *problem = &optimum->problem;
    struct optimum_curve curve;
    if (!optimum_curve_init(&curve, -problem->left_price, optimum->span_kwh))
        return false;
    curve.at_full = -problem->left_price * (optimum->full_kwh - kwh(optimum, problem->start_c));
    bool fits = lay_away(&curve, &optimum->mark[optimum->mark_count - 1]);
    for (size_t n = problem->count; fits && n-- > 0;) {
        fits = step_back(optimum, n, &curve);
        if (fits && n % optimum->block == 0) {
            optimum_curve_measure(&curve);
            fits = lay_away(&curve, &optimum->mark[n / optimum->block]);
        }
    }
    double start = optimum->full_kwh - kwh(optimum, problem->start_c);
    if (fits)
        optimum->bound = optimum->house + optimum_curve_value(&curve, start);
    optimum_curve_free(&curve);
    return fits;
}

/* Works out the cost at every step of a block again. */
static bool load_block(struct optimum *optimum, size_t block)
{
    if (optimum->cached_block == block)
        return true;
    optimum->cached_block = SIZE_MAX;
    size_t from = mark_step(optimum, block), to = mark_step(optimum, block + 1);
    struct optimum_curve curve;
    bool fits =
        copied(&optimum->mark[block + 1], &curve) && lay_away(&curve, &optimum->cached[to - from]);
    for (size_t n = to; fits && n-- > from;)
        fits = step_back(optimum, n, &curve) && lay_away(&curve, &optimum->cached[n - from]);
    optimum_curve_free(&curve);
    if (fits)
        optimum->cached_block = block;
    return fits;
}

static double house_cost(const struct optimum *optimum)
{
    double cost = 0;
    for (size_t n = 0; n < optimum->problem.count; n++) {
        const struct optimum_step *step = &optimum->problem.step[n];
        double net = (step->use_w - step->solar_w) * optimum->problem.step_s / J_PER_KWH;
        if (net > 0)
            cost += net * step->import_price;
        else
            cost -= (-net < optimum->export_kwh ? -net : optimum->export_kwh) * step->feed_in_price;
    }
    return cost;
}

/* No water in the tank is colder than the coldest inlet so far, warmed by the room since. */
static void find_coldest(struct optimum *optimum)
{
    const struct optimum_problem *problem = &optimum->problem;
    double coldest = problem->start_c, ambient = problem->ambient_c;
    for (size_t n = 0; n < problem->count; n++) {
        coldest = ambient + (coldest - ambient) * optimum->kept;
        if (problem->step[n].inlet_c < coldest)
            coldest = problem->step[n].inlet_c;
        optimum->coldest_c[n] = coldest;
    }
}

static double least_c(const struct optimum_problem *problem)
{
    double least = problem->start_c < problem->ambient_c ? problem->start_c : problem->ambient_c;
    for (size_t n = 0; n < problem->count; n++)
        if (problem->step[n].inlet_c < least)
            least = problem->step[n].inlet_c;
    return least;
}

static bool check_steps(const struct optimum_problem *problem, struct trouble *trouble)
{
    for (size_t n = 0; n < problem->count; n++) {
        const struct optimum_step *step = &problem->step[n];
        if (!isfinite(step->import_price) || !isfinite(step->feed_in_price) ||
            !isfinite(step->use_w) || !isfinite(step->solar_w) || !isfinite(step->draw_l) ||
            !isfinite(step->inlet_c))
            return trouble_set(trouble, "", "step %zu has a value that is no number", n);
        if (step->inlet_c >= problem->full_c)
            return trouble_set(trouble, "", "inlet of %g C in step %zu, tank full at %g C",
                               step->inlet_c, n, problem->full_c);
    }
    return true;
}

static bool check_problem(const struct optimum_problem *problem, struct trouble *trouble)
{
    if (problem->count == 0 || !(problem->step_s > 0))
        return trouble_set(trouble, "", "no steps to find an optimum of");
    if (!(problem->volume_l > 0) || !(problem->element_w > 0) || !(problem->loss_kwh_day >= 0))
        return trouble_set(trouble, "", "a tank of %g L, %g W and %g kWh a day is not one",
                           problem->volume_l, problem->element_w, problem->loss_kwh_day);
    if (!(problem->ambient_c < problem->full_c) || !(problem->start_c <= problem->full_c))
        return trouble_set(trouble, "", "room at %g C, start at %g C, but tank full at %g C",
                           problem->ambient_c, problem->start_c, problem->full_c);
    if (!(problem->unmet_price >= problem->left_price) || !(problem->unmet_price >= 0))
        return trouble_set(trouble, "", "unmet heat at %g per kWh, below heat left at %g",
                           problem->unmet_price, problem->left_price);
    if (problem->spreads_last && (problem->within_step || problem->element != OPTIMUM_SWITCHED))
        return trouble_set(trouble, "",
                           "a last step is spread only where an element is switched "
                           "once a step");
    return check_steps(problem, trouble);
}

static void prepare(struct optimum *optimum)
{
    const struct optimum_problem *problem = &optimum->problem;
    double ua_kw_k = problem->loss_kwh_day / 24 / LOSS_TEST_K, hours = problem->step_s / 3600;
    optimum->litre_kwh_k = WATER_J_PER_L_K / J_PER_KWH;
    optimum->heat_kwh_k = problem->volume_l * optimum->litre_kwh_k;
    optimum->kept = exp(-ua_kw_k * hours / optimum->heat_kwh_k);
    optimum->full_kwh = kwh(optimum, problem->full_c);
    optimum->span_kwh = optimum->full_kwh - kwh(optimum, least_c(problem));
    optimum->most_kwh = problem->element_w * problem->step_s / J_PER_KWH;
    optimum->export_kwh = problem->export_limit_w > 0
                              ? problem->export_limit_w * problem->step_s / J_PER_KWH
                              : INFINITY;
    optimum->house = house_cost(optimum);
    optimum->block = (size_t)ceil(sqrt((double)problem->count));
    optimum->mark_count = (problem->count + optimum->block - 1) / optimum->block + 1;
    optimum->cached_block = SIZE_MAX;
}

struct optimum *optimum_new(const struct optimum_problem *problem, struct trouble *trouble)
{
    if (!check_problem(problem, trouble))
        return NULL;
    struct optimum *optimum = calloc(1, sizeof(*optimum));
    if (optimum) {
        optimum->problem = *problem;
        prepare(optimum);
        optimum->mark = calloc(optimum->mark_count, sizeof(*optimum->mark));
        optimum->cached = calloc(optimum->block + 1, sizeof(*optimum->cached));
        optimum->coldest_c = malloc(problem->count * sizeof(double));
        if (optimum->coldest_c)
            find_coldest(optimum);
        if (optimum->mark && optimum->cached && optimum->coldest_c && solve(optimum))
            return optimum;
        optimum_free(optimum);
    }
    trouble_set(trouble, "", "out of memory for an optimum of %zu steps", problem->count);
    return NULL;
}

static void free_kept(struct kept_curve *kept, size_t count)
{
    for (size_t i = 0; kept && i < count; i++)
        free(kept[i].piece);
    free(kept);
}

void optimum_free(struct optimum *optimum)
{
    if (!optimum)
        return;
    free_kept(optimum->mark, optimum->mark_count);
    free_kept(optimum->cached, optimum->block + 1);
    free(optimum->coldest_c);
    free(optimum);
}

double optimum_cost(const struct optimum *optimum)
{
    return optimum->bound;
}

/* The cost still to come at the beginning of step n, 0 < n <= count. False: no memory. */
static bool cost_to_come(struct optimum *optimum, size_t n, struct optimum_curve *curve)
{
    size_t block = n == 0 ? 0 : (n - 1) / optimum->block;
    if (!load_block(optimum, block))
        return false;
    *curve = seen(&optimum->cached[n - mark_step(optimum, block)]);
    return true;
}

double optimum_worth(struct optimum *optimum, size_t step, double water_c)
{
    struct optimum_curve curve;
    if (step > optimum->problem.count || !cost_to_come(optimum, step, &curve))
        return NAN;
    return -optimum_curve_slope(&curve, optimum->full_kwh - kwh(optimum, water_c));
}

static double cost_of(const struct optimum *optimum, size_t n, const struct optimum_curve *after,
                      double held_kwh, double heat)
{
    return heat_cost(optimum, n, heat) +
           optimum_curve_value(after, optimum->full_kwh - held_kwh - heat);
}

/* Full power, off, all that is spare, or as far as heat is worth its price. */
static double best_heat(const struct optimum *optimum, size_t n, const struct optimum_curve *after,
                        double held_kwh)
{
    double room = optimum->full_kwh - held_kwh;
    double most = room < optimum->most_kwh ? room : optimum->most_kwh;
    if (most <= 0)
        return 0;
    double candidate[2 * SOURCES + 1] = {most}, best = 0,
                                   least = cost_of(optimum, n, after, held_kwh, 0);
    int count = 1;
    if (optimum->problem.element == OPTIMUM_PROPORTIONAL) {
        struct offer offer = offer_of(optimum, n), sources = sources_of(optimum, n);
        double taken = 0;
        for (int i = 0; i < SOURCES; i++) {
            taken += sources.kwh[i];
            if (sources.kwh[i] > 0 && taken < most)
                candidate[count++] = taken;
            if (offer.kwh[i] > 0)
                candidate[count++] = room - optimum_curve_reach(after, -offer.price[i]);
        }
    }
    for (int i = 0; i < count; i++) {
        double heat = candidate[i];
        if (heat <= 0 || heat > most)
            continue;
        double cost = cost_of(optimum, n, after, held_kwh, heat);
        if (cost < least) {
            least = cost;
            best = heat;
        }
    }
    return best;
}

/* What a draw takes out of a tank that holds so much. */
static double given_kwh(const struct draw *draw, double held_kwh)
{
    double can = draw->share * (held_kwh - draw->above_kwh);
    return can < draw->wanted_kwh ? can : draw->wanted_kwh;
}

bool optimum_follow(struct optimum *optimum, optimum_trace *trace, void *context,
                    struct optimum_outcome *outcome)
{
    const struct optimum_problem *problem = &optimum->problem;
    assert(!problem->within_step);
    double start = kwh(optimum, problem->start_c), held = start;
    double room_kwh = kwh(optimum, problem->ambient_c);
    bool was_on = false;
    *outcome = (struct optimum_outcome){.cost = optimum->house};
    for (size_t n = 0; n < problem->count; n++) {
        struct optimum_curve after;
        if (!cost_to_come(optimum, n + 1, &after))
            return false;
        double began_c = held / optimum->heat_kwh_k;
        double lost = (held - room_kwh) * (1 - optimum->kept);
        held -= lost;
        struct draw draw = draw_of(optimum, n);
        double given = given_kwh(&draw, held);
        held -= given;
        double heat = best_heat(optimum, n, &after, held);
        held += heat;
        double taken[SOURCES], unmet = draw.wanted_kwh - given + draw.never_kwh;
        outcome->lost_kwh += lost;
        outcome->wanted_kwh += draw.wanted_kwh + draw.never_kwh;
        outcome->unmet_kwh += unmet;
        split_heat(optimum, n, heat, taken);
        outcome->heat_sun_kwh += taken[0] + taken[1];
        outcome->heat_grid_kwh += taken[2];
        outcome->cost += heat_cost(optimum, n, heat) + unmet * problem->unmet_price;
        outcome->cycles += heat > 0 && !was_on;
        was_on = heat > 0;
        if (trace)
            trace(context, n, heat * J_PER_KWH / problem->step_s, began_c);
    }
    outcome->unmet_cost = outcome->unmet_kwh * problem->unmet_price;
    outcome->cost -= problem->left_price * (held - start);
    outcome->end_c = held / optimum->heat_kwh_k;
    return true;
}
