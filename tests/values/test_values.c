/* test_values.c - the rows of what is published, in the greatest house: what the broker is told
 * is legal and fits, every word is there, and what is not known is not told. */
#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

#include "mqtt/description.h"
#include "suite.h"
#include "terms/confirmation.h"
#include "values/values.h"

/* message_size_limit of conf/mosquitto/sluice.conf. */
enum { SHIPPED_MESSAGE_LIMIT = 131072 };

/* Static: a house is too large for a stack. */
static struct settings settings;
static struct rules_memory memory;
static struct load_memory loads[SETTINGS_LOADS_MAX];
static struct heat_memory heat[SETTINGS_LOADS_MAX];
static struct decision decisions[SETTINGS_LOADS_MAX];
static struct load_reading load_reading[SETTINGS_LOADS_MAX];
static struct bus_quality buses[SETTINGS_BUSES_MAX];
static struct reading reading;
static struct gateway_state gateway;
static struct mqtt_property properties[VALUES_TOPICS_MAX];

/* As much of everything as the settings may have. */
static struct values_view greatest_house(void)
{
    memset(&settings, 0, sizeof(settings));
    memset(loads, 0, sizeof(loads));
    memset(&reading, 0, sizeof(reading));
    settings.rules = (struct rules_settings){
        .loads = settings.loads, .load_count = SETTINGS_LOADS_MAX, .phase_count = PHASES};
    settings.bus_count = SETTINGS_BUSES_MAX;
    settings.meter_count = SETTINGS_METERS_MAX;
    settings.gateway.enabled = true;
    settings.input_count = SETTINGS_INPUTS_MAX;
    for (int k = 0; k < SETTINGS_INPUTS_MAX; k++)
        snprintf(settings.inputs[k].name, sizeof(settings.inputs[k].name), "input-%d", k);
    for (int k = 0; k < SETTINGS_BUSES_MAX; k++)
        snprintf(settings.buses[k].name, sizeof(settings.buses[k].name), "line-%d", k);
    for (int i = 0; i < SETTINGS_LOADS_MAX; i++) {
        snprintf(settings.names[i].name, sizeof(settings.names[i].name), "load-%d", i);
        settings.loads[i].floor_count = RULES_FLOORS_MAX;
        settings.loads[i].water = (struct heat_settings){
            .volume_ml = 300000, .set_mc = 65000, .cold_mc = 15000, .usable_permille = 1000};
        loads[i].heat = &heat[i];
    }
    memory = (struct rules_memory){.loads = loads};
    return (struct values_view){.settings = &settings,
                                .reading = &reading,
                                .load_reading = load_reading,
                                .spare_w = INT32_MIN,
                                .memory = &memory,
                                .decisions = decisions,
                                .buses = buses,
                                .gateway = &gateway,
                                .version = "1",
                                .settings_path = "house.yaml",
                                .broker_trouble = "",
                                .ledger_trouble = ""};
}

static void describe(void *context, int index, const struct topic *topic)
{
    (void)context;
    ck_assert_int_lt(index, VALUES_TOPICS_MAX);
    ck_assert_ptr_nonnull(topic->row->name);
    ck_assert(topic->row->order == ORDER_NONE || topic->row->takes);
    topic_describe(topic, &properties[index]);
}

START_TEST(test_the_greatest_house_is_a_legal_description)
{
    struct values_view view = greatest_house();
    struct trouble trouble = {.text = ""};
    int count = values_each_topic(&view, describe, NULL);
    ck_assert_int_gt(count, SETTINGS_LOADS_MAX * 20);
    ck_assert_msg(description_ok(properties, count, &trouble), "%s", trouble.text);
    char *description = description_write("House", properties, count, 1);
    ck_assert_ptr_nonnull(description);
    ck_assert_uint_le(strlen(description), SHIPPED_MESSAGE_LIMIT);
    free(description);
}
END_TEST

static int words_in(const char *words)
{
    int count = 1;
    for (; *words; words++)
        count += *words == ',';
    return count;
}

static const struct value_row *row_of(const char *group, const char *key)
{
    const struct value_group *in = values_group(group);
    for (int k = 0; k < in->row_count; k++)
        if (in->rows[k].key && strcmp(in->rows[k].key, key) == 0)
            return &in->rows[k];
    return NULL;
}

