/* finding_input.c - from the engine's words to those of the findings.
 *
 * Only what is known is told: where a load is no water heater its tank has no size. */
#include "values/finding_input.h"

enum {
    S_PER_H = 3600,
    LOSS_AT_MK = 55000 /* AS/NZS 4692.2 tests the standing loss so far above */
};

/* ---- settings ----------------------------------------------------------------------- */

static int32_t standing_loss_w(const struct heat_settings *water)
{
    int64_t over_mk = (int64_t)water->set_mc - water->room_mc;
    return (int32_t)(water->loss_mwh * over_mk / LOSS_AT_MK / (24 * 1000));
}

static struct findings_load_settings of_load(const struct load_settings *load)
{
    const struct heat_settings *water = &load->water;
    bool contactors = load->kind == LOAD_SWITCHED || load->kind == LOAD_STAGED;
    struct findings_load_settings settings = {
        .power_w = load->power_w,
        .phases = load->phases,
        .thermostat = load->thermostat,
        .resistive = contactors && load->thermostat && !load->motor,
    };
    if (water->volume_ml == 0)
        return settings;
    settings.full_mj = heat_full_mj(water);
    settings.band_mj = settings.full_mj * water->hysteresis_mc / (water->set_mc - water->cold_mc);
    settings.loss_w = standing_loss_w(water);
    settings.set_mc = water->set_mc;
    settings.band_mc = water->hysteresis_mc;
    return settings;
}

struct findings_settings finding_settings(const struct rules_settings *rules,
                                          struct findings_load_settings loads[])
{
    for (uint16_t i = 0; i < rules->load_count; i++)
        loads[i] = of_load(&rules->loads[i]);
    return (struct findings_settings){.load_count = rules->load_count,
                                      .loads = loads,
                                      .voltage_mv = rules->voltage_mv,
                                      .phase_count = rules->phase_count,
                                      .solar = rules->solar};
}

/* ---- a turn --------------------------------------------------------------------------- */

/* In the time that the floor's deadline is in. */
static int64_t floor_now_ms(const struct rules_memory *memory, bool elapsed)
{
    return elapsed ? memory->last.mono.ms : memory->last.wall.ms;
}

/* Of run, and of the floor's own amount (ms or mWh), by what was done so far. */
static void tell_need(const struct load_settings *load, const struct floor_memory *floor,
                      const struct floor_settings *settings, struct findings_floor *told)
{
    bool energy = settings->measure == FLOOR_ENERGY;
    int64_t done = energy ? floor->done / S_PER_H : floor->done; /* mJ are counted */
    int64_t missing = settings->amount > done ? settings->amount - done : 0;
    told->missing = missing;
    told->needs_ms = energy && load->power_w > 0 ? missing * S_PER_H / load->power_w : missing;
}

/* Until it is due its time suffices, and what its hours leave need not be looked for. */
static struct findings_floor of_floor(const struct rules_settings *rules,
                                      const struct rules_memory *memory, uint16_t index, uint8_t k)
{
    const struct floor_settings *settings = &rules->loads[index].floor[k];
    const struct load_memory *load = &memory->loads[index];
    const struct floor_memory *floor = &load->floor[k];
    struct findings_floor told = {.open = floor->begun && !floor->met,
                                  .measure = settings->measure,
                                  .denied_by = load->denied,
                                  .deadline_s = settings->by_s,
                                  .left_ms =
                                      floor->deadline_ms - floor_now_ms(memory, floor->elapsed)};
    tell_need(&rules->loads[index], floor, settings, &told);
    if (told.open && floor->due)
        told.needs_ms = floor->deadline_ms - settings->reserve_ms -
                        rules_floor(rules, memory, index, k).latest_start_ms;
    return told;
}

static void tell_sensors(const struct load_reading *reading, struct findings_load *told)
{
    told->contact_known = reading->contact.quality == READING_FRESH;
    told->contact_closed = reading->contact_closed;
    told->tank_known = reading->tank.quality == READING_FRESH;
    told->tank_mc = reading->tank_temperature_mc;
}

static struct findings_load told_of(const struct rules_settings *rules,
                                    const struct rules_memory *memory,
                                    const struct rules_input *input,
                                    const struct decision *decision, uint16_t index)
{
    const struct load_memory *load = &memory->loads[index];
    const struct draw_view *view = &load->draw.view;
    bool known =
        load->draw.satisfied || view->supposed; /* a change of draw is believed once it lasts */
    struct findings_load told = {
        .on = load->state == STATE_ON || load->state == STATE_STOPPING,
        .ordered_on = decision->on,
        .tested =
            decision->reason.code == REASON_ON_TEST || decision->reason.code == REASON_OFF_TEST,
        .idle = view->state == DRAW_OPEN && (known || view->unexplained),
        .satisfied = known && !view->unexplained,
        .draw_w = view->state == DRAW_SEEN || view->state == DRAW_STUCK ? view->draw_w : 0,
        .heated_mj = load->draw.heated_mj,
        .since_opened_ms = view->has_opened ? input->now.mono.ms - view->opened_at.mono.ms : -1,
        .drawn_mj = load->total.spare_mj + load->total.grid_mj - load->total.assumed_mj,
        .operations = load->total.starts,
        .floor_count = rules->loads[index].floor_count,
    };
    for (uint8_t k = 0; k < told.floor_count; k++)
        told.floor[k] = of_floor(rules, memory, index, k);
    if (input->load_reading)
        tell_sensors(&input->load_reading[index], &told);
    return told;
}

/* An output that says one thing and reads back another contradicts itself. One that is found on
 * may have been switched on by another hand. */
static void tell_outputs(const struct rules_input *input, const struct rules_outcome *outcome,
                         struct findings_load loads[])
{
    for (uint16_t k = 0; k < input->confirmation_count; k++)
        if (input->confirmations[k].health == OUTPUT_UNSAFE)
            loads[input->confirmations[k].load].contradicts = true;
    for (uint8_t k = 0; k < outcome->event_count; k++) {
        const struct rules_event *event = &outcome->event[k];
        if (event->kind == EVENT_FOUND_OFF)
            loads[event->load].restarted = true;
    }
}

/* Local time is looked up only where a roof is watched by it. */
static int32_t told_local_s(const struct rules_settings *rules, const struct rules_memory *memory,
                            const struct rules_input *input)
{
    bool asked = rules->solar && memory->trusted;
    return asked ? local_of_wall(&rules->zone, input->now.wall).second : -1;
}

struct findings_input
finding_input(const struct rules_settings *rules, const struct rules_memory *memory,
              const struct rules_input *input, const struct decision decisions[],
              const struct rules_outcome *outcome, struct findings_load loads[])
{
    for (uint16_t i = 0; i < rules->load_count; i++)
        loads[i] = told_of(rules, memory, input, &decisions[i], i);
    tell_outputs(input, outcome, loads);
    return (struct findings_input){.now = input->now,
                                   .local_s = told_local_s(rules, memory, input),
                                   .reading = input->reading,
                                   .experiments = outcome->observed.experiment,
                                   .experiment_count = outcome->observed.experiment_count,
                                   .background = &outcome->observed.background,
                                   .loads = loads};
}
