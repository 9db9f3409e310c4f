/* naive_power.c - sections 7, 8 and 13 of TABLE.md: what is spare, what the supply
 * carries, how far on. See naive.h. */
#include "naive_inside.h"

#include <string.h>

/* ---- 7 Pools ---- */

static int pools_of(const struct naive *n, int i, int pool[PHASES])
{
    if (n->settings->billing == BILLING_NET) {
        pool[0] = 0;
        return 1;
    }
    int count = 0;
    for (int p = 0; p < PHASES; p++)
        if (n->settings->loads[i].phases >> p & 1)
            pool[count++] = p;
    return count;
}

void naive_add_to_pools(const struct naive *n, int i, int64_t power_w, int64_t S[])
{
    int pool[PHASES], count = pools_of(n, i, pool);
    for (int k = 0; k < count; k++)
        S[pool[k]] += power_w / count;
}

int64_t naive_avail(const struct naive *n, int i, const int64_t S[])
{
    int pool[PHASES], count = pools_of(n, i, pool);
    int64_t least = S[pool[0]];
    for (int k = 1; k < count; k++)
        least = min64(least, S[pool[k]]);
    return count * least;
}

bool naive_share_a_pool(const struct naive *n, int i, int j)
{
    return n->settings->billing == BILLING_NET ||
           (n->settings->loads[i].phases & n->settings->loads[j].phases) != 0;
}

int64_t naive_gives_up(const struct naive *n, int i)
{
    const struct naive_load *l = &n->load[i];
    bool can = l->state == STATE_ON && l->health == OUTPUT_CONFIRMED &&
               l->last_basis == BASIS_SPARE && l->view.state == DRAW_SEEN &&
               n->t - l->since >= n->settings->loads[i].min_on_ms;
    return can ? l->view.draw_w : 0;
}

int naive_place_of(const struct naive *n, int i)
{
    int k = 0;
    while (n->settings->order[k] != i)
        k++;
    return k;
}

/* S with what the loads later in order than i could give up. */
void naive_with_gives(const struct naive *n, int i, int64_t S[])
{
    for (int k = naive_place_of(n, i) + 1; k < n->settings->load_count; k++) {
        int lower = n->settings->order[k];
        naive_add_to_pools(n, lower, naive_gives_up(n, lower), S);
    }
}

/* What of a raise the meter cannot have shown yet. */
static void judge_raise(struct naive *n, struct naive_load *l)
{
    bool shown = n->fresh && n->input->reading->grid.taken.ms >= l->level_since + FOLLOW;
    if (l->state != STATE_ON || naive_unshown(l) || shown)
        l->raise = l->less = 0;
}

void naive_section_7_pools(struct naive *n)
{
    const struct rules_settings *s = n->settings;
    const struct reading *r = n->input->reading;
    n->spare_known =
        n->fresh &&
        (!s->battery || (r->battery.quality == READING_FRESH && (r->has & HAS_BATTERY_POWER)));
    memset(n->S, 0, sizeof n->S);
    for (int i = 0; i < s->load_count; i++) {
        judge_raise(n, &n->load[i]);
        n->load[i].own = naive_find_own(n, i);
    }
    if (!n->spare_known)
        return;
    int64_t adjust = -(int64_t)s->margin_w;
    if (s->battery)
        adjust += max64(0, r->battery_power_w) * (1000 - s->battery_reserved_permille) / 1000 -
                  max64(0, -(int64_t)r->battery_power_w);
    if (s->billing == BILLING_NET)
        n->S[0] = -(int64_t)r->grid_power_w + adjust;
    else
        for (int p = 0; p < s->phase_count; p++)
            n->S[p] = -(int64_t)r->phase_power_w[p] + adjust / s->phase_count;
    for (int i = 0; i < s->load_count; i++)
        naive_add_to_pools(
            n, i, -(naive_unshown(&n->load[i]) ? naive_expected(n, i) : n->load[i].raise), n->S);
}

/* ---- 8 Supply ---- */

int naive_phases_of(const struct load_settings *s)
{
    return (s->phases & 1) + (s->phases >> 1 & 1) + (s->phases >> 2 & 1);
}

static int64_t milliamps(const struct naive *n, int64_t power_w)
{
    return power_w * 1000000 / n->settings->voltage_mv;
}

