/* house_days.c - the days of a random house (see houses.h).
 *
 * Rough physics is enough: what matters is that the meter shows what the loads
 * really draw, late, wrongly or not at all, and that everything that can happen
 * to the rules happens often. Whole numbers only, so that a day repeats. */
#include "houses.h"

#include <string.h>

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* ---- clock ---- */

static void pass_time(struct house *house)
{
    struct chance *c = &house->chance;
    int64_t dt = house->step_ms;
    house->now.mono.ms += dt;
    house->now.wall.ms += dt;
    if (!house->now.wall_trusted) {
        if (house->now.mono.ms >= house->trusted_from) {
            house->now.wall_trusted = true;
            house->now.wall.ms = house->now.mono.ms + house->true_wall_minus_mono;
        }
    } else if (house->trouble.clock && chance_between(c, 0, MS_PER_DAY) < dt) {
        /* about once a day; never far, so that some weeks of calendar are enough */
        int64_t off = chance_of(c, 500) ? chance_between(c, -120, 120) * MS_PER_S
                                        : chance_between(c, -180, 180) * MS_PER_MIN;
        int64_t drift = house->now.wall.ms - house->now.mono.ms - house->true_wall_minus_mono;
        if (drift + off < 30 * (int64_t)MS_PER_HOUR && drift + off > -30 * (int64_t)MS_PER_HOUR)
            house->now.wall.ms += off;
    }
}

/* ---- outputs ---- */

static void say(struct house *house, uint16_t load, enum output_health health, int32_t level_w)
{
    house->confirmation[house->input.confirmation_count++] =
        (struct confirmation){load, health, level_w, house->now.mono};
}

/* Whether the output is failing still; it comes back as it was last ordered. */
static bool output_fails(struct house *house, uint16_t i)
{
    struct house_load *at = &house->at[i];
    if (house->now.mono.ms < at->failing_until) {
        if (!at->told_failed)
            say(house, i, at->failing_as, 0);
        at->told_failed = true;
        return true;
    }
    if (at->told_failed) {
        at->told_failed = false;
        at->actual_w = at->told_w = at->ordered_w;
        at->answer_in = 0;
        say(house, i, OUTPUT_CONFIRMED, at->actual_w);
        return true;
    }
    return false;
}

static void output_troubles(struct house *house, uint16_t i)
{
    struct house_load *at = &house->at[i];
    if (!house->trouble.outputs || chance_between(&at->chance, 0, 3 * MS_PER_DAY) > house->step_ms)
        return;
    if (chance_of(&at->chance, 300) && at->actual_w > 0) { /* trips */
        at->actual_w = at->told_w = 0;
        at->answer_in = 0;
        say(house, i, OUTPUT_CONFIRMED, 0);
        return;
    }
    if (chance_of(&at->chance, 200) && at->actual_w == 0) { /* somebody switches it on */
        at->actual_w = at->told_w = house->load[i].power_w;
        at->answer_in = 0;
        say(house, i, OUTPUT_CONFIRMED, at->actual_w);
        return;
    }
    if (chance_of(&at->chance, 300)) { /* silent, but not for long */
        at->failing_as = OUTPUT_UNCONFIRMED;
        at->failing_until = house->now.mono.ms + chance_between(&at->chance, 1, 59) * MS_PER_S;
        return;
    }
    at->failing_as = chance_of(&at->chance, 700) ? OUTPUT_FAILED : OUTPUT_UNSAFE;
    at->failing_until = house->now.mono.ms + chance_between(&at->chance, 1, 120) * MS_PER_MIN;
}

static void output_answers(struct house *house, uint16_t i)
{
    struct house_load *at = &house->at[i];
    if (output_fails(house, i))
        return;
    if (!at->confirmed_once) {
        at->confirmed_once = chance_of(&at->chance, 500);
        if (at->confirmed_once)
            say(house, i, OUTPUT_CONFIRMED, 0);
        return;
    }
    if (at->answer_in > 0 && --at->answer_in == 0) {
        at->actual_w = at->told_w = at->ordered_w;
        say(house, i, OUTPUT_CONFIRMED, at->actual_w);
    } else if (at->answer_in > 0) {
        say(house, i, OUTPUT_PENDING, at->told_w);
    } else {
        output_troubles(house, i);
    }
}

