/* thermometers.c - what sensors say becomes the tank's temperature in its load's reading.
 *
 * One that is silent or cannot be right leaves the reading as it is without a sensor, and that
 * is a trouble once it has lasted for as long as a value is good for. */
#include "thermometers.h"

#include <string.h>

#include "troubles.h"

/* Old and new sensors may both have one answer each under way. */
enum { ANSWERS_MAX = 2 * SETTINGS_SENSORS_MAX };

static bool open_sensors(struct thermometers *thermometers, const struct common *common,
                         struct trouble *trouble)
{
    const struct settings *settings = common->settings;
    thermometers->sensors = NULL;
    if (settings->sensor_count == 0)
        return true;
    thermometers->round++;
    thermometers->sensors =
        sensors_new(settings->sensors, settings->sensor_count, thermometers->round,
                    thermometers->answers, common->now.mono);
    return thermometers->sensors || trouble_set(trouble, "", "out of memory");
}

bool thermometers_open(struct thermometers *thermometers, const struct common *common,
                       struct trouble *trouble)
{
    thermometers->answers = mailbox_new(ANSWERS_MAX, sizeof(struct sensor_answer));
    if (!thermometers->answers)
        return trouble_set(trouble, "", "out of memory");
    return open_sensors(thermometers, common, trouble);
}

void thermometers_end(struct thermometers *thermometers)
{
    sensors_free(thermometers->sensors);
    mailbox_free(thermometers->answers);
    *thermometers = (struct thermometers){.sensors = NULL};
}

void thermometers_ask(struct thermometers *thermometers, struct mono now)
{
    if (thermometers->sensors)
        sensors_ask(thermometers->sensors, now);
}

struct mono thermometers_next(const struct thermometers *thermometers)
{
    return thermometers->sensors ? sensors_next(thermometers->sensors) : MONO_NEVER;
}

bool thermometers_wait(const struct thermometers *thermometers)
{
    return thermometers->sensors && sensors_under_way(thermometers->sensors) > 0;
}

void thermometers_take(struct thermometers *thermometers, struct mono now)
{
    struct sensor_answer answer;
    while (mailbox_take(thermometers->answers, &answer))
        if (thermometers->sensors)
            sensors_answer(thermometers->sensors, &answer, now);
}

void thermometers_message(struct thermometers *thermometers, const struct mqtt_message *message,
                          struct mono now)
{
    if (thermometers->sensors)
        sensors_message(thermometers->sensors, message->topic, message->value, message->retained,
                        now);
}

struct sensor_view thermometers_view(const struct thermometers *thermometers, uint8_t index,
                                     struct mono now)
{
    return thermometers->sensors ? sensors_view(thermometers->sensors, index, now)
                                 : (struct sensor_view){.detail = ""};
}

void thermometers_settle(const struct thermometers *thermometers, struct inputs *inputs,
                         const struct common *common)
{
    for (uint8_t k = 0; k < common->settings->sensor_count; k++) {
        const struct sensor_view view = thermometers_view(thermometers, k, common->now.mono);
        struct load_reading *load = &inputs->load_reading[common->settings->sensors[k].load_index];
        load->tank = view.source;
        load->tank_temperature_mc = view.mc;
    }
}

void thermometers_look(const struct thermometers *thermometers, struct common *common)
{
    for (uint8_t k = 0; k < common->settings->sensor_count; k++) {
        const struct sensor_settings *settings = &common->settings->sensors[k];
        const struct sensor_view view = thermometers_view(thermometers, k, common->now.mono);
        char id[MQTT_ID_MAX];
        site_trouble_id(id, "sensor", settings->name);
        if (!view.troubled)
            site_solved(common, id);
        else if (view.fault != SENSOR_WELL)
            site_trouble(common, id, "sensor %s %s", settings->name, sensor_fault_text(view.fault));
        else
            site_trouble(common, id, "sensor %s cannot be read: %s", settings->name,
                         view.detail[0] ? view.detail : "nothing has come");
    }
}

void thermometers_listen(const struct common *common)
{
    for (uint8_t k = 0; common->mqtt && k < common->settings->sensor_count; k++)
        if (common->settings->sensors[k].topic[0])
            mqtt_listen(common->mqtt, common->settings->sensors[k].topic);
}

/* ---- at a reload ------------------------------------------------------------------------------
 */

static void forget_troubles(struct common *common, const struct settings *before)
{
    char id[MQTT_ID_MAX];
    for (uint8_t k = 0; k < before->sensor_count; k++) {
        site_trouble_id(id, "sensor", before->sensors[k].name);
        if (settings_find_sensor(common->settings, before->sensors[k].name) < 0)
            site_unwatched(common, id);
    }
}

bool thermometers_replace(struct thermometers *thermometers, struct common *common,
                          const struct settings *before, struct sensors **old,
                          struct trouble *trouble)
{
    const struct settings *after = common->settings;
    *old = thermometers->sensors;
    bool opened = open_sensors(thermometers, common, trouble);
    for (uint8_t j = 0; j < after->sensor_count && thermometers->sensors && *old; j++) {
        int i = settings_find_sensor(before, after->sensors[j].name);
        if (i >= 0 && sensor_is_same(&before->sensors[i], &after->sensors[j]))
            sensors_take_over(thermometers->sensors, j, *old, (uint8_t)i);
    }
    forget_troubles(common, before);
    return opened;
}
