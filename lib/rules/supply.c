/* supply.c - what the main switch and named groups can carry.
 *
 * A load that would pass a limit does not start; a limit that is passed all the
 * same (somebody lights the oven) is kept by lowering set-points, then by shedding
 * from the last in order, minimum on or not. The site is measured; a group is the
 * sum of what its members are expected to draw. Only what the meter shows is shed for:
 * what was ordered and is not shown yet fitted when it was ordered. */
#include "supply.h"

#include "load.h"

static int64_t ma_of_w(const struct turn *turn, int64_t power_w)
{
    return power_w * 1000000 / turn->settings->voltage_mv;
}

static int64_t w_of_ma(const struct turn *turn, int64_t current_ma)
{
    return current_ma * turn->settings->voltage_mv / 1000000;
}

static bool on_phase(const struct load_settings *load, unsigned phase)
{
    return (load->phases & (1u << phase)) != 0;
}

static void add_amps(const struct turn *turn, uint16_t index, int64_t power_w,
                     int64_t amps_ma[PHASES])
{
    const struct load_settings *load = &turn->settings->loads[index];
    int64_t each_ma = ma_of_w(turn, power_w / phases_count(load->phases));
    for (unsigned phase = 0; phase < PHASES; phase++)
        if (on_phase(load, phase))
            amps_ma[phase] += each_ma;
}

static int64_t measured_ma(const struct turn *turn, unsigned phase)
{
    const struct reading *reading = turn->input->reading;
    bool has_power = (reading->has & HAS_PHASE_POWER) != 0;
    if (reading->has & HAS_PHASE_CURRENT) {
        int64_t current_ma = reading->phase_current_ma[phase];
        return has_power && reading->phase_power_w[phase] < 0 ? -current_ma : current_ma;
    }
    if (has_power)
        return ma_of_w(turn, reading->phase_power_w[phase]);
    if (phase >= turn->settings->phase_count)
        return 0;
    return ma_of_w(turn, reading->grid_power_w / turn->settings->phase_count);
}

static void measure_amps(struct turn *turn)
{
    for (unsigned phase = 0; phase < PHASES; phase++)
        turn->amps_ma[phase] = turn->fresh ? measured_ma(turn, phase) : 0;
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        const struct load_memory *memory = &turn->memory->loads[i];
        bool unshown = memory->state == STATE_STARTING ||
                       (memory->state == STATE_ON && memory->draw.view.state == DRAW_WAITING);
        if (load_is_on(memory) && (unshown || !turn->fresh))
            add_amps(turn, i, memory->notes.expected_w, turn->amps_ma);
        else if (load_is_on(memory))
            add_amps(turn, i, memory->raised_w, turn->amps_ma);
    }
}

/* Members that are on and draw, by what they are expected to take. */
static void group_amps(const struct turn *turn, uint8_t group, int64_t amps_ma[PHASES])
{
    for (unsigned phase = 0; phase < PHASES; phase++)
        amps_ma[phase] = 0;
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        const struct load_memory *memory = &turn->memory->loads[i];
        bool draws = load_is_on(memory) && memory->draw.view.state != DRAW_OPEN;
        if (turn->settings->loads[i].group != group)
            continue;
        if (draws)
            add_amps(turn, i, load_expected_w(&turn->settings->loads[i], memory), amps_ma);
        if (memory->notes.held)
            add_amps(turn, i, load_start_w(&turn->settings->loads[i], memory), amps_ma);
    }
}

/* ---- shedding -------------------------------------------------------------- */

static int64_t worst_over(const struct load_settings *load, const int64_t over_ma[PHASES])
{
    int64_t worst_ma = 0;
    for (unsigned phase = 0; phase < PHASES; phase++)
        if (on_phase(load, phase))
            worst_ma = maximum_64(worst_ma, over_ma[phase]);
    return worst_ma;
}

static void lower_setpoint(struct turn *turn, uint16_t index, int64_t over_ma[PHASES])
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    int64_t worst_ma = worst_over(load, over_ma);
    bool can =
        kind_of(load)->follows && memory->state == STATE_ON && memory->level_w > load->least_w;
    if (!can || worst_ma == 0)
        return;
    int64_t by_w = (w_of_ma(turn, worst_ma) + 1) * phases_count(load->phases);
    by_w = (by_w + load->step_w - 1) / load->step_w * load->step_w;
    by_w = minimum_64(by_w, memory->level_w - load->least_w);
    memory->level_w -= (int32_t)by_w;
    memory->raised_w = 0;
    memory->lowered_w += (int32_t)by_w;
    memory->level_since.ms = turn->t;
    turn_again(turn);
    add_amps(turn, index, -by_w, over_ma);
}

static void shed(struct turn *turn, uint16_t index, int64_t over_ma[PHASES])
{
    const struct load_settings *load = &turn->settings->loads[index];
    struct load_memory *memory = &turn->memory->loads[index];
    enum draw_state draw = memory->draw.view.state;
    bool draws = draw == DRAW_SEEN || draw == DRAW_ASSUMED || draw == DRAW_WAITING;
    if (!load_is_on(memory) || !draws || memory->notes.shed || worst_over(load, over_ma) == 0)
        return;
    memory->notes.shed = true;
    memory->held_until.ms = turn->t + SHED_HOLD_MS;
    add_amps(turn, index, -memory->notes.own_w, over_ma);
    turn_event(turn, EVENT_SHED, index, memory->notes.own_w);
}

