/* site_values.c - the values of the house as a whole: the reading, what was counted, its
 * meters, and how those around it (broker, ledger) are.
 *
 * The order of the rows is that of the JSON. */
#include "getter.h"

/* ---- the settings in force ---------------------------------------------------------------- */

GET_TEXT(settings_path, at->view->settings_path);
GET_NUMBER(in_force, at->view->last_accepted);
GET_IF(accepted, at->view->last_accepted && at->view->accepted_at.ms != 0,
       at->view->accepted_at.ms);

static const struct value_row settings_rows[] = {
    {.key = "file", .kind = VALUE_TEXT, .get = get_settings_path},
    {.key = "in_force", .kind = VALUE_WORD, .words = "file,last-accepted", .get = get_in_force},
    {.key = "accepted", .kind = VALUE_MOMENT, .get = get_accepted},
};
static const struct value_group settings_group = {VALUE_ROWS(settings_rows)};

/* ---- the reading -------------------------------------------------------------------------- */

static bool has(const struct place *at, enum reading_has what)
{
    return (at->view->reading->has & what) != 0;
}

static bool grid_is_fresh(const struct place *at)
{
    return at->view->reading->grid.quality == READING_FRESH;
}

GET_NUMBER(quality, at->view->reading->grid.quality);
GET_IF(reading_age, has(at, HAS_GRID_POWER),
       mono_since_ms(at->view->now.mono, at->view->reading->grid.taken));
GET_IF(grid_power, has(at, HAS_GRID_POWER), at->view->reading->grid_power_w);

static int count_phases(const struct place *at)
{
    return has(at, HAS_PHASE_POWER) ? at->view->settings->rules.phase_count : -1;
}

GET_NUMBER(phase_power, at->view->reading->phase_power_w[at->outer]);

static const struct value_row phase_rows[] = {{.kind = VALUE_POWER_W, .get = get_phase_power}};
static const struct value_group phases = {
    .form = GROUP_BARE_LIST, .count = count_phases, VALUE_ROWS(phase_rows)};

static int count_voltages(const struct place *at)
{
    return has(at, HAS_VOLTAGE) ? at->view->settings->rules.phase_count : -1;
}

GET_NUMBER(voltage, at->view->reading->voltage_mv[at->outer]);

static const struct value_row voltage_rows[] = {{.kind = VALUE_COUNT, .get = get_voltage}};
static const struct value_group voltages = {
    .form = GROUP_BARE_LIST, .count = count_voltages, VALUE_ROWS(voltage_rows)};

GET(solar_power)
{
    const struct reading *reading = at->view->reading;
    set_if(value, reading->solar.quality == READING_FRESH && has(at, HAS_SOLAR_POWER),
           reading->solar_power_w);
}

GET(battery_power)
{
    const struct reading *reading = at->view->reading;
    set_if(value, reading->battery.quality == READING_FRESH && has(at, HAS_BATTERY_POWER),
           reading->battery_power_w);
}

GET(fault)
{
    const struct settings *settings = at->view->settings;
    set_text(value, "");
    for (uint8_t k = 0; k < settings->meter_count; k++)
        if (settings->meters[k].role == ROLE_GRID && at->view->meters[k].fault != PLAUSIBLE)
            set_text(value, implausible_text(at->view->meters[k].fault));
}

static const struct value_row reading_rows[] = {
    {.key = "quality",
     .kind = VALUE_WORD,
     .words = "absent,fresh,stale,implausible",
     .get = get_quality,
     .topic = "reading",
     .name = "Quality of the reading"},
    {.key = "age_ms", .kind = VALUE_TIME_MS, .get = get_reading_age},
    {.key = "grid_power_w",
     .kind = VALUE_POWER_W,
     .get = get_grid_power,
     .topic = "grid-power",
     .name = "Grid power, import positive",
     .topic_when = grid_is_fresh},
    {.key = "phase_power_w", .kind = VALUE_GROUP, .group = &phases},
    {.key = "voltage_mv", .kind = VALUE_GROUP, .group = &voltages},
    {.key = "solar_power_w",
     .kind = VALUE_POWER_W,
     .get = get_solar_power,
     .topic = "solar-power",
     .name = "Solar power"},
    {.key = "battery_power_w", .kind = VALUE_POWER_W, .get = get_battery_power},
    {.key = "fault", .kind = VALUE_TEXT, .get = get_fault},
};
static const struct value_group reading_group = {VALUE_ROWS(reading_rows)};

