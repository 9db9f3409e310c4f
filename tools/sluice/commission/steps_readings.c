/* steps_readings.c - the steps about what the meters say. */
#include <string.h>

#include "sluice/live/say.h"
#include "sluice/page/show.h"
#include "steps.h"

enum {
    FRESH_S = 20,      /* a meter has answered by then, the slowest poll included */
    BALANCE_LOOKS = 5, /* at a balance, before it counts as wrong */
};

/* ---- the grid meter ------------------------------------------------------------------------ */

static const struct meter_settings *meter_of(const struct settings *settings, enum meter_role role)
{
    for (uint8_t k = 0; k < settings->meter_count; k++)
        if (settings->meters[k].role == role)
            return &settings->meters[k];
    return NULL;
}

static const cJSON *reading(const struct session *session)
{
    return get(session->status, "reading");
}

/* When the reading at hand was taken, by the daemon's clock; -1: there is none. */
static int64_t taken_ms(const struct session *session)
{
    int64_t age_ms;
    if (!is(reading(session), "quality", "fresh") || !number(reading(session), "age_ms", &age_ms))
        return -1;
    return session_uptime_s(session) * MS_PER_S - age_ms;
}

/* The uptime is in whole seconds: two readings further apart than that are two. */
static bool comes_anew(struct session *session)
{
    struct patience patience = session_patience(session, FRESH_S);
    int64_t first_ms = taken_ms(session);
    while (session_wait_on(session, &patience)) {
        int64_t now_ms = taken_ms(session);
        if (first_ms >= 0 && now_ms >= first_ms + 2 * MS_PER_S)
            return true;
        if (first_ms < 0)
            first_ms = now_ms;
    }
    return false;
}

static void tell_list(const cJSON *list, const char *unit, int64_t divisor,
                      struct step_result *result)
{
    const cJSON *item;
    int phase = 1;
    cJSON_ArrayForEach(item, list)
        step_add(result, "L%d %lld %s", phase++, (long long)item->valueint / divisor, unit);
}

static void tell_meter(const struct session *session, const char *name, struct step_result *result)
{
    const cJSON *meter;
    cJSON_ArrayForEach(meter, get(session->status, "meters")) if (is(meter, "name", name))
        step_add(result, "meter %s: %s%s%s", name, words(meter, "outcome"),
                 *words(meter, "detail") ? ": " : "", words(meter, "detail"));
}

void step_meter(struct session *session, int index, struct step_result *result)
{
    char power[64];
    struct text text = text_in(power, sizeof(power));
    const struct meter_settings *meter = meter_of(session->settings, ROLE_GRID);
    int64_t grid_w;
    (void)index;
    if (!session_look(session))
        return;
    bool alive = comes_anew(session);
    if (session->stopped)
        return;
    if (!alive) {
        step_end(result, STEP_FAIL,
                 "no new reading within %d s (it is %s): check A/B, power, unit id, baud rate",
                 (int)FRESH_S, words(reading(session), "quality"));
        if (*words(reading(session), "fault"))
            step_add(result, "%s", words(reading(session), "fault"));
        if (meter)
            tell_meter(session, meter->name, result);
        return;
    }
    number(reading(session), "grid_power_w", &grid_w);
    show_power(&text, grid_w < 0 ? -grid_w : grid_w);
    step_end(result, STEP_PASS, "reads anew again and again: %s %s",
             grid_w < 0 ? "export" : "import", power);
    if (session->settings->rules.phase_count > 1)
        tell_list(get(reading(session), "phase_power_w"), "W", 1, result);
    tell_list(get(reading(session), "voltage_mv"), "V", 1000, result);
}

/* ---- other masters --------------------------------------------------------------------------- */

static const cJSON *bus_with_two_masters(const struct session *session)
{
    const cJSON *bus;
    cJSON_ArrayForEach(bus, get(session->status, "buses")) if (yes(bus, "two_masters")) return bus;
    return NULL;
}

static void ask_of_masters(struct session *session, struct step_result *result)
{
    if (session->asking.nobody) {
        step_end(result, STEP_NEEDS_PERSON,
                 "whether anything else polls this meter is not known; "
                 "sluiced has noticed no other master so far");
        return;
    }
    switch (session_ask(session, ANSWER_UNKNOWN,
                        "Does an inverter, battery or logger poll this meter on the same wires?")) {
    case ANSWER_YES:
        step_end(result, STEP_FAIL,
                 "something else polls this meter, as stated: set mode: listen on its bus, or give "
                 "the other one the gateway; never poll with two");
        break;
    case ANSWER_NO:
        step_end(result, STEP_PASS, "none, as stated at the switchboard; none was noticed");
        break;
    default:
        step_end(result, STEP_SKIPPED, "not known to whoever was there; none was noticed so far");
    }
}

