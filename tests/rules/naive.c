/* naive.c - see naive.h. The functions below stand in the order of TABLE.md and
 * bear the numbers of its sections; section 5 is in naive_draw.c, the floors of section 6 in
 * naive_floors.c, 7, 8 and 13 in naive_power.c, 9 to 12 in naive_decide.c. */
#include "naive_inside.h"

#include <string.h>

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

int32_t naive_amount_of_stages(const struct load_settings *s, int stages)
{
    int32_t sum = 0;
    for (int i = 0; i < stages; i++)
        sum += s->stage_w[i];
    return sum;
}

enum hand naive_ordered(const struct naive_load *l)
{
    return l->test == HAND_AUTO ? l->hand : l->test;
}

bool naive_runs(const struct naive_load *l)
{
    return l->state == STATE_STARTING || l->state == STATE_ON;
}

/* What starts with: the least of it. */
int64_t naive_first_power(const struct naive *n, int i)
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

/* The highest level that it can be given. */
int64_t naive_most(const struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    if (s->kind == LOAD_STAGED)
        return naive_amount_of_stages(s, s->stages);
    if (s->kind != LOAD_SETPOINT)
        return n->load[i].view.power_w;
    int64_t level = s->power_w;
    while (level % s->step_w != 0)
        level--;
    return level > s->least_w ? level : s->least_w;
}

/* Section 7: expected power of a load that runs. */
int64_t naive_expected(const struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    const struct naive_load *l = &n->load[i];
    switch (s->kind) {
    case LOAD_STAGED:
        return naive_amount_of_stages(s, l->stage);
    case LOAD_SETPOINT:
        return l->level;
    default:
        return l->view.power_w;
    }
}

bool naive_unshown(const struct naive_load *l)
{
    return l->state == STATE_STARTING || (l->state == STATE_ON && l->view.state == DRAW_WAITING);
}

int64_t naive_find_own(const struct naive *n, int i)
{
    const struct naive_load *l = &n->load[i];
    if (naive_unshown(l))
        return naive_expected(n, i);
    if (l->state != STATE_ON)
        return 0;
    if (l->view.state == DRAW_SEEN)
        return l->view.draw_w + l->raise;
    return l->view.state == DRAW_ASSUMED ? l->view.draw_w : 0;
}

/* Section 12, last paragraphs. */
void naive_switch_off(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    const struct load_settings *s = &n->settings->loads[i];
    l->stop =
        s->kind == LOAD_SWITCHED && !naive_own_meter_reads(n, i) ? STOP_WATCHED : STOP_NOT_WATCHED;
    l->seen_before = false;
    naive_mark_level(n, i);
    l->relief_w = (int32_t)l->own;
    l->relief = true;
    l->off_confirmed = false;
    l->state = STATE_STOPPING;
    l->since = n->t;
    l->level = 0;
    l->raise = l->less = 0;
    l->stage = 0;
    l->basis = BASIS_NONE;
    l->enough_since = l->short_since = NEVER;
}

/* ---- 1 Booking ---- */

static void book_load(struct naive *n, int i, int64_t dt, int64_t *import_w)
{
    const struct load_settings *s = &n->settings->loads[i];
    struct naive_load *l = &n->load[i];
    enum draw_state draw = l->view.state;
    if (naive_runs(l)) {
        l->on_today += dt;
        l->total.on_ms += dt;
    }
    if (draw != DRAW_STUCK && !(naive_runs(l) && (draw == DRAW_SEEN || draw == DRAW_ASSUMED)))
        return;
    l->heated += l->view.draw_w * dt;
    bool vague = draw == DRAW_SEEN && l->vague;
    bool nothing_showed =
        draw == DRAW_ASSUMED || vague || (draw == DRAW_STUCK && !naive_own_meter_reads(n, i));
    if (nothing_showed)
        l->guessed += l->view.draw_w * dt;
    int64_t grid_w = n->last_import < 0 ? l->view.draw_w : min64(*import_w, l->view.draw_w);
    *import_w -= grid_w;
    l->total.draw_ms += dt;
    l->total.grid_mj += grid_w * dt;
    l->total.spare_mj += (l->view.draw_w - grid_w) * dt;
    if (nothing_showed)
        l->total.assumed_mj += l->view.draw_w * dt;
    if (l->heat != NULL)
        heat_heated(l->heat, l->view.draw_w * dt);
    if (draw == DRAW_STUCK && !naive_own_meter_reads(n, i))
        return;
    for (int f = 0; f < s->floor_count; f++) {
        int64_t now = l->floor[f].elapsed ? n->t : n->w;
        int64_t done = dt;
        if (s->floor[f].measure == FLOOR_ENERGY)
            done = l->view.draw_w * dt;
        if (s->floor[f].measure == FLOOR_SATISFIED && l->floor[f].deadline - now >= MS_PER_DAY)
            done = 0;
        l->floor[f].done += done;
        if (draw == DRAW_ASSUMED || vague)
            l->floor[f].unproven += done;
    }
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
        l->test = HAND_AUTO;
        l->hand_until = c->until.ms;
        l->hand_level = c->level_w;
        return;
    case COMMAND_OFF:
        if (l == NULL)
            return;
        l->hand = HAND_OFF;
        l->test = HAND_AUTO;
        l->hand_until = c->until.ms;
        return;
    case COMMAND_AUTO:
        if (l != NULL)
            l->hand = l->test = HAND_AUTO;
        return;
    case COMMAND_TEST:
        if (l == NULL || c->until.ms == NEVER)
            return;
        l->test = c->flag ? HAND_ON : HAND_OFF;
        l->test_until = c->until.ms;
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
    for (int i = 0; i < n->settings->load_count; i++) {
        if (n->load[i].hand != HAND_AUTO && n->t >= n->load[i].hand_until)
            n->load[i].hand = HAND_AUTO;
        if (n->load[i].test != HAND_AUTO && n->t >= n->load[i].test_until)
            n->load[i].test = HAND_AUTO;
    }
    if (n->holiday_back != 0 && n->trusted && n->w >= n->holiday_back)
        end_holiday(n);
}

