/* watch.c - the promises of the design, one function each (see watch.h).
 *
 * The numbers in the comments are those of the design's invariants. */
#include "watch.h"

#include <string.h>

struct now {
    struct watch *watch;
    const struct rules_memory *memory;
    const struct decision *decision;
    const struct rules_outcome *outcome;
    const struct rules_input *input;
    int64_t t, dt;
    bool fresh;
};

static void broken(struct watch *watch, int load, const char *what)
{
    if (watch->broken != NULL)
        return;
    watch->broken = what;
    watch->broken_load = load;
}

void watch_begin(struct watch *watch, const struct house *house, struct moment now)
{
    memset(watch, 0, sizeof *watch);
    watch->house = house;
    watch->last = now;
    watch->last_start = -1;
    for (int i = 0; i < house->settings.load_count; i++) {
        watch->load[i].off_since = now.mono.ms;
        watch->load[i].rests = true;
    }
}

/* ---- what went in ---- */

static void hear_order(struct now *now, const struct command *order)
{
    struct watch *watch = now->watch;
    bool of_load = order->load < watch->house->settings.load_count;
    if (order->kind == COMMAND_INHIBIT && order->load == LOAD_ALL)
        watch->all_inhibited = order->flag;
    if (!of_load)
        return;
    struct watched_load *load = &watch->load[order->load];
    if (order->kind == COMMAND_INHIBIT)
        load->inhibited = order->flag;
    if (order->kind == COMMAND_AUTO)
        load->hand = load->test = HAND_AUTO;
    if (order->kind == COMMAND_OFF || (order->kind == COMMAND_ON && order->until.ms != INT64_MAX)) {
        load->hand = order->kind == COMMAND_OFF ? HAND_OFF : HAND_ON;
        load->hand_until = order->until.ms;
        load->test = HAND_AUTO;
    }
    if (order->kind == COMMAND_TEST && order->until.ms != INT64_MAX) {
        load->test = order->flag ? HAND_ON : HAND_OFF;
        load->test_until = order->until.ms;
    }
}

static void hear(struct now *now)
{
    for (int c = 0; c < now->input->command_count; c++)
        hear_order(now, &now->input->commands[c]);
    for (int i = 0; i < now->watch->house->settings.load_count; i++) {
        now->watch->load[i].tripped = false;
        if (now->t >= now->watch->load[i].hand_until)
            now->watch->load[i].hand = HAND_AUTO;
        if (now->t >= now->watch->load[i].test_until)
            now->watch->load[i].test = HAND_AUTO;
    }
    for (int c = 0; c < now->input->confirmation_count; c++) {
        const struct confirmation *said = &now->input->confirmations[c];
        struct watched_load *load = &now->watch->load[said->load];
        load->health = said->health;
        if (said->health != OUTPUT_CONFIRMED)
            continue;
        if (said->level_w > 0 && !load->was_on) /* by another hand: it has to rest after that */
            load->rests = false;
        if (said->level_w > 0 && load->was_on && !load->confirmed_on) {
            load->confirmed_on = true;
            load->on_since = now->t;
        }
        if (said->level_w == 0 && (!load->was_on || load->confirmed_on) && !load->rests) {
            load->tripped = load->was_on;
            load->rests = true;
            load->off_since = now->t;
        }
    }
}

static void count_day(struct now *now)
{
    struct watch *watch = now->watch;
    bool trusted = watch->trusted || now->input->now.wall_trusted;
    int32_t day = local_of_wall(&watch->house->settings.zone, now->input->now.wall).day;
    for (int i = 0; i < watch->house->settings.load_count; i++) {
        if (watch->load[i].was_on)
            watch->load[i].on_today_ms += now->dt;
        if (watch->begun && day != watch->today)
            watch->load[i].on_today_ms = 0;
    }
    watch->trusted = trusted;
    watch->today = day;
}

/* ---- 2: every run has a basis, every decision a reason ---- */

static void check_words(struct now *now, int i)
{
    const struct decision *d = &now->decision[i];
    if (d->reason.code <= REASON_NONE || d->reason.code >= REASON_COUNT)
        broken(now->watch, i, "a decision without a reason");
    if (d->on != (d->basis != BASIS_NONE))
        broken(now->watch, i, "on without a basis, or a basis without being on");
    if (d->on != (d->reason.code < REASON_OFF_INHIBIT))
        broken(now->watch, i, "a reason for on while off, or the other way round");
    if (d->on != (d->level_w > 0))
        broken(now->watch, i, "a level that contradicts on or off");
}

