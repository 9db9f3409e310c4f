/* decide.c - sections 10 to 12: who runs.
 *
 * First the loads that are on, in order: what forbids them at once, what speaks for
 * their running, and if nothing does, whether minimum on still holds them. Then the
 * loads that are off, in order: what speaks for a start, and whether it may be. Each
 * start takes its power out of the pools, so that the next load sees what is left. */
#include "decide.h"

#include "draw.h"
#include "floor.h"
#include "forbid.h"
#include "level.h"
#include "load.h"
#include "probe.h"
#include "spare.h"
#include "supply.h"
#include "switching.h"
#include "takeover.h"

static bool is_away(const struct turn *turn, uint16_t index)
{
    return turn->memory->holiday_back.ms != 0 && turn->trusted &&
           !turn->settings->loads[index].normal_on_holiday;
}

/* ---- section 10 ------------------------------------------------------------- */

/* Heat-up before a holiday ends: the tank shall be hot when they are back. */
static bool is_returning(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct load_memory *memory = &turn->memory->loads[index];
    if (!is_away(turn, index) || load->heat_up_ms == 0)
        return false;
    int64_t from = turn->memory->holiday_back.ms - load->heat_up_ms - RETURN_RESERVE_MS;
    if (turn->w < from) {
        turn_soon(turn, turn->t + from - turn->w);
        return false;
    }
    const struct draw_view *draw = &memory->draw.view;
    bool satisfied = memory->draw.satisfied && !draw->unexplained;
    return !satisfied && !(draw->has_opened && draw->opened_at.wall.ms >= from);
}

static bool is_within_hours(const struct turn *turn, uint16_t index)
{
    return turn->memory->loads[index].open && load_daily_left_ms(turn, index) > 0;
}

static bool manual_speaks(const struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    return load_ordered(&turn->memory->loads[index]) == HAND_ON &&
           (!load->strict || is_within_hours(turn, index));
}

static bool automatic_is_allowed(const struct turn *turn, uint16_t index)
{
    return !turn->memory->loads[index].disabled && is_within_hours(turn, index);
}

/* It draws for a floor, and what shows it may be another appliance's: switched off and on again it
 * shows for sure, where the floor has the time and nothing can take its place meanwhile. */
static bool is_to_rest(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct load_memory *memory = &turn->memory->loads[index];
    const struct draw_view *draw = &memory->draw.view;
    bool vague = load_is_on(memory) && draw->state == DRAW_SEEN && draw->vague;
    bool alone = load->group == RULES_NO_GROUP && turn->settings->supply_limit_ma == 0;
    if (!vague || !alone || !load->thermostat || load->motor || is_away(turn, index))
        return false;
    turn_soon(turn, memory->rest_again.ms);
    return memory->notes.due_floor >= 0 && memory->notes.may_rest &&
           turn->t >= memory->rest_again.ms;
}

static bool floor_speaks(const struct turn *turn, uint16_t index)
{
    const struct load_memory *memory = &turn->memory->loads[index];
    const struct load_notes *notes = &memory->notes;
    /* switching off shows whether the thermostat has opened */
    bool proves = memory->draw.view.supposed && load_is_on(memory);
    if (proves || notes->rests || !automatic_is_allowed(turn, index))
        return false;
    return is_away(turn, index) ? notes->returning : notes->due_floor >= 0;
}

static bool is_claimed(const struct turn *turn, uint16_t index)
{
    uint8_t group = turn->settings->loads[index].group;
    return group != RULES_NO_GROUP && (turn->claimed_groups & (1u << group));
}

static bool cheap_speaks(const struct turn *turn, uint16_t index)
{
    const struct load_memory *memory = &turn->memory->loads[index];
    return automatic_is_allowed(turn, index) && !is_away(turn, index) &&
           memory->notes.cheap_floor >= 0 && !memory->draw.satisfied && !memory->notes.rests;
}

static bool ahead_speaks(const struct turn *turn, uint16_t index)
{
    const struct load_memory *memory = &turn->memory->loads[index];
    return memory->ahead && automatic_is_allowed(turn, index) && !is_away(turn, index) &&
           !memory->draw.satisfied && !memory->notes.rests;
}

