/* naive_draw.c - section 5 of TABLE.md: what each load really does. See naive.h.
 *
 * The looks are kept as a list, newest first, and all levels are worked out from it
 * anew. */
#include "naive_inside.h"

#include <string.h>

enum {
    LOOK_SPAN = 2500,
    ROOF_DARK = 50,
    ROOF_SLEEPS = 14 * MS_PER_HOUR,
    HEATED = MS_PER_MIN,
    NEEDS_LEAST = 6 * MS_PER_HOUR,
    VAGUE_HEATED = 10 * MS_PER_MIN,
    ALIKE = MS_PER_HOUR,
    ALIKE_SHORT = 5 * MS_PER_MIN,
};

/* ---- looks ---- */

static bool several(const struct naive *n)
{
    return n->settings->solar || n->settings->battery;
}

static bool sleeps(const struct naive *n)
{
    const struct reading *r = n->input->reading;
    return n->settings->solar && (r->has & HAS_SOLAR_POWER) && r->solar.quality != READING_FRESH &&
           r->solar_power_w <= ROOF_DARK && n->t - r->solar.taken.ms < ROOF_SLEEPS;
}

static int sources(const struct naive *n, const struct source *source[3])
{
    const struct reading *r = n->input->reading;
    int count = 0;
    source[count++] = &r->grid;
    if (n->settings->solar && !sleeps(n))
        source[count++] = &r->solar;
    if (n->settings->battery)
        source[count++] = &r->battery;
    return count;
}

static bool seeing(const struct naive *n)
{
    const struct reading *r = n->input->reading;
    const struct source *source[3];
    uint32_t needed = HAS_GRID_POWER | (n->settings->solar ? HAS_SOLAR_POWER : 0U) |
                      (n->settings->battery ? HAS_BATTERY_POWER : 0U);
    if ((r->has & needed) != needed)
        return false;
    for (int k = sources(n, source) - 1; k >= 0; k--)
        if (source[k]->quality != READING_FRESH)
            return false;
    return true;
}

static int64_t value_for(const struct naive *n, int i)
{
    const struct reading *r = n->input->reading;
    if (!several(n) && n->settings->phase_count > 1 && (r->has & HAS_PHASE_POWER)) {
        int64_t sum = 0;
        for (int p = 0; p < PHASES; p++)
            sum += n->settings->loads[i].phases >> p & 1 ? r->phase_power_w[p] : 0;
        return sum;
    }
    int64_t value = r->grid_power_w;
    if (n->settings->solar)
        value += r->solar_power_w;
    if (n->settings->battery)
        value -= r->battery_power_w;
    return value;
}

/* Whether a look was taken in this turn. */
static bool look(struct naive *n)
{
    n->seeing = seeing(n);
    if (!n->seeing) {
        n->look_count = 0;
        for (int i = 0; i < n->settings->load_count; i++)
            n->load[i].before_known = false;
        return false;
    }
    const struct source *source[3];
    int count = sources(n, source);
    struct naive_look taken = {.from = NEVER, .to = -NEVER};
    for (int k = 0; k < count; k++) {
        taken.from = min64(taken.from, source[k]->taken.ms);
        taken.to = max64(taken.to, source[k]->taken.ms);
    }
    if (taken.from <= n->last_look_to || taken.to - taken.from > LOOK_SPAN)
        return false;
    n->last_look_to = taken.to;
    for (int i = 0; i < n->settings->load_count; i++)
        taken.value[i] = value_for(n, i);
    memmove(n->look + 1, n->look, sizeof n->look - sizeof n->look[0]);
    n->look[0] = taken;
    if (n->look_count < NAIVE_LOOKS)
        n->look_count++;
    return true;
}

/* As of the newest look but `past`. False: there is none. */
static bool level_at(const struct naive *n, int i, int past, int64_t *level)
{
    if (!several(n)) {
        *level = n->look[past].value[i];
        return n->look_count > past;
    }
    if (n->look_count < past + 3)
        return false;
    int64_t a = n->look[past].value[i], b = n->look[past + 1].value[i],
            c = n->look[past + 2].value[i];
    *level = max64(min64(a, b), min64(max64(a, b), c));
    return true;
}

