/* Sizes, habits and settings are spread over what is usual (common practice, no source);
 * elements are up to a tenth weaker or a twentieth stronger than their nameplate (IEC 60335-1
 * allows +5 and -10 % of rated input above 200 W, from memory). Faults take turns by the seed, so
 * that each comes as often; every second house is sound. */
#include "diagnosis_case.h"

#include <string.h>

enum { DAY_S = 86400, HOUR_S = 3600, SOUND_DAYS = 40, AFTER_DAYS = 14 };

static const char *const names[CASE_FAULTS] = {
    [CASE_SOUND] = "sound",
    [CASE_BREAKER_OFF] = "breaker off",
    [CASE_SUPPLY_OFF] = "supply off",
    [CASE_COIL_OPEN] = "contactor does not close",
    [CASE_ELEMENT_OPEN] = "element open",
    [CASE_THERMOSTAT_OPEN] = "thermostat stays open",
    [CASE_CUT_OUT] = "cut-out open",
    [CASE_PART_THIRD] = "1/3 of element left",
    [CASE_PART_HALF] = "1/2 of element left",
    [CASE_PART_TWO_THIRDS] = "2/3 of element left",
    [CASE_WELDED] = "contact welded",
    [CASE_BYPASSED] = "contact bypassed",
    [CASE_THERMOSTAT_CLOSED] = "thermostat stays closed",
    [CASE_CT_REVERSED] = "one transformer reversed",
    [CASE_CTS_EXCHANGED] = "phases exchanged",
    [CASE_CTS_CROSSED] = "transformers crossed",
    [CASE_METER_REVERSED] = "meter reversed",
    [CASE_METER_STUCK] = "meter stuck",
    [CASE_LEAK] = "valve leaks",
    [CASE_DRIFT] = "element drifts",
};

const char *case_fault_name(enum case_fault fault)
{
    return names[fault];
}

/* ---- chance ------------------------------------------------------------------------ */

static double between(struct prng *prng, double least, double most)
{
    return prng_between(prng, least, most);
}

static bool chance(struct prng *prng, double share)
{
    return prng_unit(prng) < share;
}

static int pick(struct prng *prng, int count)
{
    return (int)(prng_unit(prng) * count);
}

/* ---- the house ---------------------------------------------------------------------- */

static void make_household(struct diagnosis_case *made, struct prng *prng, double heater_w)
{
    struct household_settings *household = &made->world.household;
    *household = (struct household_settings){.base_w = between(prng, 120, 500),
                                             .fridge_w = between(prng, 80, 160),
                                             .kettle_w = between(prng, 1800, 2400),
                                             .kettles_a_day = between(prng, 2, 8),
                                             .phase_count = made->world.grid.phase_count,
                                             .seed = prng_next(prng)};
    uint8_t phases = (uint8_t)((1 << household->phase_count) - 1);
    struct household_chance uses[] = {
        /* an oven that cycles, a washing machine's heater, a hob */
        {2200, 0.1, 1, 0.7, 11 * HOUR_S, 20 * HOUR_S, 1800, 4500, 200, 150},
        {2000, 0.05, 1, 0.8, 7 * HOUR_S, 21 * HOUR_S, 600, 1500, 0, 0},
        {1500, 0.3, 1, 2, 6 * HOUR_S, 21 * HOUR_S, 300, 1800, 12, 9},
        /* in one of four homes something of the heater's own power */
        {heater_w, 0.05, 1, chance(prng, 0.25) ? between(prng, 0.2, 1.5) : 0, 6 * HOUR_S,
         22 * HOUR_S, 300, 2400, 0, 0},
        {800, 0.3, 1, 4, 6 * HOUR_S, 23 * HOUR_S, 60, 900, 0, 0},
    };
    for (size_t k = 0; k < sizeof(uses) / sizeof(uses[0]); k++) {
        uses[k].phases = (uint8_t)(1 << pick(prng, household->phase_count));
        if (k == 3 && chance(prng, 0.5))
            uses[k].phases = phases;
        household->chance[household->chance_count++] = uses[k];
    }
}