static void relieve(struct turn *turn, uint8_t group, int64_t over_ma[PHASES])
{
    bool is_over = false;
    for (unsigned phase = 0; phase < PHASES; phase++)
        is_over |= over_ma[phase] > 0;
    if (!is_over)
        return;
    void (*const steps[])(struct turn *, uint16_t, int64_t *) = {lower_setpoint, shed};
    for (unsigned k = 0; k < sizeof(steps) / sizeof(steps[0]); k++)
        for (uint16_t place = turn->settings->load_count; place-- > 0;) {
            uint16_t i = turn->settings->order[place];
            if (group == RULES_NO_GROUP || turn->settings->loads[i].group == group)
                steps[k](turn, i, over_ma);
        }
}

static void keep_site_limit(struct turn *turn)
{
    int64_t limit_ma = turn->settings->supply_limit_ma;
    if (limit_ma == 0 || !turn->fresh)
        return;
    int64_t over_ma[PHASES];
    for (unsigned phase = 0; phase < PHASES; phase++)
        over_ma[phase] = measured_ma(turn, phase) - limit_ma;
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        const struct load_memory *memory = &turn->memory->loads[i];
        int64_t going_w = memory->relief ? memory->relief_w : memory->lowered_w;
        if (going_w > 0)
            add_amps(turn, i, -going_w, over_ma);
    }
    relieve(turn, RULES_NO_GROUP, over_ma);
}

static void keep_group_limit(struct turn *turn, uint8_t group)
{
    int64_t limit_ma = turn->settings->group[group].limit_ma;
    if (limit_ma == 0)
        return;
    int64_t over_ma[PHASES];
    group_amps(turn, group, over_ma);
    for (unsigned phase = 0; phase < PHASES; phase++)
        over_ma[phase] -= limit_ma;
    relieve(turn, group, over_ma);
}

void keep_supply(struct turn *turn)
{
    measure_amps(turn);
    keep_site_limit(turn);
    for (uint8_t group = 0; group < turn->settings->group_count; group++)
        keep_group_limit(turn, group);
}

/* ---- may it start, how far may it go --------------------------------------- */

void supply_take(struct turn *turn, uint16_t index, int64_t power_w)
{
    add_amps(turn, index, power_w, turn->amps_ma);
}

static bool fits_in(const struct turn *turn, uint16_t index, int64_t power_w, int64_t limit_ma,
                    const int64_t amps_ma[PHASES], struct reason *reason)
{
    const struct load_settings *load = &turn->settings->loads[index];
    int64_t each_ma = ma_of_w(turn, power_w / phases_count(load->phases));
    for (unsigned phase = 0; phase < PHASES; phase++) {
        if (!on_phase(load, phase) || amps_ma[phase] + each_ma <= limit_ma)
            continue;
        *reason = reason_of(REASON_OFF_SUPPLY, phase + 1, amps_ma[phase], limit_ma);
        return false;
    }
    return true;
}

bool supply_fits(const struct turn *turn, uint16_t index, int64_t power_w, struct reason *reason)
{
    const struct rules_settings *settings = turn->settings;
    uint8_t group = settings->loads[index].group;
    if (settings->supply_limit_ma > 0 &&
        !fits_in(turn, index, power_w, settings->supply_limit_ma, turn->amps_ma, reason))
        return false;
    if (group == RULES_NO_GROUP || settings->group[group].limit_ma == 0)
        return true;
    int64_t amps_ma[PHASES];
    group_amps(turn, group, amps_ma);
    int64_t limit_ma = settings->group[group].limit_ma;
    if (fits_in(turn, index, power_w, limit_ma, amps_ma, reason))
        return true;
    *reason = reason_of(REASON_OFF_GROUP, limit_ma, 0, 0);
    return false;
}

bool group_is_free(const struct turn *turn, uint16_t index)
{
    uint8_t group = turn->settings->loads[index].group;
    if (group == RULES_NO_GROUP || !turn->settings->group[group].one_at_a_time)
        return true;
    for (uint16_t i = 0; i < turn->settings->load_count; i++)
        if (i != index && turn->settings->loads[i].group == group &&
            (turn->memory->loads[i].state != STATE_OFF || turn->memory->loads[i].notes.held))
            return false;
    return true;
}

static int64_t headroom_in(const struct turn *turn, uint16_t index, int64_t limit_ma,
                           const int64_t amps_ma[PHASES])
{
    const struct load_settings *load = &turn->settings->loads[index];
    int64_t least_ma = INT64_MAX;
    for (unsigned phase = 0; phase < PHASES; phase++)
        if (on_phase(load, phase))
            least_ma = minimum_64(least_ma, limit_ma - amps_ma[phase]);
    return w_of_ma(turn, least_ma) * phases_count(load->phases) +
           turn->memory->loads[index].notes.own_w;
}

int64_t supply_headroom_w(const struct turn *turn, uint16_t index)
{
    const struct rules_settings *settings = turn->settings;
    uint8_t group = settings->loads[index].group;
    int64_t room_w = ENDLESS_MS;
    if (settings->supply_limit_ma > 0)
        room_w = headroom_in(turn, index, settings->supply_limit_ma, turn->amps_ma);
    if (group != RULES_NO_GROUP && settings->group[group].limit_ma > 0) {
        int64_t amps_ma[PHASES];
        group_amps(turn, group, amps_ma);
        room_w =
            minimum_64(room_w, headroom_in(turn, index, settings->group[group].limit_ma, amps_ma));
    }
    return room_w;
}
