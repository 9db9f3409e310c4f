/* grid.c - how much was imported and exported.
 *
 * By the meter's own registers where it has them: their rise is booked, also over
 * a stop of the daemon. A register that leaps by more than the supply can have carried
 * in the time since it was last read, or falls, books nothing: the meter was exchanged
 * or reset (lib/meter/total has the rule). Another meter whose registers stand a little higher
 * looks like one that went on while nobody read it: whoever exchanges it can say so before.
 * Where it has no registers the power is
 * integrated, and time without a reading is a gap that is counted as one, never
 * filled. */
#include "inputs.h"

#include <inttypes.h>
#include <string.h>

#include "troubles.h"

enum {
    MJ_PER_MWH = 3600,
    /* A main fuse carries more than its rating for a while, and the voltage varies. */
    MARGIN = 2,
    /* Where no supply limit is set: directly connected meters end at 125 A (from
     * memory); more needs transformers, and then a limit in the settings. */
    USUAL_MOST_MA = 125000,
    /* Where no clock can tell how long nothing was read. A day at full load is weeks of
     * an ordinary house, and far below an exchanged meter's register. */
    UNKNOWN_AWAY_MS = MS_PER_DAY,
    /* Nobody exchanges a meter faster; lost replies are over sooner. */
    EXCHANGE_LEAST_MS = MS_PER_MIN,
    /* Said and not done: a cable that is loose months later is no exchange. */
    EXCHANGE_WITHIN_MS = MS_PER_DAY,
};
#define LONGEST_AGE_MS (INT64_C(366) * MS_PER_DAY) /* what is read back is bounded */

/* What the supply can carry, and no more. */
static int64_t most_w(const struct rules_settings *rules)
{
    int64_t most_ma = rules->supply_limit_ma > 0 ? rules->supply_limit_ma : USUAL_MOST_MA;
    return MARGIN * most_ma * rules->voltage_mv / 1000000 * rules->phase_count;
}

static bool has_registers(const struct meter_sample *sample)
{
    const uint32_t both = (1u << METER_IMPORT_ENERGY) | (1u << METER_EXPORT_ENERGY);
    return (sample->has & both) == both;
}

static void tell_replaced(struct common *common, const char *which, int64_t before_mwh,
                          int64_t now_mwh)
{
    site_note(common, "grid",
              "%s register %s from %.1f kWh to %.1f kWh: possible meter exchange or reset; "
              "nothing booked for it",
              which, now_mwh > before_mwh ? "jumped" : "fell", (double)before_mwh / 1e6,
              (double)now_mwh / 1e6);
}

static void book_rise(struct common *common, const char *which, struct total *total,
                      int64_t now_mwh, int64_t *total_mj)
{
    int64_t before_mwh = total->mwh, risen_mwh;
    enum total_finding finding =
        total_take(total, now_mwh, most_w(&common->settings->rules), common->now.mono, &risen_mwh);
    *total_mj += risen_mwh * MJ_PER_MWH;
    if (finding == TOTAL_REPLACED)
        tell_replaced(common, which, before_mwh, now_mwh);
}

void grid_registers(struct inputs *inputs, struct common *common, const struct meter_sample *sample)
{
    struct grid_energy *grid = &inputs->grid;
    if (!has_registers(sample))
        return;
    bool inverted = false;
    for (uint8_t k = 0; k < common->settings->meter_count; k++)
        if (common->settings->meters[k].role == ROLE_GRID)
            inverted = common->settings->meters[k].inverted;
    enum meter_quantity in = inverted ? METER_EXPORT_ENERGY : METER_IMPORT_ENERGY;
    enum meter_quantity out = inverted ? METER_IMPORT_ENERGY : METER_EXPORT_ENERGY;
    grid->integrated = false;
    book_rise(common, "import", &grid->import_register, sample->value[in], &grid->import_mj);
    book_rise(common, "export", &grid->export_register, sample->value[out], &grid->export_mj);
}

struct total grid_remembered(int64_t register_mwh, int64_t age_ms, int64_t away_ms, struct mono now)
{
    int64_t before_ms = away_ms >= 0 ? away_ms : UNKNOWN_AWAY_MS;
    if (age_ms > 0)
        before_ms += age_ms < LONGEST_AGE_MS ? age_ms : LONGEST_AGE_MS;
    return (struct total){
        .known = register_mwh >= 0, .mwh = register_mwh, .at = mono_after(now, -before_ms)};
}