static void make_site(struct diagnosis_case *made, struct prng *prng)
{
    struct world_settings *world = &made->world;
    struct trouble trouble;
    *world = world_usual();
    if (!zone_parse("AEST-10AEDT,M10.1.0,M4.1.0/3", &world->zone, &trouble))
        return; /* a constant */
    world->start.ms = INT64_C(1767225600000) + (int64_t)pick(prng, 300) * MS_PER_DAY;
    world->grid.phase_count = chance(prng, 0.45) ? 3 : 1;
    world->grid.source_ohm = between(prng, 0.1, 0.5);
    world->grid.seed = prng_next(prng);
    world->pv_peak_w = chance(prng, 0.85) ? between(prng, 3000, 9000) : 0;
    world->pv_phases =
        world->grid.phase_count == 1 ? 1 : (uint8_t)(chance(prng, 0.5) ? 7 : 1 << pick(prng, 3));
    world->sky_seed = prng_next(prng);
    world->draw_litres_a_day = between(prng, 80, 300);
    world->draw_seed = prng_next(prng);
}

static void make_view(struct diagnosis_case *made, struct prng *prng)
{
    static const int32_t resolutions_w[] = {1, 10, 100}, polls_s[] = {1, 2, 5, 10};
    double share = prng_unit(prng);
    made->resolution_w = resolutions_w[pick(prng, 3)];
    made->poll_s = polls_s[pick(prng, 4)];
    if (share < 0.45) {
        made->poll_s = 1;
        made->resolution_w = 10;
    } else if (share < 0.7) {
        made->poll_s = 5;
        made->resolution_w = 100;
    }
    made->view = made->poll_s == 1 && made->resolution_w == 10    ? VIEW_FINE
                 : made->poll_s == 5 && made->resolution_w == 100 ? VIEW_COARSE
                                                                  : VIEW_OTHER;
    made->world.meter.resolution_w = made->resolution_w;
    made->world.meter.noise_w = between(prng, 0, 5);
    made->world.meter.seed = prng_next(prng);
    made->tells_voltage = chance(prng, 0.8);
    made->senses_voltage = chance(prng, 0.15);
    made->solar_late_s = pick(prng, 2);
}

/* ---- loads ---------------------------------------------------------------------------- */

static uint8_t some_phase(const struct diagnosis_case *made, struct prng *prng)
{
    return (uint8_t)(1 << pick(prng, made->world.grid.phase_count));
}

static void make_heater(struct diagnosis_case *made, struct prng *prng, int index, uint8_t phases,
                        double volume_l, double nameplate_w)
{
    struct house_load_settings *load = &made->world.load[index];
    struct load_settings *settings = &made->loads[index];
    double set_c = between(prng, 58, 70);
    *load = (struct house_load_settings){
        .kind = HOUSE_HEATER,
        .power_w = nameplate_w,
        .phases = phases,
        .contactors = 1,
        .heater = heater_usual(volume_l, nameplate_w * between(prng, 0.92, 1.05)),
        .start_c = between(prng, 30, set_c),
        .inlet_c = between(prng, 8, 20)};
    load->heater.element_v = 230;
    load->heater.set_c = set_c;
    load->heater.hysteresis_k = between(prng, 4, 10);
    load->heater.tank.layers = 8;
    settings->thermostat = true;
    if (chance(prng, 0.6)) /* told, as nameplates and habits have it */
        settings->water =
            (struct heat_settings){.volume_ml = (int32_t)(volume_l * 1000),
                                   .set_mc = (int32_t)set_c * 1000,
                                   .hysteresis_mc = 6000,
                                   .cold_mc = 16000,
                                   .room_mc = 20000,
                                   .loss_mwh = heat_usual_loss_mwh((int32_t)(volume_l * 1000)),
                                   .usable_permille = 600};
}

