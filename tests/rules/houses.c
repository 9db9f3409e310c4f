/* houses.c - random settings; house_days.c lets them live.
 *
 * The ranges are wider than any real house's, so that the rules meet each other
 * often: minimum on of nothing and of twenty minutes, limits that are passed by
 * lunch, prices below the feed-in. Where the settings are refused by
 * rules_settings_check, another load is drawn. */
#include "houses.h"

#include <stdlib.h>
#include <string.h>

#include "../core/suite.h"

/* Beyond all that a short run takes. */
enum { LONG_RUN_FROM = 100001 };

struct seeds houses_seeds(uint64_t all)
{
    const char *from = getenv("HOUSES_FROM");
    bool is_long = cases_step() == 1;
    uint64_t first = from ? strtoull(from, NULL, 10) : is_long ? LONG_RUN_FROM : 1;
    uint64_t count = (all + cases_step() - 1) / cases_step();
    return (struct seeds){first, first + count - 1, count};
}

/* splitmix64: S. Vigna's public-domain generator (from memory). */
uint64_t chance_next(struct chance *chance)
{
    uint64_t z = chance->state += 0x9e3779b97f4a7c15U;
    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9U;
    z = (z ^ z >> 27) * 0x94d049bb133111ebU;
    return z ^ z >> 31;
}

int64_t chance_between(struct chance *chance, int64_t least, int64_t greatest)
{
    return least + (int64_t)(chance_next(chance) % (uint64_t)(greatest - least + 1));
}

bool chance_of(struct chance *chance, int64_t permille)
{
    return chance_between(chance, 0, 999) < permille;
}

static int32_t between(struct chance *chance, int32_t least, int32_t greatest)
{
    return (int32_t)chance_between(chance, least, greatest);
}

static int32_t seconds(struct chance *chance, int32_t least_s, int32_t greatest_s)
{
    return between(chance, least_s, greatest_s) * MS_PER_S;
}

static int32_t or_none(struct chance *chance, int64_t permille_none, int32_t value)
{
    return chance_of(chance, permille_none) ? 0 : value;
}

/* POSIX.1 TZ rules of places with and without summer time, one of half an hour. */
static const char *const zones[] = {
    "AEST-10AEDT,M10.1.0,M4.1.0/3", "<+1030>-10:30<+11>-11,M10.1.0,M4.1.0", "UTC0",
    "CET-1CEST,M3.5.0,M10.5.0/3",   "ACST-9:30ACDT,M10.1.0,M4.1.0/3",       "AEST-10",
    "NST3:30NDT,M3.2.0,M11.1.0",
};

/* The days before those rules change their offsets in 2026. */
static const struct date before_changes[] = {
    {2026, 4, 3}, {2026, 10, 2}, {2026, 3, 27}, {2026, 10, 23}, {2026, 3, 6}, {2026, 10, 30},
};

static struct hours random_hours(struct chance *c)
{
    struct hours hours = {.count = (uint8_t)between(c, 1, 3)};
    for (int i = 0; i < hours.count; i++)
        hours.span[i] = (struct hours_span){
            .from_s = between(c, 0, 1439) * 60,
            .to_s = between(c, 1, 1440) * 60,
            .weekdays = (uint8_t)(chance_of(c, 700) ? WEEKDAYS_ALL : between(c, 1, 0x7f)),
        };
    return hours;
}

static struct tariff random_tariff(struct chance *c)
{
    struct tariff tariff = {.count = (uint8_t)between(c, 0, 4),
                            .feed_in_micro = between(c, -50, 300) * 1000};
    for (int i = 0; i < tariff.count; i++) {
        struct tariff_band *band = &tariff.band[i];
        band->price_micro = between(c, i == 0 ? 100 : -20, 600) * 1000;
        if (i == 0)
            continue;
        band->hours = random_hours(c);
        if (chance_of(c, 300)) {
            band->first_month = (uint8_t)between(c, 1, 12);
            band->last_month = (uint8_t)between(c, 1, 12);
        }
    }
    return tariff;
}

