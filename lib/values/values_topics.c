/* values_topics.c - the values as Homie properties: their order, their description, their
 * payloads; and the list of them for people.
 *
 * Energies are in kWh and times in minutes there, as people read them. */
#include <inttypes.h>
#include <string.h>

#include "values/values.h"

/* ---- all of them, in order ---------------------------------------------------------------- */

struct walk {
    topic_fn *each;
    void *context;
    int index;
};

static void walk_rows(struct walk *walk, const struct value_group *node,
                      const struct value_group *group, const struct place *at);

static void walk_group(struct walk *walk, const struct value_group *node,
                       const struct value_group *group, const struct place *at)
{
    int count = group->count ? group->count(at) : 1;
    bool list = group->form != GROUP_OBJECT;
    if (group->form == GROUP_BARE_LIST)
        return;
    for (int k = 0; k < count; k++) {
        struct place member = list ? place_in(at, k) : *at;
        walk_rows(walk, group->node ? group : node, group, &member);
    }
}

/* Those of the node itself first, so that each node's stand together. */
static void walk_rows(struct walk *walk, const struct value_group *node,
                      const struct value_group *group, const struct place *at)
{
    for (int k = 0; k < group->row_count; k++)
        if (group->rows[k].topic)
            walk->each(walk->context, walk->index++,
                       &(struct topic){&group->rows[k], *at, node, group});
    for (int k = 0; k < group->row_count; k++)
        if (group->rows[k].group)
            walk_group(walk, node, group->rows[k].group, at);
}

int values_each_topic(const struct values_view *view, topic_fn *each, void *context)
{
    struct walk walk = {each, context, 0};
    walk_group(&walk, &values_of_site, &values_of_site, &(struct place){view, -1, -1});
    return walk.index;
}

/* ---- one of them -------------------------------------------------------------------------- */

static const struct {
    enum mqtt_datatype datatype;
    const char *format, *unit;
} types[] = {
    [VALUE_TEXT] = {MQTT_STRING, "", ""},           [VALUE_WORD] = {MQTT_ENUM, "", ""},
    [VALUE_YES_NO] = {MQTT_BOOLEAN, "", ""},        [VALUE_COUNT] = {MQTT_INTEGER, "", ""},
    [VALUE_POWER_W] = {MQTT_INTEGER, "", "W"},      [VALUE_ENERGY_MWH] = {MQTT_FLOAT, "", "kWh"},
    [VALUE_TIME_MS] = {MQTT_INTEGER, "", "min"},    [VALUE_MOMENT] = {MQTT_DATETIME, "", ""},
    [VALUE_PERCENT] = {MQTT_INTEGER, "0:100", "%"}, [VALUE_DAYS] = {MQTT_INTEGER, "", "d"},
    [VALUE_PRICE_MICRO] = {MQTT_FLOAT, "", "/kWh"}, [VALUE_TEMPERATURE_MC] = {MQTT_FLOAT, "", "°C"},
};

void topic_describe(const struct topic *topic, struct mqtt_property *property)
{
    const struct value_row *row = topic->row;
    *property = (struct mqtt_property){.datatype = types[row->kind].datatype,
                                       .settable = row->order != ORDER_NONE};
    topic->node->node(&topic->at, property);
    const char *list = topic->group->numbered;
    if (list) {
        snprintf(property->id, sizeof(property->id), "%s-%d-%s", list, topic->at.inner + 1,
                 row->topic);
        snprintf(property->name, sizeof(property->name), "%c%s %d %s", list[0] - 'a' + 'A',
                 list + 1, topic->at.inner + 1, row->name);
    } else {
        snprintf(property->id, sizeof(property->id), "%s", row->topic);
        snprintf(property->name, sizeof(property->name), "%s", row->name);
    }
    const char *format = row->words ? row->words : row->range;
    snprintf(property->format, sizeof(property->format), "%s",
             format ? format : types[row->kind].format);
    snprintf(property->unit, sizeof(property->unit), "%s", types[row->kind].unit);
}