static bool may_use_spare(const struct turn *turn, uint16_t index)
{
    return turn->settings->loads[index].uses_spare && automatic_is_allowed(turn, index) &&
           !is_away(turn, index) && !turn->memory->loads[index].draw.satisfied &&
           !turn->memory->loads[index].not_worth && !turn->memory->loads[index].notes.rests;
}

static enum basis basis_of_running(struct turn *turn, uint16_t index)
{
    enum basis basis = BASIS_NONE;
    /* looked at each turn, whatever else speaks for it: it keeps its own time */
    bool spare = spare_holds(turn, index, &basis) && may_use_spare(turn, index);
    if (manual_speaks(turn, index))
        return BASIS_MANUAL;
    if (floor_speaks(turn, index))
        return BASIS_FLOOR;
    if (is_claimed(turn, index))
        return BASIS_NONE;
    if (cheap_speaks(turn, index))
        return BASIS_CHEAP_HOURS;
    if (ahead_speaks(turn, index))
        return BASIS_AHEAD;
    return spare ? basis : BASIS_NONE;
}

static void claim_groups(struct turn *turn)
{
    turn->claimed_groups = 0;
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        struct load_memory *memory = &turn->memory->loads[i];
        memory->notes.returning = is_returning(turn, i);
        memory->notes.rests = is_to_rest(turn, i);
        uint8_t group = turn->settings->loads[i].group;
        bool alone = group != RULES_NO_GROUP && turn->settings->group[group].one_at_a_time;
        if (alone && !load_is_on(memory) && forbidden(turn, i).code == REASON_NONE &&
            ((manual_speaks(turn, i) && memory->test != HAND_ON) || floor_speaks(turn, i)))
            turn->claimed_groups |= 1u << group;
    }
}

/* ---- reasons of running ------------------------------------------------------ */

static struct reason floor_reason(const struct turn *turn, uint16_t index, int8_t k,
                                  enum reason_code code)
{
    if (k < 0)
        return reason_of(REASON_ON_RETURN, turn->memory->holiday_back.ms - turn->w, 0, 0);
    const struct floor_settings *settings = &turn->settings->loads[index].floor[k];
    bool latest = code == REASON_ON_FLOOR;
    struct floor_view view =
        latest ? rules_floor(turn->settings, turn->memory, index, (uint8_t)k)
               : floor_so_far(&turn->settings->loads[index], &turn->memory->loads[index],
                              turn->memory->trusted, (uint8_t)k);
    struct reason reason = reason_of(code, view.amount, view.left, settings->by_s);
    reason.measure = settings->measure;
    if (view.elapsed)
        reason.number[2] = reason.number[3] = -1;
    else if (latest)
        reason.number[3] =
            local_of_wall(&turn->settings->zone, (struct wall){view.latest_start_ms}).second;
    return reason;
}

static struct reason running_reason(const struct turn *turn, uint16_t index, enum basis basis)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct load_memory *memory = &turn->memory->loads[index];
    const struct load_notes *notes = &memory->notes;
    switch (basis) {
    case BASIS_MANUAL:
        if (memory->test == HAND_ON)
            return reason_of(REASON_ON_TEST, memory->test_until.ms - turn->t, 0, 0);
        return reason_of(REASON_ON_MANUAL, memory->hand_until.ms - turn->t, 0, 0);
    case BASIS_FLOOR:
        return floor_reason(turn, index, is_away(turn, index) ? -1 : notes->due_floor,
                            REASON_ON_FLOOR);
    case BASIS_CHEAP_HOURS:
        return floor_reason(turn, index, notes->cheap_floor, REASON_ON_CHEAP_HOURS);
    case BASIS_AHEAD:
        if (!heat_knows(memory->heat))
            return reason_of(REASON_ON_LEARNING, 0, 0, 0);
        return reason_of(REASON_ON_AHEAD, turn->memory->price_micro, memory->heat->worth_micro, 0);
    case BASIS_SPARE:
        return reason_of(REASON_ON_SPARE, spare_with_own(turn, memory),
                         spare_start_need(load, memory), 0);
    case BASIS_PROBE:
        return reason_of(REASON_ON_PROBE, load_start_w(load, memory), 0, 0);
    default:
        return reason_of(REASON_ON_MINIMUM_ON, load_min_on_left_ms(turn, index), 0, 0);
    }
}

/* ---- section 11 --------------------------------------------------------------- */