static struct floor_settings random_floor(struct chance *c, const struct load_settings *load,
                                          bool has_prices)
{
    struct floor_settings floor = {
        .measure = FLOOR_TIME,
        .grid = (uint8_t)(has_prices && chance_of(c, 500) ? FLOOR_IN_CHEAPEST_HOURS
                                                          : FLOOR_AT_LATEST_START),
        .weekdays = (uint8_t)(chance_of(c, 600) ? WEEKDAYS_ALL : between(c, 1, 0x7f)),
        .every_days = (uint16_t)or_none(c, 800, between(c, 2, 7)),
        .by_s = between(c, 0, 1440) * 60,
        .reserve_ms = or_none(c, 300, between(c, 1, 60) * MS_PER_MIN),
        .amount = chance_between(c, 10, 300) * MS_PER_MIN,
    };
    if (load->kind == LOAD_STAGED || load->kind == LOAD_SETPOINT || chance_of(c, 300)) {
        floor.measure = FLOOR_ENERGY;
        floor.amount = chance_between(c, 200, 9000) * 1000;
    } else if (load->thermostat && chance_of(c, 400)) {
        floor.measure = FLOOR_SATISFIED;
        floor.amount = chance_between(c, 20, 200) * MS_PER_MIN;
    }
    return floor;
}

static void random_power(struct chance *c, struct load_settings *load)
{
    int32_t sort = between(c, 0, 99);
    load->kind = (uint8_t)(sort < 60   ? LOAD_SWITCHED
                           : sort < 75 ? LOAD_STAGED
                           : sort < 90 ? LOAD_SETPOINT
                                       : LOAD_REQUEST);
    load->power_w = between(c, 5, 60) * 100;
    if (load->kind == LOAD_STAGED) {
        load->stages = (uint8_t)between(c, 1, RULES_STAGES_MAX);
        load->power_w = 0;
        for (int i = 0; i < load->stages; i++)
            load->power_w += load->stage_w[i] = between(c, 5, 25) * 100;
    }
    if (load->kind == LOAD_SETPOINT) {
        load->least_w = between(c, 5, 15) * 100;
        load->step_w = between(c, 1, 25) * 20;
        load->power_w = load->least_w + between(c, 0, 20) * load->step_w;
    }
}

static uint8_t random_phases(struct chance *c, int phase_count)
{
    if (phase_count == 1)
        return 1;
    uint8_t all = (uint8_t)((1U << phase_count) - 1);
    if (chance_of(c, 300))
        return all;
    if (chance_of(c, 150))
        return (uint8_t)between(c, 1, all);
    return (uint8_t)(1U << between(c, 0, phase_count - 1));
}

static void random_rests(struct chance *c, struct load_settings *load)
{
    load->settle_start_ms = or_none(c, 150, seconds(c, 20, 300));
    load->settle_stop_ms = or_none(c, 150, seconds(c, 10, 150));
    load->min_on_ms = or_none(c, 150, seconds(c, 60, 1200));
    load->min_off_ms = or_none(c, 150, seconds(c, 60, 1200));
    load->starts_per_hour = (uint8_t)or_none(c, 500, between(c, 1, RULES_STARTS_MAX));
    load->daily_max_ms = or_none(c, 600, between(c, 30, 600) * MS_PER_MIN);
    load->retry_ms = between(c, 5, 240) * MS_PER_MIN;
    load->heat_up_ms = or_none(c, 400, between(c, 30, 240) * MS_PER_MIN);
    if (chance_of(c, 500))
        load->hours = random_hours(c);
}

/* Apart, so that a load without it is the same. */
static void random_supply(const struct chance *c, struct load_settings *load)
{
    struct chance own = {c->state * 0xd1342543de82ef95U + 11};
    struct hours within;
    if (!chance_of(&own, 200))
        return;
    struct hours supply = random_hours(&own);
    if (!hours_both(&load->hours, &supply, &within) || within.count == 0)
        return;
    load->supply_hours = supply;
    load->hours = within;
}