/* ---- meters ------------------------------------------------------------------------------- */

static const struct meter_view *meter(const struct place *at)
{
    return &at->view->meters[at->outer];
}

static int count_meters(const struct place *at)
{
    return at->view->settings->meter_count;
}

GET_TEXT(meter_name, at->view->settings->meters[at->outer].name);
GET_NUMBER(meter_role, at->view->settings->meters[at->outer].role);
GET_IF(meter_age, meter(at)->read, mono_since_ms(at->view->now.mono, meter(at)->taken));
GET_TEXT(meter_outcome, bus_outcome_text(meter(at)->outcome));
GET_TEXT(meter_detail, meter(at)->detail);

static const struct value_row meter_rows[] = {
    {.key = "name", .kind = VALUE_TEXT, .get = get_meter_name},
    {.key = "role",
     .kind = VALUE_WORD,
     .words = "grid,solar,battery,load,tank",
     .get = get_meter_role},
    {.key = "age_ms", .kind = VALUE_TIME_MS, .get = get_meter_age},
    {.key = "outcome", .kind = VALUE_TEXT, .get = get_meter_outcome},
    {.key = "detail", .kind = VALUE_TEXT, .get = get_meter_detail},
};
static const struct value_group meters = {
    .form = GROUP_LIST, .count = count_meters, VALUE_ROWS(meter_rows)};

/* ---- broker, ledger, troubles ------------------------------------------------------------- */

GET_NUMBER(broker_enabled, at->view->broker_enabled);
GET_NUMBER(broker_connected, at->view->broker_connected);
GET_TEXT(broker_trouble, at->view->broker_trouble);
GET_TEXT(ledger_trouble, at->view->ledger_trouble);

static const struct value_row broker_rows[] = {
    {.key = "enabled", .kind = VALUE_YES_NO, .get = get_broker_enabled},
    {.key = "connected", .kind = VALUE_YES_NO, .get = get_broker_connected},
    {.key = "trouble", .kind = VALUE_TEXT, .get = get_broker_trouble},
};
static const struct value_group broker = {VALUE_ROWS(broker_rows)};

static const struct value_row ledger_rows[] = {
    {.key = "trouble", .kind = VALUE_TEXT, .get = get_ledger_trouble},
};
static const struct value_group ledger = {VALUE_ROWS(ledger_rows)};

static int count_troubles(const struct place *at)
{
    return at->view->fault_count;
}

GET(trouble)
{
    struct text text = text_of(value);
    fault_write_line(&at->view->faults[at->outer], &text);
}

static const struct value_row trouble_rows[] = {{.kind = VALUE_TEXT, .get = get_trouble}};
static const struct value_group troubles = {
    .form = GROUP_BARE_LIST, .count = count_troubles, VALUE_ROWS(trouble_rows)};

/* ---- the house ---------------------------------------------------------------------------- */

GET_TEXT(site_name, at->view->settings->site_name);
GET_TEXT(version, at->view->version);
GET_NUMBER(time, at->view->now.wall.ms);
GET_NUMBER(clock_trusted, at->view->memory->trusted);
GET_NUMBER(nominal_voltage, at->view->settings->rules.voltage_mv);
GET_NUMBER(uptime, mono_since_ms(at->view->now.mono, at->view->started) / MS_PER_S);
GET_IF(spare, at->view->spare_w != INT32_MIN, at->view->spare_w);
GET_NUMBER(import, at->view->import_mj / MJ_PER_MWH);
GET_NUMBER(export, at->view->export_mj / MJ_PER_MWH);
GET_NUMBER(gap, at->view->gap_ms);