static void run(struct turn *turn, uint16_t index, enum basis basis)
{
    struct load_memory *memory = &turn->memory->loads[index];
    if (memory->basis != basis)
        turn_again(turn);
    memory->basis = (uint8_t)basis;
    turn->decisions[index] = (struct decision){.on = true,
                                               .stage = memory->stage,
                                               .level_w = memory->level_w,
                                               .basis = basis,
                                               .reason = running_reason(turn, index, basis)};
}

static void stand(struct turn *turn, uint16_t index, struct reason reason)
{
    turn->memory->loads[index].basis = BASIS_NONE;
    turn->decisions[index] = (struct decision){.reason = reason};
}

static struct reason idle_reason(const struct turn *turn, uint16_t index);

/* Section 9, before anything else is weighed: what goes off at once gives its power
 * back to whoever is looked at after. */
static void switch_off_forbidden(struct turn *turn)
{
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        if (!load_is_on(&turn->memory->loads[i]))
            continue;
        struct reason against = forbidden(turn, i);
        if (against.code == REASON_NONE)
            continue;
        load_switch_off(turn, i);
        stand(turn, i, against);
    }
}

static void decide_running(struct turn *turn, uint16_t index)
{
    enum basis basis = basis_of_running(turn, index);
    int64_t left_ms = load_min_on_left_ms(turn, index);
    turn_soon(turn, turn->t + left_ms);
    int64_t daily_left_ms = load_daily_left_ms(turn, index);
    turn_soon(turn, turn->t + daily_left_ms);
    if (basis == BASIS_NONE && left_ms > 0)
        basis = BASIS_MINIMUM_ON;
    if (basis != BASIS_NONE) {
        run(turn, index, basis);
        return;
    }
    struct load_memory *memory = &turn->memory->loads[index];
    if (memory->notes.rests)
        memory->rest_again.ms = turn->t + REST_AGAIN_MS;
    load_switch_off(turn, index);
    stand(turn, index, idle_reason(turn, index));
}

/* ---- section 12 --------------------------------------------------------------- */

static struct reason hours_forbid(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct load_memory *memory = &turn->memory->loads[index];
    int64_t closes_ms = load_closes_ms(turn, index);
    int64_t daily_left_ms = load_daily_left_ms(turn, index);
    if (!turn->trusted && !memory->open)
        return reason_of(REASON_OFF_CLOCK, 0, 0, 0);
    if (!memory->open)
        return reason_of(REASON_OFF_HOURS, closes_ms, 0, 0);
    if (closes_ms < load->min_on_ms)
        return reason_of(REASON_OFF_HOURS, -1, 0, 0);
    if (daily_left_ms <= 0 || daily_left_ms < load->min_on_ms)
        return reason_of(REASON_OFF_DAILY_MAXIMUM, load->daily_max_ms, 0, 0);
    turn_soon(turn, turn->t + closes_ms - load->min_on_ms + 1);
    return reason_of(REASON_NONE, 0, 0, 0);
}

/* A resistive load's contactor stands a start more; what has a motor does not. */
static bool may_pass_minimum_off(const struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    return turn->memory->loads[index].test == HAND_ON && !load->motor && load->kind != LOAD_REQUEST;
}

static struct reason rests_forbid(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct load_memory *memory = &turn->memory->loads[index];
    int64_t off_ms = may_pass_minimum_off(turn, index) ? 0 : load_min_off_left_ms(turn, index);
    int64_t starts_ms = load_starts_wait_ms(turn, index);
    int64_t restart_ms = memory->restart_at.ms - turn->t;
    turn_soon(turn, turn->t + off_ms);
    turn_soon(turn, turn->t + starts_ms);
    turn_soon(turn, turn->t + restart_ms);
    if (off_ms > 0)
        return reason_of(REASON_OFF_MINIMUM_OFF, off_ms, 0, 0);
    if (starts_ms > 0)
        return reason_of(REASON_OFF_STARTS, load->starts_per_hour, starts_ms, 0);
    if (restart_ms > 0)
        return reason_of(REASON_OFF_RESTART, restart_ms, 0, 0);
    return reason_of(REASON_NONE, 0, 0, 0);
}

