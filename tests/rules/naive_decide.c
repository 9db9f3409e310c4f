/* naive_decide.c - sections 9 to 12 of TABLE.md: who runs. See naive.h. */
#include "naive_inside.h"

#include <string.h>

/* ---- 9 Off at once ---- */

static bool held(const struct naive *n, int i)
{
    const struct load_reading *board = &n->input->load_reading[i];
    bool power_by_clock = !n->trusted || (minutes_at(n->minutes, n->w)->supplied >> i & 1) != 0;
    return board->held != HELD_NOT || (!power_by_clock && !board->supplied);
}

void naive_section_9_off_at_once(struct naive *n)
{
    for (int i = 0; i < n->settings->load_count; i++) {
        struct naive_load *l = &n->load[i];
        l->held_off = l->inhibited || n->all_inhibited || n->input->reading->islanded ||
                      l->health == OUTPUT_FAILED || l->health == OUTPUT_UNSAFE ||
                      naive_ordered(l) == HAND_OFF || held(n, i);
        if (l->held_off && naive_runs(l))
            naive_switch_off(n, i);
    }
}

/* ---- 10 What speaks for running ---- */

static bool heat_up_due(const struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    const struct naive_load *l = &n->load[i];
    int64_t from = n->holiday_back - s->heat_up_ms - RETURN_RESERVE;
    if (s->heat_up_ms == 0 || n->w < from || (l->satisfied && !l->view.unexplained))
        return false;
    return !(l->view.has_opened && l->view.opened_at.wall.ms >= from);
}

/* What there is for a load that runs. */
int64_t naive_room(const struct naive *n, int i)
{
    int64_t S[PHASES];
    memcpy(S, n->S, sizeof S);
    naive_add_to_pools(n, i, n->load[i].own, S);
    naive_with_gives(n, i, S);
    for (int j = 0; j < n->settings->load_count; j++)
        if (n->load[j].relief)
            naive_add_to_pools(n, j, n->load[j].relief_w, S);
    return naive_avail(n, i, S);
}