/* ---- 4 Confirmations ---- */

static void confirmed_on(struct naive *n, struct naive_load *l)
{
    if (l->state == STATE_STARTING)
        l->state = STATE_ON;
    else if (l->state == STATE_OFF) /* somebody has switched it on */
        l->state = STATE_STOPPING;
    else
        return;
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
    l->off_sequence = n->input->reading->grid.sequence;
}

static void section_4_confirmations(struct naive *n)
{
    for (int c = 0; c < n->input->confirmation_count; c++) {
        const struct confirmation *said = &n->input->confirmations[c];
        struct naive_load *l = &n->load[said->load];
        l->health = said->health;
        bool first = said->health == OUTPUT_CONFIRMED && !l->was_confirmed;
        l->was_confirmed = l->was_confirmed || first;
        if (first && said->level_w == 0 && l->state == STATE_OFF)
            l->since = n->t;
        if (said->health == OUTPUT_CONFIRMED && said->level_w > 0)
            confirmed_on(n, l);
        else if (said->health == OUTPUT_CONFIRMED)
            confirmed_off(n, l);
    }
}

/* ---- 6 Calendar ---- */

int64_t naive_price_now(const struct naive *n)
{
    return n->trusted ? minutes_at(n->minutes, n->w)->price_micro : 0;
}

static int64_t fraction(const struct naive *n, int i)
{
    const struct tariff *tariff = &n->settings->tariff;
    if (n->settings->loads[i].start_permille > RULES_START_LEARNT)
        return n->settings->loads[i].start_permille;
    if (tariff->count == 0 || !n->trusted)
        return 1000;
    int64_t p = naive_price_now(n), c = INT32_MAX, f = tariff->feed_in_micro;
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
bool naive_open_for(const struct naive *n, int i, int64_t ms)
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
        l->start_need = fraction(n, i) * naive_first_power(n, i) / 1000;
        naive_floors(n, i);
    }
}

/* ---- one turn ---- */

static void find_fresh(struct naive *n)
{
    const struct reading *r = n->input->reading;
    uint32_t needed = HAS_GRID_POWER;
    if (n->settings->billing == BILLING_PER_PHASE)
        needed |= HAS_PHASE_POWER;
    n->fresh = r->grid.quality == READING_FRESH && (r->has & needed) == needed;
}

static void remember(struct naive *n)
{
    const struct reading *r = n->input->reading;
    n->last_import = -1;
    if (n->fresh) {
        n->last_import = max64(0, r->grid_power_w);
        if (n->settings->battery && r->battery.quality == READING_FRESH &&
            (r->has & HAS_BATTERY_POWER))
            n->last_import += max64(0, -(int64_t)r->battery_power_w);
    }
    n->last = n->input->now;
    n->begun = true;
}

void naive_turn(struct naive *n, const struct rules_input *input, struct naive_decision decision[])
{
    n->input = input;
    n->t = input->now.mono.ms;
    n->w = input->now.wall.ms;
    n->stepped = n->begun && (n->w - n->last.wall.ms) - (n->t - n->last.mono.ms) > CLOCK_STEP;
    n->stepped_back = n->begun && n->w - n->last.wall.ms < n->t - n->last.mono.ms;
    find_fresh(n);
    for (int i = 0; i < n->settings->load_count; i++)
        n->load[i].last_basis = n->load[i].basis;
    section_1_booking(n);
    section_2_day(n);
    section_3_orders(n);
    section_4_confirmations(n);
    naive_section_5_draw(n);
    section_6_calendar(n);
    naive_section_7_pools(n);
    naive_section_7a_worth(n);
    naive_section_8_supply(n);
    naive_section_9_off_at_once(n);
    naive_section_10_speaks(n);
    naive_section_11_on(n);
    naive_section_12_off(n);
    naive_section_13_levels(n);
    remember(n);
    for (int i = 0; i < n->settings->load_count; i++) {
        const struct naive_load *l = &n->load[i];
        decision[i] = naive_runs(l) ? (struct naive_decision){true, l->stage, l->level, l->basis}
                                    : (struct naive_decision){false, 0, 0, BASIS_NONE};
    }
}