/* `places` decimal places of `number`, which counts in the last of them. */
static void write_decimal(int64_t number, int places, struct text *text)
{
    int64_t one = 1;
    for (int k = 0; k < places; k++)
        one *= 10;
    int64_t size = number < 0 ? -number : number;
    text_add(text, "%s%" PRId64 ".%0*" PRId64, number < 0 ? "-" : "", size / one, places,
             size % one);
}

void topic_write(const struct topic *topic, struct text *text)
{
    const struct value_row *row = topic->row;
    struct value value = {.known = false};
    if (row->topic_when && !row->topic_when(&topic->at))
        return;
    row->get(&topic->at, &value);
    if (!value.known)
        return;
    switch (row->kind) {
    case VALUE_TEXT:
        text_add(text, "%s", value.text);
        break;
    case VALUE_WORD:
        value_write_word(row->words, value.number, text);
        break;
    case VALUE_YES_NO:
        text_add(text, value.number ? "true" : "false");
        break;
    case VALUE_ENERGY_MWH:
        write_decimal(value.number / 1000, 3, text);
        break;
    case VALUE_TIME_MS:
        text_add(text, "%" PRId64, value.number / MS_PER_MIN);
        break;
    case VALUE_MOMENT:
        value_write_moment(&topic->at.view->settings->rules.zone, (struct wall){value.number},
                           text);
        break;
    case VALUE_PRICE_MICRO:
        write_decimal(value.number / 100, 4, text);
        break;
    case VALUE_TEMPERATURE_MC:
        write_decimal(value.number / 100, 1, text);
        break;
    default:
        text_add(text, "%" PRId64, value.number);
    }
}

/* ---- for people --------------------------------------------------------------------------- */

static void write_type(const struct value_row *row, struct text *text)
{
    if (row->kind == VALUE_WORD) {
        for (const char *c = row->words; *c; c++)
            text_add(text, "%c%s", *c, *c == ',' ? " " : "");
        return;
    }
    static const char *const datatypes[] = {[MQTT_INTEGER] = "integer",
                                            [MQTT_FLOAT] = "float",
                                            [MQTT_BOOLEAN] = "true, false",
                                            [MQTT_STRING] = "text",
                                            [MQTT_DATETIME] = "date and time"};
    const char *unit = types[row->kind].unit;
    text_add(text, "%s%s%s", datatypes[types[row->kind].datatype], *unit ? ", " : "", unit);
}

struct listing {
    value_topic_line *line;
    void *context;
};

static void list_row(const struct listing *to, const char *node, const char *list,
                     const struct value_row *row)
{
    char type[MQTT_VALUE_MAX], topic[MQTT_TOPIC_MAX];
    struct text text = text_in(type, sizeof(type)), path = text_in(topic, sizeof(topic));
    write_type(row, &text);
    text_add(&path, "%s/%s%s%s", node, list ? list : "", list ? "-N-" : "", row->topic);
    to->line(to->context, topic, row->name, type);
    if (row->order == ORDER_NONE)
        return;
    path = text_in(topic, sizeof(topic));
    text_add(&path, "%s/%s/set", node, row->topic);
    to->line(to->context, topic, "orders it", row->takes);
}

static void list_group(const struct listing *to, const char *node, const struct value_group *group)
{
    if (group->node)
        node = group->node_pattern;
    for (int k = 0; k < group->row_count; k++)
        if (group->rows[k].topic)
            list_row(to, node, group->numbered, &group->rows[k]);
    for (int k = 0; k < group->row_count; k++)
        if (group->rows[k].group)
            list_group(to, node, group->rows[k].group);
}

void values_list_topics(value_topic_line *line, void *context)
{
    list_group(&(struct listing){line, context}, NULL, &values_of_site);
}