bool naive_looks_since(const struct naive *n, int64_t since)
{
    int enough = several(n) ? 2 : 1;
    return n->look_count >= enough && n->look[enough - 1].from >= since;
}

void naive_mark_level(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    l->before_known = n->seeing && level_at(n, i, 0, &l->before);
    l->mixed = !l->before_known;
    for (int j = 0; j < n->settings->load_count; j++) {
        const struct naive_load *other = &n->load[j];
        if (j != i && (other->state == STATE_STARTING || other->state == STATE_STOPPING ||
                       !naive_looks_since(n, other->since)))
            l->mixed = true;
    }
    l->view_when_switched = l->view.state;
    l->draw_when_switched = l->view.draw_w;
}

static bool level_shows(const struct naive *n, int i, int64_t *change)
{
    const struct naive_load *l = &n->load[i];
    int64_t now = 0;
    bool known = level_at(n, i, 0, &now);
    *change = now - l->before;
    return n->seeing && known && l->before_known && naive_looks_since(n, l->since);
}

static bool waited_for(const struct naive *n, int i, bool shows)
{
    const struct naive_load *l = &n->load[i];
    if (n->t < l->since + NAIVE_SHOW)
        return true;
    return !shows && n->seeing && l->before_known && n->t < l->since + 3 * NAIVE_SHOW;
}

bool naive_own_meter_reads(const struct naive *n, int i)
{
    return n->settings->loads[i].metered &&
           n->input->load_reading[i].power.quality == READING_FRESH;
}

/* ---- sizes ---- */

static int64_t tolerance(int64_t power)
{
    return power * 15 / 100 + 50;
}

static bool fit(int64_t x, int64_t power)
{
    return max64(x - power, power - x) <= tolerance(power);
}

static bool stayed(int64_t change, int64_t power)
{
    return max64(change, -change) <= power / 4;
}

static bool credible(const struct naive *n, int i, int64_t measured)
{
    int64_t plate = n->settings->loads[i].power_w;
    return measured >= plate / 2 && measured <= plate + plate / 2;
}

/* As much as its start added. */
static bool twice(const struct naive_load *l, int64_t fall)
{
    return !l->mixed && l->started_with > 0 && fit(fall, l->started_with) &&
           fall > l->view.power_w / 4;
}

static void fell_by(struct naive *n, int i, int64_t fall)
{
    struct draw_view *v = &n->load[i].view;
    int64_t plate = n->settings->loads[i].power_w, p = v->power_w;
    if (n->load[i].mixed)
        return;
    if (fit(fall, p) || !v->power_measured) {
        bool as_twice = !fit(fall, p) && twice(&n->load[i], fall) && fall >= plate / 4 &&
                        fall <= plate + plate / 2;
        if (as_twice || credible(n, i, fall))
            v->power_w = (int32_t)(v->power_measured ? (3 * p + fall) / 4 : fall);
        v->power_measured |= as_twice || credible(n, i, fall);
    } else if (twice(&n->load[i], fall) && fall >= plate / 4 && fall <= plate + plate / 2) {
        v->power_w = (int32_t)fall;
    }
}

static void measured(struct naive *n, int i, int64_t power)
{
    struct draw_view *v = &n->load[i].view;
    if (!credible(n, i, power))
        return;
    v->power_w = (int32_t)(v->power_measured ? (3 * (int64_t)v->power_w + power) / 4 : power);
    v->power_measured = true;
}

static void draw_is(struct naive *n, int i, enum draw_state state, int64_t draw)
{
    struct draw_view *v = &n->load[i].view;
    if (v->state != state)
        v->since.ms = n->t;
    v->state = state;
    v->draw_w = (int32_t)draw;
}

static bool below(const struct naive *n, int i, int64_t draw)
{
    int64_t level;
    return n->settings->solar && !sleeps(n) && level_at(n, i, 0, &level) &&
           level < draw - tolerance(draw);
}

/* ---- others of its size ---- */

static bool alike(const struct naive *n, int i)
{
    return n->t < n->load[i].alike_until;
}