static void set_up(struct diagnosis_case *made, struct prng *prng, int index)
{
    const struct house_load_settings *load = &made->world.load[index];
    struct load_settings *settings = &made->loads[index];
    settings->kind = LOAD_SWITCHED;
    settings->priority = (uint16_t)(index + 1);
    settings->phases = load->phases;
    settings->power_w = (int32_t)load->power_w;
    settings->uses_spare = true;
    settings->start_permille = (uint16_t)between(prng, 500, 1000);
    settings->stop_margin_w = 200;
    settings->settle_start_ms = 3 * MS_PER_MIN;
    settings->settle_stop_ms = 90 * MS_PER_S;
    settings->min_on_ms = 10 * MS_PER_MIN;
    settings->min_off_ms = 5 * MS_PER_MIN;
    settings->starts_per_hour = 6;
    settings->group = RULES_NO_GROUP;
    settings->retry_ms = 45 * MS_PER_MIN;
}

static int64_t heat_up_ms(const struct house_load_settings *load)
{
    return (int64_t)(load->heater.tank.volume_l * WATER_J_PER_L_K * 35 / load->power_w * 1000);
}

/* Hours, energy or heated through, by an afternoon or a morning. */
static void make_floor(struct diagnosis_case *made, struct prng *prng, int index)
{
    struct load_settings *settings = &made->loads[index];
    static const int32_t deadlines_s[] = {6 * HOUR_S, 16 * HOUR_S, 17 * HOUR_S, 19 * HOUR_S};
    struct floor_settings floor = {.measure = FLOOR_TIME,
                                   .weekdays = WEEKDAYS_ALL,
                                   .by_s = deadlines_s[pick(prng, 4)],
                                   .reserve_ms = 30 * MS_PER_MIN};
    floor.amount = (int64_t)(between(prng, 1, 4) * MS_PER_HOUR);
    if (settings->thermostat && chance(prng, 0.4)) {
        floor.measure = FLOOR_SATISFIED;
        floor.amount = heat_up_ms(&made->world.load[index]);
    } else if (chance(prng, 0.3)) {
        floor.measure = FLOOR_ENERGY;
        floor.amount = floor.amount / 1000 * settings->power_w / 3600 * 1000; /* mWh */
    }
    settings->floor[settings->floor_count++] = floor;
}

static void make_pump(struct diagnosis_case *made, struct prng *prng, int index)
{
    made->world.load[index] = (struct house_load_settings){.kind = HOUSE_PUMP,
                                                           .power_w = between(prng, 600, 1600),
                                                           .phases = some_phase(made, prng),
                                                           .contactors = 1};
    made->loads[index].motor = true;
}

static void make_second(struct diagnosis_case *made, struct prng *prng)
{
    double share = prng_unit(prng);
    if (share < 0.4)
        return;
    if (share < 0.7)
        make_pump(made, prng, 1);
    else
        make_heater(made, prng, 1, some_phase(made, prng), between(prng, 50, 160),
                    100 * (int)between(prng, 12, 36));
    made->world.load_count = 2;
    set_up(made, prng, 1);
    if (made->loads[1].motor) {
        made->loads[1].settle_start_ms = 10 * MS_PER_MIN;
        made->loads[1].settle_stop_ms = 5 * MS_PER_MIN;
        made->loads[1].min_on_ms = 20 * MS_PER_MIN;
        made->loads[1].min_off_ms = 10 * MS_PER_MIN;
    }
    if (chance(prng, 0.7))
        make_floor(made, prng, 1);
}