void naive_add_amps(const struct naive *n, int i, int64_t power_w, int64_t amps[])
{
    const struct load_settings *s = &n->settings->loads[i];
    int64_t each = milliamps(n, (power_w < 0 ? -power_w : power_w) / naive_phases_of(s));
    for (int p = 0; p < PHASES; p++)
        if (s->phases >> p & 1)
            amps[p] += power_w < 0 ? -each : each;
}

static int64_t measured_amps(const struct naive *n, int p)
{
    const struct reading *r = n->input->reading;
    bool has_power = (r->has & HAS_PHASE_POWER) != 0;
    if (r->has & HAS_PHASE_CURRENT)
        return has_power && r->phase_power_w[p] < 0 ? -(int64_t)r->phase_current_ma[p]
                                                    : r->phase_current_ma[p];
    if (has_power)
        return milliamps(n, r->phase_power_w[p]);
    if (p >= n->settings->phase_count)
        return 0;
    return milliamps(n, r->grid_power_w / n->settings->phase_count);
}

static void find_amps(struct naive *n)
{
    memset(n->amps, 0, sizeof n->amps);
    if (n->fresh)
        for (int p = 0; p < n->settings->phase_count; p++)
            n->amps[p] = measured_amps(n, p);
    for (int i = 0; i < n->settings->load_count; i++) {
        bool counts = n->fresh ? naive_unshown(&n->load[i]) : naive_runs(&n->load[i]);
        naive_add_amps(n, i, counts ? naive_expected(n, i) : n->load[i].raise, n->amps);
    }
}

bool naive_in_group(const struct naive *n, int i, int group)
{
    return n->settings->loads[i].group == group;
}

void naive_group_amps(const struct naive *n, int group, int64_t amps[])
{
    memset(amps, 0, PHASES * sizeof amps[0]);
    for (int i = 0; i < n->settings->load_count; i++)
        if (naive_in_group(n, i, group) && naive_runs(&n->load[i]) &&
            !(n->load[i].state == STATE_ON && n->load[i].view.state == DRAW_OPEN))
            naive_add_amps(n, i, naive_expected(n, i), amps);
    for (int i = 0; i < n->settings->load_count; i++)
        if (naive_in_group(n, i, group) && n->load[i].held)
            naive_add_amps(n, i, naive_first_power(n, i), amps);
}

/* The most by which a phase of load i is over; 0 or less: none is. */
int64_t naive_worst_over(const struct naive *n, int i, const int64_t over[])
{
    int64_t worst = INT64_MIN;
    for (int p = 0; p < PHASES; p++)
        if (n->settings->loads[i].phases >> p & 1)
            worst = max64(worst, over[p]);
    return worst;
}

static void lower_setpoint(struct naive *n, int i, int64_t over[])
{
    const struct load_settings *s = &n->settings->loads[i];
    struct naive_load *l = &n->load[i];
    int64_t worst = naive_worst_over(n, i, over);
    if (s->kind != LOAD_SETPOINT || l->state != STATE_ON || l->level <= s->least_w || worst <= 0)
        return;
    int64_t micro_w = worst * n->settings->voltage_mv * naive_phases_of(s);
    int64_t step_micro_w = (int64_t)s->step_w * 1000000;
    int64_t steps = (micro_w + step_micro_w - 1) / step_micro_w;
    int32_t level = (int32_t)max64(s->least_w, l->level - steps * s->step_w);
    naive_add_amps(n, i, level - l->level, over);
    l->less += l->level - level;
    l->level = level;
    l->raise = 0;
    l->level_since = n->t;
}

static bool could_be_shed(const struct naive_load *l)
{
    return naive_runs(l) && !(l->state == STATE_ON && l->view.state == DRAW_OPEN) &&
           !(l->state == STATE_ON && l->view.state == DRAW_NONE);
}

static void shed(struct naive *n, int group, int64_t over[])
{
    for (int k = n->settings->load_count - 1; k >= 0; k--)
        if (group < 0 || naive_in_group(n, n->settings->order[k], group))
            lower_setpoint(n, n->settings->order[k], over);
    for (int k = n->settings->load_count - 1; k >= 0; k--) {
        int i = n->settings->order[k];
        struct naive_load *l = &n->load[i];
        if ((group >= 0 && !naive_in_group(n, i, group)) || !could_be_shed(l) ||
            naive_worst_over(n, i, over) <= 0)
            continue;
        naive_add_amps(n, i, -(group < 0 ? n->load[i].own : naive_expected(n, i)), over);
        l->held_until = n->t + SHED_HOLD;
        naive_switch_off(n, i);
    }
}