static void back_and_forth(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    if (l->by_itself && n->t - l->view.since.ms < ALIKE_SHORT)
        l->alike_until = n->t + ALIKE;
}

static void look_for_others(struct naive *n, int i, int switching)
{
    struct naive_load *l = &n->load[i];
    int64_t level, had;
    if (switching > 0 || !level_at(n, i, 1, &had) || !level_at(n, i, 0, &level))
        return;
    bool off = l->state == STATE_OFF && l->view.state == DRAW_NONE && l->stop != STOP_WATCHED;
    bool up = fit(level - had, l->view.power_w), down = fit(had - level, l->view.power_w);
    if ((up && level > had && (off || l->view.state == DRAW_SEEN)) ||
        (down && level < had && (off || l->view.state == DRAW_OPEN)))
        l->alike_until = n->t + ALIKE;
}

/* ---- on ---- */

static void seems_open(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    l->opened_after_heating = n->settings->loads[i].thermostat &&
                              n->t - l->view.since.ms >= (l->vague ? VAGUE_HEATED : HEATED);
    if (!level_at(n, i, 1, &l->level_as_it_opened))
        l->level_as_it_opened = 0;
    draw_is(n, i, DRAW_OPEN, 0);
}

static void takes_too_little(struct naive *n, int i)
{
    int64_t level, draw = n->load[i].view.draw_w;
    if (!below(n, i, draw) || !level_at(n, i, 0, &level))
        return;
    seems_open(n, i);
    n->load[i].by_itself = false;
    n->load[i].level_as_it_opened = level + draw;
}

static void own_meter(struct naive *n, int i, int64_t power)
{
    const struct load_settings *s = &n->settings->loads[i];
    struct naive_load *l = &n->load[i];
    if (power > naive_first_power(n, i) / 4) {
        if (s->kind == LOAD_SWITCHED || s->kind == LOAD_REQUEST)
            measured(n, i, power);
        l->vague = false;
        l->shown_run = true;
        draw_is(n, i, DRAW_SEEN, power);
    } else if (l->view.state == DRAW_SEEN) {
        seems_open(n, i);
    } else if (l->state == STATE_ON && n->t >= l->since + NAIVE_SHOW) {
        l->by_itself = l->by_itself && l->view.state == DRAW_OPEN;
        draw_is(n, i, DRAW_OPEN, 0);
    }
}

/* The inverter, and there is no meter that would show how far. */
static bool held_back(const struct naive *n)
{
    return !n->settings->solar && n->throttled_since != NEVER;
}

static void ordered_on(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    int64_t change, p = l->view.power_w;
    if (l->state != STATE_ON)
        return;
    bool shows = level_shows(n, i, &change);
    bool own =
        shows && !l->mixed && (l->view.power_measured ? fit(change, p) : credible(n, i, change));
    if (!own && waited_for(n, i, shows))
        return;
    l->by_itself = false;
    if (own || (shows && change > p / 4)) {
        own = own && !alike(n, i);
        l->vague = !own;
        l->shown_run = own;
        l->started_with = l->mixed ? 0 : change;
        if (own)
            draw_is(n, i, DRAW_SEEN, l->view.power_measured ? p : change);
        else
            draw_is(n, i, DRAW_SEEN, min64(p, change));
        return;
    }
    bool none = shows && stayed(change, p) && l->last_basis != BASIS_PROBE && !held_back(n) &&
                !l->mixed && l->view_when_switched != DRAW_STUCK;
    draw_is(n, i, none ? DRAW_OPEN : DRAW_ASSUMED, none ? 0 : p);
}

