/* naive.c - see naive.h. The functions below stand in the order of TABLE.md and
 * bear the numbers of its sections; naive_floors.c holds the floors of section 6. */
#include "naive_inside.h"

#include <string.h>

enum {
    SATISFIED_SETTLE = 2 * MS_PER_MIN,
    TRIAL_COUNTS = 48 * MS_PER_HOUR,
    SHED_HOLD = 5 * MS_PER_MIN,
    TAKEOVER_PATIENCE = 60 * MS_PER_S,
    TAKEOVER_RETRY = 30 * MS_PER_MIN,
    PROBE_LOOK = 90 * MS_PER_S,
    ADJUST = 10 * MS_PER_S,
    FOLLOW = 5 * MS_PER_S,
    RETURN_RESERVE = 30 * MS_PER_MIN,
    CLOCK_STEP = 60 * MS_PER_S,
};

static int64_t max64(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

static int64_t min64(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

void naive_begin(struct naive *n, const struct rules_settings *settings,
                 const struct minutes *minutes, struct moment now, const struct mono restart_at[])
{
    memset(n, 0, sizeof *n);
    n->settings = settings;
    n->minutes = minutes;
    n->untrusted_since = now.mono.ms;
    n->last = now;
    n->last_import = -1;
    n->last_start = n->last_probe = -1;
    n->throttled_since = NEVER;
    for (int i = 0; i < settings->load_count; i++) {
        struct naive_load *l = &n->load[i];
        l->since = now.mono.ms;
        l->restart_at = restart_at[i].ms;
        l->enough_since = l->short_since = NEVER;
        l->victim_of = -1;
        l->view.power_w = settings->loads[i].power_w;
    }
}

static int32_t amount_of_stages(const struct load_settings *s, int stages)
{
    int32_t sum = 0;
    for (int i = 0; i < stages; i++)
        sum += s->stage_w[i];
    return sum;
}

static bool runs(const struct naive_load *l)
{
    return l->state == STATE_STARTING || l->state == STATE_ON;
}

/* What starts with: the least of it. */
static int64_t first_power(const struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    switch (s->kind) {
    case LOAD_STAGED:
        return s->stage_w[0];
    case LOAD_SETPOINT:
        return s->least_w;
    default:
        return n->load[i].view.power_w;
    }
}

/* Section 7: expected power of a load that runs. */
static int64_t expected(const struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    const struct naive_load *l = &n->load[i];
    switch (s->kind) {
    case LOAD_STAGED:
        return amount_of_stages(s, l->stage);
    case LOAD_SETPOINT:
        return l->level;
    default:
        return l->view.power_w;
    }
}

static bool unshown(const struct naive_load *l)
{
    return l->state == STATE_STARTING || (l->state == STATE_ON && l->view.state == DRAW_WAITING);
}

static int64_t find_own(const struct naive *n, int i)
{
    const struct naive_load *l = &n->load[i];
    if (unshown(l))
        return expected(n, i);
    if (l->state != STATE_ON)
        return 0;
    if (l->view.state == DRAW_SEEN)
        return l->view.draw_w + l->raise;
    return l->view.state == DRAW_ASSUMED ? l->view.draw_w : 0;
}

/* Section 12, last paragraphs. */
static void switch_off(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    l->relief_w = (int32_t)l->own;
    l->relief = true;
    l->off_confirmed = false;
    l->state = STATE_STOPPING;
    l->since = n->t;
    l->level = 0;
    l->raise = 0;
    l->stage = 0;
    l->basis = BASIS_NONE;
    l->enough_since = l->short_since = NEVER;
}

/* ---- 1 Booking ---- */

static void book_load(struct naive *n, int i, int64_t dt, int64_t *import_w)
{
    const struct load_settings *s = &n->settings->loads[i];
    struct naive_load *l = &n->load[i];
    if (!runs(l))
        return;
    l->on_today += dt;
    l->total.on_ms += dt;
    if (l->view.state != DRAW_SEEN && l->view.state != DRAW_ASSUMED)
        return;
    int64_t grid_w = n->last_import < 0 ? l->view.draw_w : min64(*import_w, l->view.draw_w);
    *import_w -= grid_w;
    l->total.draw_ms += dt;
    l->total.grid_mj += grid_w * dt;
    l->total.spare_mj += (l->view.draw_w - grid_w) * dt;
    for (int f = 0; f < s->floor_count; f++)
        l->floor[f].done += s->floor[f].measure == FLOOR_ENERGY ? l->view.draw_w * dt : dt;
}

static void section_1_booking(struct naive *n)
{
    int64_t dt = n->begun ? n->t - n->last.mono.ms : 0;
    int64_t import_w = n->last_import;
    for (int k = n->settings->load_count - 1; k >= 0; k--)
        book_load(n, n->settings->order[k], dt, &import_w);
}

/* ---- 2 Day ---- */

static void section_2_day(struct naive *n)
{
    bool was_trusted = n->trusted;
    n->trusted = n->trusted || n->input->now.wall_trusted;
    int64_t day =
        n->trusted ? minutes_at(n->minutes, n->w)->day : (n->t - n->untrusted_since) / MS_PER_DAY;
    if (n->begun && day != n->today && was_trusted == n->trusted) {
        n->probes_today = 0;
        for (int i = 0; i < n->settings->load_count; i++)
            n->load[i].on_today = 0;
    }
    n->today = day;
}

/* ---- 3 Orders ---- */

static void take_order(struct naive *n, const struct command *c)
{
    struct naive_load *l = c->load < n->settings->load_count ? &n->load[c->load] : NULL;
    switch (c->kind) {
    case COMMAND_ON:
        if (l == NULL || c->until.ms == NEVER)
            return;
        l->hand = HAND_ON;
        l->hand_until = c->until.ms;
        l->hand_level = c->level_w;
        return;
    case COMMAND_OFF:
        if (l == NULL)
            return;
        l->hand = HAND_OFF;
        l->hand_until = c->until.ms;
        return;
    case COMMAND_AUTO:
        if (l != NULL)
            l->hand = HAND_AUTO;
        return;
    case COMMAND_HOLIDAY:
        n->holiday_back = c->back.ms;
        return;
    case COMMAND_INHIBIT:
        if (c->load == LOAD_ALL)
            n->all_inhibited = c->flag;
        else if (l != NULL)
            l->inhibited = c->flag;
        return;
    case COMMAND_ENABLE:
        if (l != NULL)
            l->disabled = !c->flag;
        return;
    }
}

static void end_holiday(struct naive *n)
{
    n->holiday_back = 0;
    for (int i = 0; i < n->settings->load_count; i++)
        for (int f = 0; f < n->settings->loads[i].floor_count; f++)
            if (!n->settings->loads[i].normal_on_holiday)
                n->load[i].floor[f].met = true;
}

static void section_3_orders(struct naive *n)
{
    for (int c = 0; c < n->input->command_count; c++)
        take_order(n, &n->input->commands[c]);
    for (int i = 0; i < n->settings->load_count; i++)
        if (n->load[i].hand != HAND_AUTO && n->t >= n->load[i].hand_until)
            n->load[i].hand = HAND_AUTO;
    if (n->holiday_back != 0 && n->trusted && n->w >= n->holiday_back)
        end_holiday(n);
}

/* ---- 4 Confirmations ---- */

static void confirmed_on(struct naive *n, struct naive_load *l)
{
    if (l->state != STATE_STARTING)
        return;
    l->state = STATE_ON;
    l->since = n->t;
}

static void confirmed_off(struct naive *n, struct naive_load *l)
{
    if (l->state != STATE_STOPPING && l->state != STATE_ON)
        return;
    if (l->state == STATE_ON) { /* it fell off by itself */
        l->basis = BASIS_NONE;
        l->level = 0;
        l->stage = 0;
        l->enough_since = l->short_since = NEVER;
    }
    l->state = STATE_OFF;
    l->since = n->t;
    l->off_confirmed = true;
    l->off_at = n->t;
    l->off_sequence = n->input->reading->sequence;
}

static void section_4_confirmations(struct naive *n)
{
    for (int c = 0; c < n->input->confirmation_count; c++) {
        const struct confirmation *said = &n->input->confirmations[c];
        struct naive_load *l = &n->load[said->load];
        l->health = said->health;
        if (said->health == OUTPUT_CONFIRMED && said->level_w > 0)
            confirmed_on(n, l);
        else if (said->health == OUTPUT_CONFIRMED)
            confirmed_off(n, l);
        else if ((said->health == OUTPUT_FAILED || said->health == OUTPUT_UNSAFE) && runs(l))
            switch_off(n, said->load);
    }
}

/* ---- 5 Draw ---- */

static void judge_satisfied(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    const struct draw_view *view = &l->view;
    if (l->state == STATE_ON && n->settings->loads[i].thermostat && view->state == DRAW_OPEN &&
        n->t - view->since.ms >= SATISFIED_SETTLE && !l->satisfied) {
        bool opened_now = view->has_opened && view->opened_at.mono.ms >= l->since;
        bool drew_lately = view->has_drawn && n->t - view->drawn_at.ms <= TRIAL_COUNTS;
        if (opened_now || drew_lately) {
            l->satisfied = true;
            l->retry_at = n->t + n->settings->loads[i].retry_ms;
        }
    }
    if (l->state == STATE_ON && view->state == DRAW_SEEN)
        l->satisfied = false;
    if (l->state == STATE_OFF && n->t >= l->retry_at)
        l->satisfied = false;
}

static void section_5_draw(struct naive *n, const struct draw_view view[])
{
    const struct reading *reading = n->input->reading;
    for (int i = 0; i < n->settings->load_count; i++) {
        struct naive_load *l = &n->load[i];
        l->view = view[i];
        if (l->state == STATE_OFF && l->relief && l->off_confirmed && n->fresh &&
            reading->taken.ms > l->off_at && reading->sequence > l->off_sequence)
            l->relief = false;
        judge_satisfied(n, i);
    }
}

/* ---- 6 Calendar ---- */

static int64_t price_now(const struct naive *n)
{
    return n->trusted ? minutes_at(n->minutes, n->w)->price_micro : 0;
}

static int64_t fraction(const struct naive *n, int i)
{
    const struct tariff *tariff = &n->settings->tariff;
    if (n->settings->loads[i].start_permille != 0)
        return n->settings->loads[i].start_permille;
    if (tariff->count == 0 || !n->trusted)
        return 1000;
    int64_t p = price_now(n), c = INT32_MAX, f = tariff->feed_in_micro;
    for (int b = 0; b < tariff->count; b++)
        c = min64(c, tariff->band[b].price_micro);
    if (p <= f)
        return 1000;
    return max64(200, min64(1000, 1000 * (p - c) / (p - f)));
}

static bool is_open(const struct naive *n, int i, int64_t wall_ms)
{
    if (n->settings->loads[i].hours.count == 0)
        return true;
    if (!n->trusted)
        return !n->settings->loads[i].strict;
    return (minutes_at(n->minutes, wall_ms)->open >> i & 1) != 0;
}

/* Whether the hours stay open for `ms` from now. */
static bool open_for(const struct naive *n, int i, int64_t ms)
{
    for (int64_t at = n->w; at < n->w + ms; at = (at / 60000 + 1) * 60000)
        if (!is_open(n, i, at))
            return false;
    return true;
}

static void section_6_calendar(struct naive *n)
{
    n->quiet = n->trusted && minutes_at(n->minutes, n->w)->quiet;
    for (int i = 0; i < n->settings->load_count; i++) {
        const struct load_settings *s = &n->settings->loads[i];
        struct naive_load *l = &n->load[i];
        l->open = is_open(n, i, n->w);
        l->daily_left = s->daily_max_ms == 0 ? NEVER : s->daily_max_ms - l->on_today;
        l->start_need = fraction(n, i) * first_power(n, i) / 1000;
        naive_floors(n, i);
    }
}

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

static void add_to_pools(const struct naive *n, int i, int64_t power_w, int64_t S[])
{
    int pool[PHASES], count = pools_of(n, i, pool);
    for (int k = 0; k < count; k++)
        S[pool[k]] += power_w / count;
}

static int64_t avail(const struct naive *n, int i, const int64_t S[])
{
    int pool[PHASES], count = pools_of(n, i, pool);
    int64_t least = S[pool[0]];
    for (int k = 1; k < count; k++)
        least = min64(least, S[pool[k]]);
    return count * least;
}

static bool share_a_pool(const struct naive *n, int i, int j)
{
    return n->settings->billing == BILLING_NET ||
           (n->settings->loads[i].phases & n->settings->loads[j].phases) != 0;
}

static int64_t gives_up(const struct naive *n, int i)
{
    const struct naive_load *l = &n->load[i];
    bool can = l->state == STATE_ON && l->health == OUTPUT_CONFIRMED &&
               l->last_basis == BASIS_SPARE && l->view.state == DRAW_SEEN &&
               n->t - l->since >= n->settings->loads[i].min_on_ms;
    return can ? l->view.draw_w : 0;
}

static int place_of(const struct naive *n, int i)
{
    int k = 0;
    while (n->settings->order[k] != i)
        k++;
    return k;
}

/* S with what the loads later in order than i could give up. */
static void with_gives(const struct naive *n, int i, int64_t S[])
{
    for (int k = place_of(n, i) + 1; k < n->settings->load_count; k++) {
        int lower = n->settings->order[k];
        add_to_pools(n, lower, gives_up(n, lower), S);
    }
}

/* What of a raise the meter cannot have shown yet. */
static void judge_raise(struct naive *n, struct naive_load *l)
{
    bool shown = n->fresh && n->input->reading->taken.ms >= l->level_since + FOLLOW;
    if (l->state != STATE_ON || unshown(l) || shown)
        l->raise = 0;
}

static void section_7_pools(struct naive *n)
{
    const struct rules_settings *s = n->settings;
    const struct reading *r = n->input->reading;
    n->spare_known = n->fresh && (!s->battery || (r->has & HAS_BATTERY_POWER));
    memset(n->S, 0, sizeof n->S);
    for (int i = 0; i < s->load_count; i++) {
        judge_raise(n, &n->load[i]);
        n->load[i].own = find_own(n, i);
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
        add_to_pools(n, i, -(unshown(&n->load[i]) ? expected(n, i) : n->load[i].raise), n->S);
}

/* ---- 8 Supply ---- */

static int phases_of(const struct load_settings *s)
{
    return (s->phases & 1) + (s->phases >> 1 & 1) + (s->phases >> 2 & 1);
}

static int64_t milliamps(const struct naive *n, int64_t power_w)
{
    return power_w * 1000000 / n->settings->voltage_mv;
}

static void add_amps(const struct naive *n, int i, int64_t power_w, int64_t amps[])
{
    const struct load_settings *s = &n->settings->loads[i];
    int64_t each = milliamps(n, (power_w < 0 ? -power_w : power_w) / phases_of(s));
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
    return n->settings->phase_count == 1 ? milliamps(n, r->grid_power_w) : 0;
}

static void find_amps(struct naive *n)
{
    memset(n->amps, 0, sizeof n->amps);
    if (n->fresh)
        for (int p = 0; p < n->settings->phase_count; p++)
            n->amps[p] = measured_amps(n, p);
    for (int i = 0; i < n->settings->load_count; i++) {
        bool counts = n->fresh ? unshown(&n->load[i]) : runs(&n->load[i]);
        add_amps(n, i, counts ? expected(n, i) : n->load[i].raise, n->amps);
    }
}

static bool in_group(const struct naive *n, int i, int group)
{
    return n->settings->loads[i].group == group;
}

static void group_amps(const struct naive *n, int group, int64_t amps[])
{
    memset(amps, 0, PHASES * sizeof amps[0]);
    for (int i = 0; i < n->settings->load_count; i++)
        if (in_group(n, i, group) && runs(&n->load[i]) &&
            !(n->load[i].state == STATE_ON && n->load[i].view.state == DRAW_OPEN))
            add_amps(n, i, expected(n, i), amps);
}

/* The most by which a phase of load i is over; 0 or less: none is. */
static int64_t worst_over(const struct naive *n, int i, const int64_t over[])
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
    int64_t worst = worst_over(n, i, over);
    if (s->kind != LOAD_SETPOINT || l->state != STATE_ON || l->level <= s->least_w || worst <= 0)
        return;
    int64_t micro_w = worst * n->settings->voltage_mv * phases_of(s);
    int64_t step_micro_w = (int64_t)s->step_w * 1000000;
    int64_t steps = (micro_w + step_micro_w - 1) / step_micro_w;
    int32_t level = (int32_t)max64(s->least_w, l->level - steps * s->step_w);
    add_amps(n, i, level - l->level, over);
    l->level = level;
    l->raise = 0;
    l->level_since = n->t;
}

static bool could_be_shed(const struct naive_load *l)
{
    return runs(l) && !(l->state == STATE_ON && l->view.state == DRAW_OPEN) &&
           !(l->state == STATE_ON && l->view.state == DRAW_NONE);
}

static void shed(struct naive *n, int group, int64_t over[])
{
    for (int k = n->settings->load_count - 1; k >= 0; k--)
        if (group < 0 || in_group(n, n->settings->order[k], group))
            lower_setpoint(n, n->settings->order[k], over);
    for (int k = n->settings->load_count - 1; k >= 0; k--) {
        int i = n->settings->order[k];
        struct naive_load *l = &n->load[i];
        if ((group >= 0 && !in_group(n, i, group)) || !could_be_shed(l) ||
            worst_over(n, i, over) <= 0)
            continue;
        add_amps(n, i, -(group < 0 ? n->load[i].own : expected(n, i)), over);
        l->held_until = n->t + SHED_HOLD;
        switch_off(n, i);
    }
}

static void section_8_supply(struct naive *n)
{
    find_amps(n);
    int64_t over[PHASES];
    if (n->fresh && n->settings->supply_limit_ma > 0) {
        for (int p = 0; p < PHASES; p++)
            over[p] = n->amps[p] - n->settings->supply_limit_ma;
        for (int i = 0; i < n->settings->load_count; i++)
            if (n->load[i].relief)
                add_amps(n, i, -n->load[i].relief_w, over);
        shed(n, -1, over);
    }
    for (int g = 0; g < n->settings->group_count; g++) {
        if (n->settings->group[g].limit_ma == 0)
            continue;
        group_amps(n, g, over);
        for (int p = 0; p < PHASES; p++)
            over[p] -= n->settings->group[g].limit_ma;
        shed(n, g, over);
    }
}

/* ---- 9 Off at once ---- */

static void section_9_off_at_once(struct naive *n)
{
    for (int i = 0; i < n->settings->load_count; i++) {
        struct naive_load *l = &n->load[i];
        l->held_off = l->inhibited || n->all_inhibited || n->input->reading->islanded ||
                      l->health == OUTPUT_FAILED || l->health == OUTPUT_UNSAFE ||
                      l->hand == HAND_OFF;
        if (l->held_off && runs(l))
            switch_off(n, i);
    }
}

/* ---- 10 What speaks for running ---- */

static bool heat_up_due(const struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    const struct naive_load *l = &n->load[i];
    int64_t from = n->holiday_back - s->heat_up_ms - RETURN_RESERVE;
    if (s->heat_up_ms == 0 || n->w < from || l->satisfied)
        return false;
    return !(l->view.has_opened && l->view.opened_at.wall.ms >= from);
}

/* What there is for a load that runs. */
static int64_t A(const struct naive *n, int i)
{
    int64_t S[PHASES];
    memcpy(S, n->S, sizeof S);
    add_to_pools(n, i, n->load[i].own, S);
    with_gives(n, i, S);
    for (int j = 0; j < n->settings->load_count; j++)
        if (n->load[j].relief)
            add_to_pools(n, j, n->load[j].relief_w, S);
    return avail(n, i, S);
}

static void speaks_spare(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    bool keep = A(n, i) >= l->start_need - n->settings->loads[i].stop_margin_w;
    if (keep)
        l->short_since = NEVER;
    else if (l->short_since == NEVER)
        l->short_since = n->t;
    l->spare = keep || (l->last_basis == BASIS_SPARE &&
                        n->t - l->short_since < n->settings->loads[i].settle_stop_ms);
    l->probe = l->last_basis == BASIS_PROBE && n->t - n->last_probe < PROBE_LOOK;
    if (l->probe) /* it goes on looking, whatever it sees */
        l->spare = false;
}

static void speaks(struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    struct naive_load *l = &n->load[i];
    l->manual = l->due = l->cheap = l->spare = l->probe = l->automatic = false;
    bool within = l->open && l->daily_left > 0;
    l->manual = l->hand == HAND_ON && (within || !s->strict) && !l->held_off;
    if (l->disabled || !within)
        return;
    if (n->holiday_back != 0 && n->trusted && !s->normal_on_holiday) {
        l->due = heat_up_due(n, i) && !l->held_off;
        return;
    }
    for (int f = 0; f < s->floor_count; f++) {
        l->due = l->due || (l->floor[f].due && !l->held_off);
        l->cheap = l->cheap || (l->floor[f].cheap && !l->satisfied && !l->held_off);
    }
    l->automatic = s->uses_spare && !l->satisfied && n->spare_known;
}

/* Whether a member of a one-at-a-time group that is not on waits for its place. */
static bool claimed(const struct naive *n, int group)
{
    if (group == RULES_NO_GROUP || !n->settings->group[group].one_at_a_time)
        return false;
    for (int i = 0; i < n->settings->load_count; i++)
        if (in_group(n, i, group) && !runs(&n->load[i]) && (n->load[i].manual || n->load[i].due))
            return true;
    return false;
}

static void section_10_speaks(struct naive *n)
{
    for (int i = 0; i < n->settings->load_count; i++) {
        n->load[i].give_place = false;
        if (!n->spare_known)
            n->load[i].short_since = NEVER;
        speaks(n, i);
    }
    for (int i = 0; i < n->settings->load_count; i++)
        n->load[i].give_place = claimed(n, n->settings->loads[i].group);
}

/* ---- 11 A load that is on ---- */

static enum basis strongest(const struct naive_load *l)
{
    if (l->manual)
        return BASIS_MANUAL;
    if (l->due)
        return BASIS_FLOOR;
    if (l->give_place)
        return BASIS_NONE;
    if (l->cheap)
        return BASIS_CHEAP_HOURS;
    if (l->spare)
        return BASIS_SPARE;
    return l->probe ? BASIS_PROBE : BASIS_NONE;
}

/* In order: what an earlier load gives back is relief for the later ones' A. */
static void section_11_on(struct naive *n)
{
    for (int k = 0; k < n->settings->load_count; k++) {
        int i = n->settings->order[k];
        struct naive_load *l = &n->load[i];
        if (!runs(l))
            continue;
        if (l->automatic)
            speaks_spare(n, i);
        bool minimum =
            l->state == STATE_STARTING || n->t - l->since < n->settings->loads[i].min_on_ms;
        l->basis = strongest(l);
        if (l->basis == BASIS_NONE && minimum)
            l->basis = BASIS_MINIMUM_ON;
        if (l->basis == BASIS_NONE)
            switch_off(n, i);
    }
}

/* ---- 12 A load that is off ---- */

int64_t naive_starts_wait(const struct naive *n, int i)
{
    const struct naive_load *l = &n->load[i];
    int limit = n->settings->loads[i].starts_per_hour;
    if (limit == 0 || l->start_count < limit)
        return 0;
    return max64(0, l->start[l->start_count - limit] + MS_PER_HOUR - n->t);
}

static bool fits(const struct naive *n, int i, const int64_t amps[], int64_t limit_ma)
{
    int64_t with[PHASES];
    memcpy(with, amps, sizeof with);
    add_amps(n, i, first_power(n, i), with);
    return worst_over(n, i, with) <= limit_ma;
}

static bool group_allows(const struct naive *n, int i)
{
    int g = n->settings->loads[i].group;
    if (g == RULES_NO_GROUP)
        return true;
    int64_t amps[PHASES];
    group_amps(n, g, amps);
    if (n->settings->group[g].limit_ma > 0 && !fits(n, i, amps, n->settings->group[g].limit_ma))
        return false;
    for (int j = 0; j < n->settings->load_count && n->settings->group[g].one_at_a_time; j++)
        if (j != i && in_group(n, j, g) && n->load[j].state != STATE_OFF)
            return false;
    return true;
}

static bool may_start(const struct naive *n, int i, enum basis basis)
{
    const struct load_settings *s = &n->settings->loads[i];
    const struct naive_load *l = &n->load[i];
    if (l->state != STATE_OFF || l->health != OUTPUT_CONFIRMED || n->t < l->held_until)
        return false;
    if ((basis != BASIS_MANUAL || s->strict) &&
        (!l->open || !open_for(n, i, s->min_on_ms) || l->daily_left < s->min_on_ms ||
         l->daily_left <= 0))
        return false;
    if (n->t - l->since < s->min_off_ms || naive_starts_wait(n, i) > 0 || n->t < l->restart_at)
        return false;
    if (n->settings->supply_limit_ma > 0 && !fits(n, i, n->amps, n->settings->supply_limit_ma))
        return false;
    if (!group_allows(n, i))
        return false;
    if (n->quiet && basis != BASIS_MANUAL && basis != BASIS_FLOOR)
        return false;
    if (n->last_start >= 0 && n->t - n->last_start < n->settings->start_gap_ms)
        return false;
    bool gave_way = l->victim_of >= 0 && n->load[l->victim_of].takeover;
    return !gave_way || basis == BASIS_MANUAL || basis == BASIS_FLOOR;
}

static void end_takeover(struct naive *n, int i, bool well)
{
    struct naive_load *l = &n->load[i];
    l->takeover = false;
    if (!well) {
        l->takeover_retry = n->t + TAKEOVER_RETRY;
        l->takeover_failed_w = l->promised;
    }
    for (int j = 0; j < n->settings->load_count; j++)
        if (n->load[j].victim_of == i)
            n->load[j].victim_of = -1;
}

static void start(struct naive *n, int i, enum basis basis)
{
    const struct load_settings *s = &n->settings->loads[i];
    struct naive_load *l = &n->load[i];
    if (l->start_count == NAIVE_STARTS) {
        memmove(l->start, l->start + 1, sizeof l->start - sizeof l->start[0]);
        l->start_count--;
    }
    l->start[l->start_count++] = n->t;
    l->total.starts++;
    l->state = STATE_STARTING;
    l->since = l->level_since = l->raised = n->t;
    l->basis = basis;
    l->stage = s->kind == LOAD_STAGED ? 1 : 0;
    l->level = (int32_t)first_power(n, i);
    l->own = l->level;
    l->raise = 0;
    l->relief = false;
    l->enough_since = NEVER;
    n->last_start = n->t;
    add_to_pools(n, i, -first_power(n, i), n->S);
    add_amps(n, i, first_power(n, i), n->amps);
    if (l->takeover)
        end_takeover(n, i, true);
}

static int64_t can_give(const struct naive *n, int i)
{
    int64_t sum = 0;
    for (int k = place_of(n, i) + 1; k < n->settings->load_count; k++) {
        int lower = n->settings->order[k];
        if (share_a_pool(n, i, lower))
            sum += gives_up(n, lower);
    }
    return sum;
}

static void begin_takeover(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    for (int j = 0; j < n->settings->load_count; j++)
        if (n->load[j].takeover)
            return;
    if (n->t < l->takeover_retry && can_give(n, i) <= l->takeover_failed_w * 11 / 10)
        return;
    int64_t S[PHASES];
    memcpy(S, n->S, sizeof S);
    l->promised = 0;
    for (int k = n->settings->load_count - 1; k > place_of(n, i) && avail(n, i, S) < l->start_need;
         k--) {
        int victim = n->settings->order[k];
        int64_t gives = gives_up(n, victim);
        if (gives <= 0 || !share_a_pool(n, i, victim))
            continue;
        add_to_pools(n, victim, gives, S);
        l->promised += gives;
        switch_off(n, victim);
        n->load[victim].victim_of = i;
    }
    l->takeover = true;
    l->takeover_since = n->t;
}

/* By what was so in the last turn, before any load is considered. */
static void judge_takeover(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    bool awaited = false;
    for (int j = 0; j < n->settings->load_count; j++)
        if (n->load[j].victim_of == i)
            awaited = awaited || n->load[j].relief || n->load[j].state == STATE_STOPPING;
    if (l->state != STATE_OFF || l->enough_since == NEVER ||
        (!awaited && avail(n, i, n->S) < l->start_need) ||
        n->t - l->takeover_since >= TAKEOVER_PATIENCE)
        end_takeover(n, i, false);
}

static bool find_enough(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    int64_t S[PHASES];
    memcpy(S, n->S, sizeof S);
    with_gives(n, i, S);
    for (int j = 0; j < n->settings->load_count; j++)
        if (n->load[j].victim_of == i && n->load[j].relief)
            add_to_pools(n, j, n->load[j].relief_w, S);
    bool enough = l->automatic && !n->quiet && avail(n, i, S) >= l->start_need;
    if (!enough)
        l->enough_since = NEVER;
    else if (l->enough_since == NEVER)
        l->enough_since = n->t;
    return enough;
}

static void consider_spare(struct naive *n, int i, bool enough)
{
    struct naive_load *l = &n->load[i];
    bool settled = enough && n->t - l->enough_since >= n->settings->loads[i].settle_start_ms;
    if (!enough || l->held_off || (!settled && !l->takeover) || !may_start(n, i, BASIS_SPARE))
        return;
    if (avail(n, i, n->S) >= l->start_need)
        start(n, i, BASIS_SPARE);
    else if (settled && !l->takeover)
        begin_takeover(n, i);
}

static void consider_start(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    bool enough = find_enough(n, i);
    if (l->manual || l->due || l->cheap) {
        enum basis basis = l->manual ? BASIS_MANUAL : l->due ? BASIS_FLOOR : BASIS_CHEAP_HOURS;
        if (may_start(n, i, basis))
            start(n, i, basis);
    } else {
        consider_spare(n, i, enough);
    }
}

static bool may_probe_now(const struct naive *n)
{
    const struct rules_settings *s = n->settings;
    if (n->throttled_since == NEVER || !n->spare_known || n->probes_today >= s->probes_per_day)
        return false;
    if (n->last_probe >= 0 && n->t - n->last_probe < s->probe_wait_ms)
        return false;
    for (int i = 0; i < s->load_count; i++)
        if (unshown(&n->load[i]) || n->load[i].relief)
            return false;
    return true;
}

static void find_throttled(struct naive *n)
{
    const struct reading *r = n->input->reading;
    int64_t limit = n->settings->export_limit_w;
    bool throttled =
        n->spare_known &&
        (r->inverter_throttled || (limit > 0 && -(int64_t)r->grid_power_w * 100 >= limit * 95));
    if (!throttled)
        n->throttled_since = NEVER;
    else if (n->throttled_since == NEVER)
        n->throttled_since = n->t;
}

static void probe(struct naive *n)
{
    for (int k = 0; k < n->settings->load_count; k++) {
        int i = n->settings->order[k];
        struct naive_load *l = &n->load[i];
        if (l->state != STATE_OFF || !l->automatic || l->held_off || l->manual || l->due ||
            l->cheap || l->enough_since != NEVER || !may_start(n, i, BASIS_PROBE))
            continue;
        if (n->t - n->throttled_since >= n->settings->loads[i].settle_start_ms) {
            start(n, i, BASIS_PROBE);
            n->last_probe = n->t;
            n->probes_today++;
        }
        return;
    }
}

static void section_12_off(struct naive *n)
{
    for (int i = 0; i < n->settings->load_count; i++)
        if (n->load[i].takeover)
            judge_takeover(n, i);
    for (int k = 0; k < n->settings->load_count; k++) {
        int i = n->settings->order[k];
        if (n->load[i].state == STATE_OFF)
            consider_start(n, i);
    }
    find_throttled(n);
    if (may_probe_now(n))
        probe(n);
}

/* ---- 13 Levels ---- */

static int64_t headroom_under(const struct naive *n, int i, const int64_t amps[], int64_t limit_ma)
{
    const struct load_settings *s = &n->settings->loads[i];
    int64_t left_ma = limit_ma - worst_over(n, i, amps);
    return left_ma * n->settings->voltage_mv / 1000000 * phases_of(s) + n->load[i].own;
}

static int64_t headroom(const struct naive *n, int i)
{
    int64_t room = NEVER;
    int g = n->settings->loads[i].group;
    if (n->settings->supply_limit_ma > 0)
        room = headroom_under(n, i, n->amps, n->settings->supply_limit_ma);
    if (g != RULES_NO_GROUP && n->settings->group[g].limit_ma > 0) {
        int64_t amps[PHASES];
        group_amps(n, g, amps);
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
        return l->hand_level == 0 ? most : min64(most, l->hand_level);
    case BASIS_FLOOR:
    case BASIS_CHEAP_HOURS:
        return most;
    case BASIS_SPARE:
    case BASIS_PROBE:
        return min64(most, A(n, i));
    default:
        return 0;
    }
}

static void set_level(struct naive *n, int i, int64_t level)
{
    struct naive_load *l = &n->load[i];
    l->raise = max64(0, level - l->level);
    add_to_pools(n, i, -l->raise, n->S);
    add_amps(n, i, l->raise, n->amps);
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
    while (target < s->stages && amount_of_stages(s, target + 1) <= room)
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
    set_level(n, i, amount_of_stages(s, l->stage));
}

static void section_13_levels(struct naive *n)
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

/* ---- one turn ---- */

static void find_fresh(struct naive *n)
{
    const struct reading *r = n->input->reading;
    uint32_t needed = HAS_GRID_POWER;
    if (n->settings->billing == BILLING_PER_PHASE)
        needed |= HAS_PHASE_POWER;
    n->fresh = r->quality == READING_FRESH && (r->has & needed) == needed;
}

static void remember(struct naive *n)
{
    const struct reading *r = n->input->reading;
    n->last_import = -1;
    if (n->fresh) {
        n->last_import = max64(0, r->grid_power_w);
        if (n->settings->battery && (r->has & HAS_BATTERY_POWER))
            n->last_import += max64(0, -(int64_t)r->battery_power_w);
    }
    n->last = n->input->now;
    n->begun = true;
}

void naive_turn(struct naive *n, const struct rules_input *input, const struct draw_view view[],
                struct naive_decision decision[])
{
    n->input = input;
    n->t = input->now.mono.ms;
    n->w = input->now.wall.ms;
    n->stepped = n->begun && (n->w - n->last.wall.ms) - (n->t - n->last.mono.ms) > CLOCK_STEP;
    find_fresh(n);
    for (int i = 0; i < n->settings->load_count; i++)
        n->load[i].last_basis = n->load[i].basis;
    section_1_booking(n);
    section_2_day(n);
    section_3_orders(n);
    section_4_confirmations(n);
    section_5_draw(n, view);
    section_6_calendar(n);
    section_7_pools(n);
    section_8_supply(n);
    section_9_off_at_once(n);
    section_10_speaks(n);
    section_11_on(n);
    section_12_off(n);
    section_13_levels(n);
    remember(n);
    for (int i = 0; i < n->settings->load_count; i++) {
        const struct naive_load *l = &n->load[i];
        decision[i] = runs(l) ? (struct naive_decision){true, l->stage, l->level, l->basis}
                              : (struct naive_decision){false, 0, 0, BASIS_NONE};
    }
}