static struct reason limits_forbid(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct reason reason = reason_of(REASON_NONE, 0, 0, 0);
    int32_t power_w = load_start_w(load, &turn->memory->loads[index]);
    if (!supply_fits(turn, index, power_w, &reason))
        return reason;
    if (!group_is_free(turn, index))
        return reason_of(REASON_OFF_GROUP, 0, 0, 0);
    return reason;
}

/* What forbids a start on this basis; REASON_NONE: nothing. */
static struct reason may_not_start(struct turn *turn, uint16_t index, enum basis basis)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct load_memory *memory = &turn->memory->loads[index];
    struct reason reason = reason_of(REASON_NONE, 0, 0, 0);
    if (memory->health != OUTPUT_CONFIRMED)
        return reason_of(REASON_OFF_OUTPUT, memory->health, 0, 0);
    turn_soon(turn, memory->held_until.ms);
    if (turn->t < memory->held_until.ms)
        return reason_of(REASON_OFF_SUPPLY, 0, 0, turn->settings->supply_limit_ma);
    if (basis != BASIS_MANUAL || load->strict)
        reason = hours_forbid(turn, index);
    if (reason.code == REASON_NONE)
        reason = rests_forbid(turn, index);
    if (reason.code == REASON_NONE)
        reason = limits_forbid(turn, index);
    if (reason.code != REASON_NONE)
        return reason;
    bool can_wait = basis != BASIS_MANUAL && basis != BASIS_FLOOR;
    if (can_wait && turn->memory->quiet)
        return reason_of(REASON_OFF_QUIET_HOURS, 0, 0, 0);
    if (can_wait && memory->yields_to != LOAD_ALL)
        return reason_of(REASON_OFF_TAKEN_OVER, memory->yields_to, 0, 0);
    int64_t gap_ms = turn->memory->last_start.ms + turn->settings->start_gap_ms - turn->t;
    turn_soon(turn, turn->t + gap_ms);
    if (gap_ms > 0)
        return reason_of(REASON_OFF_RESTART, gap_ms, 0, 0);
    if (can_wait && others_are_unshown(turn, index))
        return reason_of(REASON_OFF_UNSHOWN, 0, 0, 0);
    return reason;
}

static void start(struct turn *turn, uint16_t index, enum basis basis)
{
    struct load_memory *memory = &turn->memory->loads[index];
    if (turn->memory->takeover_load == index)
        takeover_succeeded(turn);
    load_switch_on(turn, index);
    int32_t power_w = load_start_w(&turn->settings->loads[index], memory);
    memory->notes.own_w = power_w;
    spare_take(turn, memory, power_w);
    supply_take(turn, index, power_w);
    turn->any_unshown = true;
    memory->basis = (uint8_t)basis;
    turn->decisions[index] = (struct decision){.on = true,
                                               .stage = memory->stage,
                                               .level_w = memory->level_w,
                                               .basis = basis,
                                               .reason = running_reason(turn, index, basis)};
}

/* For those after it, it is as good as started. */
static void hold_place(struct turn *turn, uint16_t index)
{
    struct load_memory *memory = &turn->memory->loads[index];
    int32_t power_w = load_start_w(&turn->settings->loads[index], memory);
    memory->notes.held = true;
    spare_take(turn, memory, power_w);
    supply_take(turn, index, power_w);
}

/* The strongest wish that needs no spare power. */
static enum basis firm_wish(const struct turn *turn, uint16_t index)
{
    if (manual_speaks(turn, index))
        return BASIS_MANUAL;
    if (floor_speaks(turn, index))
        return BASIS_FLOOR;
    if (cheap_speaks(turn, index))
        return BASIS_CHEAP_HOURS;
    return ahead_speaks(turn, index) ? BASIS_AHEAD : BASIS_NONE;
}

static enum reason_code satisfied_code(const struct draw_view *draw)
{
    if (draw->supposed || (draw->unsure && !draw->unexplained))
        return REASON_OFF_SUPPOSED;
    return draw->unexplained ? REASON_OFF_NO_DRAW : REASON_OFF_SATISFIED;
}