/* ---- 1: off at once ---- */

/* By an input, or by a supply that is off by the clock and not sensed to be on. */
static bool board_keeps_off(const struct now *now, int i)
{
    const struct load_reading *board = &now->input->load_reading[i];
    const struct house *house = now->watch->house;
    struct wall from = now->input->now.wall, to = {from.ms + 1};
    bool off_by_clock = now->watch->trusted && hours_open_ms(&house->load[i].supply_hours,
                                                             &house->settings.zone, from, to) == 0;
    return board->held != HELD_NOT || (off_by_clock && !board->supplied);
}

static bool forced_off(const struct now *now, int i)
{
    const struct watched_load *load = &now->watch->load[i];
    enum hand ordered = load->test != HAND_AUTO ? load->test : load->hand;
    return board_keeps_off(now, i) || load->inhibited || now->watch->all_inhibited ||
           now->input->reading->islanded || load->health == OUTPUT_FAILED ||
           load->health == OUTPUT_UNSAFE || ordered == HAND_OFF;
}

static void check_forced(struct now *now, int i)
{
    if (now->decision[i].on && forced_off(now, i))
        broken(
            now->watch, i,
            "on while inhibited, held at the board, islanded, off by hand or with a failed output");
}

/* ---- 1: off only once minimum on is served ---- */

static void check_minimum_on(struct now *now, int i)
{
    const struct watched_load *load = &now->watch->load[i];
    if (now->decision[i].on || !load->was_on || forced_off(now, i) || load->tripped)
        return;
    const struct load_settings *settings = &now->watch->house->load[i];
    enum reason_code why = now->decision[i].reason.code;
    bool has_limit = now->watch->house->settings.supply_limit_ma > 0 ||
                     (settings->group != RULES_NO_GROUP &&
                      now->watch->house->settings.group[settings->group].limit_ma > 0);
    if (has_limit && (why == REASON_OFF_SUPPLY || why == REASON_OFF_GROUP))
        return;
    if (!load->confirmed_on)
        broken(now->watch, i, "switched off before it was confirmed on");
    else if (now->t - load->on_since < settings->min_on_ms)
        broken(now->watch, i, "switched off within minimum on");
}

/* ---- 1: may not start ---- */

static int starts_in_last_hour(const struct now *now, int i)
{
    const struct watched_load *load = &now->watch->load[i];
    int count = 0;
    for (int k = 0; k < load->start_count; k++)
        count += now->t - load->start[k] < MS_PER_HOUR;
    return count;
}

static void check_time_for_start(struct now *now, int i)
{
    const struct load_settings *settings = &now->watch->house->load[i];
    struct wall from = now->input->now.wall, to = {from.ms + settings->min_on_ms};
    if (now->watch->trusted && hours_open_ms(&settings->hours, &now->watch->house->settings.zone,
                                             from, to) != settings->min_on_ms)
        broken(now->watch, i, "started with less than minimum on left in its hours");
    if (!now->watch->trusted && settings->strict && settings->hours.count > 0)
        broken(now->watch, i, "started in strict hours without a trusted clock");
    if (settings->daily_max_ms > 0 && !now->watch->house->trouble.clock &&
        now->watch->load[i].on_today_ms + settings->min_on_ms > settings->daily_max_ms)
        broken(now->watch, i, "started with less than minimum on left of its daily maximum");
}

static int64_t start_power(const struct now *now, int i)
{
    const struct load_settings *settings = &now->watch->house->load[i];
    if (settings->kind == LOAD_STAGED)
        return settings->stage_w[0];
    return settings->kind == LOAD_SETPOINT ? settings->least_w
                                           : rules_draw(now->memory, (uint16_t)i)->power_w;
}

static int64_t phase_amps(const struct now *now, int p)
{
    const struct reading *r = now->input->reading;
    if (r->has & HAS_PHASE_CURRENT)
        return (r->has & HAS_PHASE_POWER) && r->phase_power_w[p] < 0
                   ? -(int64_t)r->phase_current_ma[p]
                   : r->phase_current_ma[p];
    int64_t power_w = r->has & HAS_PHASE_POWER ? r->phase_power_w[p] : r->grid_power_w;
    return power_w * 1000000 / now->watch->house->settings.voltage_mv;
}