void step_masters(struct session *session, int index, struct step_result *result)
{
    const struct meter_settings *meter = meter_of(session->settings, ROLE_GRID);
    (void)index;
    if (!session_look(session))
        return;
    const cJSON *two = bus_with_two_masters(session);
    if (two) {
        step_end(result, STEP_FAIL,
                 "another master speaks on bus %s: set mode: listen, or give the other one the "
                 "gateway",
                 words(two, "name"));
        return;
    }
    if (!meter) {
        step_end(result, STEP_SKIPPED, "no grid meter in the settings");
        return;
    }
    const struct bus_settings *bus = &session->settings->buses[meter->bus_index];
    if (bus->mode == BUS_LISTEN)
        step_end(result, STEP_PASS,
                 "bus %s is only listened to: the other master keeps its wire, and sluiced sends "
                 "nothing there",
                 bus->name);
    else if (!bus->port[0])
        step_end(result, STEP_SKIPPED,
                 "the meter is read by TCP: whether its device polls for others too is up to it");
    else
        ask_of_masters(session, result);
}

/* ---- solar and battery ------------------------------------------------------------------------
 */

static int hour_of(const struct session *session)
{
    struct local local;
    return show_read_time(words(session->status, "time"), &local) ? local.second / 3600 : 0;
}

/* True: a figure is there. */
static bool is_read(struct session *session, const char *key, int64_t *power_w)
{
    struct patience patience = session_patience(session, FRESH_S);
    while (!number(reading(session), key, power_w))
        if (!session_wait_on(session, &patience))
            return false;
    return true;
}

/* Readings of different moments disagree now and then; wrong ones do so each time. */
static bool balances(struct session *session, int64_t *house_w)
{
    for (int k = 0; k < BALANCE_LOOKS; k++) {
        int64_t grid_w, solar_w, battery_w;
        bool known = number(reading(session), "grid_power_w", &grid_w);
        known &= number(reading(session), "solar_power_w", &solar_w) ||
                 meter_of(session->settings, ROLE_SOLAR) == NULL;
        known &= number(reading(session), "battery_power_w", &battery_w) ||
                 meter_of(session->settings, ROLE_BATTERY) == NULL;
        *house_w = grid_w + solar_w - battery_w;
        if (!known || judge_balance(grid_w, solar_w, battery_w))
            return true;
        if (!session_wait(session))
            return true;
    }
    return false;
}

static void check_balance(struct session *session, struct step_result *result)
{
    char power[40];
    struct text text = text_in(power, sizeof(power));
    int64_t house_w;
    if (balances(session, &house_w))
        return;
    show_power(&text, house_w);
    result->outcome = STEP_FAIL;
    step_add(result,
             "with the grid the house would take %s, which no house does: possible: a sign or a "
             "scale is wrong, or an array is not metered",
             power);
}

/* Whether there is anything to judge; else the result says why not. */
static bool is_metered(struct session *session, enum meter_role role, const char *key,
                       const char *what, int64_t *power_w, struct step_result *result)
{
    const struct meter_settings *meter = meter_of(session->settings, role);
    if (!session_look(session))
        return false;
    if (!meter) {
        step_end(result, STEP_SKIPPED, "no %s meter in the settings", what);
        return false;
    }
    if (is_read(session, key, power_w))
        return true;
    if (session->stopped)
        return false;
    step_end(result, STEP_FAIL, "no fresh %s reading within %d s", what, (int)FRESH_S);
    tell_meter(session, meter->name, result);
    return false;
}

void step_solar(struct session *session, int index, struct step_result *result)
{
    char says[EVIDENCE_MAX];
    struct text text = text_in(says, sizeof(says));
    int64_t power_w;
    (void)index;
    if (!is_metered(session, ROLE_SOLAR, "solar_power_w", "solar", &power_w, result))
        return;
    enum step_outcome outcome = judge_solar(power_w, hour_of(session), &text);
    step_end(result, outcome, "%s", says);
    check_balance(session, result);
}

void step_battery(struct session *session, int index, struct step_result *result)
{
    char power[40];
    struct text text = text_in(power, sizeof(power));
    int64_t power_w;
    (void)index;
    if (!is_metered(session, ROLE_BATTERY, "battery_power_w", "battery", &power_w, result))
        return;
    show_power(&text, power_w < 0 ? -power_w : power_w);
    step_end(result, STEP_PASS, "%s %s",
             power_w > 0   ? "charging with"
             : power_w < 0 ? "discharging with"
                           : "idle:",
             power);
    check_balance(session, result);
}