void grid_book(struct inputs *inputs, int64_t dt_ms)
{
    struct grid_energy *grid = &inputs->grid;
    const struct reading *reading = &inputs->reading;
    if (!grid->integrated || dt_ms <= 0)
        return;
    if (reading->grid.quality != READING_FRESH || !(reading->has & HAS_GRID_POWER)) {
        grid->gap_ms += dt_ms;
        return;
    }
    int64_t energy_mj = (int64_t)reading->grid_power_w * dt_ms;
    if (energy_mj > 0)
        grid->import_mj += energy_mj;
    else
        grid->export_mj -= energy_mj;
}

/* ---- a meter that is about to be exchanged --------------------------------------------------- */

static const char kind_awaited[] = "exchange";

static bool refuse_await(const struct inputs *inputs, const struct common *common, const char *name,
                         struct text *answer)
{
    const struct settings *settings = common->settings;
    for (uint8_t k = 0; k < settings->meter_count; k++) {
        if (strcmp(settings->meters[k].name, name) != 0)
            continue;
        if (settings->meters[k].role != ROLE_GRID)
            text_add(answer,
                     "only the grid meter's registers are counted by: exchange meter %s, "
                     "nothing need be said",
                     name);
        else if (inputs->grid.integrated)
            text_add(answer,
                     "meter %s has shown no energy registers: its power is added up, and "
                     "nothing need be said",
                     name);
        return answer->used > 0;
    }
    text_add(answer, "there is no meter \"%.40s\"", name);
    return true;
}

static void end_await(struct grid_energy *grid, struct common *common, const char *name,
                      const char *why)
{
    char id[MQTT_ID_MAX];
    grid->awaited = false;
    site_trouble_id(id, kind_awaited, name);
    site_solved_saying(common, id, "meter %s: %s; its registers are counted on", name, why);
}

static bool cancel(struct grid_energy *grid, struct common *common, const char *name,
                   struct text *answer)
{
    text_add(answer, "meter %s is not about to be exchanged: its registers are counted on", name);
    if (grid->awaited)
        end_await(grid, common, name, "not about to be exchanged any more");
    return true;
}

bool grid_await(struct inputs *inputs, struct common *common, const char *name, const char *what,
                const char *by, struct text *answer)
{
    struct grid_energy *grid = &inputs->grid;
    char id[MQTT_ID_MAX];
    bool ends = strcmp(what, "end") == 0;
    if (*what && !ends) {
        text_add(answer, "\"%.40s\" is not \"end\"", what);
        return false;
    }
    if (refuse_await(inputs, common, name, answer))
        return false;
    if (ends)
        return cancel(grid, common, name, answer);
    text_add(answer,
             "exchange meter %s now, or within 24 h: once it has been silent for a minute, the "
             "registers that it shows next count from there; if it stays, say \"sluice exchange "
             "%s end\"",
             name, name);
    grid->awaited_until = mono_after(common->now.mono, EXCHANGE_WITHIN_MS);
    if (grid->awaited)
        return true;
    grid->awaited = true;
    site_trouble_id(id, kind_awaited, name);
    site_trouble(common, id,
                 "meter %s is about to be exchanged, said %s; its registers stand at %.1f kWh "
                 "imported, %.1f kWh exported",
                 name, by, (double)grid->import_register.mwh / 1e6,
                 (double)grid->export_register.mwh / 1e6);
    return true;
}

bool grid_answers_again(struct inputs *inputs, struct common *common, const char *name,
                        int64_t silent_ms)
{
    struct grid_energy *grid = &inputs->grid;
    char id[MQTT_ID_MAX];
    if (!grid->awaited || silent_ms < EXCHANGE_LEAST_MS)
        return false;
    grid->awaited = false;
    grid->import_register = grid->export_register = (struct total){.known = false};
    site_trouble_id(id, kind_awaited, name);
    site_solved_saying(common, id,
                       "meter %s answers again after %d s: taken for the new one; its registers "
                       "count from what they show next",
                       name, (int)(silent_ms / MS_PER_S));
    return true;
}

static const char *grid_meter(const struct settings *settings)
{
    for (uint8_t k = 0; k < settings->meter_count; k++)
        if (settings->meters[k].role == ROLE_GRID)
            return settings->meters[k].name;
    return "";
}

void grid_look(struct inputs *inputs, struct common *common)
{
    struct grid_energy *grid = &inputs->grid;
    if (grid->awaited && common->now.mono.ms >= grid->awaited_until.ms)
        end_await(grid, common, grid_meter(common->settings), "not exchanged within 24 h");
}

void grid_forget(struct inputs *inputs, struct common *common, const struct settings *before)
{
    struct grid_energy *grid = &inputs->grid;
    const char *was = grid_meter(before);
    if (grid->awaited && strcmp(was, grid_meter(common->settings)) != 0)
        end_await(grid, common, was, "no longer the grid meter's name");
}