static void random_load(struct chance *c, const struct rules_settings *site,
                        struct load_settings *load)
{
    *load = (struct load_settings){
        .priority = (uint16_t)between(c, 1, 6),
        .phases = random_phases(c, site->phase_count),
        .uses_spare = chance_of(c, 850),
        .metered = chance_of(c, 200),
        .strict = chance_of(c, 250),
        .normal_on_holiday = chance_of(c, 300),
        .start_permille = (uint16_t)between(c, 200, 1100),
        .stop_margin_w = or_none(c, 300, between(c, 1, 20) * 50),
        .group = RULES_NO_GROUP,
        .floor_count = (uint8_t)(chance_of(c, 600) ? between(c, 1, 2) : 0),
    };
    load->motor = load->priority % 3 == 0;
    random_power(c, load);
    load->thermostat = load->kind != LOAD_SETPOINT && chance_of(c, 600);
    if (site->tariff.count > 0 && chance_of(c, 300))
        load->start_permille = 0;
    if (site->group_count > 0 && chance_of(c, 500))
        load->group = (uint8_t)between(c, 0, site->group_count - 1);
    random_rests(c, load);
    random_supply(c, load);
    for (int f = 0; f < load->floor_count; f++)
        load->floor[f] = random_floor(c, load, site->tariff.count > 0);
}

/* Draws until the load alone passes the check; the last try has no floors. */
static void acceptable_load(struct chance *c, const struct rules_settings *site,
                            struct load_settings *load)
{
    static const uint16_t alone[1] = {0};
    struct trouble trouble;
    struct rules_settings trial = *site;
    trial.load_count = 1;
    trial.loads = load;
    trial.order = alone;
    for (int tries = 0; tries < 40; tries++) {
        random_load(c, site, load);
        if (rules_settings_check(&trial, &trouble))
            return;
    }
    load->floor_count = 0;
    load->daily_max_ms = 0;
}

static void random_groups(struct chance *c, struct rules_settings *site)
{
    site->group_count = (uint8_t)or_none(c, 500, between(c, 1, 2));
    for (int g = 0; g < site->group_count; g++) {
        site->group[g].limit_ma = or_none(c, 400, between(c, 8, 60) * 1000);
        site->group[g].one_at_a_time = chance_of(c, 400);
    }
}

static void random_site(struct chance *c, struct house *house)
{
    struct rules_settings *site = &house->settings;
    struct trouble trouble;
    house->zone_rule = zones[between(c, 0, (int32_t)(sizeof zones / sizeof zones[0]) - 1)];
    zone_parse(house->zone_rule, &site->zone, &trouble);
    site->tariff = random_tariff(c);
    site->phase_count = (uint8_t)(chance_of(c, 500) ? 1 : 3);
    site->billing =
        (uint8_t)(site->phase_count > 1 && chance_of(c, 500) ? BILLING_PER_PHASE : BILLING_NET);
    site->voltage_mv = chance_of(c, 700) ? 230000 : between(c, 110, 250) * 1000;
    site->margin_w = or_none(c, 400, between(c, 1, 300));
    site->supply_limit_ma = or_none(c, 500, between(c, 12, 80) * 1000);
    site->battery = chance_of(c, 250);
    site->battery_reserved_permille = (uint16_t)between(c, 0, 1000);
    site->export_limit_w = or_none(c, 700, between(c, 0, 50) * 100);
    site->probes_per_day = (uint8_t)or_none(c, 400, between(c, 1, 6));
    site->probe_wait_ms = between(c, 5, 30) * MS_PER_MIN;
    if (chance_of(c, 300))
        site->quiet = random_hours(c);
    site->start_gap_ms = or_none(c, 300, seconds(c, 1, 90));
    site->restart_spread_ms = or_none(c, 300, seconds(c, 1, 180));
    random_groups(c, site);
}

static void random_meter(struct chance *c, struct house *house)
{
    house->has_phase_power = house->settings.billing == BILLING_PER_PHASE || chance_of(c, 700);
    house->has_phase_current = chance_of(c, 300);
    house->says_throttled = chance_of(c, 300);
    house->pv_peak_w = chance_of(c, 150) ? 0 : chance_between(c, 1, 14) * 1000;
    house->pv_phase = chance_of(c, 500) ? -1 : between(c, 0, house->settings.phase_count - 1);
    house->base_w = chance_between(c, 50, 700);
    house->battery_most_w = chance_between(c, 1, 5) * 1000;
    house->battery_full_mj = chance_between(c, 2, 12) * 3600 * 1000 * 1000;
    house->trouble = (struct house_trouble){.meter = chance_of(c, 600),
                                            .outputs = chance_of(c, 600),
                                            .orders = chance_of(c, 700),
                                            .clock = chance_of(c, 400)};
    static const int32_t steps_s[] = {10, 30, 60, 60, 60};
    house->step_ms = steps_s[between(c, 0, 4)] * MS_PER_S + or_none(c, 500, between(c, -900, 900));
}