void house_obey(struct house *house, const struct decision decision[])
{
    for (int i = 0; i < house->settings.load_count; i++) {
        struct house_load *at = &house->at[i];
        bool follows = house->load[i].kind == LOAD_STAGED || house->load[i].kind == LOAD_SETPOINT;
        bool same =
            follows ? decision[i].level_w == at->ordered_w : decision[i].on == (at->ordered_w > 0);
        if (same && (at->answer_in > 0 || decision[i].on == (at->told_w > 0)))
            continue;
        at->ordered_w = decision[i].level_w;
        at->answer_in = (int32_t)chance_between(&at->chance, 1, 2);
        if (house->trouble.outputs && chance_of(&at->chance, 30))
            at->answer_in = (int32_t)chance_between(&at->chance, 3, 12);
    }
}

/* ---- loads ---- */

/* An element breaks about once a day, a contact welds every few hours, to heal later. */
static void load_troubles(struct house *house, int i)
{
    struct house_load *at = &house->at[i];
    struct chance *c = &house->faults;
    int64_t t = house->now.mono.ms;
    if (house->trouble.elements && chance_between(c, 0, MS_PER_DAY) < house->step_ms)
        at->broken_until = t + chance_between(c, 1, 20) * MS_PER_HOUR;
    if (house->trouble.contacts && chance_between(c, 0, 4 * MS_PER_HOUR) < house->step_ms)
        at->welded_until = t + chance_between(c, 10, 300) * MS_PER_MIN;
    if (house->trouble.board && chance_between(c, 0, 6 * MS_PER_HOUR) < house->step_ms) {
        at->held = (enum load_held)chance_between(c, HELD_NOT, HELD_NO_SUPPLY);
        at->supplied = chance_of(c, 500);
        at->held_until = t + chance_between(c, 1, 200) * MS_PER_MIN;
    }
    if (t >= at->held_until) {
        at->held = HELD_NOT;
        at->supplied = false;
    }
}

static void load_draws(struct house *house, int i)
{
    struct house_load *at = &house->at[i];
    const struct load_settings *load = &house->load[i];
    int64_t t = house->now.mono.ms;
    if (load->thermostat && at->heat_ms <= 0 && t >= at->cool_until) {
        at->heat_ms = chance_between(&at->chance, 5, 240) * MS_PER_MIN;
        at->cool_until = INT64_MAX;
    }
    int64_t level = at->actual_w;
    bool past_output =
        at->held == HELD_IN_HAND || (at->held == HELD_NOT_IN_AUTO && at->held_until % 2 == 0);
    if ((t < at->welded_until || past_output) && level == 0)
        level = load->power_w;
    if (level > 0 && (load->kind == LOAD_SWITCHED || load->kind == LOAD_REQUEST))
        level = load->power_w;
    if (at->held != HELD_NOT && at->held != HELD_INHIBITED && !past_output)
        level = 0;
    if (load->thermostat && at->heat_ms <= 0)
        level = 0;
    if (load->thermostat && level > 0) {
        at->heat_ms -= house->step_ms;
        if (at->heat_ms <= 0)
            at->cool_until = t + chance_between(&at->chance, 10, 900) * MS_PER_MIN;
    }
    at->draw_w = t < at->broken_until ? 0 : (int32_t)(level * at->error_permille / 1000);
}

static void load_is_metered(struct house *house, int i)
{
    struct house_load *at = &house->at[i];
    house->load_reading[i] =
        (struct load_reading){.held = (uint8_t)at->held, .supplied = at->supplied};
    if (!house->load[i].metered)
        return;
    if (house->trouble.meter && chance_between(&at->chance, 0, MS_PER_DAY) < house->step_ms)
        at->meter_silent_until =
            house->now.mono.ms + chance_between(&at->chance, 1, 60) * MS_PER_MIN;
    if (house->now.mono.ms >= at->meter_silent_until) {
        house->load_reading[i].power =
            (struct source){READING_FRESH, house->sequence, house->now.mono};
        house->load_reading[i].power_w = at->draw_w;
    }
}

/* ---- weather, household, battery ---- */

static int64_t sun_w(struct house *house)
{
    struct chance *c = &house->chance;
    int64_t wall_s = (house->now.mono.ms + house->true_wall_minus_mono) / 1000;
    int64_t second = (wall_s + house->settings.zone.standard_offset_s) % 86400;
    if (house->now.mono.ms >= house->cloud_until) {
        house->pv_share_permille = chance_of(c, 500) ? 1000 : chance_between(c, 50, 1000);
        house->cloud_until = house->now.mono.ms + chance_between(c, 20, 2400) * MS_PER_S;
    }
    int64_t rise = 6 * 3600, length = 12 * 3600, x = second - rise;
    if (x <= 0 || x >= length)
        return 0;
    return house->pv_peak_w * (4 * x * (length - x) / length) / length * house->pv_share_permille /
           1000;
}

