/* sensor_values.c - the values of the sensors in tanks: what each says, and how old that is. */
#include "getter.h"

static const struct sensor_settings *sensor(const struct place *at)
{
    return &at->view->settings->sensors[at->outer];
}

static const struct sensor_view *says(const struct place *at)
{
    return &at->view->sensors[at->outer];
}

static int count_sensors(const struct place *at)
{
    return at->view->settings->sensor_count;
}

static bool has_said(const struct place *at)
{
    return says(at)->source.sequence > 0;
}

GET_TEXT(name, sensor(at)->name);
GET_TEXT(of_load, sensor(at)->load);
GET_IF(temperature, says(at)->source.quality == READING_FRESH, says(at)->mc);
GET_IF(age, has_said(at), mono_since_ms(at->view->now.mono, says(at)->source.taken));
GET_TEXT(quality, reading_quality_text(says(at)->source.quality));
GET_TEXT(detail,
         says(at)->fault != SENSOR_WELL ? sensor_fault_text(says(at)->fault) : says(at)->detail);

static const struct value_row sensor_value_rows[] = {
    {.key = "name", .kind = VALUE_TEXT, .get = get_name},
    {.key = "load", .kind = VALUE_TEXT, .get = get_of_load},
    {.key = "temperature_mc", .kind = VALUE_TEMPERATURE_MC, .get = get_temperature},
    {.key = "age_ms", .kind = VALUE_TIME_MS, .get = get_age},
    {.key = "quality", .kind = VALUE_TEXT, .get = get_quality},
    {.key = "detail", .kind = VALUE_TEXT, .get = get_detail},
};
const struct value_group values_of_sensor = {
    .form = GROUP_LIST, .count = count_sensors, VALUE_ROWS(sensor_value_rows)};