static void at_a_look(struct naive *n, int i, int switching)
{
    struct naive_load *l = &n->load[i];
    int64_t level, had, p = l->view.power_w;
    if (!level_at(n, i, 1, &had) || !level_at(n, i, 0, &level) || switching > 0 ||
        !n->settings->loads[i].thermostat)
        return;
    if (l->view.state == DRAW_SEEN) {
        if (fit(had - level, l->view.draw_w) || (l->vague && fit(had - level, p))) {
            back_and_forth(n, i);
            seems_open(n, i);
            l->by_itself = true;
        } else {
            takes_too_little(n, i);
        }
    } else if (l->view.state == DRAW_OPEN) {
        int64_t back = level - l->level_as_it_opened;
        bool fits = fit(level - had, p);
        bool came_back = l->opened_after_heating && n->t - l->view.since.ms < SATISFIED_SETTLE &&
                         max64(back, -back) <= tolerance(p);
        if (!fits && !came_back)
            return;
        back_and_forth(n, i);
        if (!came_back)
            l->vague = !l->shown_run || alike(n, i);
        draw_is(n, i, DRAW_SEEN, fits ? level - had : p);
        l->by_itself = true;
    }
}

/* Vague, though it began with p: what comes and goes would have gone again. */
static void has_lasted(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    if (l->view.state == DRAW_SEEN && l->vague && !l->by_itself && l->started_with > 0 &&
        fit(l->started_with, l->view.power_w) && n->t - l->view.since.ms >= VAGUE_HEATED) {
        l->vague = false;
        l->shown_run = true;
    }
}

static void without_seeing(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    int64_t level;
    if (l->view.state == DRAW_SEEN && !n->seeing) {
        l->seen_before = true;
        l->level_seen_before = l->last_level;
        draw_is(n, i, DRAW_ASSUMED, l->view.draw_w);
    } else if (l->view.state == DRAW_ASSUMED && l->seen_before && level_at(n, i, 0, &level)) {
        l->seen_before = false;
        if (level >= l->level_seen_before - l->view.draw_w / 2 && !below(n, i, l->view.draw_w))
            draw_is(n, i, DRAW_SEEN, l->view.draw_w);
    }
}

static void draw_of_on(struct naive *n, int i, bool looked, int switching)
{
    struct naive_load *l = &n->load[i];
    if (n->settings->loads[i].kind != LOAD_SWITCHED) {
        if (l->state == STATE_ON)
            draw_is(n, i, DRAW_ASSUMED, naive_expected(n, i));
        return;
    }
    if (l->view.state == DRAW_WAITING)
        ordered_on(n, i);
    else if (looked)
        at_a_look(n, i, switching);
    has_lasted(n, i);
    without_seeing(n, i);
}

/* ---- off ---- */

static void after_a_stop(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    int64_t change, p = l->view.power_w;
    bool shows = level_shows(n, i, &change);
    if (l->state != STATE_OFF || l->stop != STOP_WATCHED)
        return;
    bool fell = shows && (-change >= p / 2 || twice(l, -change)) && !(l->mixed && l->view.supposed);
    if (!fell && waited_for(n, i, shows))
        return;
    bool flat = !fell && shows && stayed(change, p) && !l->mixed && !held_back(n) && !alike(n, i);
    l->stop = fell ? STOP_DID_FALL : flat ? STOP_DID_STAY : STOP_NOT_SEEN;
    l->view.off_shown = fell || (flat && l->view_when_switched == DRAW_OPEN);
    if (fell && !l->mixed && (fit(-change, p) || twice(l, -change)))
        l->view.unexplained = false;
    if (fell)
        fell_by(n, i, -change);
    if (flat && l->view_when_switched == DRAW_SEEN && !l->vague && !l->doubted)
        draw_is(n, i, DRAW_STUCK, l->draw_when_switched);
}

static void draw_of_off(struct naive *n, int i, bool looked, int switching)
{
    struct naive_load *l = &n->load[i];
    int64_t level, had;
    if (l->view.state != DRAW_STUCK) {
        draw_is(n, i, DRAW_NONE, 0);
    } else if (looked) {
        bool fell = switching == 0 && level_at(n, i, 1, &had) && level_at(n, i, 0, &level) &&
                    fit(had - level, l->view.draw_w);
        if (fell || below(n, i, l->view.draw_w))
            draw_is(n, i, DRAW_NONE, 0);
    }
    after_a_stop(n, i);
    if (n->settings->loads[i].kind != LOAD_SWITCHED || (looked && below(n, i, l->view.power_w)))
        l->view.off_shown = true;
}

