/* naive_worth.c - section 7a of TABLE.md: when heat is bought ahead. See naive.h.
 *
 * What lib/heat makes of what it is told is its own matter; each load that learns has a
 * store of its own here, told what the table says, and both must then come to the same. */
#include "naive_inside.h"

enum { HEAT_TICK = 5 * MS_PER_MIN, PRICE_SLACK = 20000, COULD_MOST = 100000 };

static const struct heat_settings *tank(const struct naive *n, int i)
{
    return &n->settings->loads[i].water;
}

void naive_learns(struct naive *n, int i, struct heat_memory *heat)
{
    n->load[i].heat = heat;
}

static void hear_thermostat(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    if (l->told == TOLD_FULL)
        heat_full(tank(n, i), l->heat);
    else if (l->told != TOLD_NOTHING)
        heat_found(tank(n, i), l->heat, l->told == TOLD_IT_DRAWS);
}

/* ---- the tick ---- */

static void tick(struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    struct naive_load *l = &n->load[i];
    bool draws = naive_runs(l) && l->view.state == DRAW_SEEN;
    struct heat_outlook outlook = {
        .tariff = &n->settings->tariff,
        .element = s->kind == LOAD_SETPOINT ? HEAT_FOLLOWS : HEAT_SWITCHED,
        .power_w = (int32_t)max64(1, naive_most(n, i)),
    };
    struct local local = local_of_wall(&n->settings->zone, (struct wall){n->w});
    bool counted = draws || (naive_runs(l) && l->view.state == DRAW_ASSUMED);
    if (counted && !naive_own_meter_reads(n, i) && heat_overflows(&s->water, l->heat))
        l->doubted = true;
    if (draws)
        heat_goes_on(&s->water, l->heat);
    heat_tick(&s->water, l->heat, &outlook, &local, &n->input->now);
}

/* ---- what it comes to ---- */

static void weigh(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    int64_t p = naive_price_now(n), f = n->settings->tariff.feed_in_micro;
    l->ahead = l->not_worth = false;
    if (!n->trusted)
        return;
    if (!heat_knows(l->heat)) {
        l->ahead = !l->doubted;
        return;
    }
    bool was_on = l->last_basis != BASIS_NONE;
    int64_t v = l->heat->worth_micro + (was_on ? PRICE_SLACK : -PRICE_SLACK);
    bool takes = !l->doubted && (was_on || heat_takes(l->heat));
    l->ahead = takes && v >= p;
    l->not_worth = !takes || v < min64(f, p);
    int64_t permille = 1000;
    if (p > f && n->settings->loads[i].kind != LOAD_SETPOINT)
        permille = max64(0, min64(1000, (1000 * (p - v) + p - f - 1) / (p - f)));
    l->start_need = permille * naive_first_power(n, i) / 1000;
}

void naive_section_7a_worth(struct naive *n)
{
    int64_t dt = n->begun ? n->t - n->last.mono.ms : 0;
    bool ticks = n->trusted && n->t >= n->heat_tick;
    for (int i = 0; i < n->settings->load_count; i++) {
        struct naive_load *l = &n->load[i];
        if (l->heat == NULL)
            continue;
        if (l->could_known && dt > 0)
            heat_spare(l->heat, (int32_t)l->could_w, dt);
        hear_thermostat(n, i);
        if (ticks)
            tick(n, i);
        weigh(n, i);
        l->could_known = n->spare_known;
        l->could_w = max64(-COULD_MOST, min64(naive_room(n, i), COULD_MOST));
    }
    if (ticks)
        n->heat_tick = n->t - n->w % HEAT_TICK + HEAT_TICK;
}