static void same_word(const struct value_row *row, int number, const char *wanted)
{
    char buffer[40];
    struct text text = text_in(buffer, sizeof(buffer));
    value_write_word(row->words, number, &text);
    ck_assert_str_eq(buffer, wanted);
}

/* A word that somebody adds to a term must be added to its row. */
START_TEST(test_rows_have_the_words_of_the_terms)
{
    const struct value_row *basis = row_of("loads", "basis"), *output = row_of("loads", "output"),
                           *quality = row_of("reading", "quality");
    ck_assert_int_eq(words_in(basis->words), BASIS_MINIMUM_ON + 1);
    ck_assert_int_eq(words_in(output->words), OUTPUT_UNCONFIRMED + 1);
    ck_assert_int_eq(words_in(quality->words), READING_IMPLAUSIBLE + 1);
    same_word(basis, BASIS_NONE, "none");
    same_word(basis, BASIS_FLOOR, "floor");
    same_word(basis, BASIS_SPARE, "spare");
    same_word(basis, BASIS_MINIMUM_ON, "minimum-on");
    for (int k = 0; k <= OUTPUT_UNCONFIRMED; k++)
        same_word(output, k, output_health_text((enum output_health)k));
    for (int k = 0; k <= READING_IMPLAUSIBLE; k++)
        same_word(quality, k, reading_quality_text((enum reading_quality)k));
}
END_TEST

struct wanted {
    const char *node, *id;
    char value[MQTT_VALUE_MAX];
};

static void find(void *context, int index, const struct topic *topic)
{
    struct wanted *wanted = context;
    struct mqtt_property property;
    (void)index;
    topic_describe(topic, &property);
    if (strcmp(property.node, wanted->node) != 0 || strcmp(property.id, wanted->id) != 0)
        return;
    struct text text = text_in(wanted->value, sizeof(wanted->value));
    topic_write(topic, &text);
    wanted->node = "found";
}

static void told(const struct values_view *view, const char *node, const char *id,
                 const char *value)
{
    struct wanted wanted = {node, id, ""};
    values_each_topic(view, find, &wanted);
    ck_assert_str_eq(wanted.node, "found");
    ck_assert_str_eq(wanted.value, value);
}

START_TEST(test_what_is_not_known_is_not_told)
{
    struct values_view view = greatest_house();
    told(&view, "site", "spare-power", "");
    told(&view, "site", "grid-power", "");
    told(&view, "load-3", "on", "");
    told(&view, "load-3", "power", "");
    told(&view, "load-3", "energy-today", "");
    told(&view, "load-3", "floor-2-deadline", "");
    told(&view, "site", "reading", "absent");
    told(&view, "load-3", "order", "auto");
}
END_TEST

START_TEST(test_numbers_are_told_in_peoples_units)
{
    struct values_view view = greatest_house();
    memory.trusted = true;
    view.spare_w = -1360;
    view.import_mj = INT64_C(1234567) * 3600000; /* Wh x mJ in a Wh */
    loads[3].health = OUTPUT_CONFIRMED;
    loads[3].today = (struct load_totals){.spare_mj = INT64_C(2500) * 3600000,
                                          .grid_mj = INT64_C(7) * 3600000,
                                          .draw_ms = 61 * MS_PER_MIN + 59 * MS_PER_S,
                                          .starts = 2};
    told(&view, "site", "spare-power", "-1360");
    told(&view, "site", "import-energy", "1234.567");
    told(&view, "load-3", "on", "false");
    told(&view, "load-3", "energy-today", "2.507");
    told(&view, "load-3", "energy-grid-today", "0.007");
    told(&view, "load-3", "run-time-today", "61");
    told(&view, "load-3", "starts-today", "2");
    told(&view, "load-3", "run-for", "0");
    loads[3].hand = HAND_ON;
    loads[3].hand_until.ms = view.now.mono.ms + 61 * MS_PER_MIN - 1;
    told(&view, "load-3", "mode", "on");
    told(&view, "load-3", "run-for", "61"); /* what was ordered is what is read */
    loads[3].hand = HAND_OFF;
    told(&view, "load-3", "mode", "off");
    told(&view, "load-3", "run-for", "0");
}
END_TEST