static void own_meter_off(struct naive *n, int i, int64_t power)
{
    struct naive_load *l = &n->load[i];
    bool draws = power > naive_first_power(n, i) / 4 && l->state == STATE_OFF &&
                 n->t >= l->since + NAIVE_SHOW;
    draw_is(n, i, draws ? DRAW_STUCK : DRAW_NONE, draws ? power : 0);
    if (power <= naive_first_power(n, i) / 4)
        n->load[i].view.off_shown = true;
    if (n->load[i].stop == STOP_WATCHED)
        n->load[i].stop = STOP_NOT_SEEN;
}

static void may_be_in_hand(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    if (l->state == STATE_OFF && l->stop == STOP_WATCHED)
        l->stop = STOP_NOT_SEEN;
    draw_is(n, i, DRAW_NONE, 0);
    l->view.off_shown = false;
}

/* ---- why nothing is drawn ---- */

/* As much as there can be to heat, as far as the settings say. */
static bool took_all(const struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    int64_t planned = 0;
    if (s->water.volume_ml > 0)
        return n->load[i].heated >= heat_full_mj(&s->water);
    for (int f = 0; f < s->floor_count; f++)
        if (s->floor[f].measure == FLOOR_SATISFIED)
            planned = max64(planned, s->floor[f].amount * s->power_w);
    return planned > 0 && n->load[i].heated >= planned;
}

static bool can_be_full(const struct naive *n, int i)
{
    const struct heat_settings *water = &n->settings->loads[i].water;
    const struct naive_load *l = &n->load[i];
    int64_t T = n->t - l->view.opened_at.mono.ms;
    int64_t least = l->needs / 8;
    if (water->volume_ml > 0)
        least = max64(least, water->loss_mwh / 24000 / 4);
    return !l->view.has_opened || l->heated >= least * max64(0, min64(T, TRIAL_COUNTS));
}

static void proven(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    int64_t T = n->t - l->view.opened_at.mono.ms;
    bool full = can_be_full(n, i);
    l->told = full && l->untold ? TOLD_FULL : l->told;
    l->view.supposed = l->untold = false;
    if (!full) {
        l->view.unexplained = true;
        return;
    }
    l->view.unsure = (!l->view.has_opened && !took_all(n, i)) || l->supposed_vague;
    if (l->view.has_opened && T >= NEEDS_LEAST && l->guessed <= l->heated / 8)
        l->needs = l->needs > 0 ? (3 * l->needs + l->heated / T) / 4 : l->heated / T;
    l->heated = l->guessed = 0;
    l->view.unexplained = false;
    l->view.has_opened = true;
    l->view.opened_at = l->supposed_at;
}

static void rests(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    l->satisfied = true;
    l->retry_at = n->t + n->settings->loads[i].retry_ms;
    bool recent = l->view.has_opened && n->t - l->view.opened_at.mono.ms <= TRIAL_COUNTS;
    if (l->opened_after_heating) {
        l->view.supposed = l->untold = true;
        l->supposed_vague = l->vague;
        l->asked = false;
        l->supposed_at = n->input->now;
        if (naive_own_meter_reads(n, i))
            proven(n, i);
    } else if (l->view.supposed && n->t - l->supposed_at.mono.ms <= TRIAL_COUNTS) {
        if (!l->vague || naive_own_meter_reads(n, i))
            proven(n, i);
    } else {
        l->view.unexplained |= !recent || l->view.supposed;
        l->view.supposed = false;
    }
}

static void why_nothing(struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    struct naive_load *l = &n->load[i];
    if (l->view.supposed && l->stop == STOP_DID_STAY)
        proven(n, i);
    if (l->view.supposed && l->stop == STOP_DID_FALL)
        l->view.supposed = l->satisfied = false;
    if (l->view.state == DRAW_OPEN && !s->thermostat)
        l->view.unexplained = true;
    if (l->view.state == DRAW_SEEN) {
        l->satisfied = false;
        l->view.supposed = l->view.supposed && l->vague;
        l->view.unexplained = l->view.unexplained && l->vague;
    } else if (l->view.state == DRAW_OPEN && s->thermostat &&
               (!l->satisfied || (l->view.supposed && !l->opened_after_heating && !l->vague)) &&
               n->t - l->view.since.ms >= SATISFIED_SETTLE &&
               (n->seeing || naive_own_meter_reads(n, i)))
        rests(n, i);
    else if (l->satisfied && l->state == STATE_OFF && n->t >= l->retry_at)
        l->satisfied = false;
}