static bool amps_known(const struct now *now)
{
    return now->fresh && ((now->input->reading->has & (HAS_PHASE_CURRENT | HAS_PHASE_POWER)) ||
                          now->watch->house->settings.phase_count == 1);
}

static void check_supply_at_start(struct now *now, int i)
{
    const struct rules_settings *site = &now->watch->house->settings;
    const struct load_settings *settings = &now->watch->house->load[i];
    if (site->supply_limit_ma == 0 || !amps_known(now))
        return;
    int count = __builtin_popcount(settings->phases);
    int64_t own = start_power(now, i) / count * 1000000 / site->voltage_mv;
    for (int p = 0; p < site->phase_count; p++)
        if ((settings->phases >> p & 1) && phase_amps(now, p) + own > site->supply_limit_ma)
            broken(now->watch, i, "started though the supply would be passed");
}

static void check_start(struct now *now, int i)
{
    struct watched_load *load = &now->watch->load[i];
    const struct decision *d = &now->decision[i];
    const struct load_settings *settings = &now->watch->house->load[i];
    const struct rules_settings *site = &now->watch->house->settings;
    if (!d->on || (load->was_on && !load->tripped))
        return;
    if (!load->rests)
        broken(now->watch, i, "started before its off was confirmed");
    bool may_pass = load->test == HAND_ON && !settings->motor && settings->kind != LOAD_REQUEST;
    if (now->t - load->off_since < settings->min_off_ms && !may_pass)
        broken(now->watch, i, "started within minimum off");
    if (load->health != OUTPUT_CONFIRMED)
        broken(now->watch, i, "started on an output that is not confirmed");
    if (settings->starts_per_hour > 0 && starts_in_last_hour(now, i) >= settings->starts_per_hour)
        broken(now->watch, i, "more starts in an hour than allowed");
    if (now->watch->last_start >= 0 && site->start_gap_ms > 0 &&
        now->t - now->watch->last_start < site->start_gap_ms)
        broken(now->watch, i, "two starts closer than the gap");
    if (d->basis != BASIS_MANUAL || settings->strict)
        check_time_for_start(now, i);
    check_supply_at_start(now, i);
}

/* ---- 1: supply limit passed ---- */

static int32_t draw_on_phase(const struct now *now, int i, int p)
{
    const struct watched_load *load = &now->watch->load[i];
    const struct load_settings *settings = &now->watch->house->load[i];
    bool draws = load->was_running && load->view.state == DRAW_SEEN &&
                 rules_draw(now->memory, (uint16_t)i)->state == DRAW_SEEN;
    return draws && (settings->phases >> p & 1)
               ? load->view.draw_w / __builtin_popcount(settings->phases)
               : 0;
}

static bool was_lowered(const struct now *now, int i)
{
    return now->decision[i].on && now->watch->load[i].was_on &&
           now->decision[i].level_w < now->watch->load[i].was_level_w;
}

/* Either enough was taken off the phase, or nothing that is seen to draw is left on it. */
static void check_shedding(struct now *now)
{
    const struct house *house = now->watch->house;
    if (house->settings.supply_limit_ma == 0 || !amps_known(now))
        return;
    for (int i = 0; i < house->settings.load_count; i++)
        if (now->memory->loads[i].relief || was_lowered(now, i))
            return; /* something is on its way already, or was done now */
    for (int p = 0; p < house->settings.phase_count; p++) {
        if (phase_amps(now, p) <= house->settings.supply_limit_ma)
            continue;
        for (int i = 0; i < house->settings.load_count; i++)
            if (draw_on_phase(now, i, p) > 0 && now->decision[i].on)
                broken(now->watch, i, "went on drawing from a phase over its limit");
    }
}

/* ---- 4: nothing on account of a reading that is not fresh ---- */

static void check_unread(struct now *now, int i)
{
    const struct decision *d = &now->decision[i];
    bool counts = now->fresh && (!now->watch->house->settings.battery ||
                                 now->input->reading->battery.quality == READING_FRESH);
    if (!counts && (d->basis == BASIS_SPARE || d->basis == BASIS_PROBE))
        broken(now->watch, i, "ran on spare power that nothing shows");
    const struct watched_load *load = &now->watch->load[i];
    if (d->basis == BASIS_MINIMUM_ON && load->was_on && load->confirmed_on &&
        now->t - load->on_since >= now->watch->house->load[i].min_on_ms)
        broken(now->watch, i, "finishing a minimum on that has been served");
    if (d->basis == BASIS_MINIMUM_ON && !load->was_on)
        broken(now->watch, i, "started to finish a minimum on");
}