/* Why a load that nothing speaks for stands still. */
static struct reason idle_reason(const struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct load_memory *memory = &turn->memory->loads[index];
    const struct reading *reading = turn->input->reading;
    if (memory->disabled)
        return reason_of(REASON_OFF_DISABLED, 0, 0, 0);
    if (is_away(turn, index))
        return reason_of(REASON_OFF_HOLIDAY, 0, 0, 0);
    if (!memory->open)
        return turn->trusted ? reason_of(REASON_OFF_HOURS, load_closes_ms(turn, index), 0, 0)
                             : reason_of(REASON_OFF_CLOCK, 0, 0, 0);
    if (load_daily_left_ms(turn, index) <= 0)
        return reason_of(REASON_OFF_DAILY_MAXIMUM, load->daily_max_ms, 0, 0);
    if (memory->draw.satisfied)
        return reason_of(satisfied_code(&memory->draw.view), memory->draw.retry_at.ms - turn->t, 0,
                         0);
    if (!load->uses_spare)
        return reason_of(REASON_OFF_IDLE, 0, 0, 0);
    if (memory->not_worth)
        return reason_of(REASON_OFF_WORTH, turn->memory->feed_in_micro, memory->heat->worth_micro,
                         0);
    if (!turn->fresh)
        return reason_of(REASON_OFF_NO_READING, reading->grid.quality, 0, 0);
    if (!turn->spare_known)
        return reason_of(REASON_OFF_NO_BATTERY, 0, 0, 0);
    /* a reading from before it let go still holds its own power: it was short of less */
    bool held =
        memory->relief && (memory->state != STATE_OFF || reading->grid.taken.ms < memory->since.ms);
    int64_t own_w = held ? memory->relief_w : 0;
    return reason_of(REASON_OFF_SPARE, spare_available(turn, memory, turn->spare_w) + own_w,
                     spare_start_need(load, memory), 0);
}

/* Keeps `enough_since`; true while there is enough, counting what lower loads
 * could give up. */
static bool watch_enough(struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    bool enough = false;
    if (turn->spare_known && may_use_spare(turn, index) && !turn->memory->quiet) {
        int64_t pool_w[PHASES];
        for (unsigned p = 0; p < PHASES; p++)
            pool_w[p] = turn->spare_w[p] + turn->lower_w[p];
        if (turn->memory->takeover_load == index)
            takeover_add_relief(turn, pool_w);
        enough = spare_available(turn, memory, pool_w) >= spare_start_need(load, memory);
    }
    if (!enough)
        memory->enough_since = MONO_NEVER;
    else if (memory->enough_since.ms == MONO_NEVER.ms)
        memory->enough_since.ms = turn->t;
    return enough;
}

static struct reason settling_reason(const struct turn *turn, uint16_t index)
{
    const struct load_settings *load = &turn->settings->loads[index];
    const struct load_memory *memory = &turn->memory->loads[index];
    struct reason reason = reason_of(REASON_OFF_SETTLING, 0, 0, 0);
    reason.number[0] = spare_available(turn, memory, turn->spare_w);
    reason.number[1] = spare_start_need(load, memory);
    reason.number[2] = at_least_0(memory->enough_since.ms + load->settle_start_ms - turn->t);
    return reason;
}

/* A load with enough to start on, by itself or by taking over. */
static void decide_on_spare(struct turn *turn, uint16_t index, uint16_t place)
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    bool taking_over = turn->memory->takeover_load == index;
    int64_t settled = memory->enough_since.ms + load->settle_start_ms;
    if (!taking_over && turn->t < settled) {
        turn_soon(turn, settled);
        stand(turn, index, settling_reason(turn, index));
        return;
    }
    struct reason against = may_not_start(turn, index, BASIS_SPARE);
    bool has_enough =
        spare_available(turn, memory, turn->spare_w) >= spare_start_need(load, memory);
    if (against.code == REASON_OFF_UNSHOWN && has_enough)
        hold_place(turn, index);
    if (against.code != REASON_NONE) {
        stand(turn, index, against);
        return;
    }
    if (has_enough) {
        start(turn, index, BASIS_SPARE);
        return;
    }
    if (!taking_over && !takeover_begin(turn, index, place)) {
        stand(turn, index, idle_reason(turn, index));
        return;
    }
    stand(turn, index, reason_of(REASON_OFF_TAKEOVER, turn->memory->takeover_promised_w, 0, 0));
}