static void make_loads(struct diagnosis_case *made, struct prng *prng)
{
    bool phases = made->world.grid.phase_count == 3;
    bool all = phases && made->fault != CASE_CTS_EXCHANGED && made->fault != CASE_CTS_CROSSED &&
               chance(prng, 0.4);
    double nameplate_w = all ? 300 * (int)between(prng, 15, 31) : 100 * (int)between(prng, 18, 49);
    make_household(made, prng, nameplate_w);
    make_heater(made, prng, 0, all ? 7 : some_phase(made, prng), between(prng, 125, 400),
                nameplate_w);
    made->world.load_count = 1;
    set_up(made, prng, 0);
    bool sun = made->world.pv_peak_w > 1.5 * nameplate_w; /* else it would never run */
    if (!sun || chance(prng, 0.85))
        make_floor(made, prng, 0);
    make_second(made, prng);
}

static void make_rules(struct diagnosis_case *made, struct prng *prng)
{
    struct rules_settings *rules = &made->rules;
    rules->load_count = (uint16_t)made->world.load_count;
    rules_order(made->loads, rules->load_count, made->order);
    rules->loads = made->loads;
    rules->order = made->order;
    rules->zone = made->world.zone;
    rules->phase_count = (uint8_t)made->world.grid.phase_count;
    rules->billing = BILLING_NET;
    rules->voltage_mv = 230000;
    rules->margin_w = 100;
    rules->solar = made->world.pv_peak_w > 0 && chance(prng, 0.5);
    rules->start_gap_ms = 5 * MS_PER_S;
    rules->restart_spread_ms = 30 * MS_PER_S;
}

/* ---- what fails -------------------------------------------------------------------------- */

static bool needs_three_phases(enum case_fault fault)
{
    return fault == CASE_CTS_EXCHANGED || fault == CASE_CTS_CROSSED;
}

static bool is_of_wiring(enum case_fault fault)
{
    return fault == CASE_CT_REVERSED || needs_three_phases(fault) || fault == CASE_METER_REVERSED;
}

static bool pump_can(enum case_fault fault)
{
    return fault == CASE_BREAKER_OFF || fault == CASE_SUPPLY_OFF || fault == CASE_COIL_OPEN ||
           fault == CASE_WELDED;
}

/* One of the load's own phases, or for a pair that and another. */
static uint8_t meter_phases(const struct diagnosis_case *made, struct prng *prng)
{
    uint8_t own = made->world.load[0].phases;
    int first = __builtin_ctz(own);
    if (own == 7)
        first = pick(prng, 3);
    int other = (first + 1 + pick(prng, 2)) % 3;
    return (uint8_t)(1 << first | (needs_three_phases(made->fault) ? 1 << other : 0));
}

static double part_left(enum case_fault fault)
{
    return fault == CASE_PART_THIRD ? 1.0 / 3 : fault == CASE_PART_HALF ? 0.5 : 2.0 / 3;
}

/* Of a star on three phases whole legs go; else rods in parallel. */
static void make_part(struct diagnosis_case *made, struct prng *prng)
{
    made->fault_amount = part_left(made->fault);
    bool star = made->world.load[0].phases == 7;
    if (!star || made->fault == CASE_PART_HALF)
        return;
    int leg = pick(prng, 3);
    made->fault_amount = 0;
    made->fault_phases =
        (uint8_t)(made->fault == CASE_PART_TWO_THIRDS ? 1 << leg : 7 & ~(1 << leg));
}

static void make_fault(struct diagnosis_case *made, struct prng *prng)
{
    made->onset_s = -1;
    made->days = SOUND_DAYS;
    if (made->fault == CASE_SOUND)
        return;
    bool slow = made->fault >= CASE_FIRST_SLOW;
    made->onset_s = (int64_t)(between(prng, slow ? 21 : 6, slow ? 28 : 24) * DAY_S);
    if (is_of_wiring(made->fault) && chance(prng, 0.5))
        made->onset_s = 0; /* as it was installed */
    made->days = (int32_t)(made->onset_s / DAY_S) + (slow ? 60 : AFTER_DAYS) + 1;
    bool pump = made->world.load_count > 1 && made->loads[1].motor;
    if (pump && pump_can(made->fault) && chance(prng, 0.3))
        made->fault_load = 1;
    if (is_of_wiring(made->fault))
        made->fault_phases = meter_phases(made, prng);
    if (made->fault >= CASE_PART_THIRD && made->fault <= CASE_PART_TWO_THIRDS)
        make_part(made, prng);
    if (made->fault == CASE_LEAK)
        made->fault_amount = between(prng, 2, 6);
    if (made->fault == CASE_DRIFT)
        made->fault_amount = between(prng, 1, 2);
}