static void household(struct house *house)
{
    struct chance *c = &house->chance;
    if (house->now.mono.ms < house->appliance_until)
        return;
    house->appliance_w = chance_of(c, 500) ? 0 : chance_between(c, 100, 3500);
    house->appliance_phase = (int)chance_between(c, 0, house->settings.phase_count - 1);
    house->appliance_until = house->now.mono.ms + chance_between(c, 30, 5400) * MS_PER_S;
}

/* Positive charging. */
static int64_t battery_w(struct house *house, int64_t surplus_w)
{
    if (!house->settings.battery)
        return 0;
    int64_t room = (house->battery_full_mj - house->battery_mj) / house->step_ms;
    int64_t stored = house->battery_mj / house->step_ms;
    int64_t power = surplus_w > 0 ? least(least(surplus_w, house->battery_most_w), room)
                                  : -least(least(-surplus_w, house->battery_most_w), stored);
    house->battery_mj += power * house->step_ms;
    return power;
}

static void spread(struct house *house, int phase, int64_t power_w)
{
    int32_t *at = house->reading.phase_power_w;
    int count = house->settings.phase_count;
    if (phase >= 0)
        at[phase] += (int32_t)power_w;
    else
        for (int p = 0; p < count; p++)
            at[p] += (int32_t)(power_w / count);
}

static void spread_load(struct house *house, int i)
{
    uint8_t phases = house->load[i].phases;
    int count = __builtin_popcount(phases);
    for (int p = 0; p < PHASES; p++)
        if (phases >> p & 1)
            house->reading.phase_power_w[p] += house->at[i].draw_w / count;
}

/* ---- meter ---- */

/* Its last good value stays while it is silent. */
static void read_solar(struct house *house, int64_t sun)
{
    struct reading *r = &house->reading;
    int64_t t = house->now.mono.ms;
    if (house->trouble.solar && chance_between(&house->faults, 0, 8 * MS_PER_HOUR) < house->step_ms)
        house->solar_bad_until = t + chance_between(&house->faults, 1, 200) * MS_PER_MIN;
    bool bad = t < house->solar_bad_until;
    r->solar.quality = bad ? READING_STALE : READING_FRESH;
    if (bad || t < house->solar_due)
        return;
    house->solar_due = t + house->solar_every_ms;
    r->solar_power_w = (int32_t)sun;
    r->solar.taken.ms = t - (int64_t)(house->sequence % 5) * 700;
    r->solar.sequence++;
}

static void powers(struct house *house)
{
    struct reading *r = &house->reading;
    int64_t sun = sun_w(house), limit = house->settings.export_limit_w;
    household(house);
    int64_t demand = house->base_w + house->appliance_w;
    for (int i = 0; i < house->settings.load_count; i++)
        demand += house->at[i].draw_w;
    int64_t battery = battery_w(house, sun - demand);
    int64_t export_w = sun - demand - battery;
    bool throttled = limit > 0 && export_w > limit;
    if (throttled)
        sun -= export_w - limit;
    memset(r->phase_power_w, 0, sizeof r->phase_power_w);
    spread(house, -1, house->base_w);
    spread(house, house->appliance_phase, house->appliance_w);
    spread(house, house->pv_phase, -sun);
    spread(house, -1, battery);
    for (int i = 0; i < house->settings.load_count; i++)
        spread_load(house, i);
    r->grid_power_w = r->phase_power_w[0] + r->phase_power_w[1] + r->phase_power_w[2];
    for (int p = 0; p < PHASES; p++)
        r->phase_current_ma[p] =
            (int32_t)((int64_t)(r->phase_power_w[p] < 0 ? -r->phase_power_w[p]
                                                        : r->phase_power_w[p]) *
                      1030000 / house->settings.voltage_mv);
    r->battery_power_w = (int32_t)battery;
    read_solar(house, sun);
    r->inverter_throttled = throttled && house->says_throttled;
    r->grid.sequence = ++house->sequence;
    r->grid.taken.ms = house->now.mono.ms - (int64_t)(house->sequence % 3) * 300;
    r->battery = r->grid;
    r->battery.quality = READING_FRESH;
    r->has = HAS_GRID_POWER | HAS_SOLAR_POWER;
    if (house->has_phase_power)
        r->has |= HAS_PHASE_POWER;
    if (house->has_phase_current)
        r->has |= HAS_PHASE_CURRENT;
    if (house->settings.battery)
        r->has |= HAS_BATTERY_POWER;
    if (!house->settings.battery || house->now.mono.ms < house->battery_bad_until)
        r->battery.quality = READING_STALE;
}