/* ---- 6: counters ---- */

static void check_totals(struct now *now, int i)
{
    const struct watched_load *load = &now->watch->load[i];
    const struct load_totals *before = &load->total, *after = &now->memory->loads[i].total;
    bool drew =
        load->view.state == DRAW_STUCK ||
        (load->was_running && (load->view.state == DRAW_SEEN || load->view.state == DRAW_ASSUMED));
    int64_t energy = drew ? load->view.draw_w * now->dt : 0;
    int64_t spare = after->spare_mj - before->spare_mj, grid = after->grid_mj - before->grid_mj;
    if (spare < 0 || grid < 0)
        broken(now->watch, i, "an energy total fell");
    if (now->watch->begun && spare + grid != energy)
        broken(now->watch, i, "spare and grid energy are not power by time");
    if (now->watch->begun && after->on_ms - before->on_ms != (load->was_running ? now->dt : 0))
        broken(now->watch, i, "time on was counted wrongly");
    bool started = now->decision[i].on && (!load->was_on || load->tripped);
    if (after->starts - before->starts != (started ? 1 : 0))
        broken(now->watch, i, "a start was counted twice or not at all");
}

/* ---- what came out ---- */

static void remember_load(struct now *now, int i)
{
    struct watched_load *load = &now->watch->load[i];
    const struct decision *d = &now->decision[i];
    if (d->on && (!load->was_on || load->tripped)) {
        if (load->start_count == WATCH_STARTS) {
            memmove(load->start, load->start + 1, sizeof load->start - sizeof load->start[0]);
            load->start_count--;
        }
        load->start[load->start_count++] = now->t;
        now->watch->last_start = now->t;
        load->confirmed_on = false;
        load->rests = false;
    }
    if (!d->on && load->was_on) {
        load->confirmed_on = false;
        load->rests = load->tripped;
    }
    load->was_on = d->on;
    load->was_running = d->on;
    load->was_level_w = d->level_w;
    load->was_basis = (uint8_t)d->basis;
    load->view = *rules_draw(now->memory, (uint16_t)i);
    load->total = now->memory->loads[i].total;
}

static void count_floors(struct now *now)
{
    for (int e = 0; e < now->outcome->event_count; e++) {
        const struct rules_event *event = &now->outcome->event[e];
        now->watch->met += event->kind == EVENT_FLOOR_MET;
        if (event->kind != EVENT_FLOOR_MISSED)
            continue;
        int64_t denied = 0;
        for (int k = 0; k < DENIED_COUNT; k++)
            denied += event->denied_ms[k];
        now->watch->missed++;
        now->watch->missed_undenied += denied == 0;
    }
}

bool watch_turn(struct watch *watch, const struct rules_memory *memory,
                const struct decision decision[], const struct rules_outcome *outcome)
{
    const struct rules_input *input = &watch->house->input;
    uint32_t needed = HAS_GRID_POWER |
                      (watch->house->settings.billing == BILLING_PER_PHASE ? HAS_PHASE_POWER : 0);
    struct now now = {
        .watch = watch,
        .memory = memory,
        .decision = decision,
        .outcome = outcome,
        .input = input,
        .t = input->now.mono.ms,
        .dt = input->now.mono.ms - watch->last.mono.ms,
        .fresh = input->reading->grid.quality == READING_FRESH &&
                 (input->reading->has & needed) == needed,
    };
    hear(&now);
    count_day(&now);
    for (int i = 0; i < watch->house->settings.load_count; i++) {
        check_words(&now, i);
        check_forced(&now, i);
        check_minimum_on(&now, i);
        check_start(&now, i);
        check_unread(&now, i);
        check_totals(&now, i);
    }
    check_shedding(&now);
    count_floors(&now);
    if (outcome->holds_until.ms <= now.t)
        broken(watch, 0, "a turn that does not hold even for a moment");
    for (int i = 0; i < watch->house->settings.load_count; i++)
        remember_load(&now, i);
    watch->last = input->now;
    watch->begun = true;
    return watch->broken == NULL;
}