GET(holiday_back)
{
    struct wall back = at->view->memory->holiday_back;
    set_if(value, back.ms != 0, back.ms);
}

GET(holiday)
{
    struct wall back = at->view->memory->holiday_back;
    struct text text = text_of(value);
    text_add(&text, back.ms == 0 ? "end" : "until ");
    if (back.ms != 0)
        value_write_moment(&at->view->settings->rules.zone, back, &text);
}

GET_NUMBER(all_inhibited, at->view->memory->all_inhibited);

static void name_site(const struct place *at, struct mqtt_property *property)
{
    snprintf(property->node, sizeof(property->node), "site");
    snprintf(property->node_name, sizeof(property->node_name), "%s", at->view->settings->site_name);
}

static const struct value_row site_rows[] = {
    {.key = "site", .kind = VALUE_TEXT, .get = get_site_name},
    {.key = "version", .kind = VALUE_TEXT, .get = get_version},
    {.key = "settings", .kind = VALUE_GROUP, .group = &settings_group},
    {.key = "time", .kind = VALUE_MOMENT, .get = get_time},
    {.key = "clock_trusted", .kind = VALUE_YES_NO, .get = get_clock_trusted},
    {.key = "nominal_voltage_mv", .kind = VALUE_COUNT, .get = get_nominal_voltage},
    {.key = "uptime_s", .kind = VALUE_COUNT, .get = get_uptime},
    {.key = "reading", .kind = VALUE_GROUP, .group = &reading_group},
    {.key = "spare_w",
     .kind = VALUE_POWER_W,
     .get = get_spare,
     .topic = "spare-power",
     .name = "Spare power"},
    {.key = "import_mwh",
     .kind = VALUE_ENERGY_MWH,
     .get = get_import,
     .topic = "import-energy",
     .name = "Energy imported",
     .slow = true,
     .phrase = "% imported"},
    {.key = "export_mwh",
     .kind = VALUE_ENERGY_MWH,
     .get = get_export,
     .topic = "export-energy",
     .name = "Energy exported",
     .slow = true,
     .phrase = "% exported"},
    {.key = "gap_ms", .kind = VALUE_TIME_MS, .get = get_gap, .phrase = "% without a reading"},
    {.key = "holiday_back", .kind = VALUE_MOMENT, .get = get_holiday_back},
    {.kind = VALUE_TEXT,
     .get = get_holiday,
     .topic = "holiday",
     .name = "Holiday",
     .order = ORDER_HOLIDAY,
     .takes = "until 2026-01-20 17:00; end"},
    {.key = "inhibited",
     .kind = VALUE_YES_NO,
     .get = get_all_inhibited,
     .topic = "inhibit",
     .name = "Inhibit of all loads",
     .order = ORDER_INHIBIT,
     .takes = "true; false"},
    {.key = "meters", .kind = VALUE_GROUP, .group = &meters},
    {.key = "buses", .kind = VALUE_GROUP, .group = &values_of_bus},
    {.key = "loads", .kind = VALUE_GROUP, .group = &values_of_load},
    {.key = "inputs", .kind = VALUE_GROUP, .group = &values_of_input},
    {.key = "sensors", .kind = VALUE_GROUP, .group = &values_of_sensor},
    {.key = "mqtt", .kind = VALUE_GROUP, .group = &broker},
    {.key = "gateway", .kind = VALUE_GROUP, .group = &values_of_gateway},
    {.key = "ledger", .kind = VALUE_GROUP, .group = &ledger},
    {.key = "troubles", .kind = VALUE_GROUP, .group = &troubles},
    {.key = "findings", .kind = VALUE_GROUP, .group = &values_of_fault},
    {.kind = VALUE_TEXT,
     .get = get_faults_of_site,
     .topic = "faults",
     .name = "Faults: how many, and the first",
     .slow = true},
};
const struct value_group values_of_site = {VALUE_ROWS(site_rows), .node = name_site,
                                           .node_pattern = "site"};