static void decide_standing(struct turn *turn, uint16_t index, uint16_t place)
{
    struct load_memory *memory = &turn->memory->loads[index];
    bool enough = memory->state == STATE_OFF && watch_enough(turn, index);
    struct reason against = forbidden(turn, index);
    if (memory->state != STATE_OFF || against.code != REASON_NONE) {
        bool stopping = against.code == REASON_NONE;
        stand(turn, index,
              stopping ? reason_of(REASON_OFF_MINIMUM_OFF, load_min_off_left_ms(turn, index), 0, 0)
                       : against);
        return;
    }
    enum basis wish = firm_wish(turn, index);
    if (wish != BASIS_NONE) {
        against = may_not_start(turn, index, wish);
        if (against.code == REASON_OFF_UNSHOWN)
            hold_place(turn, index);
        if (against.code == REASON_NONE)
            start(turn, index, wish);
        else
            stand(turn, index, against);
    } else if (enough) {
        decide_on_spare(turn, index, place);
    } else {
        stand(turn, index, idle_reason(turn, index));
    }
}

/* The first load that could, if the roof is held back. */
static void decide_probe(struct turn *turn)
{
    for (uint16_t place = 0; place < turn->settings->load_count; place++) {
        uint16_t i = turn->settings->order[place];
        const struct load_memory *memory = &turn->memory->loads[i];
        bool idle = memory->state == STATE_OFF && memory->enough_since.ms == MONO_NEVER.ms &&
                    forbidden(turn, i).code == REASON_NONE && may_use_spare(turn, i) &&
                    firm_wish(turn, i) == BASIS_NONE;
        if (!idle || may_not_start(turn, i, BASIS_PROBE).code != REASON_NONE)
            continue;
        turn_soon(turn,
                  turn->memory->throttled_since.ms + turn->settings->loads[i].settle_start_ms);
        if (turn->memory->last_probe.ms != MONO_NEVER.ms)
            turn_soon(turn, turn->memory->last_probe.ms + turn->settings->probe_wait_ms);
        if (probe_allowed(turn, i)) {
            turn->memory->last_probe.ms = turn->t;
            turn->memory->probes_today++;
            start(turn, i, BASIS_PROBE);
        }
        return;
    }
}

/* ---- what keeps a due floor waiting ------------------------------------------- */

static uint8_t denied_by(enum reason_code code)
{
    switch (code) {
    case REASON_OFF_HOURS:
    case REASON_OFF_DAILY_MAXIMUM:
    case REASON_OFF_CLOCK:
        return DENIED_HOURS;
    case REASON_OFF_MINIMUM_OFF:
    case REASON_OFF_STARTS:
    case REASON_OFF_RESTART:
        return DENIED_RESTS;
    case REASON_OFF_OUTPUT:
        return DENIED_OUTPUT;
    case REASON_OFF_SUPPLY:
    case REASON_OFF_GROUP:
        return DENIED_SUPPLY;
    case REASON_OFF_IN_HAND:
    case REASON_OFF_AT_BOARD:
    case REASON_OFF_NOT_IN_AUTO:
    case REASON_OFF_NO_SUPPLY:
        return DENIED_BOARD;
    default:
        return DENIED_ORDER;
    }
}

void decide(struct turn *turn)
{
    const struct rules_settings *settings = turn->settings;
    claim_groups(turn);
    takeover_watch(turn);
    probe_watch(turn);
    switch_off_forbidden(turn);
    spare_sum_gives(turn);
    for (uint16_t place = 0; place < settings->load_count; place++) {
        uint16_t i = settings->order[place];
        spare_forgo(turn, &turn->memory->loads[i]);
        if (load_is_on(&turn->memory->loads[i])) {
            turn->memory->loads[i].enough_since = MONO_NEVER;
            decide_running(turn, i);
        }
    }
    spare_sum_gives(turn);
    for (uint16_t place = 0; place < settings->load_count; place++) {
        uint16_t i = settings->order[place];
        spare_forgo(turn, &turn->memory->loads[i]);
        if (!load_is_on(&turn->memory->loads[i]) && turn->decisions[i].reason.code == REASON_NONE)
            decide_standing(turn, i, place);
    }
    if (turn->memory->throttled_since.ms != MONO_NEVER.ms && turn->spare_known)
        decide_probe(turn);
    levels_adjust(turn);
    for (uint16_t i = 0; i < settings->load_count; i++)
        turn->memory->loads[i].denied = denied_by(turn->decisions[i].reason.code);
}