static void meter_troubles(struct house *house)
{
    struct chance *c = &house->chance;
    int64_t t = house->now.mono.ms;
    if (!house->trouble.meter)
        return;
    if (chance_between(c, 0, 8 * MS_PER_HOUR) < house->step_ms) {
        static const enum reading_quality bad[] = {READING_STALE, READING_IMPLAUSIBLE,
                                                   READING_ABSENT};
        house->meter_bad_as = bad[chance_between(c, 0, 2)];
        house->meter_bad_until = t + (chance_of(c, 700) ? chance_between(c, 10, 300) * MS_PER_S
                                                        : chance_between(c, 5, 600) * MS_PER_MIN);
    }
    if (chance_between(c, 0, MS_PER_DAY) < house->step_ms)
        house->battery_bad_until = t + chance_between(c, 1, 120) * MS_PER_MIN;
    if (chance_between(c, 0, 4 * MS_PER_DAY) < house->step_ms)
        house->islanded_until = t + chance_between(c, 1, 60) * MS_PER_MIN;
}

static void read_meter(struct house *house)
{
    meter_troubles(house);
    powers(house); /* while the meter is bad the numbers are there, but not to be believed */
    bool bad = house->now.mono.ms < house->meter_bad_until;
    house->reading.grid.quality = bad ? house->meter_bad_as : READING_FRESH;
    house->reading.islanded = house->now.mono.ms < house->islanded_until;
}

/* ---- people ---- */

static struct command an_order(struct house *house)
{
    struct chance *c = &house->chance;
    static const enum command_kind kinds[] = {COMMAND_ON,      COMMAND_OFF,     COMMAND_AUTO,
                                              COMMAND_ON,      COMMAND_HOLIDAY, COMMAND_INHIBIT,
                                              COMMAND_INHIBIT, COMMAND_ENABLE,  COMMAND_ENABLE,
                                              COMMAND_TEST,    COMMAND_TEST};
    struct command order = {
        .kind = kinds[chance_between(c, 0, 10)],
        .load = (uint16_t)chance_between(c, 0, house->settings.load_count),
        .flag = chance_of(c, 400),
        .until = mono_after(house->now.mono, chance_between(c, 0, 240) * MS_PER_MIN),
        .back = {house->now.wall.ms + chance_between(c, 1, 40) * MS_PER_HOUR},
        .level_w = (int32_t)(chance_of(c, 500) ? 0 : chance_between(c, 1, 80) * 90),
    };
    if (order.kind == COMMAND_TEST) /* seconds, where others have minutes */
        order.until.ms -= mono_since_ms(order.until, house->now.mono) * 59 / 60;
    if (order.kind == COMMAND_INHIBIT && chance_of(c, 300))
        order.load = LOAD_ALL;
    if (order.kind == COMMAND_HOLIDAY) {
        order.load = LOAD_ALL;
        if (chance_of(c, 300) || !house->now.wall_trusted)
            order.back.ms = 0;
    }
    if (order.kind == COMMAND_ENABLE)
        order.flag = chance_of(c, 700);
    if (chance_of(c, 20))
        order.until = MONO_NEVER;
    return order;
}

static void people(struct house *house)
{
    struct chance *c = &house->chance;
    house->input.command_count = 0;
    if (!house->trouble.orders)
        return;
    while (house->input.command_count < 4 && chance_between(c, 0, 4 * MS_PER_HOUR) < house->step_ms)
        house->command[house->input.command_count++] = an_order(house);
}

void house_step(struct house *house)
{
    pass_time(house);
    house->input.confirmation_count = 0;
    for (uint16_t i = 0; i < house->settings.load_count; i++) {
        output_answers(house, i);
        load_troubles(house, i);
        load_draws(house, i);
        load_is_metered(house, i);
    }
    read_meter(house);
    people(house);
    house->input.reading = &house->reading;
    house->input.load_reading = house->load_reading;
    house->input.commands = house->command;
    house->input.confirmations = house->confirmation;
    house->input.now = house->now;
}