void diagnosis_case_make(struct diagnosis_case *made, uint64_t seed)
{
    struct prng prng = {.state = seed * 7919};
    *made = (struct diagnosis_case){.seed = seed};
    if (seed % 2)
        made->fault = (enum case_fault)(1 + seed / 2 % (CASE_FAULTS - 1));
    make_site(made, &prng);
    if (needs_three_phases(made->fault)) {
        made->world.grid.phase_count = 3;
        made->world.pv_phases = 7;
    }
    make_view(made, &prng);
    make_loads(made, &prng);
    make_rules(made, &prng);
    make_fault(made, &prng);
}

static void fail_load(const struct diagnosis_case *given, struct house_load *load)
{
    static const enum house_fault_kind kinds[CASE_FAULTS] = {
        [CASE_BREAKER_OFF] = FAULT_BREAKER_OFF,
        [CASE_SUPPLY_OFF] = FAULT_SUPPLY_OFF,
        [CASE_COIL_OPEN] = FAULT_COIL_OPEN,
        [CASE_ELEMENT_OPEN] = FAULT_ELEMENT_BROKEN,
        [CASE_THERMOSTAT_OPEN] = FAULT_THERMOSTAT_OPENS_FOR_GOOD,
        [CASE_CUT_OUT] = FAULT_CUT_OUT,
        [CASE_PART_THIRD] = FAULT_ELEMENT_LEFT,
        [CASE_PART_HALF] = FAULT_ELEMENT_LEFT,
        [CASE_PART_TWO_THIRDS] = FAULT_ELEMENT_LEFT,
        [CASE_WELDED] = FAULT_WELDED,
        [CASE_BYPASSED] = FAULT_BYPASSED,
        [CASE_THERMOSTAT_CLOSED] = FAULT_THERMOSTAT_CLOSED,
        [CASE_LEAK] = FAULT_RELIEF_LEAK,
        [CASE_DRIFT] = FAULT_ELEMENT_DRIFT,
    };
    struct house_fault fault = {kinds[given->fault], given->fault_amount, given->fault_phases};
    house_fault_begin(load, &fault);
}

void diagnosis_case_fail(const struct diagnosis_case *given, struct world *world)
{
    struct grid_meter_faults *meter = &world->meter.faults;
    switch (given->fault) {
    case CASE_SOUND:
    case CASE_FAULTS:
        break;
    case CASE_CT_REVERSED:
        meter->reversed = given->fault_phases;
        break;
    case CASE_CTS_EXCHANGED:
        meter->exchanged = given->fault_phases;
        break;
    case CASE_CTS_CROSSED:
        meter->crossed = given->fault_phases;
        break;
    case CASE_METER_REVERSED:
        world->meter.settings.inverted = true;
        break;
    case CASE_METER_STUCK:
        meter->stuck = true;
        break;
    default:
        fail_load(given, &world->load[given->fault_load]);
    }
}

enum sky_kind diagnosis_case_sky(const struct diagnosis_case *given, int32_t day)
{
    struct prng prng = {.state = given->seed * 104729 + (uint64_t)day};
    double share = prng_unit(&prng);
    return share < 0.35   ? SKY_CLEAR
           : share < 0.7  ? SKY_CLOUDS
           : share < 0.85 ? SKY_OVERCAST
           : share < 0.95 ? SKY_WET_MORNING
                          : SKY_DARK;
}