START_TEST(test_totals_are_told_as_they_are_on_disk)
{
    struct values_view view = greatest_house();
    static struct stored_totals stored[SETTINGS_LOADS_MAX];
    loads[3].total.starts = 9; /* not there yet */
    told(&view, "load-3", "starts-total", "");
    view.stored = stored;
    told(&view, "load-3", "starts-total", "");
    stored[3] = (struct stored_totals){.known = true,
                                       .totals = {.spare_mj = INT64_C(1234567) * 3600000,
                                                  .grid_mj = INT64_C(7) * 3600000,
                                                  .draw_ms = 61 * MS_PER_MIN,
                                                  .starts = 8}};
    told(&view, "load-3", "energy-total", "1234.574");
    told(&view, "load-3", "energy-spare-total", "1234.567");
    told(&view, "load-3", "energy-grid-total", "0.007");
    told(&view, "load-3", "run-time-total", "61");
    told(&view, "load-3", "starts-total", "8");
}
END_TEST

START_TEST(test_the_json_has_every_key_once_and_null_where_it_is_not_known)
{
    struct values_view view = greatest_house();
    char *text;
    for (int k = 0; k < SETTINGS_METERS_MAX; k++)
        view.meters[k].detail = "";
    for (int i = 0; i < SETTINGS_LOADS_MAX; i++)
        view.output_details[i] = "";
    text = values_json(&view);
    cJSON *root = cJSON_Parse(text), *item;
    ck_assert_ptr_nonnull(root);
    ck_assert(cJSON_IsNull(cJSON_GetObjectItem(root, "spare_w")));
    ck_assert_int_eq(cJSON_GetArraySize(cJSON_GetObjectItem(root, "loads")), SETTINGS_LOADS_MAX);
    const cJSON *load = cJSON_GetArrayItem(cJSON_GetObjectItem(root, "loads"), 3);
    ck_assert_str_eq(cJSON_GetObjectItem(load, "name")->valuestring, "load-3");
    ck_assert_int_eq(cJSON_GetArraySize(cJSON_GetObjectItem(load, "floors")), RULES_FLOORS_MAX);
    cJSON_ArrayForEach(item, load) ck_assert_ptr_eq(cJSON_GetObjectItem(load, item->string), item);
    cJSON_Delete(root);
    free(text);
}
END_TEST

START_TEST(test_an_input_shows_only_what_is_known_of_it)
{
    struct values_view view = greatest_house();
    view.inputs[0] = (struct input_view){.closed = true, .read = true, .detail = ""};
    told(&view, "input-input-0", "state", "unknown");
    view.inputs[0].known = true;
    told(&view, "input-input-0", "state", "closed");
    view.inputs[0].closed = false;
    told(&view, "input-input-0", "state", "open");
}
END_TEST

START_TEST(test_a_gateway_that_could_not_begin_has_counted_nothing)
{
    struct values_view view = greatest_house();
    gateway.at_work = true;
    told(&view, "gateway", "answered", "0");
    gateway.at_work = false;
    told(&view, "gateway", "answered", "");
    char *text = values_json(&view);
    cJSON *root = cJSON_Parse(text), *item;
    const cJSON *group = cJSON_GetObjectItem(root, "gateway");
    ck_assert_int_gt(cJSON_GetArraySize(group), 0);
    cJSON_ArrayForEach(item, group) ck_assert_msg(cJSON_IsNull(item), "%s", item->string);
    cJSON_Delete(root);
    free(text);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_the_greatest_house_is_a_legal_description,
        test_rows_have_the_words_of_the_terms,
        test_what_is_not_known_is_not_told,
        test_numbers_are_told_in_peoples_units,
        test_totals_are_told_as_they_are_on_disk,
        test_the_json_has_every_key_once_and_null_where_it_is_not_known,
        test_an_input_shows_only_what_is_known_of_it,
        test_a_gateway_that_could_not_begin_has_counted_nothing,
    };
    return suite_run("values", tests, COUNT_OF(tests));
}