static void random_faults(struct house *house)
{
    house->faults = (struct chance){house->seed * 0x9e3779b97f4a7c15U + 7};
    struct chance *c = &house->faults;
    house->settings.solar = house->pv_peak_w > 0 && chance_of(c, 600);
    house->solar_every_ms = chance_of(c, 400) ? 0 : chance_between(c, 1, 180) * MS_PER_S;
    house->trouble.solar = chance_of(c, 500);
    house->trouble.elements = chance_of(c, 500);
    house->trouble.contacts = chance_of(c, 500);
    house->trouble.board = chance_of(c, 400);
}

static void random_beginning(struct chance *c, struct house *house)
{
    int32_t day = chance_of(c, 500) ? days_of_date(before_changes[between(c, 0, 5)])
                                    : days_of_date((struct date){2026, 1, 1}) + between(c, 0, 364);
    int64_t wall = (int64_t)day * MS_PER_DAY + chance_between(c, 0, MS_PER_DAY);
    int64_t mono = chance_between(c, 1000, 1000000000);
    house->begins = (struct moment){{mono}, {wall}, true};
    house->true_wall_minus_mono = wall - mono;
    if (!house->trouble.clock || chance_of(c, 400))
        return;
    house->begins.wall_trusted = false;
    house->begins.wall.ms = chance_of(c, 500) ? wall - chance_between(c, 0, 100) * MS_PER_DAY
                                              : chance_between(c, 0, MS_PER_DAY);
    house->trusted_from = mono + (chance_of(c, 500) ? chance_between(c, 1, 45) * MS_PER_MIN
                                                    : chance_between(c, 1, 80) * MS_PER_HOUR);
}

void house_make(struct house *house, uint64_t seed, uint8_t keep)
{
    memset(house, 0, sizeof *house);
    struct chance c = {seed * 0x2545f4914f6cdd1dU + 1};
    struct rules_settings *site = &house->settings;
    house->seed = seed;
    random_site(&c, house);
    random_meter(&c, house);
    random_beginning(&c, house);
    random_faults(house);
    int count = chance_of(&c, 500) ? between(&c, 1, 3) : between(&c, 1, HOUSE_LOADS_MAX);
    for (int i = 0; i < count; i++) {
        if (!(keep >> i & 1))
            continue;
        struct chance own = {c.state ^ (uint64_t)(i + 1) * 0x632be59bd9b4e019U};
        uint16_t at = site->load_count++;
        acceptable_load(&own, site, &house->load[at]);
        house->at[at].error_permille = chance_between(&own, 900, 1100);
        house->at[at].chance = own;
    }
    rules_order(house->load, site->load_count, house->order);
    site->loads = house->load;
    site->order = house->order;
    house->chance = (struct chance){c.state ^ 0x94d049bb133111ebU};
    house->now = house->begins;
}

int house_learns(struct house *house)
{
    struct chance chance = {house->seed};
    int learning = 0;
    for (uint16_t i = 0; i < house->settings.load_count; i++) {
        if (!house->load[i].thermostat || house->settings.tariff.count == 0)
            continue;
        house->load[i].start_permille = RULES_START_LEARNT;
        house->load[i].water = (struct heat_settings){
            .volume_ml = between(&chance, 50, 400) * 1000,
            .set_mc = 65000,
            .hysteresis_mc = 6000,
            .cold_mc = 16000,
            .room_mc = 20000,
            .loss_mwh = 2200000,
            .usable_permille = 850,
            .missing_micro = 10000000,
        };
        learning++;
    }
    return learning;
}

void house_give_store(const struct house *house, struct rules_memory *memory, uint16_t i,
                      struct heat_memory *heat)
{
    if (house->load[i].start_permille != RULES_START_LEARNT)
        return;
    struct chance chance = {house->seed + i};
    rules_learn(&house->settings, memory, i, heat);
    if (house->seed / 2 % 2 == 0)
        return;
    for (int d = 0; d < HEAT_DAYS; d++)
        for (int s = 0; s < HEAT_SLOTS; s++)
            heat->spare_w[d][s] = (int16_t)chance_between(&chance, -1500, 4000);
    heat->days = HEAT_DAYS;
}

struct moment house_begins(const struct house *house)
{
    return house->begins;
}