void naive_section_8_supply(struct naive *n)
{
    find_amps(n);
    int64_t over[PHASES];
    if (n->fresh && n->settings->supply_limit_ma > 0) {
        for (int p = 0; p < PHASES; p++)
            over[p] = measured_amps(n, p) - n->settings->supply_limit_ma;
        for (int i = 0; i < n->settings->load_count; i++)
            naive_add_amps(n, i, -(n->load[i].relief ? n->load[i].relief_w : n->load[i].less),
                           over);
        shed(n, -1, over);
    }
    for (int g = 0; g < n->settings->group_count; g++) {
        if (n->settings->group[g].limit_ma == 0)
            continue;
        naive_group_amps(n, g, over);
        for (int p = 0; p < PHASES; p++)
            over[p] -= n->settings->group[g].limit_ma;
        shed(n, g, over);
    }
}

/* ---- 13 Levels ---- */

static int64_t headroom_under(const struct naive *n, int i, const int64_t amps[], int64_t limit_ma)
{
    const struct load_settings *s = &n->settings->loads[i];
    int64_t left_ma = limit_ma - naive_worst_over(n, i, amps);
    return left_ma * n->settings->voltage_mv / 1000000 * naive_phases_of(s) + n->load[i].own;
}

static int64_t headroom(const struct naive *n, int i)
{
    int64_t room = NEVER;
    int g = n->settings->loads[i].group;
    if (n->settings->supply_limit_ma > 0)
        room = headroom_under(n, i, n->amps, n->settings->supply_limit_ma);
    if (g != RULES_NO_GROUP && n->settings->group[g].limit_ma > 0) {
        int64_t amps[PHASES];
        naive_group_amps(n, g, amps);
        room = min64(room, headroom_under(n, i, amps, n->settings->group[g].limit_ma));
    }
    return room;
}

/* Watts that the basis asks for. */
static int64_t asked(const struct naive *n, int i)
{
    const struct naive_load *l = &n->load[i];
    int64_t most = n->settings->loads[i].power_w;
    switch (l->basis) {
    case BASIS_MANUAL:
        return l->hand_level == 0 || l->test == HAND_ON ? most : min64(most, l->hand_level);
    case BASIS_FLOOR:
    case BASIS_CHEAP_HOURS:
    case BASIS_AHEAD:
        return most;
    case BASIS_SPARE:
    case BASIS_PROBE:
        return min64(most, naive_room(n, i));
    default:
        return 0;
    }
}

static void set_level(struct naive *n, int i, int64_t level)
{
    struct naive_load *l = &n->load[i];
    l->raise = max64(0, level - l->level);
    l->less = 0;
    naive_add_to_pools(n, i, -l->raise, n->S);
    naive_add_amps(n, i, l->raise, n->amps);
    l->level = (int32_t)level;
    l->level_since = n->t;
}

static void adjust_setpoint(struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    struct naive_load *l = &n->load[i];
    int64_t target = min64(asked(n, i), headroom(n, i));
    target = max64(max64(0, target) / s->step_w * s->step_w, s->least_w);
    if (target == l->level || n->t - l->level_since < ADJUST)
        return;
    set_level(n, i, target);
}

static void adjust_stages(struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    struct naive_load *l = &n->load[i];
    int64_t room = l->basis == BASIS_MINIMUM_ON ? l->level : asked(n, i);
    room = min64(room, headroom(n, i));
    int target = 1;
    while (target < s->stages && naive_amount_of_stages(s, target + 1) <= room)
        target++;
    bool more = target > l->stage && n->t - l->lowered >= s->min_off_ms &&
                n->t - l->level_since >= s->settle_start_ms;
    bool less = target < l->stage && n->t - l->raised >= s->min_on_ms &&
                n->t - l->level_since >= s->settle_stop_ms;
    if (more) {
        l->stage++;
        l->raised = n->t;
    } else if (less) {
        l->stage--;
        l->lowered = n->t;
    } else {
        return;
    }
    set_level(n, i, naive_amount_of_stages(s, l->stage));
}

void naive_section_13_levels(struct naive *n)
{
    for (int k = 0; k < n->settings->load_count; k++) {
        int i = n->settings->order[k];
        struct naive_load *l = &n->load[i];
        uint8_t kind = n->settings->loads[i].kind;
        if (l->state == STATE_ON && kind == LOAD_SETPOINT)
            adjust_setpoint(n, i);
        else if (l->state == STATE_ON && kind == LOAD_STAGED)
            adjust_stages(n, i);
    }
}