static void speaks_spare(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    bool keep = naive_room(n, i) >= l->start_need - n->settings->loads[i].stop_margin_w;
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

/* Left at the least when it has been switched off and on again. */
static bool has_time_to_rest(const struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    for (int f = 0; f < s->floor_count; f++)
        if (n->load[i].floor[f].due && !naive_may_rest(n, i, f))
            return false;
    return true;
}

/* Its draw is vague, and a floor rests on it. */
static bool is_to_rest(const struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    const struct naive_load *l = &n->load[i];
    bool due = false;
    for (int f = 0; f < s->floor_count; f++)
        due = due || l->floor[f].due;
    return due && naive_runs(l) && l->view.state == DRAW_SEEN && l->vague && s->thermostat &&
           !s->motor && s->group == RULES_NO_GROUP && n->settings->supply_limit_ma == 0 &&
           n->t >= l->rest_again && has_time_to_rest(n, i);
}

static void speaks(struct naive *n, int i)
{
    const struct load_settings *s = &n->settings->loads[i];
    struct naive_load *l = &n->load[i];
    l->rests = l->manual = l->due = l->cheap = l->spare = l->probe = l->automatic = l->buys = false;
    bool within = l->open && l->daily_left > 0;
    l->manual = naive_ordered(l) == HAND_ON && (within || !s->strict) && !l->held_off;
    if (l->disabled || !within)
        return;
    bool proves = l->view.supposed && naive_runs(l);
    if (n->holiday_back != 0 && n->trusted && !s->normal_on_holiday) {
        l->due = heat_up_due(n, i) && !l->held_off && !proves;
        return;
    }
    l->rests = is_to_rest(n, i);
    if (l->rests)
        return;
    for (int f = 0; f < s->floor_count; f++) {
        l->due = l->due || (l->floor[f].due && !l->held_off && !proves);
        l->cheap = l->cheap || (l->floor[f].cheap && !l->satisfied && !l->held_off);
    }
    l->buys = l->ahead && !l->satisfied && !l->held_off;
    l->automatic = s->uses_spare && !l->satisfied && !l->not_worth && n->spare_known;
}

/* Whether a member of a one-at-a-time group that is not on waits for its place. */
static bool claimed(const struct naive *n, int group)
{
    if (group == RULES_NO_GROUP || !n->settings->group[group].one_at_a_time)
        return false;
    for (int i = 0; i < n->settings->load_count; i++)
        if (naive_in_group(n, i, group) && !naive_runs(&n->load[i]) &&
            ((n->load[i].manual && n->load[i].test == HAND_AUTO) || n->load[i].due))
            return true;
    return false;
}

void naive_section_10_speaks(struct naive *n)
{
    for (int i = 0; i < n->settings->load_count; i++) {
        n->load[i].give_place = n->load[i].held = false;
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
    if (l->buys)
        return BASIS_AHEAD;
    if (l->spare)
        return BASIS_SPARE;
    return l->probe ? BASIS_PROBE : BASIS_NONE;
}

/* In order: what an earlier load gives back is relief for the later ones' A. */
void naive_section_11_on(struct naive *n)
{
    for (int k = 0; k < n->settings->load_count; k++) {
        int i = n->settings->order[k];
        struct naive_load *l = &n->load[i];
        if (!naive_runs(l))
            continue;
        if (l->automatic)
            speaks_spare(n, i);
        bool minimum =
            l->state == STATE_STARTING || n->t - l->since < n->settings->loads[i].min_on_ms;
        l->basis = strongest(l);
        if (l->basis == BASIS_NONE && minimum)
            l->basis = BASIS_MINIMUM_ON;
        if (l->basis == BASIS_NONE && l->rests)
            l->rest_again = n->t + REST_AGAIN;
        if (l->basis == BASIS_NONE)
            naive_switch_off(n, i);
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
    naive_add_amps(n, i, naive_first_power(n, i), with);
    return naive_worst_over(n, i, with) <= limit_ma;
}

static bool group_allows(const struct naive *n, int i)
{
    int g = n->settings->loads[i].group;
    if (g == RULES_NO_GROUP)
        return true;
    int64_t amps[PHASES];
    naive_group_amps(n, g, amps);
    if (n->settings->group[g].limit_ma > 0 && !fits(n, i, amps, n->settings->group[g].limit_ma))
        return false;
    for (int j = 0; j < n->settings->load_count && n->settings->group[g].one_at_a_time; j++)
        if (j != i && naive_in_group(n, j, g) && (n->load[j].state != STATE_OFF || n->load[j].held))
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
        (!l->open || !naive_open_for(n, i, s->min_on_ms) || l->daily_left < s->min_on_ms ||
         l->daily_left <= 0))
        return false;
    bool rests = n->t - l->since < s->min_off_ms;
    if (l->test == HAND_ON && !s->motor && s->kind != LOAD_REQUEST)
        rests = false;
    if (rests || naive_starts_wait(n, i) > 0 || n->t < l->restart_at)
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

/* The meter has yet to show what another load's switching did. */
static bool yet_to_show(const struct naive *n, int i)
{
    bool yet = false;
    for (int j = 0; j < n->settings->load_count; j++)
        yet |= j != i && n->t < n->load[j].since + 3 * NAIVE_SHOW &&
               (naive_is_switching(&n->load[j]) || !naive_looks_since(n, n->load[j].since));
    return yet && n->seeing && n->settings->loads[i].kind == LOAD_SWITCHED &&
           !naive_own_meter_reads(n, i);
}

static void hold(struct naive *n, int i)
{
    n->load[i].held = true;
    naive_add_to_pools(n, i, -naive_first_power(n, i), n->S);
    naive_add_amps(n, i, naive_first_power(n, i), n->amps);
}

static void end_takeover(struct naive *n, int i, bool well)
{
    struct naive_load *l = &n->load[i];
    l->takeover = false;
    if (well)
        l->takeover_again = n->t + TAKEOVER_AGAIN;
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
    l->asked = true;
    l->since = l->level_since = l->raised = n->t;
    l->basis = basis;
    l->stage = s->kind == LOAD_STAGED ? 1 : 0;
    l->level = (int32_t)naive_first_power(n, i);
    l->own = l->level;
    l->raise = l->less = 0;
    l->relief = false;
    naive_mark_level(n, i);
    l->stop = STOP_NOT_WATCHED;
    l->seen_before = l->opened_after_heating = l->view.off_shown = false;
    l->vague = l->shown_run = l->by_itself = false;
    l->started_with = 0;
    if (l->view.state != DRAW_WAITING)
        l->view.since.ms = n->t;
    l->view.state = DRAW_WAITING;
    l->view.draw_w = 0;
    l->enough_since = NEVER;
    n->last_start = n->t;
    naive_add_to_pools(n, i, -naive_first_power(n, i), n->S);
    naive_add_amps(n, i, naive_first_power(n, i), n->amps);
    if (l->takeover)
        end_takeover(n, i, true);
}

static int64_t can_give(const struct naive *n, int i)
{
    int64_t sum = 0;
    for (int k = naive_place_of(n, i) + 1; k < n->settings->load_count; k++) {
        int lower = n->settings->order[k];
        if (naive_share_a_pool(n, i, lower))
            sum += naive_gives_up(n, lower);
    }
    return sum;
}

static void begin_takeover(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    for (int j = 0; j < n->settings->load_count; j++)
        if (n->load[j].takeover)
            return;
    if (n->t - l->enough_since < TAKEOVER_SETTLE || n->t < l->takeover_again)
        return;
    if (n->t < l->takeover_retry && can_give(n, i) <= l->takeover_failed_w * 11 / 10)
        return;
    int64_t S[PHASES];
    memcpy(S, n->S, sizeof S);
    l->promised = 0;
    for (int k = n->settings->load_count - 1;
         k > naive_place_of(n, i) && naive_avail(n, i, S) < l->start_need; k--) {
        int victim = n->settings->order[k];
        int64_t gives = naive_gives_up(n, victim);
        if (gives <= 0 || !naive_share_a_pool(n, i, victim))
            continue;
        naive_add_to_pools(n, victim, gives, S);
        l->promised += gives;
        naive_switch_off(n, victim);
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
        (!awaited && naive_avail(n, i, n->S) < l->start_need) ||
        n->t - l->takeover_since >= TAKEOVER_PATIENCE)
        end_takeover(n, i, false);
}

static bool find_enough(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    int64_t S[PHASES];
    memcpy(S, n->S, sizeof S);
    naive_with_gives(n, i, S);
    for (int j = 0; j < n->settings->load_count; j++)
        if (n->load[j].victim_of == i && n->load[j].relief)
            naive_add_to_pools(n, j, n->load[j].relief_w, S);
    bool enough = l->automatic && !n->quiet && naive_avail(n, i, S) >= l->start_need;
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
    bool enough_now = naive_avail(n, i, n->S) >= l->start_need;
    if (yet_to_show(n, i) && enough_now)
        hold(n, i);
    else if (enough_now && !yet_to_show(n, i))
        start(n, i, BASIS_SPARE);
    else if (settled && !l->takeover && !yet_to_show(n, i))
        begin_takeover(n, i);
}

static void consider_start(struct naive *n, int i)
{
    struct naive_load *l = &n->load[i];
    bool enough = find_enough(n, i);
    if (l->manual || l->due || l->cheap || l->buys) {
        enum basis basis = l->manual  ? BASIS_MANUAL
                           : l->due   ? BASIS_FLOOR
                           : l->cheap ? BASIS_CHEAP_HOURS
                                      : BASIS_AHEAD;
        bool waits = !l->manual && !l->due && yet_to_show(n, i);
        if (may_start(n, i, basis) && waits)
            hold(n, i);
        else if (may_start(n, i, basis))
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
        if (naive_unshown(&n->load[i]) || n->load[i].relief)
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
            l->cheap || l->buys || l->enough_since != NEVER || !may_start(n, i, BASIS_PROBE) ||
            yet_to_show(n, i))
            continue;
        if (n->t - n->throttled_since >= n->settings->loads[i].settle_start_ms) {
            start(n, i, BASIS_PROBE);
            n->last_probe = n->t;
            n->probes_today++;
        }
        return;
    }
}

void naive_section_12_off(struct naive *n)
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