/* ---- what a store is told ---- */

static void stop_tells(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    if (l->state != STATE_OFF || l->stop == STOP_WATCHED || (!l->untold && !l->doubted))
        return;
    if (l->stop == STOP_DID_FALL)
        l->told = TOLD_IT_DRAWS;
    else if (l->doubted && l->stop == STOP_DID_STAY)
        l->told = TOLD_FULL;
    else if (l->untold && can_be_full(n, i))
        l->told = TOLD_FULL;
    l->untold = l->doubted = false;
}

static void what_is_told(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    bool draws = l->view.state == DRAW_SEEN, open = l->view.state == DRAW_OPEN;
    if (draws && !l->vague && !l->doubted)
        l->untold = false;
    if (open)
        l->doubted = false;
    stop_tells(n, i);
    if (l->asked && !l->vague && (draws || (open && l->satisfied))) {
        l->told = draws ? TOLD_IT_DRAWS : TOLD_IT_DOES_NOT;
        l->asked = false;
    }
}

/* ---- the section ---- */

bool naive_is_switching(const struct naive_load *l)
{
    return l->state == STATE_STARTING || l->state == STATE_STOPPING || l->relief ||
           l->view.state == DRAW_WAITING;
}

static void relief_ends(struct naive *n, int i)
{
    const struct source *grid = &n->input->reading->grid;
    struct naive_load *l = &n->load[i];
    int64_t follow = n->settings->loads[i].kind == LOAD_SETPOINT ? FOLLOW : 0;
    if (l->state == STATE_OFF && l->relief && l->off_confirmed && n->fresh &&
        grid->taken.ms > l->off_at + follow && grid->sequence > l->off_sequence)
        l->relief = false;
}

/* Section 6: what was told by a clock that ran ahead. */
static void set_right(const struct naive *n, struct moment *past)
{
    if (n->trusted && n->stepped_back && past->wall.ms > n->w)
        past->wall.ms = n->w - max64(0, n->t - past->mono.ms);
}

void naive_section_5_draw(struct naive *n)
{
    for (int i = 0; i < n->settings->load_count; i++) {
        set_right(n, &n->load[i].view.opened_at);
        set_right(n, &n->load[i].supposed_at);
    }
    bool looked = look(n);
    int switching = 0;
    for (int i = 0; i < n->settings->load_count; i++)
        switching += naive_is_switching(&n->load[i]);
    for (int i = 0; i < n->settings->load_count; i++) {
        struct naive_load *l = &n->load[i];
        const struct load_reading *own = &n->input->load_reading[i];
        bool by_own = naive_own_meter_reads(n, i);
        bool in_hand = own->held == HELD_IN_HAND || own->held == HELD_NOT_IN_AUTO;
        bool cut = own->held == HELD_OFF_AT_BOARD || own->held == HELD_NO_SUPPLY;
        if (switching > naive_is_switching(l) || in_hand || cut)
            l->mixed = true;
        if (looked && n->settings->loads[i].kind == LOAD_SWITCHED && !by_own)
            look_for_others(n, i, switching);
        if (naive_runs(l) && by_own)
            own_meter(n, i, own->power_w);
        else if (naive_runs(l))
            draw_of_on(n, i, looked, switching);
        else if (in_hand)
            may_be_in_hand(n, i);
        else if (by_own)
            own_meter_off(n, i, own->power_w);
        else
            draw_of_off(n, i, looked, switching);
        if (naive_runs(l))
            level_at(n, i, 0, &l->last_level);
        l->told = TOLD_NOTHING;
        why_nothing(n, i);
        what_is_told(n, i);
        relief_ends(n, i);
    }
}
